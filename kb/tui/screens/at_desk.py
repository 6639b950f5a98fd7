"""Asking the desk from a screen: in a thread, in turn, and without stale answers."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar, cast

from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Static
from textual.worker import get_current_worker

from kb.tui.inside_textual import paint_now
from kb.tui.text import plain
from kb.tui.widgets.frame import KeyBar, TitleBar

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.tui.bench import Bench

T = TypeVar("T")
Answers = tuple[tuple[str, str, str], ...]
"""Key, value and words of each."""


class Told(Message):
    """The desk has answered; ``tell`` uses the answer unless a later question overtook it.

    Number 0 is no answer to one: word from a thread that is always wanted.
    """

    def __init__(self, group: str, number: int, tell: Callable[[], None]) -> None:
        self.group = group
        self.number = number
        self.tell = tell
        super().__init__()


class AtDesk:
    """Mixed into a screen: ``ask`` does a verb of the desk in a thread and hands over what it returns.

    A question of a group makes earlier ones of the same group void, so a slow answer to what was typed
    first never overwrites the answer to what was typed last.
    """

    SAID: ClassVar[str]
    """The line that says how it was understood, or what stands in the way."""
    _asked: dict[str, int]
    _left_with: tuple[Any] | None = None

    @property
    def bench(self) -> Bench:
        """The app, for its studio and its notices."""
        return cast("Bench", cast("Screen[Any]", self).app)

    def ask(
        self,
        verb: Callable[[Studio], T],
        then: Callable[[T], None],
        *,
        group: str,
        failed: Callable[[str], None] | None = None,
    ) -> None:
        """Call ``then`` with the answer, or ``failed`` with what went wrong in words."""
        if not hasattr(self, "_asked"):
            self._asked = {}
        number = self._asked[group] = self._asked.get(group, 0) + 1
        screen, bench = cast("Screen[Any]", self), self.bench
        fail = failed or self.desk_failed

        def work() -> None:
            worker = get_current_worker()
            tell: Callable[[], None]
            try:
                with bench.desk_lock:
                    if worker.is_cancelled:
                        return
                    answer = verb(bench.studio)
            except Exception as error:
                from kb.tui.bench import in_words

                words = in_words(error)

                def tell() -> None:
                    fail(words)

            else:

                def tell() -> None:
                    then(answer)

            screen.post_message(Told(group, number, tell))

        screen.run_worker(work, thread=True, exclusive=True, group=group, exit_on_error=False)

    def tell(self, words: str) -> None:
        cast("Screen[Any]", self).query_one(self.SAID, Static).update(plain(words))

    def tell_done(self, words: str | None) -> None:
        """Say what a form over this screen did, and show what it changed."""
        if words:
            self.bench.say(words)
            getattr(self, "action_fresh", bool)()

    def note(self, title: str, text: str) -> None:
        """A text to read, over this screen."""
        from kb.tui.screens.note import NoteScreen

        self.bench.push_screen(NoteScreen(title, text))

    def sure(self, title: str, text: str, answers: Answers, then: Callable[[], object]) -> None:
        """Ask first: the second answer alone goes on; Escape takes the first, which changes nothing."""
        from kb.tui.screens.note import AskScreen

        def answered(answer: str | None) -> None:
            if answer == answers[1][1]:
                then()

        self.bench.push_screen(AskScreen(title, text, answers), answered)

    def dismiss(self, result: Any = None) -> AwaitComplete:
        """Leave the screen with a result; under another one, as soon as that is left.

        The desk may answer while the user has opened something on top, and only the top can be left.
        """
        screen = cast("Screen[Any]", self)
        if screen.is_active:
            done: AwaitComplete = super().dismiss(result)  # type: ignore[misc]
            return done
        self._left_with = (result,)
        return AwaitComplete()

    def on_screen_resume(self) -> None:
        """What may have changed meanwhile is read anew; or leave now, if the desk answered in that time."""
        getattr(self, "action_fresh", bool)()
        if self._left_with is not None:
            (result,), self._left_with = self._left_with, None
            self.dismiss(result)

    def on_told(self, event: Told) -> None:
        """Use an answer that is still wanted."""
        event.stop()
        if self._asked.get(event.group, 0) == event.number:
            event.tell()
            paint_now(cast("Screen[Any]", self))

    def on_descendant_focus(self) -> None:
        """Other keys work in a line that is typed in than on what is read; the foot shows those that do."""
        cast("Screen[Any]", self).refresh_bindings()

    def desk_failed(self, words: str) -> None:
        """Say what went wrong where nothing better was arranged."""
        self.bench.say(words, warn=True)


class DeskScreen(AtDesk, Screen[T]):
    """What ``body`` gives, between the line that says where one is and the keys at the foot."""

    body: Callable[[], ComposeResult]

    def compose(self) -> ComposeResult:
        yield TitleBar()
        yield from self.body()
        yield KeyBar()
