"""The figures of a liquid that air, fire, drying and blends are computed from, or what is missing.

The full record of a liquid, or of all, from the index.
"""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.index.queries import record, records
from kb.model.base import Figure, best
from kb.model.liquid import Liquid
from kb.science.liquids.solubility import Hsp
from kb.science.numbers import ZERO_C_IN_K


def liquid_of(studio: Studio, liquid_id: str) -> Liquid | None:
    return record(studio.index.conn, "liquid", liquid_id, Liquid)


def all_records(studio: Studio) -> list[Liquid]:
    """The full record of every liquid, by name; read once."""
    return studio.compiled.kept("liquid records", None, lambda: records(studio.index.conn, "liquid", Liquid))


USUAL_TEMP_C = 20.0
COLDEST_C, WARMEST_C = 10.0, 35.0
"""How far from the two known vapour pressures (20 and 25 C) the line through them is followed."""
BETWEEN = "20 and 25 °C, a straight line of ln p over 1/T through both (Clausius and Clapeyron)"


class Physical(NamedTuple):
    """One liquid at one temperature. None means not known here; nothing is guessed."""

    id: str
    name: str
    family: str
    hazard: float
    hansen: Hsp | None
    density_g_ml: float | None
    molar_mass_g_mol: float | None
    molar_volume_cm3_mol: float | None
    vapour_pressure_kpa: float | None
    lower_limit_vol_pct: float | None
    flash_c: float | None
    never_flashes: bool
    record: Liquid


def physical(studio: Studio, liquid_id: str, temp_c: float = USUAL_TEMP_C) -> Physical:
    """The figures of one liquid. Raises DeskError for an id that is not in the catalogue."""
    liquid = liquid_of(studio, liquid_id)
    if liquid is None:
        raise DeskError(f'There is no liquid "{liquid_id}" in the catalogue.')
    return figures_of(studio, liquid, temp_c)


def figures_of(studio: Studio, liquid: Liquid, temp_c: float) -> Physical:
    seen = studio.compiled.by_id.get(liquid.id)
    density, mass = best(liquid.density_g_ml), best(liquid.molar_mass_g_mol)
    volume = best(liquid.molar_volume_cm3_mol)
    if volume is None and density is not None and mass is not None:
        volume = mass / density
    return Physical(
        id=liquid.id,
        name=liquid.name,
        family=liquid.family,
        hazard=seen.hazard if seen else 1.0,
        hansen=None if liquid.hansen is None else (liquid.hansen.d, liquid.hansen.p, liquid.hansen.h),
        density_g_ml=density,
        molar_mass_g_mol=mass,
        molar_volume_cm3_mol=volume,
        vapour_pressure_kpa=vapour_pressure_kpa(liquid, temp_c),
        lower_limit_vol_pct=_least(liquid.lower_explosive_limit_vol_pct),
        flash_c=_least(liquid.flash_point_c),
        never_flashes=liquid.flash_point_c is not None and bool(liquid.flash_point_c.none_known),
        record=liquid,
    )


def of_parts(studio: Studio, parts: Mapping[str, float], temp_c: float = USUAL_TEMP_C) -> list[Physical]:
    """The figures of all parts, in their order.

    Raises DeskError outside the temperatures for which the vapour pressures here speak.
    """
    if not COLDEST_C <= temp_c <= WARMEST_C:
        raise DeskError(
            f"Vapour pressures are known here at 20 and 25 °C and followed from {COLDEST_C:g} to "
            f"{WARMEST_C:g} °C, not to {temp_c:g} °C."
        )
    return [physical(studio, part, temp_c) for part in parts]


def vapour_pressure_kpa(liquid: Liquid, temp_c: float) -> float | None:
    """Vapour pressure in kPa; None where not known at 20 and 25 C, as far as the temperature needs both.

    Source of the line between: Clausius and Clapeyron, as in textbooks (from memory).
    """
    at_20, at_25 = best(liquid.vapour_pressure_20c_kpa), best(liquid.vapour_pressure_25c_kpa)
    if temp_c == 20.0 and at_20 is not None:
        return at_20
    if temp_c == 25.0 and at_25 is not None:
        return at_25
    if at_20 is None or at_25 is None:
        return None
    one, two, here = (1.0 / (temp + ZERO_C_IN_K) for temp in (20.0, 25.0, temp_c))
    slope = (math.log(at_25) - math.log(at_20)) / (two - one)
    return math.exp(math.log(at_20) + slope * (here - one))


def refuse_missing(liquids: Sequence[Physical], needs: Mapping[str, str], task: str) -> None:
    """Raises DeskError that names every figure that a task needs and nobody printed.

    ``needs`` maps fields of Physical to words.
    """
    missing = [
        f"the {words} of {one.name}"
        for one in liquids
        for field, words in needs.items()
        if getattr(one, field) is None
    ]
    if missing:
        raise DeskError(f"{task} cannot be worked out: not known here: {'; '.join(missing)}.")


def _least(figure: Figure | None) -> float | None:
    return None if figure is None else figure.least
