"""Long work at the desk: how far it is, and a key that stops it. Nothing is half done then."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from functools import partial
from pathlib import Path
from threading import Event
from typing import Any, ClassVar, NamedTuple

from textual.app import ComposeResult, SystemCommand
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import ProgressBar, Static

from kb.book.storage import from_home
from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.science.numbers import counted
from kb.tui.bench import Bench
from kb.tui.screens.ask_why import draft_named
from kb.tui.screens.at_desk import AtDesk, Told
from kb.tui.screens.few_lines import Asked, FewLines
from kb.tui.screens.note import CLOSE
from kb.tui.text import line
from kb.tui.widgets.choice_row import One
from kb.tui.widgets.field import FormInput
from kb.tui.widgets.frame import Sheet

Progress = Callable[[str], None]
PER_CENT = re.compile(r"(\d+) ?%")
RUNNING = "Esc stops it; nothing is half done then"
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
    draft: str = ""
    """That of the form before it, which is done with once the work is."""


class Asking(NamedTuple):
    """Long work that has to know first where from or where to."""

    title: str
    says: str
    lines: Callable[[Studio], Sequence[Asked]]
    """What is asked before it begins; nothing, if the studio knows it already."""
    verb: Callable[[Studio, Mapping[str, str], Progress], str]
    stopped: str

    def with_words(self, words: Mapping[str, str]) -> Work:
        """The work, now that it is known. What was only shown is brought in from the same folder next."""
        draft = "" if words.get("how") == "show" else draft_named(self.title, self.says)

        def verb(studio: Studio, progress: Progress) -> str:
            return self.verb(studio, words, progress)

        return Work(self.title, self.says, verb, self.stopped, draft)


class Where(FewLines):
    """The lines in front of long work; Ctrl+S begins it."""

    TITLE_WORDS = "Before long work"
    HELP = (
        "Say where from or where to; Enter, Up and Down go from line to line. Ctrl+S begins. A bar tells how "
        "far it is then, and Esc stops it. Esc here leaves, and nothing is begun."
    )
    DOES = "begins"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("ctrl+s", "store", "Begin")]

    @property
    def again(self) -> dict[str, Any]:
        """What is asked is looked up anew."""
        return {"work": self.heading}

    def on_mount(self) -> None:
        """Where a folder is offered, one that is typed takes its place; a draft is mended."""
        for one in self.lines:
            for field in self.query(f"#field-{one.name}").results(FormInput):
                field.select_on_focus = field.value == one.value
        super().on_mount()

    def action_store(self) -> None:
        """Begin, if no line is empty."""
        values = self.values
        if empty := next((one.label for one in self.lines if not values[one.name]), ""):
            self.tell(f"Nothing was begun: the line {empty} is empty.")
        else:
            # The draft stays until the work went well: a path with one letter wrong is not typed anew.
            self.dismiss(values)


class LongWork(AtDesk, ModalScreen[None]):
    """A bar, the step that is done now, and in the end what came of it."""

    SAID = "#long-said"
    TITLE_WORDS = "Long work"
    HELP = "The bar tells how far it is. Esc stops the work; nothing is half done then. At the end it closes."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "stop", "Stop"),
        Binding("enter", "close", "Close"),
    ]
    CSS = """
    LongWork ProgressBar { width: 100%; margin: 1 0; }
    LongWork Bar { width: 1fr; }
    LongWork .sheet > VerticalScroll { max-height: 65vh; }
    """

    def __init__(self, work: Work) -> None:
        super().__init__()
        self.work = work
        self.over = False
        self._stop = Event()

    def compose(self) -> ComposeResult:
        with Sheet(self.work.title, RUNNING):
            yield ProgressBar(total=100, show_eta=False)
            with VerticalScroll():
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
        if self._stop.is_set():
            raise DeskError(STOPPED.format(self.work.stopped))
        self.post_message(Told("long", self._asked["long"], partial(self._went, words)))

    def _went(self, words: str) -> None:
        if self.over:
            return
        self.tell(words)
        if found := PER_CENT.search(words):
            self.query_one(ProgressBar).update(progress=float(found.group(1)))

    def _done(self, words: str) -> None:
        self.bench.drop_draft(self.work.draft)
        self.query_one(ProgressBar).update(progress=100)
        self._over(words)

    def _over(self, words: str) -> None:
        self.over = True
        self.query_one(Sheet).border_subtitle = line(CLOSE)
        self.tell(words)

    def action_stop(self) -> None:
        """Stop at the next step; once it is over, close."""
        if self.over:
            self.dismiss(None)
        else:
            self._stop.set()
            self.tell("Stopping ...")

    def action_close(self) -> None:
        if self.over:
            self.dismiss(None)


def _verify(studio: Studio, progress: Progress) -> str:
    from kb.desk.keep import verify

    found = verify(studio, progress)
    # What is wrong with a photograph is on no line.
    lines = [f"{one.file}{f':{one.line}' if one.line else ''}: {one.text}" for one in found[:LISTED]]
    errors = sum(one.severity == "error" for one in found)
    more = [f"... and {len(found) - LISTED} more"] if len(found) > LISTED else []
    told = f"{counted(errors, 'problem')}; the rest of the book is served."
    return "\n".join([told if errors else "The book is whole.", *lines, *more])


def _rebuild(studio: Studio, progress: Progress) -> str:
    from kb.desk.keep import rebuild

    count = rebuild(studio, progress)
    return f"The index is derived anew: {counted(count, 'test')}."


def _where_to(studio: Studio) -> Sequence[Asked]:
    """Where the last backup went; beside the studio at first."""
    from kb.desk.backup import backup
    from kb.desk.memory import memory

    folder = memory(studio.root).backups or str(backup.default_target(studio.root))
    return (Asked("folder", "Into", "a folder, best on another disk", folder),)


def _back_up(studio: Studio, words: Mapping[str, str], progress: Progress) -> str:
    from kb.desk.backup.backup import back_up
    from kb.desk.memory import remember

    done = back_up(studio.root, from_home(words["folder"]), progress=progress)
    remember(studio.root, backups=str(Path(done.folder).parent))
    lines = [
        f"Backed up to {done.folder}",
        f"{counted(done.files, 'file')}, {counted(done.records, 'line')} of the book; "
        "read back and compared.",
        *done.told,
    ]
    if done.same_disk:
        lines.append("It is on the same disk as the studio. A folder on another disk outlives its loss.")
    return "\n".join(lines)


def _which_backup(studio: Studio) -> Sequence[Asked]:
    """The newest that lies where they are made; and a folder beside the studio that is not there yet."""
    from kb.desk.backup.check import about

    (where,) = _where_to(studio)
    # Named by day and time, so that the last by name is the newest.
    found = sorted(Path(where.value).glob(f"{studio.root.absolute().name}-*"), reverse=True)
    newest = next((str(one) for one in found if about(one)), "")
    return (
        Asked("backup", "Backup", "its folder", newest),
        Asked("into", "Into", "a new folder", str(_free(studio.root, "restored"))),
    )


def _restore(_studio: Studio, words: Mapping[str, str], progress: Progress) -> str:
    from kb.desk.backup.check import restore

    done = restore(from_home(words["backup"]), from_home(words["into"]), progress)
    return "\n".join(
        (
            f"Put back into {done.folder}",
            f"{counted(done.files, 'file')}, {counted(done.records, 'line')} of the book; compared.",
            "This studio is as it was. The other opens when Benchleaf is started with that folder.",
        )
    )


def _free(root: Path, what: str) -> Path:
    """A folder beside the studio that is not there yet, named after it."""
    stem, number = f"{root.absolute().name}-{what}-{date.today()}", 2
    folder = root.absolute().parent / stem
    while folder.exists():
        folder, number = root.absolute().parent / f"{stem}-{number}", number + 1
    return folder


def _new_package(studio: Studio) -> Sequence[Asked]:
    return (Asked("folder", "New folder", "or a file that ends in .zip", str(_free(studio.root, "package"))),)


def _export(studio: Studio, words: Mapping[str, str], progress: Progress) -> str:
    from kb.desk.package.write import export

    target = from_home(words["folder"])
    made = export(studio, target, zipped=target.suffix.lower() == ".zip", progress=progress)
    lines = [
        f"Written and on disk: {made.path}",
        f"{counted(len(made.checksums), 'file')}, {made.bytes:,} bytes; photographs: {made.photographs:,}.",
        *(f"Left out: {one.what}: {one.why}" for one in made.left_out[:LISTED]),
    ]
    if made.damaged_lines:
        lines.append(f"Damaged lines of the book, taken along as they are: {made.damaged_lines:,}.")
    return "\n".join(lines)


def _what_package(_studio: Studio) -> Sequence[Asked]:
    how = (One("b", "bring in", "", "B bring it in"), One("s", "show", "", "S only show"))
    return (Asked("package", "Package", "its folder or .zip file"), Asked("how", "What to do", choices=how))


def _bring_in(studio: Studio, words: Mapping[str, str], progress: Progress) -> str:
    from kb.desk.package.bring_in import bring_in

    path, only_shown = from_home(words["package"]), words["how"] == "show"
    came = bring_in(studio, path, dry_run=only_shown, progress=progress)
    new = f"{counted(came.records, 'record')}, {counted(came.photographs, 'photograph')}"
    return "\n".join(
        (
            f"{came.title or came.package}: {counted(came.files, 'file')} checked, {came.bytes:,} bytes.",
            f"Brought in and on disk: {new}." if came.done else f"Nothing was changed. {new} would come in.",
            *(f"{one.file}: {one.text}" for one in came.kept[:LISTED]),
            *(f"Mind: {text}" for text in came.mind[:LISTED]),
        )
    )


def _other_end(studio: Studio) -> Sequence[Asked]:
    """Asked once; from then on the studio knows it."""
    from kb.desk.sharing.git import Git
    from kb.desk.sharing.share import joined

    try:
        joined(Git(studio.root))
    except DeskError:
        return (Asked("remote", "Other end", "folder or git address that all reach"),)
    return ()


def _share(studio: Studio, words: Mapping[str, str], progress: Progress) -> str:
    from kb.desk.sharing.share import join, share

    remote = words.get("remote", "")
    done = join(studio, remote, progress=progress) if remote else share(studio, progress=progress)
    settle = "it says one thing here and another there; which of the two holds is for a person to say."
    return "\n".join(
        (
            f"Shared with {done.remote}: {counted(done.sent, 'record')} sent, {done.received:,} received.",
            f"Photographs received: {done.photographs_received:,}.",
            *(f"! {text}" for text in done.told[:LISTED]),
            *(f"! {path}: {settle}" for path in done.to_settle[:LISTED]),
        )
    )


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
)

ASKING = (
    Asking(
        *("Backup of the studio", "A whole copy in a new dated folder, read back and compared"),
        *(_where_to, _back_up),
        "No backup was made; earlier ones are as they were.",
    ),
    Asking(
        "Export all as a data package",
        "Book, catalogue, tables and photographs in open formats",
        *(_new_package, _export),
        "No package was written.",
    ),
    Asking(
        "Import a data package",
        "Records of another studio come in; nothing here is written over",
        *(_what_package, _bring_in),
        "Nothing was brought in.",
    ),
    Asking(
        "Share: send and receive records",
        "What is new here goes out, what others sent comes in",
        *(_other_end, _share),
        "Your records are on disk here; the next share goes on.",
    ),
    Asking(
        *("Put a backup back", "It becomes a studio in a new folder; this one stays as it is"),
        *(_which_backup, _restore),
        "Nothing was put back.",
    ),
)


def keeping(app: Bench) -> Iterator[SystemCommand]:
    """What looks after the studio, for the palette."""
    for work in WORKS:
        yield SystemCommand(work.title, work.says, partial(_begin, app, work))
    for asking in ASKING:
        yield SystemCommand(asking.title, asking.says, partial(ask_for, app, asking))


def ask_for(app: Bench, asking: Asking) -> None:
    """What it has to know is asked at the desk, for it is looked up on the disk."""
    if not app.opened or app.screen.is_modal:
        return

    def look_up() -> None:
        lines = app.desk(asking.lines)
        app.call_from_thread(_where, app, asking, lines)

    app.run_worker(look_up, thread=True, group="where", exclusive=True, exit_on_error=False)


def _where(app: Bench, asking: Asking, lines: Sequence[Asked]) -> None:
    def go(words: Mapping[str, str] | None) -> None:
        if words is not None:
            _begin(app, asking.with_words(words))

    if lines:
        app.push_screen(Where(asking.title, lines, lambda _, words: words, says=asking.says), go)
    else:
        go({})


def _begin(app: Bench, work: Work) -> Any:
    if app.opened and not isinstance(app.screen, LongWork):
        app.push_screen(LongWork(work))
