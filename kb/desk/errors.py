"""What the desk says when it cannot do what was asked: one sentence, and what to do."""

from __future__ import annotations

from typing import NamedTuple


class DeskError(Exception):
    """Something the user can put right. The text is one sentence that says how."""


class Choice(NamedTuple):
    """One thing an unclear word may have meant."""

    id: str
    name: str


class Unclear(DeskError):
    """A word that fits several entries, or none; ``choices`` are the nearest."""

    def __init__(self, word: str, text: str, choices: tuple[Choice, ...]) -> None:
        self.word = word
        self.text = text
        self.choices = choices
        listed = "; ".join(f"{one.id} ({one.name})" for one in choices) or "nothing like it is known"
        super().__init__(f'The {word} "{text}" is not clear. Nearest: {listed}.')
