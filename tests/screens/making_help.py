"""Invented recipes and pages, so that pictures do not change with the catalogue or the day."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual.pilot import Pilot

from kb.desk.making.recipe import Made, Part, StepsState
from kb.desk.materials.cited import Cited
from kb.model.recipe import Ingredient, Recipe, RecipeStep
from kb.tui.app import BenchleafApp
from kb.tui.screens.making import recipes
from kb.tui.screens.making.recipe_words import Opened
from kb.tui.screens.making.recipes import Found, RecipesScreen
from tests.screens.screen_help import HOSTILE, keys, settle, write

SIZES = [(80, 24), (120, 40)]
IDS = ["80x24", "120x40"]
NewApp = Callable[[], BenchleafApp]
SECTIONS = [
    ("An invented heading", ["- a line of figures: 1.2 to 3.4 g/l ~ from memory", "! a line to mind"]),
    (
        "Another heading",
        [f"{HOSTILE} and so on, for as long as it takes to reach the end of a line and go on"],
    ),
]


def invented_recipe() -> Recipe:
    """Two ingredients, two steps."""
    steps = (
        RecipeStep(text="Stir the powder in.", minutes=5, sources=("invented",)),
        RecipeStep(text="Let it rest.", minutes=60, minutes_high=120, hold=True, sources=("invented",)),
    )
    return Recipe(
        id="invented-gel",
        name="Invented gel, 2 g to 100 ml",
        category="rigid gel",
        basis="w/v added",
        ingredients=(
            Ingredient(name="invented powder", role="solid", amount=2, unit="g"),
            Ingredient(name="water", role="liquid", amount=100, unit="ml"),
        ),
        steps=steps,
        storage="covered",
        hazards=("slippery",),
        read="from memory",
        sources=("invented",),
    )


def invented_opened() -> Opened:
    """The recipe made for 50 ml, its first step ticked."""
    recipe = invented_recipe()
    usual: dict[str, Any] = {"low": None, "high": None, "unit": "", "grams": None, "whole": False}
    usual |= {"recipe": "", "note": "", "share": None, "share_basis": ""}
    made = Made(
        id=recipe.id,
        name=recipe.name,
        version="0" * 12,
        by="50 ml",
        factor=0.5,
        makes=50.0,
        makes_unit="ml",
        makes_words="50 ml",
        parts=(
            Part(**{**usual, "name": "invented powder", "role": "solid", "words": "1 g"}),
            Part(**{**usual, "name": "water", "role": "liquid", "words": "50 ml", "note": HOSTILE}),
        ),
        total=None,
        total_unit="",
        strength="",
        notes=("amounts from memory",),
        missing=("a density",),
        recipe=recipe,
        sources=(Cited(id="invented", cite="A source", basis="memory", seen=False, extent="", url=""),),
    )
    state = StepsState(
        recipe=recipe.id,
        name=recipe.name,
        version="0" * 12,
        by="50 ml",
        steps=recipe.steps,
        ticked={1: "2026-01-05T09:30:00+00:00"},
        next=2,
        changed=False,
        problem="",
    )
    return Opened(recipe, made, state)


@pytest.fixture
def invented_recipes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The desk knows one recipe, and nothing is due."""
    one = invented_recipe()
    found = [Found(one.id, one.name, one.category), Found("other", HOSTILE, "rigid gel")]
    monkeypatch.setattr(recipes, "find", lambda *_, **__: found)
    monkeypatch.setattr(recipes, "opened", lambda *_, **__: invented_opened())
    monkeypatch.setattr(recipes, "due_words", lambda _: "Batches to look at (L): invented: expired")


async def opened(pilot: Pilot[Any], text: str = "wheet past hot plate") -> RecipesScreen:
    """Find a recipe by half a name and open it; where only spellings are near, one has to be chosen."""
    await settle(pilot)
    await keys(pilot, "f6")
    await write(pilot, text)
    await keys(pilot, "down", "enter")
    assert isinstance(pilot.app.screen, RecipesScreen)
    return pilot.app.screen


async def make(pilot: Pilot[Any], amount: str) -> None:
    """Type an amount."""
    await keys(pilot, "m")
    await write(pilot, amount)
    await keys(pilot, "enter")


async def to_step(pilot: Pilot[Any], screen: RecipesScreen, number: int) -> None:
    """Move the cursor to a step by the arrow keys."""
    await keys(pilot, "home")
    for _ in range(40):
        if screen.pane.here is not None and screen.pane.here.step == number:
            return
        await keys(pilot, "down")
    raise AssertionError(f"no step {number}")
