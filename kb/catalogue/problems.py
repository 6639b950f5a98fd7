"""What is wrong in a catalogue file, where, and how it should look.

Walk through all structs inside a record, with the place of each in its YAML.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import NamedTuple

import msgspec

from kb.model.base import Record

NodePath = tuple[str | int, ...]
"""Keys and list positions that lead to one place in a YAML file."""

REFUSED = object()
"""Stands in a document where a value was refused and a fault already says so."""
UNSAFE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff\ud800-\udfff]"
)
"""Characters that could move a cursor, hide or turn round text: no catalogue text needs them."""


class Fault(NamedTuple):
    """One thing that is wrong at ``at``; the file and line are added by whoever knows them.

    ``line`` is given only where the place has no path of its own, such as a syntax error.
    """

    at: NodePath
    message: str
    expected: str = ""
    example: str = ""
    line: int | None = None

    def told(
        self, file: str, lines: Mapping[NodePath, int], within: NodePath = (), entry: str = ""
    ) -> Problem:
        """With its file and line; ``at`` is relative to ``within``, the place of ``entry``."""
        line = self.line or line_of((*within, *self.at), lines)
        return Problem(file, line, entry, self.message, self.expected, self.example)


class Problem(NamedTuple):
    """One thing that is wrong in a file, for people to read and put right.

    ``path`` is shown relative to the parent of the catalogue folder; ``line`` counts from 1; ``entry``
    is kind and id, or empty; ``message`` is one sentence; ``expected`` says what is due there and
    ``example`` shows it as YAML.
    """

    path: str
    line: int
    entry: str
    message: str
    expected: str = ""
    example: str = ""

    def __str__(self) -> str:
        """One line: ``data/liquids/ketones.yaml:12: liquids/acetone: what is wrong. Expected: ...``"""
        told = f"{self.path}:{self.line}: "
        if self.entry:
            told += f"{self.entry}: "
        told += self.message if self.message.endswith("?") else f"{self.message}."
        if self.expected:
            told += f" Expected: {self.expected}."
        if self.example:
            told += f" Example: {self.example}"
        return printable(told)


def printable(text: str) -> str:
    """``text`` on one line, with a mark in place of every character that is not safe to print."""
    return UNSAFE.sub("\N{REPLACEMENT CHARACTER}", " ".join(text.split()))


def quoted(value: object, most: int = 60) -> str:
    """A value from a file, safe and short enough to stand inside a message."""
    text = printable(str(value))
    return f'"{text if len(text) <= most else text[: most - 3] + "..."}"'


def nearest(word: str, known: Iterable[str], like: float = 70.0) -> str:
    """The known word most like ``word``, or empty text if none is; ``like`` of a hundred is the least."""
    from rapidfuzz import fuzz, process

    choices = sorted(known)
    best = process.extractOne(word, choices, scorer=fuzz.ratio, processor=str.lower, score_cutoff=like)
    return best[0] if best else ""


def an(word: str) -> str:
    """``word`` with its article."""
    return f"an {word}" if word[:1] in "aeiou" else f"a {word}"


def line_of(at: NodePath, lines: Mapping[NodePath, int]) -> int:
    """The line of the place, or of the nearest place above it that stands in the file."""
    while at not in lines and at:
        at = at[:-1]
    return lines.get(at, 1)


class Part(NamedTuple):
    """A struct inside an entry and its place there; the entry itself is the part at ``()``."""

    at: NodePath
    struct: Record


@cache
def fields(kind: type[msgspec.Struct]) -> tuple[tuple[str, str], ...]:
    """Names of the fields in Python and in YAML."""
    return tuple(zip(kind.__struct_fields__, kind.__struct_encode_fields__, strict=True))


def parts(record: Record, at: NodePath = ()) -> Iterator[Part]:
    """The record and every struct inside it, in the order of the file's fields."""
    yield Part(at, record)
    for name, key in fields(type(record)):
        value = getattr(record, name)
        if isinstance(value, Record):
            yield from parts(value, (*at, key))
        elif isinstance(value, tuple):
            for number, item in enumerate(value):
                if isinstance(item, Record):
                    yield from parts(item, (*at, key, number))
