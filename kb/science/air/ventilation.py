"""The flow of fresh air that keeps a steady, spread-out source of vapour under a limit.

For vapours of low hazard, limits near or above 100 ppm, and a worker away from the source (lecture on
dilution ventilation, seen); not for highly toxic or uneven sources. K is the mixing factor of
kb.science.air.room, 1 or more.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from kb.science.conversions import molar_volume_l_mol
from kb.science.numbers import above_zero, zero_or_more

FIRE_SAFETY = (4.0, 12.0)
"""Customary safety factors of ventilation against fire; ACGIH, from memory."""


def dilution_flow_m3_h(
    evaporation_l_h: float,
    density_kg_l: float,
    molar_mass_g_mol: float,
    limit_ppm: float | None,
    mixing_factor: float = 1.0,
    temp_c: float = 21.1,
    pressure_kpa: float = 101.325,
) -> float | None:
    """Fresh air needed to hold one vapour at its limit: Vm SG ER K 1e6 / (M L); None if no limit is known.

    ``evaporation_l_h`` is litres of liquid per hour. Raises ValueError for
    an impossible figure or a mixing factor below 1.
    """
    vapour_l_h = _vapour_l(evaporation_l_h, density_kg_l, molar_mass_g_mol, temp_c, pressure_kpa)
    _check_mixing(mixing_factor)
    if limit_ppm is None:
        return None
    return vapour_l_h * mixing_factor * 1e3 / above_zero(limit_ppm, "the limit in ppm")


def fire_flow_m3_h(
    evaporation_l_h: float,
    density_kg_l: float,
    molar_mass_g_mol: float,
    lower_limit_vol_pct: float,
    safety_factor: float = FIRE_SAFETY[1],
    temp_c: float = 21.1,
    pressure_kpa: float = 101.325,
) -> float:
    """Fresh air that keeps the room at 1/``safety_factor`` of the lower explosive limit, below 120 °C.

    Never in place of the flow for health, which is usually larger. Source: ACGIH (from memory).
    """
    vapour_l_h = _vapour_l(evaporation_l_h, density_kg_l, molar_mass_g_mol, temp_c, pressure_kpa)
    above_zero(lower_limit_vol_pct, "the lower explosive limit in % by volume")
    above_zero(safety_factor, "the safety factor")
    return vapour_l_h / 1e3 * 100.0 * safety_factor / lower_limit_vol_pct


def flow_for_mixture(flows: Sequence[float | None], alike: bool = True) -> float | None:
    """Flow for several vapours: the sum where effects add, else the largest; None if one is not known.

    Source: ACGIH (from memory). Taking effects as alike is the cautious choice.
    """
    known = [zero_or_more(flow, "a flow of air") for flow in flows if flow is not None]
    if len(known) != len(flows) or not known:
        return None
    return math.fsum(known) if alike else max(known)


def _vapour_l(
    amount_l: float, density_kg_l: float, molar_mass: float, temp_c: float, pressure_kpa: float
) -> float:
    """Litres of vapour from litres of liquid."""
    _check_liquid(amount_l, density_kg_l, molar_mass)
    return 1e3 * amount_l * density_kg_l / molar_mass * molar_volume_l_mol(temp_c, pressure_kpa)


def _check_liquid(amount: float, density_kg_l: float, molar_mass: float) -> None:
    zero_or_more(amount, "the liquid that evaporates")
    above_zero(density_kg_l, "the density in kg/l")
    above_zero(molar_mass, "the molar mass in g/mol")


def _check_mixing(factor: float) -> None:
    if not 1 <= factor < math.inf:
        raise ValueError(f"the mixing factor is 1 or more, not {factor}; a fraction of 0.5 is a factor of 2")
