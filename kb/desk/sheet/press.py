"""Pressing and drying as a plan: what lies on the sheet, for how long, and when the blotters change.

Pressing and drying of one sheet as steps to tick and to time, kept as :mod:`kb.desk.making.steps` says.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import msgspec

from kb.book.kinds.mend import After
from kb.desk.errors import DeskError
from kb.desk.making import steps
from kb.desk.making.steps import StepsState, Work
from kb.desk.materials.measured import Maker, Measured, Told, ends, told
from kb.desk.sheet.facts import plain_name
from kb.desk.studio import Studio
from kb.model.question import Plain
from kb.model.recipe import RecipeStep

if TYPE_CHECKING:
    from kb.desk.records.record import Written

PLANS: dict[After, tuple[tuple[str, str, bool], ...]] = {
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
WET = (("reading", "wash"), ("mend", "mend"))
"""Kinds of records after which a sheet is pressed, and the plan of each."""
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

    after: After
    steps: tuple[PressStep, ...]
    blotter_changes: int
    in_all: Measured
    rules: tuple[Told, ...]
    note: str


def plan(studio: Studio, after: str) -> PressPlan:
    """How to press or dry after a job. Raises DeskError for a job without a plan."""
    job = next((one for one in PLANS if one == after), None)
    if job is None:
        raise DeskError(f'There is no plan for "{after}"; there are {", ".join(PLANS)}.')
    make, steps, changes = Maker(studio), [], 0
    for number, (guide, text, fresh) in enumerate(PLANS[job], 1):
        minutes = make.guide(guide)
        changes += fresh
        steps.append(
            PressStep(
                number=number,
                text=text,
                minutes=minutes,
                blotters=changes if fresh else 0,
                timer_s=60.0 * min(ends(minutes), default=0.0),
            )
        )
    return PressPlan(
        after=job,
        steps=tuple(steps),
        blotter_changes=changes,
        in_all=make.sum([one.minutes for one in steps], "min", MODEL),
        rules=told(studio, "pressing"),
        note="Times are customary. The sheet decides: it is dry when it no longer feels cool.",
    )


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


def last_done(studio: Studio, sheet: str) -> str:
    """The job after which the sheet lies wet now, by what was written down last; empty if nothing was."""
    from kb.index.kept_rows import kept

    found = [(rows[-1].id, job) for kind, job in WET if (rows := kept(studio.index.conn, kind, sheet))]
    return max(found, default=("", ""))[1]


def store(studio: Studio, sheet: str, after: str) -> Written:
    """Write a finished pressing into the book from its ticks, and take those off for the next time.

    Raises DeskError while a step is left, and if the ticks stay; to store them again takes them off and
    writes nothing twice.
    """
    from kb.book.kinds.mend import Pressing as Pressed
    from kb.desk.records.record import Written, write
    from kb.index.book_lines import lines_about
    from kb.index.kept_rows import kept

    found = pressing(studio, sheet, after)
    if found.state.next:
        raise DeskError(f"Step {found.state.next} is not ticked yet; nothing was recorded.")
    moments = [datetime.fromisoformat(at) for at in found.state.ticked.values()]
    minutes = round((max(moments) - min(moments)).total_seconds() / MIN_S)
    body = Pressed(
        sheet=sheet.strip(),
        after=found.plan.after,
        steps=len(moments),
        blotters=found.plan.blotter_changes,
        # Ticked all at once afterwards, the ticks tell no time.
        minutes=float(minutes) if minutes else None,
    )
    for row in kept(studio.index.conn, "pressing", sheet):
        # A record made after the last of these ticks is of these ticks: only taking them off had failed.
        if row.body == body and datetime.fromisoformat(row.at) >= max(moments):
            line = lines_about(studio.index.conn, row.id)[0]
            written = Written.taken_from(line)
            break
    else:
        written = write(studio, "pressing", body)
    try:
        steps.start_over(studio, _work(studio, sheet, found.plan))
    except DeskError as error:
        raise DeskError(
            f"Stored and on disk: pressing {written.id}. Its ticks stay: {error} "
            "Storing it again takes them off and writes nothing twice."
        ) from error
    return written


def work(studio: Studio, sheet: str, after: str) -> Work:
    """A plan as steps of this sheet, to tick and to time. DeskError for a job without a plan."""
    return _work(studio, sheet, plan(studio, after))


def work_key(sheet: str, after: str) -> str:
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
