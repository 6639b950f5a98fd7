"""Long work at the desk: how far it is, and a key that stops it. Nothing is half done then."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import partial
from threading import Event
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

from textual.app import ComposeResult, SystemCommand
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import ProgressBar, Static

from kb.tui.screens.at_desk import AtDesk
from kb.tui.text import line, plain
from kb.tui.widgets.frame import Sheet

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.tui.bench import Bench

Progress = Callable[[str], None]
PER_CENT = re.compile(r"(\d+) ?%")
RUNNING, DONE = "Esc stops it; nothing is half done then", "Esc closes"
STOPPED = "Stopped. {}"
LISTED = 12
"""Findings that are named; the command names all."""


class Work(NamedTuple):
    """Work that takes long in a large studio."""

    title: str
    says: str
    verb: Callable[[Studio, Progress], str]
    """Does it, tells how far it is, and returns what came of it in words."""
    stopped: str
    """How things stand when it was stopped."""


class LongWork(AtDesk, ModalScreen[None]):
    """A bar, the step that is done now, and in the end what came of it."""

    TITLE_WORDS = "Long work"
    HELP = "The bar tells how far it is. Esc stops the work; nothing is half done then. At the end it closes."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "stop", "Stop"),
        Binding("enter", "close", "Close"),
    ]
    CSS = """
    LongWork ProgressBar { width: 100%; margin: 1 0; }
    LongWork Bar { width: 1fr; }
    """

    class Went(Message):
        """The work is at this step."""

        def __init__(self, words: str) -> None:
            self.words = words
            super().__init__()

    def __init__(self, work: Work) -> None:
        super().__init__()
        self.work = work
        self.over = False
        self._stop = Event()

    def compose(self) -> ComposeResult:
        with Sheet(self.work.title, RUNNING):
            yield ProgressBar(total=100, show_eta=False)
            yield Static(line("Beginning ..."), id="long-said", classes="body", markup=False)

    def on_mount(self) -> None:
        self.ask(self._do, self._done, group="long", failed=self._over)

    def on_unmount(self) -> None:
        """Whoever leaves the program does not wait for its end."""
        self._stop.set()

    def _do(self, studio: Studio) -> str:
        return self.work.verb(studio, self._told)

    def _told(self, words: str) -> None:
        """In a thread: how far it is. What is raised here ends the work."""
        from kb.desk.errors import DeskError

        if self._stop.is_set():
            raise DeskError(STOPPED.format(self.work.stopped))
        self.post_message(self.Went(words))

    def on_long_work_went(self, event: LongWork.Went) -> None:
        """The bar follows the figure in the words."""
        if self.over:
            return
        self._say(event.words)
        if found := PER_CENT.search(event.words):
            self.query_one(ProgressBar).update(progress=float(found.group(1)))

    def _done(self, words: str) -> None:
        self.query_one(ProgressBar).update(progress=100)
        self._over(words)

    def _over(self, words: str) -> None:
        self.over = True
        self.query_one(Sheet).border_subtitle = line(DONE)
        self._say(words)

    def _say(self, words: str) -> None:
        self.query_one("#long-said", Static).update(plain(words))

    def action_stop(self) -> None:
        """Stop at the next step; once it is over, close."""
        if self.over:
            self.dismiss(None)
        else:
            self._stop.set()
            self._say("Stopping ...")

    def action_close(self) -> None:
        """Away with it, once it is over."""
        if self.over:
            self.dismiss(None)


def _verify(studio: Studio, progress: Progress) -> str:
    from kb.desk.keep import verify

    found = verify(studio, progress)
    lines = [f"{one.file}:{one.line}: {one.text}" for one in found[:LISTED]]
    errors = sum(one.severity == "error" for one in found)
    more = [f"... and {len(found) - LISTED} more"] if len(found) > LISTED else []
    state = f"{errors} problems; the rest of the book is served." if errors else "The book is whole."
    return "\n".join([state, *lines, *more])


def _rebuild(studio: Studio, progress: Progress) -> str:
    from kb.desk.keep import rebuild

    count = rebuild(studio, progress)
    return f"The index is derived anew: {count:,} test{'' if count == 1 else 's'}."


def _back_up(studio: Studio, progress: Progress) -> str:
    from kb.desk.backup.backup import back_up

    done = back_up(studio.root, progress=progress)
    lines = [
        f"Backed up to {done.folder}",
        f"{done.files:,} files, {done.records:,} lines of the book; read back and compared.",
        *done.told,
    ]
    if done.same_disk:
        lines.append("It is on the same disk as the studio. A folder on another disk outlives its loss.")
    return "\n".join(lines)


WORKS = (
    Work(
        "Verify the book",
        "Whether every line of the book is as it was written",
        _verify,
        "Nothing was changed.",
    ),
    Work(
        *("Derive the index anew", "From catalogue and book; nothing is lost", _rebuild),
        "The index is as it was.",
    ),
    Work(
        *("Back up the studio", "A whole copy in a new dated folder beside the studio", _back_up),
        "No backup was made; earlier ones are as they were.",
    ),
)


def keeping(app: Bench) -> Iterator[SystemCommand]:
    """What looks after the studio, for the palette."""
    for work in WORKS:
        yield SystemCommand(work.title, work.says, partial(_begin, app, work))


def _begin(app: Bench, work: Work) -> Any:
    if app.opened and not isinstance(app.screen, LongWork):
        app.push_screen(LongWork(work))
