"""Constants of water, carbonic acid, calcium and magnesium over temperature, and activity corrections.

Concentrations are per kilogram of water, taken as per litre (0.3 % apart at 15-25 C). Every constant
carries its source and whether it was read there; see kb.science.cited for what the ids stand for.
"""

import math
from functools import lru_cache
from typing import NamedTuple

from kb.science.numbers import ZERO_C_IN_K

TEMPERATURES_C = (0.0, 50.0)
"""Where these functions answer. Against an independent engine they are checked from 5 to 35 C."""
GAS_CONSTANT_KCAL = 1.98720e-3
"""kcal per mol and kelvin (from memory)."""
DAVIES_LIMIT = 0.1
"""Ionic strength, mol/L, up to which the Davies equation is usually trusted (from memory)."""
DAVIES_LINEAR = 0.3
"""The linear term of the Davies equation; some texts print 0.2 (from memory)."""
NEUTRAL_TERM = 0.1
"""log10 of the activity coefficient of an uncharged species per mol/L of ionic strength (from memory)."""


class Equilibrium(NamedTuple):
    """log10 of an equilibrium constant over temperature.

    Either ``terms`` (a to f of a + b T + c / T + d log10 T + e / T^2 + f T^2, T in kelvin), or the value
    at 25 C with the enthalpy of reaction in kcal/mol (van 't Hoff).
    """

    reaction: str
    terms: tuple[float, ...] | None = None
    log_k_25c: float = 0.0
    enthalpy_kcal: float = 0.0
    source: str = "pdb"
    seen: bool = True
    note: str = ""

    def log_k(self, temp_c: float) -> float:
        """log10 K at ``temp_c``."""
        kelvin = temp_c + ZERO_C_IN_K
        if self.terms is not None:
            powers = (1.0, kelvin, 1.0 / kelvin, math.log10(kelvin), kelvin**-2.0, kelvin**2.0)
            return math.fsum(term * power for term, power in zip(self.terms, powers, strict=False))
        slope = self.enthalpy_kcal / (GAS_CONSTANT_KCAL * math.log(10.0))
        return self.log_k_25c - slope * (1.0 / kelvin - 1.0 / 298.15)


REACTIONS: dict[str, Equilibrium] = {
    "water": Equilibrium(
        "H2O = H+ + OH-",
        (293.29227, 0.1360833, -10576.913, -123.73158, 0.0, -6.996455e-5),
        note="phreeqc.dat text; the wateq4f form drifts to 0.015 above handbooks at 50 C",
    ),
    "co2-gas": Equilibrium(
        "CO2(g) = CO2(aq), mol/kg/atm", (108.3865, 0.01985076, -6919.53, -40.45154, 669365.0), source="pb1982"
    ),
    "carbonic-1": Equilibrium(
        "CO2(aq) + H2O = H+ + HCO3-",
        (-356.3094, -0.06091964, 21834.37, 126.8339, -1684915.0),
        source="pb1982",
        note="the database carries K1 and K2 combined; consistent",
    ),
    "carbonic-2": Equilibrium(
        "HCO3- = H+ + CO3--", (-107.8871, -0.03252849, 5151.79, 38.92561, -563713.9), source="pb1982"
    ),
    "CaOH+": Equilibrium(
        "Ca++ + OH- = CaOH+",
        log_k_25c=1.22,
        enthalpy_kcal=1.17,
        seen=False,
        note="value at 25 C read; the enthalpy is from memory (hydrolysis 14.53 less water 13.36 kcal/mol)",
    ),
    "CaHCO3+": Equilibrium(
        "Ca++ + HCO3- = CaHCO3+", (1209.12, 0.31294, -34765.05, -478.782, 0.0), note="wateq4f text"
    ),
    "CaCO3(aq)": Equilibrium(
        "Ca++ + CO3-- = CaCO3(aq)", (-1228.732, -0.299444, 35512.75, 485.818, 0.0), note="wateq4f text"
    ),
    "MgOH+": Equilibrium("Mg++ + H2O = MgOH+ + H+", log_k_25c=-11.44, enthalpy_kcal=15.952),
    "MgHCO3+": Equilibrium(
        "Mg++ + HCO3- = MgHCO3+", (-59.215, 0.0, 2537.455, 20.92298, 0.0), note="wateq4f text"
    ),
    "MgCO3(aq)": Equilibrium("Mg++ + CO3-- = MgCO3(aq)", (0.9910, 0.00667, 0.0, 0.0, 0.0)),
}
"""Reactions among dissolved species and with carbon dioxide gas."""

SOLID_REACTIONS: dict[str, Equilibrium] = {
    "calcite": Equilibrium(
        "CaCO3 = Ca++ + CO3--", (-171.9065, -0.077993, 2839.319, 71.595, 0.0), source="pb1982"
    ),
    "aragonite": Equilibrium(
        "CaCO3 = Ca++ + CO3--", (-171.9773, -0.077993, 2903.293, 71.595, 0.0), source="pb1982"
    ),
    "vaterite": Equilibrium(
        "CaCO3 = Ca++ + CO3--",
        (-172.1295, -0.077993, 3074.688, 71.595, 0.0),
        source="pb1982",
        seen=False,
        note="the first term is from memory; only its saturation is reported, it is never let drop",
    ),
    "portlandite": Equilibrium(
        "Ca(OH)2 + 2 H+ = Ca++ + 2 H2O", log_k_25c=22.8, enthalpy_kcal=-31.0, note="wateq4f text"
    ),
    "brucite": Equilibrium("Mg(OH)2 + 2 H+ = Mg++ + 2 H2O", log_k_25c=16.84, enthalpy_kcal=-27.1),
    "nesquehonite": Equilibrium("MgCO3.3H2O = Mg++ + CO3-- + 3 H2O", log_k_25c=-5.621, enthalpy_kcal=-5.789),
    "magnesite": Equilibrium("MgCO3 = Mg++ + CO3--", log_k_25c=-8.029, enthalpy_kcal=-6.169),
    "hydromagnesite": Equilibrium(
        "Mg5(CO3)4(OH)2.4H2O + 2 H+ = 5 Mg++ + 4 CO3-- + 6 H2O", log_k_25c=-8.762, enthalpy_kcal=-52.244
    ),
}
"""Dissolution of the solids that a bath can drop."""


def check_temperature(temp_c: float) -> None:
    """Raise ValueError outside TEMPERATURES_C."""
    low, high = TEMPERATURES_C
    if not low <= temp_c <= high:
        raise ValueError(f"the constants hold from {low:g} to {high:g} C, not at {temp_c:g} C")


@lru_cache(maxsize=64)
def constants(temp_c: float) -> dict[str, float]:
    """Equilibrium constants (not logarithms) by name, at ``temp_c``. Raises ValueError out of range."""
    check_temperature(temp_c)
    both = {**REACTIONS, **SOLID_REACTIONS}
    return {name: 10.0 ** reaction.log_k(temp_c) for name, reaction in both.items()}


def water_density_g_ml(temp_c: float) -> float:
    """Density of pure water at 1 atm, 0-100 C.

    Source: Kell G.S. (1975), J. Chem. Eng. Data 20, 97 (from memory). Raises ValueError out of range.
    """
    if not 0.0 <= temp_c <= 100.0:
        raise ValueError(f"the density of water is known here from 0 to 100 C, not at {temp_c:g} C")
    t = temp_c
    above = 999.83952 + t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * 105.56302e-9)))
    above += -280.54253e-12 * t**5
    return above / (1.0 + 16.879850e-3 * t) / 1000.0


def dielectric_constant(temp_c: float) -> float:
    """Relative permittivity of water. Source: Malmberg and Maryott 1956 (from memory)."""
    t = temp_c
    return 87.740 - 0.40008 * t + 9.398e-4 * t**2 - 1.410e-6 * t**3


@lru_cache(maxsize=64)
def debye_huckel_a(temp_c: float) -> float:
    """The constant A of the activity equations, (kg/mol)^0.5; 0.511 at 25 C (from memory)."""
    kelvin = temp_c + ZERO_C_IN_K
    screening = math.pow(dielectric_constant(temp_c) * kelvin, 1.5)
    return 1.82483e6 * math.sqrt(water_density_g_ml(temp_c)) / screening


def davies(ionic_strength: float, charge: int, temp_c: float) -> float:
    """Activity coefficient after Davies (from memory); uncharged species take NEUTRAL_TERM.

    ``ionic_strength`` in mol/L. Beyond DAVIES_LIMIT the answer is an extrapolation.
    """
    if charge == 0:
        return float(10.0 ** (NEUTRAL_TERM * ionic_strength))
    root = math.sqrt(ionic_strength)
    shape = root / (1.0 + root) - DAVIES_LINEAR * ionic_strength
    return float(10.0 ** (-debye_huckel_a(temp_c) * charge * charge * shape))
