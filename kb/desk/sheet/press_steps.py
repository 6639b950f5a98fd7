"""Pressing and drying of one sheet as steps to tick and to time, kept as :mod:`kb.desk.making.steps` says."""

from __future__ import annotations

import msgspec

from kb.desk.making import steps
from kb.desk.making.steps import KeptTimer, StepsState, Work
from kb.desk.sheet.facts import plain_name
from kb.desk.sheet.press import PLANS, PressPlan, PressStep, plan
from kb.desk.studio import Studio
from kb.model.question import Plain
from kb.model.recipe import RecipeStep

MIN_S = 60.0


class Pressing(Plain, frozen=True, kw_only=True):
    """The plan, and how far it has got. Steps of the state are those of the plan."""

    plan: PressPlan
    state: StepsState


def pressing(studio: Studio, sheet: str, after: str) -> Pressing:
    """How to press or dry a sheet after a job, and what of it is done. DeskError for a job without a plan."""
    found = plan(studio, after)
    return Pressing(plan=found, state=steps.state_of(_work(studio, sheet, found)))


def begun(studio: Studio, sheet: str) -> str:
    """The first job of which some steps of this sheet are ticked and some are not; empty if there is none."""
    states = ((after, pressing(studio, sheet, after).state) for after in PLANS)
    return next((after for after, state in states if state.ticked and state.next), "")


def tick(studio: Studio, sheet: str, after: str, step: int) -> Pressing:
    """Tick a step off, which ends its timer; returns only after it is on disk."""
    found = plan(studio, after)
    return Pressing(plan=found, state=steps.tick(studio, _work(studio, sheet, found), step))


def untick(studio: Studio, sheet: str, after: str, step: int) -> Pressing:
    """Take a tick back."""
    found = plan(studio, after)
    return Pressing(plan=found, state=steps.untick(studio, _work(studio, sheet, found), step))


def start_over(studio: Studio, sheet: str, after: str) -> Pressing:
    """Take all ticks and timers back, for the next time that this sheet is pressed after the same job."""
    found = plan(studio, after)
    return Pressing(plan=found, state=steps.start_over(studio, _work(studio, sheet, found)))


def keep_timer(studio: Studio, sheet: str, after: str, step: int, timer: KeptTimer) -> StepsState:
    """Note how the timer of a step stands."""
    return steps.keep_timer(studio, _work(studio, sheet, plan(studio, after)), step, timer)


def work_key(sheet: str, after: str) -> str:
    """By which the pressing of a sheet is known."""
    return f"press/{after}/{sheet.strip()}"


def _work(studio: Studio, sheet: str, found: PressPlan) -> Work:
    from hashlib import sha256

    made = tuple(_step(one) for one in found.steps)
    key = work_key(sheet, found.after)
    return Work(
        key=key,
        name=f"Pressing of {sheet.strip()} after {found.after}",
        version=sha256(msgspec.json.encode(made)).hexdigest()[:12],
        steps=made,
        path=studio.root / steps.FOLDER / f"press-{found.after}-{plain_name(sheet)}.json",
    )


def _step(one: PressStep) -> RecipeStep:
    """The step as recipes have them; the timer takes the shortest time."""
    return RecipeStep(
        text=one.text,
        minutes=one.timer_s / MIN_S or None,
        minutes_high=one.minutes.high,
        note="" if one.minutes.note in one.text else one.minutes.note,
        sources=one.minutes.sources or ("project",),
    )
