"""Measuring side by side: the cases take turns, so that what else the machine does falls on all of them."""

from __future__ import annotations

import gc
import random
import time
from collections.abc import Callable, Mapping
from statistics import median
from typing import NamedTuple, TypeVar

K = TypeVar("K")
Case = Callable[[], float]
"""Does the thing once and returns what it cost (s or bytes)."""


class Spread(NamedTuple):
    """A median with the quartiles around it."""

    middle: float
    low: float
    high: float


class Result(NamedTuple):
    """One budget: a ratio (or, if ``unit`` is given, an absolute figure) beside what is allowed, if anything.

    ``parts`` are the figures behind it, each with its unit. ``key`` finds what is known of a miss.
    """

    key: str
    name: str
    value: Spread
    budget: float | None
    unit: str
    parts: dict[str, tuple[Spread, str]]
    note: str = ""

    @property
    def within(self) -> bool:
        """Whether the budget is kept, if there is one."""
        return self.budget is None or self.value.middle <= self.budget


class Curve(NamedTuple):
    """How a cost grows with the number of tests in the book. ``panel`` is the drawing it belongs to."""

    panel: str
    name: str
    unit: str
    points: dict[int, Spread]


def exactly(value: float) -> Spread:
    """What was measured once, or never varies."""
    return Spread(value, value, value)


def spread(values: list[float]) -> Spread:
    """Median and quartiles."""
    ordered = sorted(values)
    last = len(ordered) - 1
    return Spread(median(ordered), ordered[round(last * 0.25)], ordered[round(last * 0.75)])


def timed(once: Callable[[], object]) -> Case:
    """What a call takes, in seconds."""

    def case() -> float:
        started = time.perf_counter()
        once()
        return time.perf_counter() - started

    return case


def warmed(cases: Mapping[K, Case], rounds: int) -> dict[K, list[float]]:
    """As :func:`side_by_side`, after a round that does not count, in which disk and caches get warm."""
    if rounds > 1:
        side_by_side(cases, 1)
    return side_by_side(cases, rounds)


def side_by_side(cases: Mapping[K, Case], rounds: int) -> dict[K, list[float]]:
    """Each case once per round, every round beginning with another one."""
    names = list(cases)
    found: dict[K, list[float]] = {name: [] for name in names}
    gc.collect()
    # As the program does once it has loaded: what is there to stay is not looked through at each answer.
    gc.freeze()
    # The same draw each time. In turn, a case would nearly always follow the same other one, and pay for what
    # that one drove out of the processor's caches.
    drawn = random.Random(1)
    for turn in range(rounds):
        first = names[turn % len(names)]
        others = [name for name in names if name != first]
        for name in (first, *drawn.sample(others, len(others))):
            found[name].append(cases[name]())
    gc.unfreeze()
    return found


def middle_of(costs: Mapping[int, list[float]]) -> dict[int, Spread]:
    """The points of a curve from several measurements at each length."""
    return {length: spread(values) for length, values in costs.items()}


def ratio(over: list[float], under: list[float]) -> Spread:
    """How many times ``under`` is ``over``, round by round: what slows a round slows both sides of it."""
    return spread([a / b for a, b in zip(over, under, strict=True)])
