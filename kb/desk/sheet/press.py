"""Pressing and drying as a plan: what lies on the sheet, for how long, and when the blotters change."""

from __future__ import annotations

from kb.desk.errors import DeskError
from kb.desk.materials.measured import Maker, Measured, Told, told
from kb.desk.studio import Studio
from kb.model.question import Plain

PLANS: dict[str, tuple[tuple[str, str, bool], ...]] = {
    "wash": (
        ("press-wash-drain", "Drain on its support, then lay it between blotters.", False),
        ("press-wash-first", "Dry blotters, light weight.", True),
        ("press-wash-second", "Fresh blotters, more weight.", True),
        ("press-wash-third", "Fresh blotters.", True),
        ("press-wash-overnight", "Fresh blotters overnight.", True),
        ("press-wash-rest", "Fresh dry blotters or felts, and leave it.", True),
    ),
    "mend": (
        ("press-mend-first", "Non-woven, blotter, glass and weight on the mend.", True),
        ("press-mend-second", "Fresh blotter, same weight.", True),
        ("press-mend-rest", "Fresh blotter, and leave it.", True),
    ),
    "flatten": (
        ("press-flatten-humidify", "Humidify through a membrane or in a chamber.", False),
        ("press-flatten-first", "Between dry blotters, under weight.", True),
        ("press-flatten-rest", "Fresh blotters, and leave it.", True),
    ),
    "hinge": (("press-hinge", "Small blotter, glass and weight on the hinge.", True),),
}
"""Steps by job: the guideline that times it, what to do, and whether fresh blotters go in."""
MODEL = "sum of the steps"


class PressStep(Plain, frozen=True, kw_only=True):
    """One step. ``blotters`` counts changes from 1; 0 where none go in. The timer takes the shortest time."""

    number: int
    text: str
    minutes: Measured
    blotters: int
    timer_s: float


class PressPlan(Plain, frozen=True, kw_only=True):
    """The whole course."""

    after: str
    steps: tuple[PressStep, ...]
    blotter_changes: int
    in_all: Measured
    rules: tuple[Told, ...]
    note: str


def plan(studio: Studio, after: str) -> PressPlan:
    """How to press or dry after a job. Raises DeskError for a job without a plan."""
    if after not in PLANS:
        raise DeskError(f'There is no plan for "{after}"; there are {", ".join(PLANS)}.')
    make, steps, changes = Maker(studio), [], 0
    for number, (guide, text, fresh) in enumerate(PLANS[after], 1):
        minutes = make.guide(guide)
        changes += fresh
        shortest = minutes.value if minutes.value is not None else minutes.low or 0.0
        steps.append(
            PressStep(
                number=number,
                text=text,
                minutes=minutes,
                blotters=changes if fresh else 0,
                timer_s=60.0 * shortest,
            )
        )
    return PressPlan(
        after=after,
        steps=tuple(steps),
        blotter_changes=changes,
        in_all=_sum(make, steps),
        rules=told(studio, "pressing"),
        note="Times are customary. The sheet decides: it is dry when it no longer feels cool.",
    )


def _sum(make: Maker, steps: list[PressStep]) -> Measured:
    lows = (one.minutes.value or one.minutes.low or 0.0 for one in steps)
    highs = (one.minutes.value or one.minutes.high or 0.0 for one in steps)
    sources = [source for one in steps for source in one.minutes.sources]
    return make.span(sum(lows), sum(highs), "min", MODEL, sources)
