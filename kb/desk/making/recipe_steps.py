"""Where one stands in a recipe: ticks and timers of its steps, kept as :mod:`kb.desk.making.steps` says."""

from __future__ import annotations

from datetime import datetime

import msgspec

from kb.desk.errors import DeskError
from kb.desk.making import steps
from kb.desk.making.steps import KeptTimer, StepsState, Work
from kb.desk.studio import Studio
from kb.index.queries import entry
from kb.model.recipe import Recipe

__all__ = ["StepsState", "keep_timer", "start_over", "steps_state", "tick", "untick"]


def steps_state(studio: Studio, recipe_id: str) -> StepsState:
    """How far a recipe has got. Reading writes nothing."""
    return steps.state_of(_work(studio, recipe_id))


def tick(
    studio: Studio, recipe_id: str, step: int, *, by: str | None = None, now: datetime | None = None
) -> StepsState:
    """Tick a step off; returns only after it is on disk. ``by`` notes the amount that is being made."""
    return steps.tick(studio, _work(studio, recipe_id), step, by=by, now=now)


def untick(studio: Studio, recipe_id: str, step: int) -> StepsState:
    """Take a tick back."""
    return steps.untick(studio, _work(studio, recipe_id), step)


def start_over(studio: Studio, recipe_id: str, *, by: str = "") -> StepsState:
    """Take all ticks and timers back, for instance once a batch was written down."""
    return steps.start_over(studio, _work(studio, recipe_id), by=by)


def keep_timer(studio: Studio, recipe_id: str, step: int, timer: KeptTimer) -> StepsState:
    """Note how the timer of a step stands."""
    return steps.keep_timer(studio, _work(studio, recipe_id), step, timer)


def _work(studio: Studio, recipe_id: str) -> Work:
    import hashlib

    row = entry(studio.index.conn, "recipe", recipe_id)
    if row is None:
        raise DeskError(f'There is no recipe "{recipe_id}"; choose one from the list of recipes.')
    body = bytes(row.body)
    recipe = msgspec.json.decode(body, type=Recipe)
    return Work(
        key=recipe.id,
        name=recipe.name,
        version=hashlib.sha256(body).hexdigest()[:12],
        steps=recipe.steps,
        path=studio.root / steps.FOLDER / f"recipe-{recipe.id}.json",
    )
