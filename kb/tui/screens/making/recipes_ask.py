"""What the screen of making up asks of the desk. Each is done in a thread, under the desk's lock."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from kb.tui.day import today
from kb.tui.screens.making.recipe_words import Opened

if TYPE_CHECKING:
    from kb.desk.making.steps import KeptTimer, StepsState
    from kb.desk.studio import Studio

AT_MOST = 40


class Found(NamedTuple):
    """One recipe in the list."""

    id: str
    name: str
    category: str
    near: bool = False
    """Only the spelling is alike."""


def find(studio: Studio, *, text: str, fresh: bool) -> list[Found]:
    """Recipes that fit what is typed, the likeliest first; all of them by name while nothing is."""
    from kb.desk.making.recipe import recipes
    from kb.desk.materials import lookup

    if fresh:
        studio.refresh()
    known = {one.id: Found(one.id, one.name, one.category) for one in recipes(studio)}
    if not text.strip():
        return sorted(known.values(), key=lambda one: one.name.casefold())
    hits = lookup.find(studio, text, ("recipe",), AT_MOST)
    return [known[one.id]._replace(near=one.near) for one in hits if one.id in known]


def grouped(found: list[Found]) -> list[Found | None]:
    """Recipes of one kind after the other, with None where the heading of a kind stands."""
    kinds = sorted({one.category for one in found}, key=str.casefold)
    return [one for kind in kinds for one in (None, *(each for each in found if each.category == kind))]


def opened(studio: Studio, *, recipe_id: str, by: str) -> Opened:
    """A recipe in the amount that is wanted; as written, with the reason, if it cannot be had so."""
    from kb.desk.errors import DeskError
    from kb.desk.making.recipe import make, recipe, steps_state

    known = recipe(studio, recipe_id).recipe
    state = steps_state(studio, recipe_id)
    if not known.ingredients:
        return Opened(known, None, state)
    try:
        return Opened(known, make(studio, recipe_id, by), state)
    except DeskError as error:
        trouble = f"Shown as written: {error}"
        return Opened(known, make(studio, recipe_id), state, trouble)


def tick(studio: Studio, *, recipe_id: str, step: int, done: bool, by: str) -> StepsState:
    """Tick a step, or take its tick back; on disk when it returns."""
    from kb.desk.making import recipe as recipe_steps

    if done:
        return recipe_steps.tick(studio, recipe_id, step, by=by)
    return recipe_steps.untick(studio, recipe_id, step)


def keep_timer(studio: Studio, *, recipe_id: str, step: int, timer: KeptTimer) -> StepsState:
    """Note how a timer stands; on disk when it returns."""
    from kb.desk.making import recipe as recipe_steps

    return recipe_steps.keep_timer(studio, recipe_id, step, timer)


def start_over(studio: Studio, *, recipe_id: str, by: str) -> StepsState:
    """Take all ticks back."""
    from kb.desk.making import recipe as recipe_steps

    return recipe_steps.start_over(studio, recipe_id, by=by)


def due_words(studio: Studio) -> str:
    """How many batches expire or must not be used; empty if none does."""
    from kb.desk.making.batches import expiring

    due = expiring(studio, today())
    if not due:
        return ""
    first = f"{due[0].name}: {due[0].what}"
    more = f" and {len(due) - 1} more" if len(due) > 1 else ""
    return f"Batches to look at (L): {first}{more}"
