"""What a figure rests on: a sign behind it and one key below, so that no words are said in every line."""

from __future__ import annotations

import re

SIGNS = {
    "from memory": "~",
    "not read here": "?",
    "common practice, no source": "=",
    "this project's own choice": "#",
}
"""The sign of each mark that the desk writes behind a figure that was not read in its source."""
_MARKED = re.compile(rf" ~ ({'|'.join(map(re.escape, SIGNS))})")


class Signs:
    """Shortens the marks of one page and remembers which of them need a key."""

    def __init__(self) -> None:
        self.used: dict[str, str] = {}

    def short(self, words: str) -> str:
        """``8.5 ~ from memory`` -> ``8.5~``."""

        def sign(found: re.Match[str]) -> str:
            self.used[found[1]] = SIGNS[found[1]]
            return SIGNS[found[1]]

        return _MARKED.sub(sign, words)

    @property
    def key(self) -> str:
        """What the signs that were used mean, in one line."""
        return ";  ".join(f"{SIGNS[mark]} {mark}" for mark in SIGNS if mark in self.used)
