"""F1: what the screen one is on is for, and its keys."""

from __future__ import annotations

import re
from textwrap import wrap

from textual.containers import VerticalScroll
from textual.widgets import Static

from kb.tui.screens.note import NoteScreen
from kb.tui.text import plain

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
