"""F1: what the screen one is on is for, and its keys."""

from __future__ import annotations

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


class HelpScreen(NoteScreen):
    """The help text of a screen, with the keys that work everywhere below it."""

    def __init__(self, title: str, text: str) -> None:
        super().__init__(f"Help: {title}" if title else "Help", f"{text.strip()}\n{EVERYWHERE}")
