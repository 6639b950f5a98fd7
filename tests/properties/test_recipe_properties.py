"""What must hold for every shipped recipe in every amount."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import msgspec
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.desk.making.dilute import blend, dilute, solids
from kb.desk.making.recipe_amounts import base_of, basis_of, ends, factor_of, grams, unit_of
from kb.model.recipe import Ingredient, Recipe

DATA = Path(__file__).parents[2] / "data" / "making"
# No time limit: a busy machine is not a failure.
steady = settings(deadline=None, max_examples=60)
FACTORS = st.floats(1e-3, 1e3)


@cache
def shipped() -> tuple[Recipe, ...]:
    """All recipes that can be made up."""
    found = [
        msgspec.convert(item, Recipe)
        for path in sorted(DATA.glob("*.yaml"))
        for item in yaml.load(path.read_text("utf-8"), Loader=yaml.CSafeLoader).get("recipes", ())
    ]
    return tuple(one for one in found if one.ingredients)


def densities(one: Recipe) -> dict[str, float]:
    """Those that the catalogue has."""
    return {part.name: liquid_densities()[part.liquid] for part in one.ingredients if part.liquid}


@cache
def liquid_densities() -> dict[str, float]:
    """g/ml of every liquid that has one density, as the catalogue gives it first."""
    found = {}
    for path in sorted((DATA.parent / "liquids").glob("*.yaml")):
        for liquid in yaml.load(path.read_text("utf-8"), Loader=yaml.CSafeLoader)["liquids"]:
            if "value" in (figure := liquid.get("density_g_ml", {})):
                found[liquid["id"]] = figure["value"]
    return found


def scaled(one: Recipe, factor: float) -> Recipe:
    """The recipe written in another amount."""

    def times(part: Ingredient) -> Ingredient:
        low, high = (end * factor for end in ends(part))
        return msgspec.structs.replace(
            part, amount=low, amount_high=None if part.amount_high is None else high
        )

    parts = tuple(part if part.amount is None else times(part) for part in one.ingredients)
    makes = one.makes and msgspec.structs.replace(one.makes, amount=one.makes.amount * factor)
    return msgspec.structs.replace(one, ingredients=parts, makes=makes)


def factor(one: Recipe, by: str) -> float:
    """The factor that is asked for."""
    return factor_of(one, base_of(one, densities(one)), by, densities(one), None, None).factor


@steady
@given(st.sampled_from(shipped()), FACTORS, FACTORS)
def test_scaling_by_a_then_b_is_scaling_by_ab(one: Recipe, a: float, b: float) -> None:
    """Also of what the recipe makes; and what is asked of the scaled recipe is divided by its factor."""
    twice, once = (
        base_of(scaled(scaled(one, a), b), densities(one)),
        base_of(scaled(one, a * b), densities(one)),
    )
    assert twice.unit == once.unit
    assert twice.amount == (None if once.amount is None else pytest.approx(once.amount, rel=1e-9))
    if once.amount is not None and once.unit in {"g", "ml"}:
        asked = f"{once.amount:.9f} {once.unit}"
        if float(asked.split(maxsplit=1)[0]) > 0.001:
            assert factor(one, asked) == pytest.approx(a * b, rel=1e-3)


@steady
@given(st.sampled_from(shipped()), FACTORS)
def test_mass_is_conserved_and_percentages_stay(one: Recipe, by: float) -> None:
    """Each ingredient keeps its share of the whole weight, and the shares come to the whole."""
    if any(part.role == "make up to" or part.amount is None for part in one.ingredients):
        return
    known, new = densities(one), scaled(one, by)
    try:
        before = [grams(one, part, part.amount or 0, known) for part in one.ingredients]
    except ValueError:
        return
    after = [grams(new, part, part.amount or 0, known) for part in new.ingredients]
    assert math.fsum(after) == pytest.approx(by * math.fsum(before), rel=1e-9)
    for one_g, other_g in zip(before, after, strict=True):
        assert other_g / math.fsum(after) == pytest.approx(one_g / math.fsum(before), rel=1e-9)


@steady
@given(st.sampled_from(shipped()), st.integers(1, 10_000))
def test_what_is_at_hand_is_used_up(one: Recipe, amount: int) -> None:
    """The ingredient that was named comes out as it was given."""
    for part in one.ingredients:
        unit = unit_of(one, part)
        if part.amount is None or part.role == "make up to" or unit not in {"g", "ml"}:
            continue
        if sum(part.name in other.name for other in one.ingredients) > 1 or part.name[0].isdigit():
            continue
        found = factor(one, f"{part.name} {amount} {unit}")
        assert found * ends(part)[1] == pytest.approx(amount, rel=1e-9), (one.id, basis_of(one))


@steady
@given(st.floats(1, 50), st.floats(0.02, 1), st.floats(1, 1e4))
def test_a_dilution_keeps_what_is_dissolved(stock: float, share: float, total: float) -> None:
    """C1 V1 = C2 V2, and stock and water come to the total."""
    stock, total = float(f"{stock:.4f}"), float(f"{total:.3f}")
    wanted = float(f"{stock * share:.6f}")
    made = dilute(f"{stock:.4f} % w/v", f"{wanted:.6f} % w/v", total=f"{total!r} ml")
    assert made.first * stock == pytest.approx(wanted * total, rel=1e-9)
    assert made.first + made.second == pytest.approx(total, rel=1e-12)


@steady
@given(st.floats(0.1, 50), st.floats(0.1, 50), st.floats(1, 1e3), st.floats(1, 1e3))
def test_a_blend_lies_between_its_parts(a: float, b: float, first: float, second: float) -> None:
    """And holds what both held."""
    made = blend(f"{a:.4f} % w/v", f"{b:.4f} % w/v", amounts=(f"{first:.4f} ml", f"{second:.4f} ml"))
    low, high = sorted((float(f"{a:.4f}"), float(f"{b:.4f}")))
    assert low - 1e-9 <= made.strength <= high + 1e-9
    held = float(f"{a:.4f}") * float(f"{first:.4f}") + float(f"{b:.4f}") * float(f"{second:.4f}")
    assert made.strength * made.total == pytest.approx(held, rel=1e-9)


@steady
@given(st.floats(1, 40), st.floats(50, 1000), st.floats(0.6, 1))
def test_cooking_down_keeps_the_solids(percent: float, before: float, kept: float) -> None:
    """Grams of solids before are grams of solids after."""
    percent, before = float(f"{percent:.3f}"), float(f"{before:.2f}")
    after = float(f"{before * kept:.2f}")
    made = solids(f"{percent!r} % w/w", f"{before:.2f} g", f"{after:.2f} g")
    assert made.value * after == pytest.approx(percent * before, rel=1e-9)
