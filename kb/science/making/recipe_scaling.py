"""Recipes at another size: by yield, by what is at hand of one ingredient, by area or number of mends.

Every ingredient takes the same factor, so the proportions stay. Weight and volume are never turned into
one another without a density. Times do not scale: a larger pot cooks longer.
"""

from __future__ import annotations

from typing import NamedTuple

from kb.science.cited import need_positive

MASS_UNITS_G: dict[str, float] = {"ug": 1e-6, "mg": 1e-3, "g": 1.0, "kg": 1000.0}
VOLUME_UNITS_ML: dict[str, float] = {"uL": 1e-3, "mL": 1.0, "cL": 10.0, "dL": 100.0, "L": 1000.0}
AREA_UNITS_M2: dict[str, float] = {"mm2": 1e-6, "cm2": 1e-4, "m2": 1.0}
KINDS: dict[str, dict[str, float]] = {
    "weight": MASS_UNITS_G,
    "volume": VOLUME_UNITS_ML,
    "area": AREA_UNITS_M2,
}
_PLAIN = {unit.lower(): unit for units in KINDS.values() for unit in units} | {"µl": "uL", "µg": "ug"}


class Portion(NamedTuple):
    """One ingredient. A range has ``high`` above ``low``; an amount that is one figure has both alike."""

    name: str
    low: float
    high: float
    unit: str


def known_unit(unit: str) -> tuple[str, str]:
    """The unit as written here and its kind: weight, volume, area or, for any other word, count.

    Parts, drops, sheets and baths are counts: they scale, but measure nothing by themselves.
    """
    plain = _PLAIN.get(unit.strip().lower(), unit.strip())
    for kind, units in KINDS.items():
        if plain in units:
            return plain, kind
    return plain, "count"


def in_unit(amount: float, unit: str, wanted: str, density_g_ml: float | None = None) -> float:
    """An amount in another unit. Between weight and volume a density is needed.

    Raises ValueError naming the missing density, or for units that do not measure the same thing.
    """
    (given, from_kind), (target, to_kind) = known_unit(unit), known_unit(wanted)
    if given == target:
        return amount
    if from_kind == to_kind and from_kind != "count":
        return amount * KINDS[from_kind][given] / KINDS[from_kind][target]
    if {from_kind, to_kind} == {"weight", "volume"}:
        if density_g_ml is None:
            raise ValueError(f"a density is missing to turn {given} into {target}")
        need_positive(density_g_ml=density_g_ml)
        base = amount * KINDS[from_kind][given]
        return base * (density_g_ml if to_kind == "weight" else 1.0 / density_g_ml) / KINDS[to_kind][target]
    raise ValueError(f"{given or 'no unit'} and {target or 'no unit'} do not measure the same thing")


def factor_for_yield(
    makes: float, unit: str, wanted: float, wanted_unit: str, density_g_ml: float | None = None
) -> float:
    """The factor by which a recipe that makes one amount makes another.

    Raises ValueError as in_unit, and for amounts that are not above zero.
    """
    need_positive(makes=makes, wanted=wanted)
    return in_unit(wanted, wanted_unit, unit, density_g_ml) / makes


def factor_for_ingredient(
    portion: Portion, at_hand: float, unit: str, density_g_ml: float | None = None
) -> float:
    """The factor by which one ingredient is just used up; of a range its upper end counts.

    Raises ValueError as in_unit, and for amounts that are not above zero.
    """
    need_positive(**{portion.name: portion.high, "at_hand": at_hand})
    return in_unit(at_hand, unit, portion.unit, density_g_ml) / portion.high


def factor_for_area(makes_ml: float, area_m2: float, wet_film_um: float) -> float:
    """The factor that covers an area with a wet film (1 um over 1 m2 is 1 mL)."""
    need_positive(makes_ml=makes_ml, area_m2=area_m2, wet_film_um=wet_film_um)
    return area_m2 * wet_film_um / makes_ml


def handy(amount: float, unit: str) -> tuple[float, str]:
    """The same amount in the unit that keeps it between 1 and 1000, for the balance or the cylinder."""
    plain, kind = known_unit(unit)
    ladder = {"weight": ("mg", "g", "kg"), "volume": ("uL", "mL", "L")}.get(kind)
    if ladder is None or not amount > 0:
        return amount, plain
    for step in ladder:
        value = in_unit(amount, plain, step)
        # Compared as it will be read, so that 999.9999 g becomes 1 kg.
        if float(f"{value:.4g}") < 1000.0 or step == ladder[-1]:
            return value, step
    return amount, plain
