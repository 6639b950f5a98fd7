"""Dilutions: stock to working strength, two strengths blended, solids after cooking down, dry load."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from kb.desk.amounts import FIGURE, quantity
from kb.desk.errors import DeskError, in_a_sentence
from kb.desk.making.recipe import words
from kb.model.question import Plain
from kb.science.making import (
    BASES,
    after_evaporation,
    amounts_to_blend,
    blended,
    converted,
    dry_load_g_m2,
    film_volume_ml,
    made_from,
    stock_for,
    wet_film_for_load_um,
)
from kb.science.quantities import parse_number, parse_quantity

_STRENGTH = re.compile(rf"{FIGURE}\s*(%|g/l|mg/l|mol/l|mmol/l|m|mm)?\s*(w/w|w/v|v/v)?", re.IGNORECASE)
_PER_MOL_L = {"mol/l": 1.0, "m": 1.0, "mmol/l": 1e-3, "mm": 1e-3}
_PER_G_L = {"g/l": 1.0, "mg/l": 1e-3}
_SHOWN = {"m": "mol/l", "mm": "mmol/l"}


class Strength(NamedTuple):
    """A strength as typed: ``value`` in ``unit``, and its basis if it is in per cent."""

    value: float
    unit: str
    basis: str

    @property
    def words(self) -> str:
        return f"{self.value:g} {self.unit}{f' {self.basis}' if self.basis else ''}"


class Dilution(Plain, frozen=True, kw_only=True):
    """Two amounts that make a third. ``steps`` say in words what to do; ``notes`` what was assumed."""

    first: float
    second: float
    total: float
    unit: str
    strength: float
    strength_unit: str
    basis: str
    steps: tuple[str, ...]
    notes: tuple[str, ...]


class Reckoned(Plain, frozen=True, kw_only=True):
    """One figure, its unit, the sentence that tells it, and what was assumed."""

    value: float
    unit: str
    text: str
    notes: tuple[str, ...] = ()


def strength(text: str) -> Strength:
    """A strength from words: "2 % w/v", "0.1 mol/l", "8.5 g/l". Per cent may go without a basis."""
    found = _STRENGTH.fullmatch(text.strip())
    if found is None:
        raise DeskError(f'"{text}" is not a strength; write 2 % w/v, 12.5 % w/w, 8.5 g/l or 0.1 mol/l.')
    typed = (found[2] or "%").lower()
    if found[3] and typed != "%":
        raise DeskError(f'"{text}": w/w, w/v and v/v belong to per cent.')
    with in_a_sentence():
        said = Strength(parse_number(found[1].strip()), _SHOWN.get(typed, typed), (found[3] or "").lower())
    if typed == "%" and said.value > 100 and said.basis != "w/v":
        raise DeskError(f'"{text}" is more than the whole; only % w/v can be above 100.')
    return said


def dilute(stock: str, wanted: str, *, total: str = "", of_stock: str = "") -> Dilution:
    """Stock to working strength (C1 V1 = C2 V2): for a ``total``, or from all ``of_stock`` there is.

    Both strengths must be on one basis: w/w takes weights, all others volumes. Raises DeskError naming what
    does not fit.
    """
    have, want = strength(stock), strength(wanted)
    number, basis = _alike(have, want)
    if bool(total.strip()) == bool(of_stock.strip()):
        raise DeskError("Give either the total that is wanted or how much stock there is.")
    amount, unit, notes = _amount(total or of_stock, basis, have.unit)
    with in_a_sentence():
        if total.strip():
            part, rest = stock_for(want.value, amount, number)
            whole = amount
        else:
            whole, part = made_from(number, amount, want.value), amount
            rest = whole - part
    fill = "add water to" if unit == "g" else "make up to"
    steps = (f"take {words(part, part, unit)} of the stock", f"{fill} {words(whole, whole, unit)}")
    return _told(
        (part, rest, whole, unit), want._replace(basis=basis), steps, (*notes, *_assumed(have, want))
    )


def blend(
    first: str, second: str, *, wanted: str = "", total: str = "", amounts: tuple[str, str] = ("", "")
) -> Dilution:
    """Two strengths: how much of each makes a ``total`` of ``wanted``, or what ``amounts`` of both make."""
    one, other = strength(first), strength(second)
    other_value, basis = _alike(other, one)
    with in_a_sentence():
        if wanted.strip():
            value, basis = _alike(strength(wanted), one._replace(basis=basis))
            whole, unit, notes = _amount(total, basis, one.unit)
            parts = amounts_to_blend(one.value, other_value, value, whole)
        else:
            (a, unit, notes), (b, second_unit, _) = (_amount(text, basis, one.unit) for text in amounts)
            if unit != second_unit:
                raise DeskError("Give both amounts by weight or both by volume.")
            value, parts, whole = blended(one.value, a, other_value, b), (a, b), a + b
    steps = (
        f"take {words(parts[0], parts[0], unit)} of {one.words}",
        f"take {words(parts[1], parts[1], unit)} of {other.words}",
        f"gives {words(whole, whole, unit)} of {value:.4g} {one.unit} {basis}".rstrip(),
    )
    notes = (*notes, *_assumed(one, other), *(("volumes taken to add up",) if unit == "ml" else ()))
    return _told((*parts, whole, unit), Strength(value, one.unit, basis), steps, notes)


def _told(
    amounts: tuple[float, float, float, str], made: Strength, steps: tuple[str, ...], notes: tuple[str, ...]
) -> Dilution:
    first, second, total, unit = amounts
    same: dict[str, Any] = {
        "first": first,
        "second": second,
        "total": total,
        "unit": unit,
        "steps": steps,
        "notes": notes,
    }
    return Dilution(strength=made.value, strength_unit=made.unit, basis=made.basis, **same)


def solids(percent_ww: str, before: str, after: str) -> Reckoned:
    """Solids once a mix has cooked down, from its strength w/w and its weights before and after."""
    have = strength(percent_ww)
    if have.unit != "%" or have.basis not in {"", "w/w"}:
        raise DeskError("Solids after evaporation are reckoned by weight: give the strength as % w/w.")
    weights = [quantity(text, "mass") for text in (before, after)]
    with in_a_sentence():
        value = after_evaporation(have.value, *weights)
    return Reckoned(value=value, unit="% w/w", text=f"{value:.3g} % w/w of solids in {weights[1]:.4g} g")


def load(
    percent_ww: str, density_g_ml: float, *, film_um: float | None = None, load_g_m2: float | None = None
) -> Reckoned:
    """The dry load that a wet film leaves on remoistenable tissue, or the wet film for a dry load."""
    have = strength(percent_ww)
    if have.unit != "%" or have.basis not in {"", "w/w"}:
        raise DeskError("A dry load is reckoned from % w/w and the density of the mix.")
    if (film_um is None) == (load_g_m2 is None):
        raise DeskError("Give either the wet film in micrometres or the dry load in g/m2.")
    note = f"density of the mix taken as {density_g_ml:g} g/ml, as given"
    with in_a_sentence():
        if film_um is not None:
            value = dry_load_g_m2(film_um, have.value, density_g_ml)
            text = f"a wet film of {film_um:g} µm leaves {value:.3g} g/m2 dry"
            return Reckoned(value=value, unit="g/m2", text=text, notes=(note,))
        value = wet_film_for_load_um(load_g_m2 or 0.0, have.value, density_g_ml)
        volume = film_volume_ml(value, 1.0)
    text = f"{load_g_m2:g} g/m2 dry needs a wet film of {value:.3g} µm, {volume:.3g} ml for each m2"
    return Reckoned(value=value, unit="um", text=text, notes=(note,))


def convert_strength(
    text: str, to: str, *, mix_density_g_ml: float | None = None, part_density_g_ml: float | None = None
) -> Reckoned:
    """A strength in per cent on another basis (w/w, w/v, v/v), with the densities that this needs."""
    have = strength(text)
    if have.unit != "%" or not have.basis:
        raise DeskError(f'Say on what basis "{text}" is: % w/w, % w/v or % v/v.')
    given = next(one for one in BASES if one == have.basis)
    target = next((one for one in BASES if one == to.strip().lower()), None)
    if target is None:
        raise DeskError(f'There is no basis "{to}"; there are {", ".join(BASES)}.')
    with in_a_sentence():
        value = converted(
            have.value, given, target, mix_density_g_ml=mix_density_g_ml, part_density_g_ml=part_density_g_ml
        )
    return Reckoned(value=value, unit=f"% {target}", text=f"{have.words} is {value:.4g} % {target}")


def _alike(one: Strength, other: Strength) -> tuple[float, str]:
    """The first strength in the unit of the second, and their basis. Raises DeskError if they differ."""
    if one.basis and other.basis and one.basis != other.basis:
        raise DeskError(
            f"{one.words} and {other.words} are on two bases; convert one of them first, "
            "which needs a density."
        )
    return _in_unit_of(one, other), one.basis or other.basis


def _assumed(one: Strength, other: Strength) -> tuple[str, ...]:
    """What a per cent was taken to be by that of the other strength, since bases differ by a density."""
    bare = next((each.words for each in (one, other) if each.unit == "%" and not each.basis), "")
    basis = one.basis or other.basis
    return (f"{bare} taken to be {basis}, as the other is",) if bare and basis else ()


def _in_unit_of(one: Strength, other: Strength) -> float:
    if one.unit == other.unit:
        return one.value
    for table in (_PER_MOL_L, _PER_G_L):
        if one.unit in table and other.unit in table:
            return one.value * table[one.unit] / table[other.unit]
    if "%" in {one.unit, other.unit} and {one.basis, other.basis} & {"w/v"}:
        per = {"%": 10.0, **_PER_G_L}
        if one.unit in per and other.unit in per:
            return one.value * per[one.unit] / per[other.unit]
    raise DeskError(f"{one.words} and {other.words} cannot be compared; give both in one unit.")


def _amount(text: str, basis: str, unit: str) -> tuple[float, str, tuple[str, ...]]:
    """An amount by weight with w/w, by volume with anything else; per cent without a basis takes either."""
    if not text.strip():
        raise DeskError("Give an amount, for instance 200 ml.")
    with in_a_sentence():
        found = parse_quantity(text, "volume", "mass")
    if unit == "%" and not basis:
        kind = "weight (w/w)" if found.dimension == "mass" else "volume"
        note = f"per cent without a basis: both strengths taken to be by {kind}"
        return found.value, "g" if found.dimension == "mass" else "ml", (note,)
    if (basis == "w/w") != (found.dimension == "mass"):
        due = "a weight" if basis == "w/w" else "a volume"
        raise DeskError(
            f'A strength in {unit} {basis} goes with {due}, not with "{text.strip()}": the density of the '
            "mix would be needed."
        )
    return found.value, "g" if found.dimension == "mass" else "ml", ()
