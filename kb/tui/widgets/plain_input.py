"""A line to type in that never shows or keeps a control character."""

from __future__ import annotations

from textual.widgets import Input

from kb.tui.text import tidy


class PlainInput(Input):
    """What is typed, pasted or filled in is made plain before it is kept."""

    def validate_value(self, value: str) -> str:
        """Control characters turn into a visible mark, line breaks into a blank."""
        return tidy(value, multiline=False)
