"""The shipped recipes hold together: enough of them, sourced, in one another's reach, without brands."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import pytest
import yaml

from kb.model.base import Source
from kb.model.recipe import Recipe

DATA = Path(__file__).parents[2] / "data"
LEAST = 25


def _entries(path: Path, key: str) -> list[dict[str, Any]]:
    return list(yaml.load(path.read_text("utf-8"), Loader=yaml.CSafeLoader).get(key, ()))


@cache
def _recipes() -> tuple[Recipe, ...]:
    return tuple(
        msgspec.convert(item, Recipe, strict=True)
        for path in sorted((DATA / "making").glob("*.yaml"))
        for item in _entries(path, "recipes")
    )


@cache
def _sources() -> dict[str, Source]:
    return {
        item["id"]: msgspec.convert(item, Source)
        for path in sorted((DATA / "sources").glob("*.yaml"))
        for item in _entries(path, "sources")
    }


def test_there_are_enough_recipes_each_with_its_own_id() -> None:
    """At least 25, and no id or name twice."""
    assert len(_recipes()) >= LEAST
    for field in ("id", "name"):
        names = [getattr(one, field) for one in _recipes()]
        assert len(set(names)) == len(names)


@pytest.mark.parametrize("one", _recipes(), ids=lambda one: one.id)
def test_a_recipe_says_all_that_is_needed_at_the_bench(one: Recipe) -> None:
    """Ingredients or a table, steps, uses, storage; every source known; ranges the right way round."""
    if one.category == "old record":
        # To be read about and never made: nothing that could be scaled or followed, and every danger told.
        assert one.ingredients == one.steps == ()
        assert one.makes is None
        assert one.hazards
        assert one.cautions
    else:
        assert one.ingredients or one.consistency
        assert one.steps
    assert one.uses
    assert one.storage or one.category == "thinning guide"
    assert set(one.sources) <= set(_sources())
    for part in one.ingredients:
        assert (part.amount is None) == bool(part.until), part.name
        assert part.amount is None or part.unit, part.name
        assert part.amount_high is None or part.amount_high > (part.amount or 0), part.name
    for step in one.steps:
        assert step.text.endswith("."), step.text
        assert step.minutes_high is None or step.minutes is None or step.minutes_high > step.minutes
        assert step.temp_high_c is None or step.temp_c is None or step.temp_high_c > step.temp_c


@pytest.mark.parametrize("one", _recipes(), ids=lambda one: one.id)
def test_what_was_read_is_not_overstated(one: Recipe) -> None:
    """``read`` needs a source that was read; amounts from memory name memory."""
    seen = [_sources()[name] for name in one.sources if _sources()[name].basis == "published"]
    if one.read in {"read", "partly read"}:
        assert any(source.seen for source in seen)
    if one.read == "common practice":
        assert one.sources == ("common-practice",)


@pytest.mark.parametrize("one", _recipes(), ids=lambda one: one.id)
def test_the_basis_fits_the_units(one: Recipe) -> None:
    """Parts have no unit, w/v final names the volume to make up to, w/v added has grams and a volume."""
    units = {part.unit for part in one.ingredients if part.amount is not None}
    roles = [part.role for part in one.ingredients]
    if one.basis in {"parts by weight", "parts by volume", "parts, not stated"}:
        assert units <= {"part"}
    if one.basis == "w/v final":
        assert roles.count("make up to") == 1
    if one.basis == "w/v added":
        assert units <= {"g", "mg", "ml", "l"}
        assert "make up to" not in roles
    assert (one.read_as is not None) == (one.basis == "parts, not stated")


def test_strengths_are_those_of_the_amounts() -> None:
    """The per cent w/w that is printed follows from the ingredients, with water at 0.998 g/ml."""
    checked = 0
    for one in _recipes():
        figure = one.strength_percent_ww
        if figure is None or figure.value is None or len(one.ingredients) != 2:
            continue
        solid, liquid = one.ingredients
        grams = (liquid.amount or 0) * (0.998 if liquid.unit == "ml" else 1.0)
        assert 100 * (solid.amount or 0) / ((solid.amount or 0) + grams) == pytest.approx(
            figure.value, abs=0.06
        )
        checked += 1
    assert checked >= 7


def test_disagreeing_sources_are_kept() -> None:
    """Isinglass is dissolved at two warmths and its soak water kept or changed; both stand."""
    isinglass = next(one for one in _recipes() if one.id == "isinglass")
    assert {"low heat", "high heat", "soak water kept"} <= {one.name for one in isinglass.variants}
    gel = next(one for one in _recipes() if one.id == "methyl-cellulose-2")
    assert len(gel.shelf_life) == 2


def test_what_burns_or_burns_the_skin_says_so_on_the_label() -> None:
    """Ethanol and strong lime have hazard words."""
    by_id = {one.id: one for one in _recipes()}
    assert "highly flammable" in by_id["hydroxypropyl-cellulose-ethanol"].hazards
    assert "caustic" in by_id["limewater-stock"].hazards
