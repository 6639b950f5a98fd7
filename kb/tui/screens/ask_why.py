"""Asking for the reason of a change before it is stored: nothing is changed without one."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar, cast

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Button, Input, Static

from kb.tui.screens.at_desk import AtDesk
from kb.tui.text import plain
from kb.tui.throwing_away import ThrowsAway
from kb.tui.widgets.frame import Sheet
from kb.tui.widgets.plain_input import PlainInput

if TYPE_CHECKING:
    from textual.screen import Screen

    from kb.desk.records.record import Written
    from kb.desk.studio import Studio

NO_REASON = "Say why first: a change without a reason is not stored."
AGAIN = "Nothing is stored yet. Press Esc once more to leave and lose what you wrote."
KEPT_HERE = "Kept as a draft: {}. Opened again it says what you wrote; F9 on it throws that away."


class OnTop(ThrowsAway, AtDesk):
    """Mixed into a pop-up that stores something: what is written in it is not thrown away by one key.

    ``SAID`` names the line below; ``draft_name`` is empty where no draft is kept: only there Escape loses it.
    """

    SAID: ClassVar[str]
    draft_name = ""
    _warned = False

    @property
    def written(self) -> bool:
        """Whether leaving would lose something."""
        raise NotImplementedError

    def typed(self) -> None:
        """Keep what is written, where a draft is kept."""
        raise NotImplementedError

    def stored(self, answer: Any) -> None:
        self.bench.drop_draft(self.draft_name)
        self.dismiss(answer)

    def refused(self, words: str) -> None:
        """It is not stored; nothing that was written is lost, nor what came while it was tried."""
        self._storing = False
        self.typed()
        self.tell(f"Not stored: {words}")

    def action_leave(self) -> None:
        """Escape keeps the draft; where there is none, a second one means it."""
        if self._storing:
            return
        if self.written and not (self._warned or self.draft_name):
            self._warned = True
            self.tell(AGAIN)
            return
        if kept := self.bench.drafts.get(self.draft_name):
            self.bench.say(KEPT_HERE.format(kept.says))
        self.dismiss(None)

    @property
    def not_stored(self) -> str:
        """What would go with the form."""
        kept = self.bench.drafts.get(self.draft_name)
        return f"This is not stored: {kept.says}." if kept else ""

    def throw(self) -> None:
        self.bench.drop_draft(self.draft_name)
        self.dismiss(None)

    def tell(self, words: str) -> None:
        """How it was understood, or what stands in the way."""
        cast("Screen[Any]", self).query_one(self.SAID, Static).update(plain(words))


class AskWhy(OnTop, ModalScreen["Written | None"]):
    """A reason, then a button that does it. ``store`` gets the reason in a thread of its own."""

    SAID = "#change-said"
    TITLE_WORDS = "A reason is needed"
    HELP = (
        "Write why, and press Enter: the button that does it comes into focus. Enter once more does it. "
        "Esc leaves without changing anything."
    )
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "Leave")]
    CSS = """
    AskWhy { align: center middle; background: $background 60%; }
    AskWhy .answers { height: 1; }
    AskWhy Button { margin-right: 2; }
    """

    def __init__(
        self, title: str, says: str, does: str, store: Callable[[Studio, str], Written], *, why: str = ""
    ) -> None:
        super().__init__()
        self.heading = title
        self.says = says
        self.does = does
        self.store = store
        self.leaves = "Leave it as it is"
        self.why = why

    def compose(self) -> ComposeResult:
        """What will happen, the reason, the two ways on."""
        with Sheet(self.heading, "Enter goes on; Esc leaves"):
            with VerticalScroll(can_focus=False):
                yield Static(plain(self.says), markup=False)
            yield Static("Why?", classes="heading", markup=False)
            yield PlainInput(
                self.why, id="change-why", compact=True, placeholder="the reason, in a few words"
            )
            yield Static("", id="change-said", markup=False)
            with Horizontal(classes="answers"):
                yield Button(self.does, id="change-do", compact=True)
                yield Button(self.leaves, id="change-leave", compact=True)

    def on_mount(self) -> None:
        self.query_one("#change-why", Input).focus()

    @on(Input.Submitted, "#change-why")
    def to_button(self, event: Input.Submitted) -> None:
        """Enter in the reason goes on to the button, so that doing it takes a second Enter."""
        event.stop()
        if not event.value.strip():
            self.tell(NO_REASON)
            return
        self.tell(f"Enter once more: {self.does}. Tab: {self.leaves}.")
        self.query_one("#change-do", Button).focus()

    @on(Input.Changed, "#change-why")
    def typed(self) -> None:
        """Whoever goes on writing did not mean to leave."""
        self._warned = False

    @on(Button.Pressed, "#change-do")
    def do_it(self) -> None:
        """Store it; what went wrong is said here and the reason kept."""
        why = self.query_one("#change-why", Input).value.strip()
        if not why:
            self.tell(NO_REASON)
            self.query_one("#change-why", Input).focus()
            return
        if self._storing:
            return
        self._storing = True
        self.tell("Storing ...")
        self.ask(lambda studio: self.store(studio, why), self.stored, group="store", failed=self.refused)

    def refused(self, words: str) -> None:
        """The reason is mended, or the same is tried again."""
        super().refused(words)
        self.query_one("#change-why", Input).focus()

    @on(Button.Pressed, "#change-leave")
    def leave(self) -> None:
        self.dismiss(None)

    @property
    def written(self) -> bool:
        """A reason."""
        return bool(self.query_one("#change-why", Input).value.strip())
