"""What is made up: dilution, blending, strengths, what a wet film leaves when dry; recipes at another size.

Strengths are per cent: w/w is g per 100 g of mix, w/v g per 100 mL of mix, v/v mL per 100 mL of mix. One
turns into another only through a density, and a missing density is an error that names it.

A recipe is scaled by yield, by what is at hand of one ingredient, by area or number of mends. Every
ingredient takes the same factor, so the proportions stay. Weight and volume are never turned into one another
without a density. Times do not scale: a larger pot cooks longer.
"""

from __future__ import annotations

from typing import Literal

from kb.science.cited import Span, need_not_negative, need_positive

Basis = Literal["w/w", "w/v", "v/v"]
BASES: tuple[Basis, ...] = ("w/w", "w/v", "v/v")

WHEAT_STARCH_BULK_G_ML = Span(
    16.0 / 30.0, 20.0 / 30.0, "memory", False, "30 mL of loose starch weighs some 16 to 20 g; weigh it once"
)


def stock_for(wanted: float, total: float, stock: float) -> tuple[float, float]:
    """C1 V1 = C2 V2: stock and diluent for ``total`` at strength ``wanted`` from strength ``stock``.

    Strengths in any one unit. With w/w the total is a mass, with w/v and v/v a volume. Raises ValueError
    if the stock is weaker than what is wanted.
    """
    need_not_negative(wanted=wanted)
    need_positive(total=total, stock=stock)
    if wanted > stock:
        raise ValueError(f"a stock of {stock:g} cannot be diluted to {wanted:g}, which is stronger")
    amount = min(total * (wanted / stock), total)
    return amount, total - amount


def made_from(stock: float, amount: float, wanted: float) -> float:
    """How much of strength ``wanted`` an ``amount`` of stock makes. Raises ValueError as stock_for."""
    need_positive(stock=stock, amount=amount, wanted=wanted)
    if wanted > stock:
        raise ValueError(f"a stock of {stock:g} cannot be diluted to {wanted:g}, which is stronger")
    return stock * amount / wanted


def blended(first: float, first_amount: float, second: float, second_amount: float) -> float:
    """Strength of two strengths mixed: masses with w/w, volumes (taken to add up) with w/v and v/v."""
    need_not_negative(first=first, first_amount=first_amount, second=second, second_amount=second_amount)
    need_positive(total=first_amount + second_amount)
    return (first * first_amount + second * second_amount) / (first_amount + second_amount)


def amounts_to_blend(first: float, second: float, wanted: float, total: float) -> tuple[float, float]:
    """Amounts of two strengths that make ``total`` of a strength between them.

    Raises ValueError if the strength does not lie between them, or they are the same.
    """
    need_not_negative(first=first, second=second, wanted=wanted)
    need_positive(total=total)
    if first == second:
        raise ValueError("two stocks of one strength make no other")
    share = (wanted - second) / (first - second)
    if not 0.0 <= share <= 1.0:
        raise ValueError(f"{wanted:g} does not lie between {first:g} and {second:g}")
    return total * share, total * (1.0 - share)


def after_evaporation(percent_ww: float, before_g: float, after_g: float) -> float:
    """Solids in per cent w/w once a mix has cooked down from ``before_g`` to ``after_g``.

    Raises ValueError if it grew, or if more evaporated than the mix held of water.
    """
    _need_percent(percent_ww)
    need_positive(before_g=before_g, after_g=after_g)
    if after_g > before_g:
        raise ValueError("a mix does not gain weight by evaporation")
    percent = percent_ww * before_g / after_g
    if percent > 100.0 + 1e-9:
        raise ValueError(f"{after_g:g} g is less than the {percent_ww * before_g / 100.0:g} g of solids")
    return min(percent, 100.0)


def converted(
    percent: float,
    given: Basis,
    wanted: Basis,
    *,
    mix_density_g_ml: float | None = None,
    part_density_g_ml: float | None = None,
) -> float:
    """A strength on another basis.

    w/w and w/v need the density of the mix, w/v and v/v that of the dissolved part itself, w/w and v/v
    both. Raises ValueError naming the density that is missing, for an unknown basis, and where the result
    would be more than the whole mix.
    """
    for basis in (given, wanted):
        if basis not in BASES:
            raise ValueError(f"no basis {basis!r}; there are {', '.join(BASES)}")
    need_not_negative(percent=percent)
    if given != "w/v":
        _need_percent(percent)
    if given == wanted:
        return percent
    mix, part = _densities({given, wanted}, mix_density_g_ml, part_density_g_ml)
    by_mass_in_volume = percent * {"w/w": mix, "w/v": 1.0, "v/v": part}[given]
    result = by_mass_in_volume / {"w/w": mix, "w/v": 1.0, "v/v": part}[wanted]
    if wanted != "w/v" and result > 100.0 + 1e-9:
        raise ValueError(f"{percent:g} % {given} with these densities would be {result:g} % {wanted}")
    return result


def _densities(bases: set[Basis], mix: float | None, part: float | None) -> tuple[float, float]:
    """The densities of mix and ingredient, each 1 where it is not needed."""
    needed = {"mix": (mix, "w/w" in bases), "ingredient": (part, "v/v" in bases)}
    missing = [of for of, (value, used) in needed.items() if used and value is None]
    if missing:
        raise ValueError(
            f"the density of the {' and of the '.join(missing)} is missing: "
            f"{' and '.join(sorted(bases))} differ by it"
        )
    for of, (value, used) in needed.items():
        if used and value is not None:
            need_positive(**{f"the density of the {of}": value})
    return mix or 1.0, part or 1.0


def _need_percent(percent: float) -> None:
    if not 0.0 <= percent <= 100.0:
        raise ValueError(f"a share must be from 0 to 100 %, not {percent:g}")


def grams_of_loose_powder(volume_ml: float) -> tuple[float, float]:
    """Least and most that a spooned volume of dry powder weighs, in grams."""
    need_not_negative(volume_ml=volume_ml)
    return volume_ml * WHEAT_STARCH_BULK_G_ML.low, volume_ml * WHEAT_STARCH_BULK_G_ML.high


def dry_load_g_m2(wet_film_um: float, percent_ww: float, density_g_ml: float) -> float:
    """Dry adhesive that a wet film leaves: 100 um of a 3 % mix of density 1 leaves 3 g/m2."""
    need_not_negative(wet_film_um=wet_film_um)
    _need_percent(percent_ww)
    need_positive(density_g_ml=density_g_ml)
    return wet_film_um * density_g_ml * percent_ww / 100.0


def wet_film_for_load_um(load_g_m2: float, percent_ww: float, density_g_ml: float) -> float:
    """Wet film that leaves a wanted dry load. Raises ValueError for a mix without solids."""
    need_not_negative(load_g_m2=load_g_m2)
    _need_percent(percent_ww)
    need_positive(percent_ww=percent_ww, density_g_ml=density_g_ml)
    return load_g_m2 * 100.0 / (percent_ww * density_g_ml)


def film_volume_ml(wet_film_um: float, area_m2: float) -> float:
    """Mix for a wet film over an area: 1 um over 1 m2 is 1 mL."""
    need_not_negative(wet_film_um=wet_film_um, area_m2=area_m2)
    return wet_film_um * area_m2


MASS_UNITS_G: dict[str, float] = {"ug": 1e-6, "mg": 1e-3, "g": 1.0, "kg": 1000.0}
VOLUME_UNITS_ML: dict[str, float] = {"uL": 1e-3, "mL": 1.0, "cL": 10.0, "dL": 100.0, "L": 1000.0}
AREA_UNITS_M2: dict[str, float] = {"mm2": 1e-6, "cm2": 1e-4, "m2": 1.0}
KINDS: dict[str, dict[str, float]] = {
    "weight": MASS_UNITS_G,
    "volume": VOLUME_UNITS_ML,
    "area": AREA_UNITS_M2,
}
_PLAIN = {unit.lower(): unit for units in KINDS.values() for unit in units} | {"µl": "uL", "µg": "ug"}


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


def factor_between(
    makes: float, unit: str, wanted: float, wanted_unit: str, density_g_ml: float | None = None
) -> float:
    """The factor by which a recipe that makes one amount makes another; or takes as much as there is of one.

    Raises ValueError as in_unit, and for amounts that are not above zero.
    """
    need_positive(**{"the amount of the recipe": makes, "the amount asked for": wanted})
    return in_unit(wanted, wanted_unit, unit, density_g_ml) / makes


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
