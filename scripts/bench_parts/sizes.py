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
    others: int
    """Commands that are measured beside the three that stand for all."""
    questions: int
    rebuilds: int
    """Two processes share each: of three rounds one in which a core was not free would weigh too much."""
    appends: int
    """Two hundred take a twentieth of a second, in which anything else the machine does weighs."""
    memories: int
    lengths: tuple[int, ...]
    """Of the books that show how costs grow; the last is the long book."""
    additions: int
    """Records added to each of them."""
    pooled_studios: int
    pooled_tests: int
    loaded: int
    """Tests in the book that is verified, copied and shared under load."""
    writing_s: float
    """Seconds for which writers append while questions are asked."""
    words: int
    """Typed letter by letter, each letter followed by a rest."""
    photographs: tuple[int, int]
    """Sides of those that are compared, in pixels."""


FULL = Sizes(
    long_book=1_000_000,
    middle_book=1_000,
    short_book=100,
    rebuilt=100_000,
    names=100_000,
    paints=15,
    starts=15,
    others=100,
    questions=40,
    rebuilds=7,
    appends=2_000,
    memories=5,
    lengths=(100, 1_000, 10_000, 100_000, 1_000_000),
    additions=9,
    pooled_studios=1_000,
    pooled_tests=10_000_000,
    loaded=20_000,
    writing_s=20.0,
    words=100,
    photographs=(6_000, 4_000),
)
QUICK = Sizes(
    long_book=1_000,
    middle_book=200,
    short_book=100,
    rebuilt=1_000,
    names=21_000,
    paints=1,
    starts=1,
    others=3,
    questions=2,
    rebuilds=1,
    appends=3,
    memories=1,
    lengths=(100, 1_000),
    additions=1,
    pooled_studios=10,
    pooled_tests=5_000,
    loaded=500,
    writing_s=1.0,
    words=1,
    photographs=(900, 600),
)
"""Seconds instead of minutes: shows that everything runs. Its figures say nothing."""
