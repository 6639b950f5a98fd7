"""Ticks and timers of work that goes in steps, kept in the studio's folder ``working``.

They are no records: the book says what was made and done, these say how far the work has got. A program that
stops or a machine that restarts finds them as they were.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import msgspec

from kb.book.storage import put_whole
from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.model.question import Plain
from kb.model.recipe import RecipeStep
from kb.science.numbers import counted

FOLDER = "working"
STARTS = ("recipe", "press")
"""What the names of the files here begin with."""


class KeptTimer(msgspec.Struct, frozen=True, kw_only=True):
    """A timer of a step. ``since`` is the time (UTC, ISO 8601) from which it counts; empty while paused.

    ``counted_s`` is what it had counted by then, ``aim_s`` when it rings.
    """

    about: str
    aim_s: float | None = None
    counted_s: float = 0.0
    since: str = ""


class _Kept(msgspec.Struct, kw_only=True):
    """The file. ``recipe`` is the key of the work, which is a recipe's id for most."""

    recipe: str
    version: str
    by: str = ""
    ticked: dict[int, str] = {}
    timers: dict[int, KeptTimer] = {}


class Work(NamedTuple):
    """Work that goes in steps. ``version`` changes whenever the steps do."""

    key: str
    name: str
    version: str
    steps: tuple[RecipeStep, ...]
    path: Path


class StepsState(Plain, frozen=True, kw_only=True):
    """How far a recipe has got. Steps are counted from 1; ``ticked`` says when each was ticked (UTC).

    ``changed`` is True where the recipe's text is no longer that of the first tick. ``next`` is the first
    step without a tick, 0 when all are done. ``problem`` says what was wrong with the file, which then
    counts as empty. For other work than a recipe ``recipe`` is the key by which it is kept.
    """

    recipe: str
    name: str
    version: str
    by: str
    steps: tuple[RecipeStep, ...]
    ticked: dict[int, str]
    next: int
    changed: bool
    problem: str


def state_of(work: Work) -> StepsState:
    """How far the work has got. Reading writes nothing."""
    return _state(work)[0]


def tick(
    studio: Studio, work: Work, step: int, *, by: str | None = None, now: datetime | None = None
) -> StepsState:
    """Tick a step off, which ends its timer; returns only after it is on disk."""
    kept = _begun(work, step)
    kept.ticked.setdefault(step, (now or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds"))
    kept.timers.pop(step, None)
    if by is not None:
        kept.by = by
    return _keep(studio, work, kept)


def untick(studio: Studio, work: Work, step: int) -> StepsState:
    kept = _begun(work, step)
    kept.ticked.pop(step, None)
    return _keep(studio, work, kept)


def start_over(studio: Studio, work: Work, *, by: str = "") -> StepsState:
    return _keep(studio, work, _Kept(recipe=work.key, version=work.version, by=by))


def keep_timer(studio: Studio, work: Work, step: int, timer: KeptTimer) -> StepsState:
    """Note how the timer of a step stands, so that it goes on after a restart."""
    kept = _begun(work, step)
    kept.timers[step] = timer
    return _keep(studio, work, kept)


def kept_timers(studio: Studio) -> dict[str, KeptTimer]:
    """Every timer on disk by the key of its work and the number of its step: ``paste/3``.

    Files that cannot be read hold none; reading writes nothing.
    """
    found: dict[str, KeptTimer] = {}
    for start in STARTS:
        for path in sorted((studio.root / FOLDER).glob(f"{start}-*.json")):
            kept, _ = _read(path)
            if kept is not None:
                found |= {timer_key(kept.recipe, step): one for step, one in sorted(kept.timers.items())}
    return found


def timer_key(work_key: str, step: int) -> str:
    return f"{work_key}/{step}"


def _begun(work: Work, step: int) -> _Kept:
    if not 1 <= step <= len(work.steps):
        steps = counted(len(work.steps), "step")
        raise DeskError(f"{work.name} has {steps}, counted from 1; there is no step {step}.")
    return _state(work)[1]


def _state(work: Work) -> tuple[StepsState, _Kept]:
    kept, problem = _read(work.path)
    if kept is None or kept.recipe != work.key:
        kept = _Kept(recipe=work.key, version=work.version)
    changed = kept.version != work.version and bool(kept.ticked)
    if not kept.ticked:
        kept.version = work.version
    ticked = {step: at for step, at in sorted(kept.ticked.items()) if 1 <= step <= len(work.steps)}
    open_steps = (step for step in range(1, len(work.steps) + 1) if step not in ticked)
    state = StepsState(
        recipe=work.key,
        name=work.name,
        version=kept.version,
        by=kept.by,
        steps=work.steps,
        ticked=ticked,
        next=next(open_steps, 0),
        changed=changed,
        problem=problem,
    )
    return state, kept


def _read(path: Path) -> tuple[_Kept | None, str]:
    try:
        return msgspec.json.decode(path.read_bytes(), type=_Kept), ""
    except FileNotFoundError:
        return None, ""
    except (OSError, msgspec.MsgspecError, ValueError) as error:
        return None, f"The ticks in {path.name} cannot be read ({error}); they count as none."


def _keep(studio: Studio, work: Work, kept: _Kept) -> StepsState:
    """Write the file beside its old self and put it in its place, so that no half of it is ever read."""
    studio.make()
    path = work.path
    try:
        put_whole(path, msgspec.json.encode(kept))
    except OSError as error:
        raise DeskError(
            f"The tick could not be kept in {path.parent} ({error.strerror}); make room or check the folder."
        ) from error
    return state_of(work)
