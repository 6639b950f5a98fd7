"""The answer of the washing planner: plain structures whose JSON form is stable."""

from __future__ import annotations

from typing import Literal

from kb.desk.choose.cautions import CautionView
from kb.desk.materials.measured import Measured
from kb.desk.water.readings import StopRule
from kb.model.question import Plain

Verdict = Literal["possible", "gentle only", "test first", "no"]
NAMES = {
    "blotter": "damp blotters, above and below",
    "float": "float, sheet face up on the water",
    "immersion": "immersion in a tray",
    "suction": "suction table, zone by zone",
}
"""Ways to wash, the gentlest first."""


class WashTest(Plain, frozen=True, kw_only=True):
    """A test with water that counts for this sheet."""

    id: str
    at: str
    harm: int | None
    """The worst grade looked at."""
    longest_dwell_min: float
    looked_at: tuple[str, ...]


class InReach(Plain, frozen=True, kw_only=True):
    """A medium or the paper, and what is known of it and water (and alkali, if a bath is planned)."""

    kind: Literal["medium", "paper"]
    id: str
    name: str
    verdict: Verdict
    why: str
    handbook: str
    handbook_sources: tuple[str, ...]
    tests: tuple[WashTest, ...]


class WashWay(Plain, frozen=True, kw_only=True):
    """One way to wash."""

    way: str
    name: str
    verdict: Verdict
    why: str
    water_per_change: Measured | None
    minutes: Measured
    changes: Measured
    water_in_all: Measured | None


class WashPlan(Plain, frozen=True, kw_only=True):
    """Which washing is possible at all, and with how much water and time."""

    sheet: str
    verdict: Verdict
    headline: str
    reach: tuple[InReach, ...]
    ways: tuple[WashWay, ...]
    """The gentlest first."""
    temperature: tuple[Measured, ...]
    least_water: Measured | None
    cautions: tuple[CautionView, ...]
    stop: StopRule
    notes: tuple[str, ...]
    disclaimer: str
