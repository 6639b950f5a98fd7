"""Between volume and mass of a vapour in air: ppm and mg per cubic metre."""

from __future__ import annotations

import math

GAS_CONSTANT_L_KPA = 8.314462618
"""L kPa per mol and K: the exact value of the SI since 2019 (CODATA 2018), in these units."""
ZERO_C_IN_K = 273.15
ATMOSPHERE_KPA = 101.325
# Two bases for the same figure: EU lists reckon at 20 C, US tables at 25 C, 2 per cent apart.
EU_TEMP_C, EU_PRESSURE_KPA = 20.0, 101.3
"""The basis on which EU limits give mg/m3: footnote to the annex of Directive (EU) 2019/1831."""
OSHA_TEMP_C, OSHA_PRESSURE_KPA = 25.0, ATMOSPHERE_KPA
"""The basis of the tables of 29 CFR 1910.1000: 25 C and 760 torr (footnote, from memory)."""


def molar_volume_l_mol(temp_c: float, pressure_kpa: float) -> float:
    """Litres that one mole of an ideal gas fills; 24.45 at 25 C and 101.325 kPa.

    Raises ValueError for a temperature at or below absolute zero or a pressure that is not above 0.
    """
    if not (math.isfinite(temp_c) and temp_c > -ZERO_C_IN_K):
        raise ValueError(f"{temp_c} C is no temperature of a gas.")
    if not (math.isfinite(pressure_kpa) and pressure_kpa > 0):
        raise ValueError(f"{pressure_kpa} kPa is no pressure of a gas.")
    return GAS_CONSTANT_L_KPA * (temp_c + ZERO_C_IN_K) / pressure_kpa


def ppm_to_mg_m3(ppm: float, molar_mass_g_mol: float, temp_c: float, pressure_kpa: float) -> float:
    """Mass in air, mg/m3, of a vapour of ``ppm`` parts per million by volume.

    For gases and vapours only, never for dust or mist. Raises ValueError for figures that cannot be.
    Source: ideal gas law, in the form that occupational hygiene prints (mg/m3 = ppm x M / molar volume).
    """
    _check(ppm, molar_mass_g_mol)
    return ppm * molar_mass_g_mol / molar_volume_l_mol(temp_c, pressure_kpa)


def mg_m3_to_ppm(mg_m3: float, molar_mass_g_mol: float, temp_c: float, pressure_kpa: float) -> float:
    """Parts per million by volume of a vapour of ``mg_m3`` mg per cubic metre; as :func:`ppm_to_mg_m3`."""
    _check(mg_m3, molar_mass_g_mol)
    return mg_m3 * molar_volume_l_mol(temp_c, pressure_kpa) / molar_mass_g_mol


def _check(amount: float, molar_mass_g_mol: float) -> None:
    if not (math.isfinite(amount) and amount >= 0):
        raise ValueError(f"{amount} is no amount in air.")
    if not (math.isfinite(molar_mass_g_mol) and molar_mass_g_mol > 0):
        raise ValueError(f"{molar_mass_g_mol} g/mol is no molar mass.")
