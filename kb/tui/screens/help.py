"""F1: what the screen one is on is for, and its keys."""

from __future__ import annotations

import re

from kb.tui.screens.note import NoteScreen

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
Ctrl+P   All actions by name, and the look of the screen
Ctrl+Q   Leave Benchleaf
Tab      Go to the next field; Shift+Tab goes back"""


_KEY = re.compile(r"\S+( \S+)? {2,}\S|\S{8,} \S")


class HelpScreen(NoteScreen):
    """The keys of a screen, then what it is for, then the keys that work everywhere."""

    def __init__(self, title: str, text: str) -> None:
        super().__init__(f"Help: {title}" if title else "Help", f"{keys_first(text)}\n{EVERYWHERE}")


def keys_first(text: str) -> str:
    """The paragraphs that list keys before those that explain: one looks help up for a key."""
    parts = text.strip().split("\n\n")
    listing = [one for one in parts if _lists(one)]
    return "\n\n".join([*listing, *(one for one in parts if one not in listing)])


def _lists(part: str) -> bool:
    lines = part.split("\n")
    return sum(bool(_KEY.match(one)) for one in lines) * 2 > len(lines)
