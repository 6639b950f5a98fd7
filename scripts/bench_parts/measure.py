"""Measuring side by side: the cases take turns, so that what else the machine does falls on all of them."""

from __future__ import annotations

import gc
from collections.abc import Callable, Mapping
from statistics import median
from typing import NamedTuple

Case = Callable[[], float]
"""Does the thing once and returns what it cost (s or bytes)."""


class Spread(NamedTuple):
    """A median with the quartiles around it."""

    middle: float
    low: float
    high: float


class Result(NamedTuple):
    """One budget: a ratio (or, if ``unit`` is given, an absolute figure) beside what is allowed.

    ``parts`` are the figures behind it, each with its unit.
    """

    name: str
    value: Spread
    budget: float
    unit: str
    parts: dict[str, tuple[Spread, str]]
    note: str = ""

    @property
    def within(self) -> bool:
        """Whether the budget is kept."""
        return self.value.middle <= self.budget


def spread(values: list[float]) -> Spread:
    """Median and quartiles."""
    ordered = sorted(values)
    last = len(ordered) - 1
    return Spread(median(ordered), ordered[round(last * 0.25)], ordered[round(last * 0.75)])


def side_by_side(cases: Mapping[str, Case], rounds: int) -> dict[str, list[float]]:
    """Each case once per round, every round beginning with another one."""
    names = list(cases)
    found: dict[str, list[float]] = {name: [] for name in names}
    gc.collect()
    for turn in range(rounds):
        for place in range(len(names)):
            name = names[(turn + place) % len(names)]
            found[name].append(cases[name]())
    return found


def ratio(over: list[float], under: list[float]) -> Spread:
    """How many times ``under`` is ``over``: ratio of the medians, quartiles of the ratio in each round."""
    each = spread([a / b for a, b in zip(over, under, strict=True)])
    return Spread(median(over) / median(under), each.low, each.high)
