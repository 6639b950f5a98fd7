"""Numbers that every room needs: refusals of what cannot be, ranges, where a function crosses zero.

At the end: between volume and mass of a vapour in air, ppm and mg per cubic metre.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import NamedTuple


def percent(share: float, digits: int = 0) -> str:
    """``44 %`` of a share of 0.44."""
    return f"{100 * share:.{digits}f} %"


def counted(number: float, one: str, many: str = "") -> str:
    """``1 test``, ``2,000 tests``, ``0.5 days``."""
    return f"{number:,.10g} {one if number == 1 else many or one + 's'}"


def dwell_words(dwell_s: float) -> str:
    """``150`` -> ``2 min 30 s``."""
    minutes, seconds = divmod(dwell_s, 60)
    if not minutes:
        return f"{seconds:g} s"
    return f"{minutes:.0f} min {seconds:g} s" if seconds else f"{minutes:.0f} min"


def chance(p: float) -> str:
    """A chance as a whole per cent; never rounded to certainty: ``>99 %``, ``<1 %``."""
    if p >= 0.995:
        return ">99 %"
    return "<1 %" if p <= 0.005 else percent(p)


def above_zero(value: float, what: str) -> float:
    """The value itself. Raises ValueError naming ``what`` unless it is finite and above zero."""
    if not 0 < value < math.inf:
        raise ValueError(f"{what} must be above zero, not {value}")
    return value


def zero_or_more(value: float, what: str) -> float:
    """The value itself. Raises ValueError naming ``what`` unless it is finite and not negative."""
    if not 0 <= value < math.inf:
        raise ValueError(f"{what} must be zero or more, not {value}")
    return value


def share(value: float, what: str) -> float:
    """The value itself. Raises ValueError naming ``what`` unless it lies from 0 to 1."""
    if not 0 <= value <= 1:
        raise ValueError(f"{what} must lie from 0 to 1, not {value}")
    return value


class Spread(NamedTuple):
    """From ``low`` to ``high``; equal where the value is known."""

    low: float
    high: float


def hull(values: Iterable[float]) -> Spread:
    """The smallest range that holds all values. Raises ValueError if there are none."""
    kept = list(values)
    if not kept:
        raise ValueError("no values to form a range of")
    return Spread(min(kept), max(kept))


MAX_STEPS = 200


def bracketed_root(
    function: Callable[[float], float],
    low: float,
    high: float,
    tolerance: float = 1e-12,
    ends: tuple[float, float] | None = None,
) -> float:
    """A point between ``low`` and ``high`` where ``function`` changes sign, to within ``tolerance``.

    ``ends`` are its values at the two ends, where they are known already. Works for jumps as well as for
    crossings, since the two ends always keep opposite signs. Raises ValueError if the signs at the two ends
    are the same.
    Source of the method: Chandrupatla T.R. (1997), Adv. Eng. Softw. 28, 145-149 (from memory).
    """
    a, b = low, high
    fa, fb = ends or (function(a), function(b))
    if fa == 0.0:
        return a
    if fb == 0.0:
        return b
    if (fa > 0) == (fb > 0):
        raise ValueError(f"the function does not change sign between {low} and {high}")
    share = 0.5
    for _ in range(MAX_STEPS):
        x = a + share * (b - a)
        fx = function(x)
        if (fx > 0) == (fa > 0):
            c, fc, a, fa = a, fa, x, fx
        else:
            c, fc, b, fb, a, fa = b, fb, a, fa, x, fx
        best = a if abs(fa) < abs(fb) else b
        width = abs(b - a)
        if fx == 0.0 or width <= 2.0 * tolerance:
            return x if fx == 0.0 else best
        share, least = _next_share(a, fa, b, fb, c, fc), tolerance / width
        share = least if share < least else 1.0 - least if share > 1.0 - least else share
    return best


def _next_share(a: float, fa: float, b: float, fb: float, c: float, fc: float) -> float:
    """Inverse quadratic interpolation where it can be trusted, else half way."""
    if c == b or fa in (fb, fc) or fb == fc:
        return 0.5
    xi = (a - b) / (c - b)
    phi = (fa - fb) / (fc - fb)
    if not (phi * phi < xi and (1.0 - phi) ** 2 < 1.0 - xi):
        return 0.5
    return fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)


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
