"""A small form over the screen: a few labelled lines, stored together."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from kb.tui.screens.at_desk import AtDesk
from kb.tui.text import plain
from kb.tui.widgets.field import Field, FormInput
from kb.tui.widgets.frame import Sheet

if TYPE_CHECKING:
    from kb.desk.records.record import Written
    from kb.desk.studio import Studio

AGAIN = "Nothing is stored yet. Press Esc once more to leave and lose what you wrote."


class Asked(NamedTuple):
    """One line: the field it fills, its label, what to type."""

    name: str
    label: str
    hint: str


class FewLines(AtDesk, ModalScreen["Written | None"]):
    """Ctrl+S stores what is typed, in a thread of its own; what cannot be is said, and nothing is lost."""

    TITLE_WORDS = "A few lines"
    HELP = "Fill in what you know; Ctrl+S stores it. An empty line says nothing. Esc leaves."
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "store", "Store", priority=True),
        Binding("escape", "leave", "Leave"),
    ]
    CSS = """
    FewLines { align: center middle; background: $background 60%; }
    """

    def __init__(
        self,
        title: str,
        lines: Sequence[Asked],
        store: Callable[[Studio, Mapping[str, str]], Written],
        before: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__()
        self.heading = title
        self.lines = lines
        self.store = store
        self.before = before or {}
        self._warned = False

    def compose(self) -> ComposeResult:
        """The lines, and what stands in the way."""
        with Sheet(self.heading, "Ctrl+S stores; Esc leaves"):
            with VerticalScroll(can_focus=False):
                for asked in self.lines:
                    yield Field(asked.name, asked.label, self.before.get(asked.name, ""), asked.hint)
            yield Static("", id="few-said", markup=False)

    def on_mount(self) -> None:
        """One types at once."""
        self.query(FormInput).first().focus()

    @property
    def typed(self) -> dict[str, str]:
        """What stands in the lines."""
        return {field.name or "": field.value.strip() for field in self.query(FormInput)}

    def action_store(self) -> None:
        """Store it; the form stays open if that cannot be."""
        words = self.typed
        self.ask(lambda studio: self.store(studio, words), self._stored, group="store", failed=self.tell)

    def _stored(self, written: Written) -> None:
        self.dismiss(written)

    def action_leave(self) -> None:
        """Escape; what was typed is not thrown away by one key."""
        if any(text != self.before.get(name, "") for name, text in self.typed.items()) and not self._warned:
            self._warned = True
            self.tell(AGAIN)
            return
        self.dismiss(None)

    def tell(self, words: str) -> None:
        """What stands in the way, in words."""
        self.query_one("#few-said", Static).update(plain(words))
