"""Pop-ups: a text to read, a question with a few answers, and F1: what a screen is for, and its keys."""

from __future__ import annotations

import re
from textwrap import wrap
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
        # A text may lie over another, as help does over a note.
        under = [one for one in self.app.screen_stack if not isinstance(one, NoteScreen)][-1:]
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
        self.dismiss(self.answers[0][1])


EVERYWHERE = """
Everywhere
F1       Explain this screen and its keys
F2       Ask what to test next
F3       Look through the bench book
F4       Look up materials
F5       Tell from what you see what a tape may be
F6       Make up: recipes, batches, labels
F7       Baths and washing
F8       Work out what is breathed while a liquid is used
F10      Go to a sheet: its tape, what is wrong with it, its plan
F12      Who writes, whose limits, colours, gloves
Ctrl+P   All actions by name, and the look of the screen
Ctrl+Q   Leave Benchleaf
Tab      Go to the next field; Shift+Tab goes back"""


_KEY = re.compile(r"\S+( \S+)? {2,}\S|\S{8,} \S")


class HelpScreen(NoteScreen):
    """The keys of a screen, then what it is for, then the keys that work everywhere."""

    def __init__(self, title: str, text: str) -> None:
        super().__init__(f"Help: {title}" if title else "Help", f"{keys_first(text)}\n{EVERYWHERE}")

    def on_resize(self) -> None:
        self.call_after_refresh(self._break_lines)

    def _break_lines(self) -> None:
        # Two cells for a scrollbar, whether there is one or not: it comes with the broken lines.
        room = max(20, self.query_one(VerticalScroll).size.width - 2)
        self.query_one(".body", Static).update(plain(hanging(self.text, room)))


def hanging(text: str, room: int) -> str:
    """Lines of keys broken so that they run on under their text and not under the key."""
    return "\n\n".join(
        "\n".join(_hung(one, room) for one in part.split("\n")) if _lists(part) else part
        for part in text.split("\n\n")
    )


def _hung(one: str, room: int) -> str:
    found = _KEY.match(one)
    indent = " " * (found.end() - 1) if found else ""
    return "\n".join(wrap(one, room, subsequent_indent=indent, break_on_hyphens=False)) if found else one


def keys_first(text: str) -> str:
    """The paragraphs that list keys before those that explain: one looks help up for a key."""
    parts = text.strip().split("\n\n")
    listing = [one for one in parts if _lists(one)]
    return "\n\n".join([*listing, *(one for one in parts if one not in listing)])


def _lists(part: str) -> bool:
    lines = part.split("\n")
    return sum(bool(_KEY.match(one)) for one in lines) * 2 > len(lines)
