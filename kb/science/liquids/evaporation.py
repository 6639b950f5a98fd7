"""How fast a small wet area gives off vapour: several published models, and how far they differ.

No model was made for a wet spot on a sheet of paper. All that apply are returned with their validity and
their spread, which is easily a factor of seven: use the upper end for safety. A wet swab of a volatile
liquid is better taken as gone at once (kb.science.air.room.swabs). The liquid is taken to be as warm as
the room; evaporation cools it, so that the figures are rather high. For a blend, give the partial pressure
of each part (kb.science.air.exposure.partial_pressures_kpa) as its vapour pressure.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from kb.science.numbers import (
    ATMOSPHERE_KPA,
    ZERO_C_IN_K,
    Spread,
    above_zero,
    hull,
    molar_volume_l_mol,
    zero_or_more,
)

WATER_COEFFICIENT_CM_S = 0.83
"""Mass transfer coefficient of water in the scaling model; Crowl and Louvar (seen in code)."""
WATER_MOLAR_MASS = 18.0
AIR_VISCOSITY_M2_S = 1.5e-5
"""Kinematic viscosity of air near 20 C; from memory."""
WATER_SCHMIDT = 0.6
"""Schmidt number of water vapour in air; from memory."""
LAMINAR_REYNOLDS = 20_000.0
EPA_SPEED_FT_MIN = 100.0
"""Up to here the penetration model is meant, above it the mass transfer model; from memory."""
_FT_MIN = 0.3048 / 60.0
_MMHG_KPA = ATMOSPHERE_KPA / 760.0


class WetArea(NamedTuple):
    """A wet spot, dish or tray and its air; ``length_m`` is its diameter, or its side along the air."""

    area_m2: float
    length_m: float
    air_speed_m_s: float
    temp_c: float = 20.0


class Vapour(NamedTuple):
    """What evaporates; without a Schmidt number the one of schmidt_number() is taken."""

    molar_mass_g_mol: float
    vapour_pressure_kpa: float
    schmidt: float | None = None


class ModelRate(NamedTuple):
    """One model: its name, where it holds, where it comes from and whether that was read; and its answer.

    ``applies`` tells whether the answer counts at this air speed.
    """

    model: str
    validity: str
    source: str
    seen: bool
    rate_g_min: float = 0.0
    applies: bool = False


class Rates(NamedTuple):
    """All models, and the range of those that apply, in g/min."""

    models: tuple[ModelRate, ...]
    spread_g_min: Spread


def schmidt_number(molar_mass_g_mol: float) -> float:
    """Schmidt number of a vapour in air from that of water, as the square root of the molar mass (memory).

    Too low for larger molecules (toluene: 1.4 against 1.8), so that evaporation comes out some 20 % high.
    """
    return WATER_SCHMIDT * math.sqrt(
        above_zero(molar_mass_g_mol, "the molar mass in g/mol") / WATER_MOLAR_MASS
    )


def scaled_coefficient_m_s(molar_mass_g_mol: float) -> float:
    """Mass transfer coefficient from that of water: 0.83 cm/s (18/M)^(1/3).

    For still to gently moving air; tends high for small wet spots. Source: Crowl and Louvar, Chemical
    Process Safety, ch. 3 (method seen in slides, scaling seen in code).
    """
    above_zero(molar_mass_g_mol, "the molar mass in g/mol")
    return WATER_COEFFICIENT_CM_S / 100.0 * math.pow(WATER_MOLAR_MASS / molar_mass_g_mol, 1.0 / 3.0)


def reynolds_number(length_m: float, air_speed_m_s: float) -> float:
    """Length times speed over the viscosity of air; of the order of 100 to 1000 at the bench."""
    above_zero(length_m, "the length of the wet area in m")
    return zero_or_more(air_speed_m_s, "the air speed in m/s") * length_m / AIR_VISCOSITY_M2_S


def flat_plate_coefficient_m_s(length_m: float, air_speed_m_s: float, schmidt: float) -> float:
    """Mass transfer coefficient of a flat plate in an air stream; 0 without one.

    0.664 Re^-0.5 Sc^-0.667 u up to Re 20,000, 0.0336 Re^-0.2 Sc^-0.667 u above. Source: documentation of a
    hazard-modelling package (seen).
    """
    reynolds = reynolds_number(length_m, air_speed_m_s)
    if reynolds == 0:
        return 0.0
    laminar = reynolds <= LAMINAR_REYNOLDS
    layer = 0.664 * math.pow(reynolds, -0.5) if laminar else 0.0336 * math.pow(reynolds, -0.2)
    return layer * math.pow(above_zero(schmidt, "the Schmidt number"), -0.667) * air_speed_m_s


def pool_coefficient_m_s(diameter_m: float, air_speed_m_s: float, schmidt: float) -> float:
    """Mass transfer coefficient of a pool in the open: 0.0048 u^(7/9) d^(-1/9) Sc^(-2/3).

    Low for still air indoors. Source: slides on Kawamura and Mackay 1987 (seen).
    """
    above_zero(diameter_m, "the diameter of the pool in m")
    zero_or_more(air_speed_m_s, "the air speed in m/s")
    above_zero(schmidt, "the Schmidt number")
    moved = math.pow(air_speed_m_s, 7.0 / 9.0) * math.pow(diameter_m, -1.0 / 9.0)
    return 0.0048 * moved * math.pow(schmidt, -2.0 / 3.0)


def flux_g_m2_s(coefficient_m_s: float, vapour: Vapour, temp_c: float) -> float:
    """Evaporation per area into clean air, k M Psat / (R T). Crowl and Louvar, ch. 3 (slides seen)."""
    zero_or_more(coefficient_m_s, "the mass transfer coefficient in m/s")
    above_zero(vapour.molar_mass_g_mol, "the molar mass in g/mol")
    zero_or_more(vapour.vapour_pressure_kpa, "the vapour pressure in kPa")
    if vapour.vapour_pressure_kpa == 0:
        return 0.0
    saturated_g_l = vapour.molar_mass_g_mol / molar_volume_l_mol(temp_c, vapour.vapour_pressure_kpa)
    return coefficient_m_s * 1e3 * saturated_g_l


def penetration_g_s(vapour: Vapour, wet: WetArea) -> float:
    """EPA/OPPT penetration model: indoors, air up to 100 ft/min.

    8.24e-8 M^0.835 VP (1/29 + 1/M)^0.25 v^0.5 A / (T^0.05 D^0.5 P^0.5), in torr, ft/min, cm2, K, cm, atm.
    Source: ChemSTEER user guide (from memory).
    """
    _check(vapour, wet)
    mass, speed = vapour.molar_mass_g_mol, wet.air_speed_m_s / _FT_MIN
    top = 8.24e-8 * mass**0.835 * vapour.vapour_pressure_kpa / _MMHG_KPA
    top *= (1.0 / 29.0 + 1.0 / mass) ** 0.25 * speed**0.5 * wet.area_m2 * 1e4
    # At one atmosphere, whose power is 1.
    return float(top / ((wet.temp_c + ZERO_C_IN_K) ** 0.05 * (100.0 * wet.length_m) ** 0.5))


def mass_transfer_g_s(vapour: Vapour, wet: WetArea) -> float:
    """EPA/OPPT mass transfer coefficient model: outdoors, or air above 100 ft/min.

    1.93e-7 M^0.78 VP (1/29 + 1/M)^0.33 v^0.78 A / (T^0.4 D^0.11 (T^0.5 - 5.87)^(2/3)), units as in
    penetration_g_s. Source: ChemSTEER user guide (from memory).
    """
    _check(vapour, wet)
    mass, speed = vapour.molar_mass_g_mol, wet.air_speed_m_s / _FT_MIN
    top = 1.93e-7 * mass**0.78 * vapour.vapour_pressure_kpa / _MMHG_KPA
    top *= (1.0 / 29.0 + 1.0 / mass) ** 0.33 * speed**0.78 * wet.area_m2 * 1e4
    kelvin = wet.temp_c + ZERO_C_IN_K
    return float(top / (kelvin**0.4 * (100.0 * wet.length_m) ** 0.11 * (kelvin**0.5 - 5.87) ** (2.0 / 3.0)))


def rates(vapour: Vapour, wet: WetArea) -> Rates:
    """Evaporation into clean air by every model, and the range of those that apply to this air speed.

    Raises ValueError for a figure that cannot be, among them a temperature outside 0 to 60 C.
    """
    _check(vapour, wet)
    schmidt = vapour.schmidt if vapour.schmidt is not None else schmidt_number(vapour.molar_mass_g_mol)
    speed, length = wet.air_speed_m_s, wet.length_m
    moving = speed > 0
    gentle = speed <= EPA_SPEED_FT_MIN * _FT_MIN

    def of_area(coefficient_m_s: float) -> float:
        return flux_g_m2_s(coefficient_m_s, vapour, wet.temp_c) * wet.area_m2

    answers = (
        (of_area(scaled_coefficient_m_s(vapour.molar_mass_g_mol)), True, SCALED),
        (of_area(flat_plate_coefficient_m_s(length, speed, schmidt)), moving, FLAT_PLATE),
        (of_area(pool_coefficient_m_s(length, speed, schmidt)), moving, POOL),
        (penetration_g_s(vapour, wet), moving and gentle, PENETRATION),
        (mass_transfer_g_s(vapour, wet), not gentle, MASS_TRANSFER),
    )
    models = tuple(
        model._replace(rate_g_min=60.0 * rate_g_s, applies=applies) for rate_g_s, applies, model in answers
    )
    return Rates(models, hull(model.rate_g_min for model in models if model.applies))


SCALED = ModelRate(
    "scaled from water",
    "still to gently moving air; tends high for small wet spots",
    "Crowl and Louvar, Chemical Process Safety, ch. 3 (slides and code)",
    True,
)
FLAT_PLATE = ModelRate(
    "flat plate",
    "an even stream of air along a flat wet area",
    "documentation of a hazard-modelling package",
    True,
)
POOL = ModelRate(
    "open pool",
    "pools in the open air; low for still air indoors",
    "slides on Kawamura and Mackay 1987",
    True,
)
PENETRATION = ModelRate(
    "EPA penetration", "indoors, air up to 100 ft/min (0.5 m/s)", "EPA/OPPT, ChemSTEER user guide", False
)
MASS_TRANSFER = ModelRate(
    "EPA mass transfer",
    "outdoors, or air above 100 ft/min (0.5 m/s)",
    "EPA/OPPT, ChemSTEER user guide",
    False,
)


def _check(vapour: Vapour, wet: WetArea) -> None:
    above_zero(vapour.molar_mass_g_mol, "the molar mass in g/mol")
    zero_or_more(vapour.vapour_pressure_kpa, "the vapour pressure in kPa")
    above_zero(wet.area_m2, "the wet area in m2")
    above_zero(wet.length_m, "the length of the wet area in m")
    zero_or_more(wet.air_speed_m_s, "the air speed in m/s")
    if not 0 <= wet.temp_c <= 60:
        raise ValueError(f"the models hold for a room of 0 to 60 °C, not for {wet.temp_c} °C")
