"""Recipes at the bench: which there are, and one of them in the amount that is wanted.

Where one stands in a recipe: ticks and timers of its steps, kept as :mod:`kb.desk.making.steps` says.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

import msgspec

from kb.desk.errors import DeskError
from kb.desk.making import steps
from kb.desk.making.recipe_amounts import (
    Asked,
    base_of,
    basis_of,
    ends,
    factor_of,
    grams,
    middle,
    spooned,
    unit_of,
)
from kb.desk.making.steps import StepsState, Work
from kb.desk.materials.cited import Cited, cited_source
from kb.desk.materials.lookup import resolve_entry
from kb.desk.studio import Studio
from kb.index.queries import entry, records
from kb.model.question import Plain
from kb.model.recipe import HowOften, Ingredient, Recipe, ShelfLife
from kb.science.making import handy, in_unit, known_unit

_COUNTED = {"part", "bath", "bed", "sheet", "teaspoon", "thin coat"}
_SMALL_M2 = 0.1
"""Below this an area is told in square centimetres."""


class RecipeSummary(Plain, frozen=True, kw_only=True):
    """One recipe in a list. ``read`` says how far its amounts were read in a source."""

    id: str
    name: str
    category: str
    basis: str
    read: str
    also: tuple[str, ...]
    made: HowOften


class Part(Plain, frozen=True, kw_only=True):
    """One ingredient in the amount that is wanted; ``low`` and ``high`` are alike but for a range.

    ``share`` is per cent on the basis named in ``share_basis``, None where it cannot be known. ``whole`` is
    True where the amount is the volume to make up to, and not what is added.
    """

    name: str
    role: str
    low: float | None
    high: float | None
    unit: str
    words: str
    grams: float | None
    share: float | None
    share_basis: str
    whole: bool
    recipe: str
    note: str


class Made(Plain, frozen=True, kw_only=True):
    """A recipe in the amount that was asked for.

    ``version`` is the hash of the recipe as it was used. ``total`` is the sum of what is put together before
    anything evaporates, None where weights and volumes stand side by side. ``notes`` say what was assumed,
    ``missing`` what would have to be known for more.
    """

    id: str
    name: str
    version: str
    by: str
    factor: float
    makes: float | None
    makes_unit: str
    makes_words: str
    parts: tuple[Part, ...]
    total: float | None
    total_unit: str
    strength: str
    notes: tuple[str, ...]
    missing: tuple[str, ...]
    recipe: Recipe
    sources: tuple[Cited, ...]


class Stored(NamedTuple):
    """A recipe as the catalogue has it, with the hash of that entry."""

    recipe: Recipe
    version: str


def recipes(studio: Studio, category: str = "") -> list[RecipeSummary]:
    found = records(studio.index.conn, "recipe", Recipe)
    return [
        msgspec.convert(one, RecipeSummary, from_attributes=True)
        for one in found
        if category in {"", one.category}
    ]


def recipe_id(studio: Studio, text: str) -> str:
    """The recipe that is meant, by id, name or other name. Raises Unclear with the nearest."""
    return resolve_entry(studio, "recipe", text)


def recipe(studio: Studio, recipe_id: str) -> Stored:
    """One recipe and the hash of its entry. Raises DeskError if there is none."""
    row = entry(studio.index.conn, "recipe", recipe_id)
    if row is None:
        raise DeskError(f'There is no recipe "{recipe_id}"; choose one from the list of recipes.')
    from hashlib import sha256

    # How often it is made says nothing of what is put together: by it no batch is of an older recipe.
    said = {name: what for name, what in msgspec.json.decode(row.body).items() if name != "made"}
    version = sha256(msgspec.json.encode(said)).hexdigest()[:12]
    return Stored(msgspec.json.decode(row.body, type=Recipe), version)


def make(
    studio: Studio,
    recipe_id: str,
    by: str = "",
    *,
    density_g_ml: float | None = None,
    wet_film_um: float | None = None,
) -> Made:
    """A recipe in the amount that ``by`` asks for, or as written if it is empty.

    ``by`` is a yield ("120 ml", "500 g", "0.5 m2"), an ingredient at hand ("wheat starch 20 g"), a number of
    times ("x 3"), or mends ("12 mends of 60 x 8 mm"). ``density_g_ml`` is that of the mix and goes before
    the recipe's own; ``wet_film_um`` is how thickly it goes on where an area is asked for. Times of steps do
    not scale. Raises DeskError naming what is missing.
    """
    one, version = recipe(studio, recipe_id)
    if not one.ingredients:
        raise DeskError(f"{one.name} is a guide to read and not to be made up.")
    densities = _densities(studio, one)
    base = base_of(one, densities)
    asked = factor_of(one, base, by, densities, density_g_ml, wet_film_um)
    parts = tuple(_part(one, part, asked, densities) for part in one.ingredients)
    total, total_unit, missing = _total(one, asked.factor, densities)
    makes = base.amount * asked.factor if base.amount is not None else None
    return Made(
        id=one.id,
        name=one.name,
        version=version,
        by=by.strip(),
        factor=asked.factor,
        makes=makes,
        makes_unit=base.unit,
        makes_words=words(makes, makes, base.unit) if makes is not None else "",
        parts=_shared(one, parts, total),
        total=total,
        total_unit=total_unit,
        strength=strength_words(one),
        notes=_each(*_told(one), base.note, *asked.notes),
        missing=_each(base.missing, missing),
        recipe=one,
        sources=tuple(cited_source(studio, source) for source in _sources(one)),
    )


def words(low: float | None, high: float | None, unit: str) -> str:
    """An amount as the balance or cylinder shows it: 14.3 g, 220 to 440 mg, 5 parts, 57.6 cm2."""
    if low is None or high is None:
        return ""
    plain, kind = known_unit(unit)
    if unit in _COUNTED and high != 1:
        unit = f"{unit}s"
    if kind == "area" and in_unit(high, plain, "m2") < _SMALL_M2:
        low, high, unit = in_unit(low, plain, "cm2"), in_unit(high, plain, "cm2"), "cm2"
    if kind not in {"weight", "volume"}:
        return f"{_figure(low)}{'' if low == high else f' to {_figure(high)}'} {unit}".strip()
    most, step = handy(high, plain)
    least = in_unit(low, plain, step)
    shown = {"uL": "µl", "mL": "ml", "L": "l"}.get(step, step)
    return f"{_figure(least)}{'' if low == high else f' to {_figure(most)}'} {shown}"


def span(low: float | None, high: float | None, unit: str) -> str:
    """``3 to 7 days``, ``up to 7 days``, ``3 days``; empty where neither end is known."""
    if low is None:
        return "" if high is None else f"up to {high:g} {unit}"
    return f"{low:g} {unit}" if high is None else f"{low:g} to {high:g} {unit}"


def life_words(one: ShelfLife) -> str:
    # A part of a day is what its words say: "up to 0.34 days" says nobody.
    days = "" if (one.days_high or one.days or 1.0) < 1.0 else span(one.days, one.days_high, "days")
    return ", ".join(part for part in (days, one.text) if part)


def _figure(number: float) -> str:
    text = f"{number:.3g}"
    return (
        text
        if "e" not in text
        else f"{float(text):.0f}"
        if abs(number) >= 1
        else f"{float(text):f}".rstrip("0")
    )


def strength_words(one: Recipe) -> str:
    """The strength as a label bears it, with its basis; empty where none is known."""
    figure = one.strength_percent_ww
    if figure is None:
        return one.strength_note
    return f"{figure.best:g} % w/w{(f', {figure.note}' if figure.note else '')}"


def _each(*texts: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for text in texts if text))


def _told(one: Recipe) -> tuple[str, ...]:
    """What a reader must know about the basis."""
    read = (
        "amounts from memory: get a published recipe before a treatment" if one.read == "from memory" else ""
    )
    return one.basis_note, read


def _densities(studio: Studio, one: Recipe) -> dict[str, float]:
    """Densities at room temperature of the ingredients that the catalogue knows as liquids, by name."""
    found: dict[str, float] = {}
    for part in one.ingredients:
        row = entry(studio.index.conn, "liquid", part.liquid) if part.liquid else None
        figure: dict[str, Any] = msgspec.json.decode(row.body).get("density_g_ml", {}) if row else {}
        if isinstance(figure.get("value"), int | float):
            found[part.name] = float(figure["value"])
    return found


def _part(one: Recipe, part: Ingredient, asked: Asked, densities: Mapping[str, float]) -> Part:
    low = high = weight = None
    unit = unit_of(one, part) if asked.measured else part.unit
    if part.amount is not None:
        low, high = (end * asked.factor for end in ends(part))
        weight = _weight(one, part, asked.factor, densities)
    return Part(
        **{name: getattr(part, name) for name in ("name", "role", "recipe", "note")},
        low=low,
        high=high,
        unit=unit,
        words=words(low, high, unit) or part.until,
        grams=weight,
        share=None,
        share_basis="",
        whole=part.role == "make up to",
    )


def _weight(one: Recipe, part: Ingredient, factor: float, densities: Mapping[str, float]) -> float | None:
    """Grams of what is added, where they can be known."""
    if part.role == "make up to" or spooned(one, part):
        return None
    try:
        return grams(one, part, middle(part) * factor, densities)
    except ValueError:
        return None


def _total(one: Recipe, factor: float, densities: Mapping[str, float]) -> tuple[float | None, str, str]:
    """The sum of what is put together, its unit, and why there is none."""
    counted = [part for part in one.ingredients if part.amount is not None]
    if any(part.role == "make up to" for part in counted):
        return None, "", ""
    basis = basis_of(one)
    if basis in {"w/w", "w/v added", "parts by weight", "saturated"}:
        weights = [_weight(one, part, factor, densities) for part in counted]
        lacking = [part.name for part, weight in zip(counted, weights, strict=True) if weight is None]
        if lacking:
            return None, "", f"The weight of the whole is not known: a density is missing for {lacking[0]}."
        return math.fsum(weight for weight in weights if weight is not None), "g", ""
    if basis == "parts by volume":
        volumes = (in_unit(middle(part) * factor, unit_of(one, part), "mL") for part in counted)
        return math.fsum(volumes), "ml", ""
    return None, "", ""


def _shared(one: Recipe, parts: tuple[Part, ...], total: float | None) -> tuple[Part, ...]:
    """The parts with their shares: w/w where weighed, v/v where measured, w/v where made up to volume."""
    basis = basis_of(one)
    whole = next((part for part in parts if part.whole), None)
    if whole is not None and whole.low is not None:
        volume_ml = in_unit(whole.low, whole.unit, "mL")
        return tuple(_w_v(part, volume_ml) for part in parts)
    if total is None or basis == "saturated":
        return parts
    if basis == "parts by volume":
        return tuple(
            part
            if part.low is None
            else msgspec.structs.replace(part, share=100.0 * _middle(part) / total, share_basis="v/v")
            for part in parts
        )
    return tuple(
        part
        if part.grams is None
        else msgspec.structs.replace(part, share=100.0 * part.grams / total, share_basis="w/w")
        for part in parts
    )


def _middle(part: Part) -> float:
    return ((part.low or 0.0) + (part.high or 0.0)) / 2.0


def _w_v(part: Part, volume_ml: float) -> Part:
    """Grams in 100 ml of the whole, for what is weighed in."""
    if part.whole or part.grams is None or part.role not in {"solid", "additive"}:
        return part
    return msgspec.structs.replace(part, share=100.0 * part.grams / volume_ml, share_basis="w/v")


def _sources(value: Any) -> tuple[str, ...]:
    """Ids of all sources below a recipe, in order of appearance."""
    found: dict[str, None] = {}

    def walk(inner: Any) -> None:
        if isinstance(inner, msgspec.Struct):
            found.update(dict.fromkeys(getattr(inner, "sources", ())))
            for name in inner.__struct_fields__:
                walk(getattr(inner, name))
        elif isinstance(inner, tuple):
            for one in inner:
                walk(one)

    walk(value)
    return tuple(found)


def steps_state(studio: Studio, recipe_id: str) -> StepsState:
    """How far a recipe has got. Reading writes nothing."""
    return steps.state_of(work(studio, recipe_id))


def work(studio: Studio, recipe_id: str) -> Work:
    """The recipe as steps to tick and to time."""
    stored = recipe(studio, recipe_id)
    return Work(
        key=stored.recipe.id,
        name=stored.recipe.name,
        version=stored.version,
        steps=stored.recipe.steps,
        path=studio.root / steps.FOLDER / f"recipe-{stored.recipe.id}.json",
    )
