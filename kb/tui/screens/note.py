"""Pop-ups: a text to read, and a question with a few answers."""

from __future__ import annotations

from typing import ClassVar

from rich.table import Column, Table
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from kb.tui.actions import is_letter, key_name
from kb.tui.drawing import led
from kb.tui.inside_textual import bind
from kb.tui.text import plain, tidy
from kb.tui.widgets.frame import Sheet

CLOSE = "Esc closes; the arrow keys move the text."


class NoteScreen(ModalScreen[None]):
    """A text to read: a safety note, reasons, sources, an error."""

    TITLE_WORDS = "Note"
    HELP = f"A text to read. {CLOSE}"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,enter,q,Q", "dismiss", "Close", key_display="Esc")
    ]

    def __init__(self, title: str, text: str) -> None:
        super().__init__()
        self.heading = title
        self.text = text

    @property
    def passing(self) -> bool:
        """Whether the key of a place leads on: nothing is typed here, but it may lie over a form."""
        under = self.app.screen_stack[-2:-1]
        return not any(one.is_modal and not getattr(one, "passing", False) for one in under)

    def compose(self) -> ComposeResult:
        with Sheet(self.heading, CLOSE), VerticalScroll():
            yield Static(led(self.text), classes="body", markup=False)


class AskScreen(ModalScreen[str]):
    """A question answered by one key. Escape takes the first answer, which changes nothing."""

    TITLE_WORDS = "Question"
    HELP = "Press the key shown; Esc takes the first answer."
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "answer_first", "Back")]

    def __init__(self, title: str, text: str, answers: tuple[tuple[str, str, str], ...]) -> None:
        super().__init__()
        self.heading = title
        self.text = text
        self.answers = answers
        """Key, value, words."""

    def compose(self) -> ComposeResult:
        with Sheet(self.heading, self.HELP):
            with VerticalScroll():
                yield Static(plain(self.text), classes="body", markup=False)
            for key, _, words in self.answers:
                # A table of rich: words that are broken run on under themselves at any width.
                row = Table.grid(Column(width=7), Column(overflow="fold"))
                row.add_row(f"  {key_name(key)}", Text(tidy(words)))
                yield Static(row, classes="answer")

    def on_mount(self) -> None:
        for key, value, words in self.answers:
            bind(self, key, f"answer('{value}')", words)
            if is_letter(key):
                bind(self, key.upper(), f"answer('{value}')")

    def action_answer(self, value: str) -> None:
        self.dismiss(value)

    def action_answer_first(self) -> None:
        """The answer that changes nothing."""
        self.dismiss(self.answers[0][1])
