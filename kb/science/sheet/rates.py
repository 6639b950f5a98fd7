"""How long the patches that are left will take, and how much liquid, from how the last ones went."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from kb.science.sheet.cutting import Patch

ENOUGH = 5
"""Patches that were timed before the own rate replaces the one assumed."""


class Rates(NamedTuple):
    """What lifting takes. The defaults are invented placeholders without a source."""

    minutes_per_cm2: float = 6.0
    ml_per_cm2: float = 0.15
    swabs_per_cm2: float = 2.0
    drying_minutes: float = 3.0
    turn_minutes: float = 1.5


ASSUMED = Rates()


class Worked(NamedTuple):
    """What one patch took; None where it was not written down."""

    area_mm2: float
    minutes: float | None = None
    ml: float | None = None
    swabs: float | None = None


class Left(NamedTuple):
    """What is still ahead. ``own`` names the rates that rest on this sheet's own patches."""

    patches: int
    area_mm2: float
    minutes: float
    ml: float
    swabs: float
    own: tuple[str, ...]


def rates_of(worked: Sequence[Worked], assumed: Rates = ASSUMED) -> tuple[Rates, tuple[str, ...]]:
    """Own rates, each the median over the patches that say it once five do; and which are own."""
    # Loaded with half of Python's mathematics, which a list of sheets does without.
    from statistics import median

    found: dict[str, float] = {}
    for rate, field in (("minutes_per_cm2", "minutes"), ("ml_per_cm2", "ml"), ("swabs_per_cm2", "swabs")):
        said = [
            getattr(patch, field) / patch.area_mm2 * 100.0
            for patch in worked
            if getattr(patch, field) is not None and patch.area_mm2 > 0
        ]
        if len(said) >= ENOUGH:
            found[rate] = median(said)
    own = tuple(found)
    if "minutes_per_cm2" in found:
        # The clock of a patch runs until it is dry, so drying is in the own rate already.
        found["drying_minutes"] = 0.0
    return assumed._replace(**found), own


def left(order: Sequence[Patch], turns: int, worked: Sequence[Worked]) -> Left:
    """Time, liquid and swabs for the patches of an order with so many turns of the sheet."""
    rates, own = rates_of(worked)
    area = sum(patch.area_mm2 for patch in order)
    cm2 = area / 100.0
    return Left(
        patches=len(order),
        area_mm2=area,
        minutes=cm2 * rates.minutes_per_cm2 + len(order) * rates.drying_minutes + turns * rates.turn_minutes,
        ml=cm2 * rates.ml_per_cm2,
        swabs=cm2 * rates.swabs_per_cm2,
        own=own,
    )
