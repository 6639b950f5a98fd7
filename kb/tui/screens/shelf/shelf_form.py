"""The forms of the shelf: a few lines to fill in, stored with one key."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from kb.model.shelf import RULE_WORDS
from kb.tui.screens.ask_why import AGAIN
from kb.tui.screens.at_desk import AtDesk
from kb.tui.text import plain
from kb.tui.widgets.choice_row import ChoiceRow, One
from kb.tui.widgets.field import Field
from kb.tui.widgets.frame import Sheet

if TYPE_CHECKING:
    from kb.desk.studio import Studio

KEYS = "Enter goes on; Ctrl+S stores; Esc leaves"
DATES = "A date is written 2026-05-31, 2026-05 or today."
Store = Callable[["Studio", Mapping[str, str]], str]
"""From what was filled in to what was done, in a sentence. Raises DeskError."""


class Blank(NamedTuple):
    """One line of a form: its name, its label, what stands in it at first, and how to fill it in."""

    name: str
    label: str
    value: str = ""
    hint: str = ""


RULES = tuple(One(rule[0], rule, words, f"{rule[0].upper()} {rule}") for rule, words in RULE_WORDS.items())
WHY = (Blank("why", "Why", hint="a few words"),)
BOTTLE = (
    Blank("label", "Label", hint="what helps to find it"),
    Blank("opened", "Opened", "today", "today, a date, or unknown"),
    Blank("expires", "Expires", hint="as on the label; may be empty"),
    Blank("lot", "Lot", hint="may be empty"),
)
TESTED = (Blank("on", "Tested on", "today"), Blank("result", "Result", hint="below 1 mg/l, or what was seen"))
FINISHED = (Blank("on", "Last day", "today"),)


class ShelfForm(AtDesk, ModalScreen[str]):
    """Lines, and if asked for the choice whose rule it is. Gives back what was done, in a sentence."""

    TITLE_WORDS = "Form"
    HELP = (
        "Fill in the lines; Enter, Up and Down go from line to line. Ctrl+S stores and says what was done. "
        f"{DATES}\n"
        "If it cannot be stored, the form says why and keeps what you wrote. Esc leaves without storing."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "store", "Store", priority=True),
        Binding("escape", "leave", "Leave"),
    ]

    def __init__(
        self, title: str, says: str, blanks: tuple[Blank, ...], store: Store, *, rules: bool = False
    ) -> None:
        super().__init__()
        self.heading, self.says, self.blanks, self.rules = title, says, blanks, rules
        self.storing = store
        self._busy = False
        self._warned = False

    def compose(self) -> ComposeResult:
        """What it is about, the lines, what stands in the way."""
        with Sheet(self.heading, KEYS):
            with VerticalScroll(can_focus=False):
                yield Static(plain(self.says), markup=False)
            for one in self.blanks:
                yield Field(one.name, one.label, one.value, one.hint)
            if self.rules:
                yield ChoiceRow("rule", "Whose rule", RULES, RULES[0].value)
            yield Static("", id="form-said", markup=False)

    def on_mount(self) -> None:
        """Start on the first line that is empty."""
        start = next((one for one in self.blanks if not one.value), self.blanks[0])
        self.query_one(f"#field-{start.name}", Input).focus()

    @property
    def values(self) -> dict[str, str]:
        """What is filled in, by the names of the lines."""
        found = {one.name: self.query_one(f"#field-{one.name}", Input).value for one in self.blanks}
        return found | ({"rule": self.query_one("#rule", ChoiceRow).value} if self.rules else {})

    @on(Input.Changed)
    def typed(self) -> None:
        """Whoever goes on writing did not mean to leave."""
        self._warned = False

    def action_store(self) -> None:
        """Store it; what went wrong is said here and nothing written is lost."""
        if not self._busy:
            self._busy = True
            self.tell("Storing ...")
            verb = partial(_store, store=self.storing, values=self.values)
            self.ask(verb, self.stored, group="store", failed=self.not_stored)

    def stored(self, words: str) -> None:
        """It is on disk."""
        self.dismiss(words)

    def not_stored(self, words: str) -> None:
        """It is not."""
        self._busy = False
        self.tell(f"Not stored: {words}")

    def action_leave(self) -> None:
        """Escape; what was written is not thrown away by one key."""
        if self._busy:
            return
        written = any(self.values[one.name].strip() != one.value for one in self.blanks)
        if written and not self._warned:
            self._warned = True
            self.tell(AGAIN)
            return
        self.dismiss(None)

    def tell(self, words: str) -> None:
        """What stands in the way, in words."""
        self.query_one("#form-said", Static).update(plain(words))


def _store(studio: Studio, *, store: Store, values: Mapping[str, str]) -> str:
    return store(studio, values)
