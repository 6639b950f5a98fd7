"""What the amounts of a recipe add up to, on the basis that its source gives them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from kb.model.recipe import Ingredient, Recipe, RecipeBasis
from kb.science.making.dilution import grams_of_loose_powder
from kb.science.making.recipe_scaling import in_unit, known_unit

PARTS: dict[str, str] = {
    "parts by weight": "g",
    "parts by volume": "ml",
    "parts by volume of dry powder": "ml",
}
"""What one part is measured in once an amount is asked for."""
WEIGHED: frozenset[str] = frozenset({"w/w", "w/v added", "parts by weight", "parts by volume of dry powder"})
"""Bases on which the whole is told in grams, before anything evaporates."""


class Base(NamedTuple):
    """What the recipe makes as written. ``missing`` says why it is not known; ``note`` what it rests on."""

    amount: float | None
    unit: str
    note: str = ""
    missing: str = ""


def basis_of(recipe: Recipe) -> RecipeBasis:
    """The basis on which the amounts are taken: that of the source, or how it is read here."""
    return recipe.read_as or recipe.basis


def unit_of(recipe: Recipe, one: Ingredient) -> str:
    """The unit of an ingredient; a part is a gram or a millilitre by the basis."""
    return PARTS.get(basis_of(recipe), "part") if one.unit == "part" else one.unit


def ends(one: Ingredient) -> tuple[float, float]:
    """Least and most of an ingredient that has an amount."""
    low = one.amount or 0.0
    return low, low if one.amount_high is None else one.amount_high


def middle(one: Ingredient) -> float:
    """The middle of an amount, which is the amount itself but for a range."""
    return math.fsum(ends(one)) / 2.0


def spooned(recipe: Recipe, one: Ingredient) -> bool:
    """Whether the ingredient is loose powder by volume, whose weight the packing decides."""
    return (
        basis_of(recipe) == "parts by volume of dry powder"
        and one.role == "solid"
        and known_unit(unit_of(recipe, one))[1] == "volume"
    )


def grams(recipe: Recipe, one: Ingredient, amount: float, densities: Mapping[str, float]) -> float:
    """Grams of an amount of an ingredient. Raises ValueError naming what is missing."""
    unit = unit_of(recipe, one)
    if spooned(recipe, one):
        return math.fsum(grams_of_loose_powder(in_unit(amount, unit, "mL"))) / 2.0
    try:
        return in_unit(amount, unit, "g", densities.get(one.name))
    except ValueError as problem:
        raise ValueError(f"{one.name}: {problem}") from None


def base_of(recipe: Recipe, densities: Mapping[str, float]) -> Base:
    """What the recipe makes as written: as its source says, else what its ingredients add up to."""
    if recipe.makes is not None:
        return Base(recipe.makes.amount, recipe.makes.unit, recipe.makes.note)
    whole = next((one for one in recipe.ingredients if one.role == "make up to"), None)
    if whole is not None and whole.amount is not None:
        return Base(whole.amount, whole.unit)
    basis = basis_of(recipe)
    counted = [one for one in recipe.ingredients if one.amount is not None]
    if basis in WEIGHED:
        return _weighed(recipe, counted, densities)
    if basis in {"parts by volume", "by volume"}:
        return _measured(recipe, counted)
    if basis == "parts, not stated":
        return Base(None, "", missing="The source does not say whether its parts are by weight or by volume.")
    return Base(
        None, "", missing="The ingredients do not add up to one mix, and no source says what it makes."
    )


def _weighed(recipe: Recipe, counted: list[Ingredient], densities: Mapping[str, float]) -> Base:
    try:
        total = math.fsum(grams(recipe, one, middle(one), densities) for one in counted)
    except ValueError as problem:
        return Base(None, "", missing=f"What it makes is not known: {problem}.")
    note = "what is put together, before water boils off; weigh what was made"
    spoons = [one for one in counted if spooned(recipe, one)]
    for one in spoons:
        low, high = grams_of_loose_powder(in_unit(middle(one), unit_of(recipe, one), "mL"))
        note += (
            f"; {middle(one):g} ml of loose {one.name} taken as {low:.3g} to {high:.3g} g (from memory), "
            "for packing decides"
        )
    return Base(total, "g", note)


def _measured(recipe: Recipe, counted: list[Ingredient]) -> Base:
    try:
        total = math.fsum(in_unit(middle(one), unit_of(recipe, one), "mL") for one in counted)
    except ValueError as problem:
        return Base(None, "", missing=f"What it makes is not known: {problem}.")
    return Base(total, "ml", "volumes taken to add up")
