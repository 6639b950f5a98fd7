"""What a figure rests on: a sign behind it and one key below, not words in every line. No widgets."""

from __future__ import annotations

import re

SIGNS = {
    "from memory": "~",
    "not read here": "?",
    "common practice, no source": "=",
    "this project's own choice": "#",
}
"""The sign before each mark where the mark itself stands beside it."""
_MARK = " ~ "
SIGN = "~"
"""The one sign of a page: that a figure was not read matters at the bench before where it is from."""


class Signs:
    """Shortens the marks of one page and remembers which of them need a key."""

    def __init__(self) -> None:
        self.used: set[str] = set()

    def short(self, words: str) -> str:
        """``8.5 ~ from memory`` -> ``8.5~``."""
        # Most lines have no mark, and a command that prints none should not pay for the pattern.
        if _MARK not in words:
            return words

        def sign(found: re.Match[str]) -> str:
            self.used.add(found[1])
            return SIGN

        return re.sub(rf"{_MARK}({'|'.join(map(re.escape, SIGNS))})", sign, words)

    @property
    def key(self) -> str:
        """What the sign stands for on this page, in one line; empty if nothing bears it."""
        marks = "; ".join(mark for mark in SIGNS if mark in self.used)
        return f"{SIGN} {marks}" if marks else ""
