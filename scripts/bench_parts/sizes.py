"""How much of everything a run measures."""

from __future__ import annotations

from typing import NamedTuple


class Sizes(NamedTuple):
    """Numbers of records, names and rounds."""

    long_book: int
    middle_book: int
    short_book: int
    rebuilt: int
    names: int
    paints: int
    starts: int
    questions: int
    rebuilds: int
    appends: int
    memories: int


FULL = Sizes(
    long_book=1_000_000,
    middle_book=1_000,
    short_book=100,
    rebuilt=100_000,
    names=100_000,
    paints=15,
    starts=15,
    questions=40,
    rebuilds=3,
    appends=200,
    memories=5,
)
QUICK = Sizes(
    long_book=1_000,
    middle_book=200,
    short_book=100,
    rebuilt=500,
    names=25_000,
    paints=1,
    starts=1,
    questions=2,
    rebuilds=1,
    appends=3,
    memories=1,
)
"""Seconds instead of minutes: shows that everything runs. Its figures say nothing."""
