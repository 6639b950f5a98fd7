"""A range instead of a number where an input is only known to lie between two values."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
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


def spread_over(evaluate: Callable[..., float], *inputs: Spread) -> Spread:
    """What a model gives over all combinations of the lowest and highest inputs.

    This bounds the answer if the model rises or falls all the way in each input, as the models of
    kb.science.air.room do for the near field and the well-mixed room. Raises ValueError for a range that
    runs backwards.
    """
    for one in inputs:
        if not one.low <= one.high:
            raise ValueError(f"a range must not run from more to less: {one.low} to {one.high}")
    corners = itertools.product(*(dict.fromkeys(one) for one in inputs))
    return hull(evaluate(*corner) for corner in corners)
