"""Forms over a screen: their drafts, throwing away what is typed, and asking for the reason of a change."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from importlib import import_module
from inspect import signature
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar, cast
from zlib import crc32

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Button, Input, Static

from kb.tui.screens.at_desk import AtDesk
from kb.tui.text import cut, plain
from kb.tui.widgets.field import Field, FormInput
from kb.tui.widgets.frame import KEPT, Sheet
from kb.tui.widgets.plain_input import PlainInput

if TYPE_CHECKING:
    from textual.screen import Screen

    from kb.desk.records.record import Written
    from kb.desk.studio import Studio


class ThrowsAway(AtDesk):
    """Mixed into a form. ``not_stored`` says what would go, and is empty where there is nothing."""

    _storing = False

    throw: Callable[[], None]
    """Away with it, and off the form."""

    @property
    def not_stored(self) -> str:
        """What would go, in a sentence."""
        raise NotImplementedError

    def on_resize(self) -> None:
        """The line one is on stays in sight: a key would else be obeyed where nobody sees it."""
        screen = cast("Screen[Any]", self)
        if (line := screen.focused) is not None:
            screen.call_after_refresh(line.scroll_visible, animate=False)

    def action_throw_away(self) -> None:
        """Ask, then throw it away. Delete does it: no letter that means something on another screen."""
        if self.not_stored and not self._storing:
            answers = (("f", "form", "Stay on the form"), ("delete", "throw", "Throw it away"))
            self.sure("Throw it away?", self.not_stored, answers, self.throw)


NO_REASON = "Say why first: a change without a reason is not stored."
AS_LEFT = "As it was left; F9 throws it away."
LINES = "lines-"
"""What the drafts of small forms begin with."""
STORES: dict[str, Callable[..., Any]] = {}
"""What small forms store by, by module and name. A draft on disk can name one of these and nothing else."""

T = TypeVar("T")
Verb = TypeVar("Verb", bound=Callable[..., Any])


def stores(verb: Verb) -> Verb:
    """Mark what a small form stores by, so that its draft can be opened from anywhere."""
    STORES[_name_of(verb)] = verb
    return verb


def _name_of(verb: Callable[..., Any]) -> str:
    return f"{verb.__module__}:{getattr(verb, '__name__', '')}"


@stores
def withdraw(record_id: str, studio: Studio, why: str) -> Written:
    """Whatever was written down by mistake."""
    from kb.desk.records.book_list import withdraw_record

    return withdraw_record(studio, record_id, why)


def by_name(store: Callable[..., Any]) -> dict[str, Any] | None:
    """What a form stores by, as a draft holds it; None where that cannot be."""
    verb = getattr(store, "func", store)
    if _name_of(verb) not in STORES:
        return None
    return {
        "store": _name_of(verb),
        "args": list(getattr(store, "args", ())),
        "given": dict(getattr(store, "keywords", {})),
    }


def from_name(again: Mapping[str, Any]) -> Callable[..., Any]:
    """The same back. KeyError if it is none of those marked, TypeError if it takes other things now."""
    module = again["store"].partition(":")[0]
    if module.startswith("kb.tui.screens."):
        import_module(module)
    store = partial(STORES[again["store"]], *again["args"], **again["given"])
    signature(store).bind("the studio", "what is written")
    return store


def draft_named(*words: str) -> str:
    """The draft of a small form: its words tell one bottle or patch from another, until it is stored."""
    return f"{LINES}{crc32(''.join(words).encode()):08x}"


ON_TOP: list[BindingType] = [
    Binding("ctrl+s", "store", "Store"),
    Binding("f9", "throw_away", "Throw away"),
    Binding("escape", "leave", "Leave"),
]
"""Keys of a form that lies on top and has no others."""


class OnTop(ThrowsAway):
    """Mixed into a pop-up that stores something: what is written in it outlives Escape, and the program.

    ``draft_name`` names the draft.
    """

    AUTO_FOCUS: ClassVar[str | None] = ""
    # The line one begins with is chosen on mount; the first bore the mark until then.
    draft_name: str
    kept: Any = None
    """What is given back by who leaves: nothing, unless a part was stored before."""
    to_mind = ""
    """Said while one types, and again when it is stored."""

    typed: Callable[[], None]
    """Keep what is written, where a draft is kept."""

    def store_by(
        self, verb: Callable[[Studio], T], then: Callable[[T], None] | None = None, group: str = "store"
    ) -> None:
        """Store it in a thread, unless that is under way; what goes wrong is told and nothing is lost."""
        if not self._storing:
            self._storing = True
            self.tell("Storing ...")
            self.ask(verb, then or self.stored, group=group, failed=self.refused)

    def stored(self, answer: Any) -> None:
        # Long work that comes of it drops the draft itself, once it went well.
        if getattr(answer, "draft", "") != self.draft_name:
            self.bench.drop_draft(self.draft_name)
        if self.to_mind:
            self.bench.say(self.to_mind, title="Stored")
        self.dismiss(answer)

    def refused(self, words: str) -> None:
        """It is not stored; nothing that was written is lost, nor what came while it was tried."""
        self._storing = False
        self.typed()
        why = words.removeprefix("Not stored: ")
        self.tell(f"Not stored: {why}")
        # Words of the desk begin with what was typed, or with its label: there the cursor is wanted.
        for line in cast("Screen[Any]", self).query(Field):
            typed = line.query_one(FormInput)
            said = typed.value.strip()
            if why.startswith(f"{line.label}: ") or (said and why.startswith((f'"{said}"', f"'{said}'"))):
                typed.focus()
                break

    def action_leave(self) -> None:
        """Escape keeps the draft."""
        if self._storing:
            return
        if kept := self.bench.drafts.get(self.draft_name):
            self.bench.say(KEPT.format(kept.says))
        self.dismiss(self.kept)

    @property
    def not_stored(self) -> str:
        kept = self.bench.drafts.get(self.draft_name)
        return f"This is not stored: {kept.says}." if kept else ""

    def throw(self) -> None:
        self.bench.drop_draft(self.draft_name)
        self.dismiss(self.kept)


class AskWhy(OnTop, ModalScreen["Written | None"]):
    """A reason, then a button that does it. ``store`` gets the reason in a thread of its own."""

    SAID = "#change-said"
    TITLE_WORDS = "A reason is needed"
    HELP = (
        "Write why, and press Enter: the button that does it comes into focus. Enter once more does it, and "
        "so does Ctrl+S. "
        "Esc leaves without changing anything and keeps what you wrote as a draft; F9 throws it away."
    )
    BINDINGS = ON_TOP
    CSS = """
    AskWhy .answers { height: 1; }
    AskWhy Button { margin-right: 2; }
    """

    def __init__(self, title: str, says: str, does: str, store: Callable[[Studio, str], Written]) -> None:
        super().__init__()
        self.heading = title
        self.says = says
        self.does = does
        self.store = store
        self.leaves = "Leave it as it is"
        self.draft_name = draft_named(title, says)

    def compose(self) -> ComposeResult:
        kept = self.bench.drafts.get(self.draft_name)
        with Sheet(self.heading, "Enter goes on; Esc keeps a draft"):
            with VerticalScroll(can_focus=False):
                yield Static(plain(self.says), markup=False)
            yield Static("Why?", classes="heading", markup=False)
            yield PlainInput(
                kept.values.get("why", "") if kept else "",
                id="change-why",
                compact=True,
                # One goes on with what was kept; the first letter would else take its place.
                select_on_focus=False,
                placeholder="the reason, in a few words",
            )
            yield Static(plain(AS_LEFT if kept else ""), id="change-said", markup=False)
            with Horizontal(classes="answers"):
                yield Button(self.does, id="change-do", compact=True)
                yield Button(self.leaves, id="change-leave", compact=True)

    def on_mount(self) -> None:
        self.set_focus(self.query_one("#change-why", Input))

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
        if self._storing:
            return
        if not (why := self.query_one("#change-why", Input).value):
            self.bench.drop_draft(self.draft_name)
            return
        again = by_name(self.store)
        if again is not None:
            again |= {"title": self.heading, "says": self.says, "does": self.does}
        called = f'"{self.heading}": {cut(self.says.partition(chr(10))[0], 40)}'
        self.bench.keep_draft(self.draft_name, called, {"why": why}, again)

    @on(Button.Pressed, "#change-do")
    def action_store(self) -> None:
        why = self.query_one("#change-why", Input).value.strip()
        if not why:
            self.tell(NO_REASON)
            self.query_one("#change-why", Input).focus()
            return
        self.store_by(lambda studio: self.store(studio, why))

    def refused(self, words: str) -> None:
        super().refused(words)
        self.query_one("#change-why", Input).focus()

    @on(Button.Pressed, "#change-leave")
    def leave(self) -> None:
        self.action_leave()
