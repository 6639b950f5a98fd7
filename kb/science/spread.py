"""A range instead of a number where an input is only known to lie between two values."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple


class Spread(NamedTuple):
    """From ``low`` to ``high``; equal where the value is known."""

    low: float
    high: float


def known(value: float) -> Spread:
    """A range of no width."""
    return Spread(value, value)


def hull(values: Iterable[float]) -> Spread:
    """The smallest range that holds all values. Raises ValueError if there are none."""
    kept = list(values)
    if not kept:
        raise ValueError("no values to form a range of")
    return Spread(min(kept), max(kept))
