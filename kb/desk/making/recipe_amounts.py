"""How much of a recipe: what is asked for ("120 ml", "wheat starch 20 g", "x 3"), and what parts sum to."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import NamedTuple

from kb.desk.amounts import named_amount
from kb.desk.errors import Choice, DeskError, Unclear
from kb.model.recipe import Ingredient, Recipe, RecipeBasis
from kb.science.making import (
    factor_between,
    factor_for_area,
    grams_of_loose_powder,
    in_unit,
    known_unit,
)
from kb.science.quantities import parse_number, parse_quantity

PARTS: dict[str, str] = {
    "parts by weight": "g",
    "parts by volume": "ml",
    "parts by volume of dry powder": "ml",
}
"""What one part is measured in once an amount is asked for."""
WEIGHED: frozenset[str] = frozenset({"w/w", "w/v added", "parts by weight", "parts by volume of dry powder"})
"""Bases on which the whole is told in grams, before anything evaporates."""

COOKED = frozenset({"starch paste", "rigid gel", "protein"})
"""Categories of which some water is gone when they are done."""


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
    try:
        if basis in WEIGHED:
            return _weighed(recipe, counted, densities)
        if basis in {"parts by volume", "by volume"}:
            total = math.fsum(in_unit(middle(one), unit_of(recipe, one), "mL") for one in counted)
            return Base(total, "ml", "volumes taken to add up")
    except ValueError as problem:
        return Base(None, "", missing=f"What it makes is not known: {problem}.")
    if basis == "parts, not stated":
        return Base(None, "", missing="The source does not say whether its parts are by weight or by volume.")
    return Base(
        None, "", missing="The ingredients do not add up to one mix, and no source says what it makes."
    )


def _weighed(recipe: Recipe, counted: list[Ingredient], densities: Mapping[str, float]) -> Base:
    total = math.fsum(grams(recipe, one, middle(one), densities) for one in counted)
    note = "what is put together"
    if recipe.category in COOKED:
        note += ", before water boils off; weigh what was made"
    spoons = [one for one in counted if spooned(recipe, one)]
    for one in spoons:
        low, high = grams_of_loose_powder(in_unit(middle(one), unit_of(recipe, one), "mL"))
        note += (
            f"; {middle(one):g} ml of loose {one.name} taken as {low:.3g} to {high:.3g} g (from memory), "
            "for packing decides"
        )
    return Base(total, "g", note)


_NUMBER = r"\d+(?:[.,]\d+)?"
_TIMES = rf"(?i)(?:x|times)\s*({_NUMBER})|({_NUMBER})\s*(?:x|times)"
_MENDS = (
    rf"(?i)(\d+)\s*(?:mends?|strips?)\s*(?:of|at)?\s*({_NUMBER})\s*(mm|cm)?"
    rf"\s*(?:x|by)\s*({_NUMBER})\s*(mm|cm)"
)
_UNITS = {"volume": "mL", "mass": "g", "area": "m2"}
WATER_G_ML = 1.0
DILUTE = 0.15
"""Up to this weight of all else to one of water a mix may be taken for as dense as water: that errs by a
twentieth at most, for what is made here is up to half as dense again as water."""
EXAMPLES = '"120 ml", "500 g", "0.5 m2", "wheat starch 20 g", "x 3" or "12 mends of 60 x 8 mm"'


class Asked(NamedTuple):
    """The factor; ``measured`` is False where parts stay parts because no amount was named."""

    factor: float
    measured: bool
    notes: tuple[str, ...] = ()


def factor_of(
    recipe: Recipe,
    base: Base,
    by: str,
    densities: Mapping[str, float],
    density_g_ml: float | None,
    wet_film_um: float | None,
) -> Asked:
    """The factor that ``by`` asks for. Raises DeskError or Unclear, naming what is missing."""
    text = by.strip()
    if not text:
        return Asked(1.0, False)
    try:
        if times := re.fullmatch(_TIMES, text):
            return Asked(_positive(times[1] or times[2]), False)
        if mends := re.fullmatch(_MENDS, text):
            return _area(recipe, base, _strips_m2(mends), density_g_ml, wet_film_um)
        if not text[0].isdigit() and text[0] not in ".,":
            return _at_hand(recipe, text, densities)
        found = parse_quantity(text, "volume", "mass", "area")
        if found.dimension == "area":
            return _area(recipe, base, found.value, density_g_ml, wet_film_um)
        return _yield(recipe, base, found.value, _UNITS[found.dimension], text, density_g_ml)
    except ValueError as problem:
        raise DeskError(f"{recipe.name}: {problem}. Ask for it as {EXAMPLES}.") from problem


def _positive(text: str) -> float:
    number = parse_number(text)
    if not number > 0:
        raise ValueError("a number of times is above zero")
    return number


def _strips_m2(found: re.Match[str]) -> float:
    count, length, width = (parse_number(found[place]) for place in (1, 2, 4))
    # A side without a unit is in that of the other.
    along, across = (0.01 if unit.lower() == "cm" else 0.001 for unit in (found[3] or found[5], found[5]))
    return count * length * along * width * across


def _is_dilute(recipe: Recipe) -> bool:
    """Whether a recipe is water with little in it, and no other liquid."""
    water = rest = 0.0
    for one in recipe.ingredients:
        if one.amount is None:
            continue
        if spooned(recipe, one):
            return False
        try:
            weight = grams(recipe, one, middle(one), {one.name: WATER_G_ML})
        except ValueError:
            return False
        if one.liquid == "water":
            water += weight
        elif one.role == "liquid":
            return False
        else:
            rest += weight
    return rest <= DILUTE * water


def _density(recipe: Recipe, given: float | None) -> tuple[float | None, str]:
    if given is not None:
        return given, f"density of the mix taken as {given:g} g/ml, as given"
    if recipe.density_g_ml is None or recipe.density_g_ml.best is None:
        if not _is_dilute(recipe):
            return None, ""
        return WATER_G_ML, "density of the mix taken as that of water, 1 g/ml ~ this project's own choice"
    figure = recipe.density_g_ml
    of = ", ".join(figure.sources)
    return figure.best, f"density of the mix taken as {figure.best:g} g/ml ({figure.note or of})"


def _known(recipe: Recipe, base: Base) -> tuple[float, str]:
    if base.amount is None:
        raise DeskError(
            f"{recipe.name} cannot be made by its yield. {base.missing} "
            'Ask by an ingredient at hand ("NAME 20 g") or by a number of times ("x 2").'
        )
    return base.amount, base.unit


def _yield(
    recipe: Recipe, base: Base, wanted: float, unit: str, text: str, density_g_ml: float | None
) -> Asked:
    makes, makes_unit = _known(recipe, base)
    given, kind = known_unit(makes_unit)
    if known_unit(unit)[1] == kind:
        return Asked(factor_between(makes, given, wanted, unit), True)
    if {kind, known_unit(unit)[1]} != {"weight", "volume"}:
        raise DeskError(f'{recipe.name} makes {makes:g} {makes_unit}, so "{text}" says nothing of it.')
    density, note = _density(recipe, density_g_ml)
    if density is None:
        raise DeskError(
            f'{recipe.name} makes {makes:.4g} {makes_unit}; for "{text}" the density of the mix is missing. '
            f"Ask for it in {makes_unit}, or give the density in g/ml."
        )
    return Asked(factor_between(makes, given, wanted, unit, density), True, (note,))


def _area(
    recipe: Recipe, base: Base, area_m2: float, density_g_ml: float | None, wet_film_um: float | None
) -> Asked:
    makes, makes_unit = _known(recipe, base)
    given, kind = known_unit(makes_unit)
    if kind == "area":
        return Asked(factor_between(makes, given, area_m2, "m2"), True)
    film = wet_film_um if wet_film_um is not None else _film(recipe)
    if film is None:
        raise DeskError(
            f"{recipe.name} has no coverage, so an area says nothing of its amount; give the wet film in "
            "micrometres, or ask for an amount."
        )
    density, note = _density(recipe, density_g_ml) if kind == "weight" else (None, "")
    makes_ml = in_unit(makes, given, "mL", density)
    told = f"wet film of {film:g} µm; what stays in brush and pot is not counted"
    return Asked(factor_for_area(makes_ml, area_m2, film), True, tuple(filter(None, (told, note))))


def _film(recipe: Recipe) -> float | None:
    return None if recipe.coverage is None else recipe.coverage.wet_film_um


def _at_hand(recipe: Recipe, text: str, densities: Mapping[str, float]) -> Asked:
    found = named_amount(text)
    if found is None:
        raise DeskError(f'"{text}" is not an amount; ask for it as {EXAMPLES}.')
    one = _ingredient(recipe, found[0])
    if one.role == "make up to" or one.amount is None:
        said = "the whole is made up to it" if one.role == "make up to" else f"it is added {one.until}"
        raise DeskError(f"{one.name} says nothing of the amount: {said}. Ask by the yield instead.")
    quantity = parse_quantity(found[1], "mass", "volume", "area")
    unit, at_hand = unit_of(recipe, one), _UNITS[quantity.dimension]
    if unit == "part":
        raise DeskError(
            f"{recipe.name}: the source does not say whether its parts are by weight or by volume "
            f"({basis_of(recipe)}), so {found[1].strip()} says nothing of the rest."
        )
    if spooned(recipe, one) and at_hand == "g":
        raise DeskError(
            f"{one.name} is measured loose by volume here: give millilitres, for its weight depends on the "
            "packing. Or weigh a spoonful and take a recipe by weight."
        )
    high = one.amount if one.amount_high is None else one.amount_high
    return Asked(factor_between(high, unit, quantity.value, at_hand, densities.get(one.name)), True)


def _ingredient(recipe: Recipe, text: str) -> Ingredient:
    """The ingredient that is meant: its name, else the only one that holds all the words."""
    wanted = text.casefold().strip()
    exact = [one for one in recipe.ingredients if one.name.casefold() == wanted]
    words = wanted.split()
    near = exact or [one for one in recipe.ingredients if all(word in one.name.casefold() for word in words)]
    if len(near) != 1:
        listed = tuple(Choice(one.name, one.role) for one in near or recipe.ingredients)
        raise Unclear("ingredient", text.strip(), listed, borne=bool(near))
    return near[0]
