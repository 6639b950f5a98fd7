"""What the screen of making up asks of the desk. Each is done in a thread, under the desk's lock."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, get_args

from kb.desk.errors import DeskError
from kb.model.recipe import HowOften
from kb.science.numbers import counted
from kb.tui.day import today
from kb.tui.screens.making.recipe_words import Opened

if TYPE_CHECKING:
    from kb.desk.studio import Studio

AT_MOST = 40
OFTEN: tuple[HowOften, ...] = get_args(HowOften)


class Found(NamedTuple):
    """One recipe in the list."""

    id: str
    name: str
    category: str
    made: HowOften = "sometimes"
    near: bool = False
    """Only the spelling is alike."""


def find(studio: Studio, *, text: str, fresh: bool) -> list[Found]:
    """Recipes that fit what is typed; all of them while nothing is. What is made every day comes first.

    Where a recipe or its kind is called so, those that only speak of it are left out: who looks for paste
    wants no bleach that is rinsed before pasting.
    """
    from kb.desk.making.recipe import recipes
    from kb.desk.materials import lookup

    if fresh:
        studio.refresh()
    words = text.casefold().split()
    known: dict[str, Found] = {}
    called: dict[str, Found] = {}
    for one in sorted(recipes(studio), key=lambda one: (OFTEN.index(one.made), one.name.casefold())):
        known[one.id] = found = Found(one.id, one.name, one.category, one.made)
        names = " ".join((one.name, one.category, *one.also)).casefold()
        if all(f" {word}" in f" {names}" for word in words):
            called[one.id] = found
    if not words:
        return [*known.values()]
    hits = lookup.find(studio, text, ("recipe",), AT_MOST)
    if not called:
        return [known[one.id]._replace(near=one.near) for one in hits if one.id in known]
    likely = {one.id: place for place, one in enumerate(hits)}

    def order(one: Found) -> tuple[bool, int, int]:
        whole = one.name.casefold() == text.strip().casefold()
        return not whole, OFTEN.index(one.made), likely.get(one.id, AT_MOST)

    return sorted(called.values(), key=order)


def opened(studio: Studio, *, recipe_id: str, by: str) -> Opened:
    """A recipe in the amount that is wanted; as written, with the reason, if it cannot be had so."""
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


def due_words(studio: Studio) -> str:
    """How many batches expire or must not be used; empty if none does."""
    from kb.desk.making.batches import expiring

    due = len(expiring(studio, today()))
    return f"{counted(due, 'batch', 'batches')} to look at (L)" if due else ""
