"""What a person breathes against what an authority allows: saturated vapour, averages, indices.

All concentrations and limits in one call must be in the same unit, of the same averaging time and of the
same authority. A limit that is not known is None, and what depends on it is None, never zero. Screening
figures: the data sheet, a risk assessment and measurement come first.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from kb.science.numbers import ATMOSPHERE_KPA, above_zero, molar_volume_l_mol, zero_or_more

ACTION_SHARE = 0.5
"""Half of a limit, the customary action level; from memory."""


class AdditiveIndex(NamedTuple):
    """The sum of shares of limits, None if no limit is known; ``unknown`` names what had to be left out."""

    value: float | None
    counted: tuple[str, ...]
    unknown: tuple[str, ...]


def saturated_ppm(vapour_pressure_kpa: float) -> float:
    """Concentration of air saturated with a liquid's vapour: 1e6 Psat / P, at the most 1e6.

    An upper bound at the liquid's temperature: real air near liquids of low volatility held mostly less
    than 1 % of it (HSE RR923, seen). Source: National Research Council, Procedures for Working with
    Chemicals in Laboratories (seen).
    """
    # Air cannot hold more vapour than air.
    return 1e6 * min(above_zero(vapour_pressure_kpa, "the vapour pressure in kPa") / ATMOSPHERE_KPA, 1.0)


def saturated_mg_m3(vapour_pressure_kpa: float, molar_mass_g_mol: float, temp_c: float) -> float:
    """The same in mg/m3: Psat M / (R T). Source: saturation concentration formula (seen)."""
    above_zero(molar_mass_g_mol, "the molar mass in g/mol")
    above_zero(vapour_pressure_kpa, "the vapour pressure in kPa")
    return 1e6 * molar_mass_g_mol / molar_volume_l_mol(temp_c, vapour_pressure_kpa)


def mole_fractions(shares: Sequence[float], molar_volumes_cm3_mol: Sequence[float]) -> tuple[float, ...]:
    """Mole fractions of a blend from its shares by volume; volumes are taken to add up.

    Raises ValueError for a negative share, a blend of nothing, or a molar volume that is not above zero.
    """
    moles = [
        zero_or_more(part, "a share of a blend") / above_zero(volume, "a molar volume in cm3/mol")
        for part, volume in zip(shares, molar_volumes_cm3_mol, strict=True)
    ]
    total = above_zero(math.fsum(moles), "the sum of the shares of a blend")
    return tuple(part / total for part in moles)


def partial_pressures_kpa(
    fractions: Sequence[float], vapour_pressures_kpa: Sequence[float]
) -> tuple[float, ...]:
    """Vapour pressure of each part over a blend: x Psat (Raoult).

    The ideal figure is too low for unlike partners, such as an alcohol in a hydrocarbon (from memory;
    Ann. Occup. Hyg. 53(4), 2009, 391-401, abstract seen, compares both).
    """
    return tuple(
        zero_or_more(x, "a mole fraction") * zero_or_more(pressure, "a vapour pressure in kPa")
        for x, pressure in zip(fractions, vapour_pressures_kpa, strict=True)
    )


def additive_index(concentrations: Mapping[str, float], limits: Mapping[str, float | None]) -> AdditiveIndex:
    """Sum of concentration over limit for vapours of like or unknown effect; above 1 is over the limit.

    Parts without a known limit are left out and named: the index is then a lower bound. Not for
    carcinogens, mutagens or sensitisers; a skin notation means that air alone is not enough. Source: 29 CFR
    1910.1000(d)(2)(i) (seen); the condition of like effect is ACGIH's (from memory).
    """
    counted: list[str] = []
    unknown: list[str] = []
    shares = []
    for name, value in concentrations.items():
        zero_or_more(value, f"the concentration of {name}")
        limit = limits.get(name)
        # A limit that is not known is not a limit of zero or of infinity: the sum goes on without it and
        # says so.
        if limit is None:
            unknown.append(name)
        else:
            counted.append(name)
            shares.append(value / above_zero(limit, f"the limit of {name}"))
    return AdditiveIndex(math.fsum(shares) if counted else None, tuple(counted), tuple(unknown))


def highest_amount(index_per_unit: float | None, level: float = 1.0) -> float | None:
    """How many units (ml per hour, swabs per hour) keep an index at a level; None if the index is not known.

    The models of kb.science.air.room are linear in the amount, so the answer is exact for them. Infinite
    if a unit adds nothing.
    """
    above_zero(level, "the level of the index")
    if index_per_unit is None:
        return None
    zero_or_more(index_per_unit, "the index of one unit")
    return math.inf if index_per_unit == 0 else level / index_per_unit
