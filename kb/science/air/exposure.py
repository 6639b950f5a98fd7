"""What a person breathes against what an authority allows: saturated vapour, averages, indices.

All concentrations and limits in one call must be in the same unit, of the same averaging time and of the
same authority. A limit that is not known is None, and what depends on it is None, never zero. Screening
figures: the data sheet, a risk assessment and measurement come first.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from kb.science.air.course import DAY_MIN, SHORT_TERM_MIN
from kb.science.conversions import molar_volume_l_mol
from kb.science.guard import above_zero, zero_or_more

ATMOSPHERE_KPA = 101.325
ACTION_SHARE = 0.5
"""Half of a limit, the customary action level; from memory."""
SCREENING_SHARE = 0.1
"""A tenth of a limit: preliminary screening with three results after EN 689; from memory."""


class AdditiveIndex(NamedTuple):
    """The sum of shares of limits, None if no limit is known; ``unknown`` names what had to be left out."""

    value: float | None
    counted: tuple[str, ...]
    unknown: tuple[str, ...]


def saturated_ppm(vapour_pressure_kpa: float, pressure_kpa: float = ATMOSPHERE_KPA) -> float:
    """Concentration of air saturated with a liquid's vapour: 1e6 Psat / P, at the most 1e6.

    An upper bound at the liquid's temperature: real air near liquids of low volatility held mostly less
    than 1 % of it (HSE RR923, seen). Source: National Research Council, Procedures for Working with
    Chemicals in Laboratories (seen).
    """
    above_zero(pressure_kpa, "the pressure of the air in kPa")
    return 1e6 * min(above_zero(vapour_pressure_kpa, "the vapour pressure in kPa") / pressure_kpa, 1.0)


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
    fractions: Sequence[float],
    vapour_pressures_kpa: Sequence[float],
    activities: Sequence[float] | None = None,
) -> tuple[float, ...]:
    """Vapour pressure of each part over a blend: x gamma Psat (Raoult; gamma 1 where not given).

    The ideal figure is too low for unlike partners, such as an alcohol in a hydrocarbon (from memory;
    Ann. Occup. Hyg. 53(4), 2009, 391-401, abstract seen, compares both).
    """
    gammas = activities if activities is not None else [1.0] * len(fractions)
    return tuple(
        zero_or_more(x, "a mole fraction")
        * above_zero(gamma, "an activity coefficient")
        * zero_or_more(pressure, "a vapour pressure in kPa")
        for x, gamma, pressure in zip(fractions, gammas, vapour_pressures_kpa, strict=True)
    )


def vapour_hazard_ratio(saturated: float, limit: float | None) -> float | None:
    """Saturated concentration over the limit, both in the same unit; None if no limit is known.

    For ranking under one authority only. Source: M. J. Pitt, IChemE Symp. Ser. 151, 2006 (seen).
    """
    zero_or_more(saturated, "the saturated concentration")
    return None if limit is None else saturated / above_zero(limit, "the limit")


def vapour_hazard_index(saturated: float, limit: float | None) -> float | None:
    """The decimal logarithm of vapour_hazard_ratio (this form from memory); None if no limit is known."""
    ratio = vapour_hazard_ratio(saturated, limit)
    return None if ratio is None else math.log10(above_zero(ratio, "the vapour hazard ratio"))


def twa_8h(intervals: Sequence[tuple[float, float]]) -> float:
    """8-hour average of (hours, concentration) pairs: sum(C T) / 8, also for a day shorter than 8 h.

    Time that is not listed counts as clean air. Source: 29 CFR 1910.1000(d)(1)(i) (seen). Extended shifts
    have rules of their own, which are not applied here.
    """
    return math.fsum(
        zero_or_more(hours, "the time in h") * zero_or_more(value, "a concentration")
        for hours, value in intervals
    ) / (DAY_MIN / 60.0)


def series_of(intervals: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """A series of (minutes, concentration) points that holds each value of (minutes long, value) pairs."""
    points: list[tuple[float, float]] = []
    time = 0.0
    for minutes, value in intervals:
        points += [(time, value), (time + above_zero(minutes, "an interval in min"), value)]
        time += minutes
    return tuple(points)


def twa_8h_of_series(series: Sequence[tuple[float, float]]) -> float:
    """8-hour average of a series of (minutes, concentration) points, straight lines in between."""
    return _doses(series)[-1] / DAY_MIN


def worst_mean_of_series(series: Sequence[tuple[float, float]], window_min: float = SHORT_TERM_MIN) -> float:
    """The highest mean over any ``window_min`` minutes in a row of (minutes, concentration) points.

    Straight lines in between, two points of one time make a step, clean air outside. The window slides, it
    does not follow the clock. 15 min unless the list says otherwise (EU lists, footnote seen). A ceiling
    is a highest value and not averaged unless the rule says so. Raises ValueError for no points, times that
    run backwards, or a negative concentration.
    """
    above_zero(window_min, "the averaging time in min")
    doses = _doses(series)
    first, last = series[0][0], series[-1][0]
    if last - first <= window_min:
        return doses[-1] / window_min
    starts = sorted(
        {
            start
            for time, _ in series
            for start in (time, time - window_min)
            if first <= start <= last - window_min
        }
    )
    best = 0.0
    for left, right in itertools.pairwise((*starts, starts[-1])):
        for start in (left, _level(series, left, right, window_min)):
            dose = _dose_at(series, doses, start + window_min) - _dose_at(series, doses, start)
            best = max(best, dose / window_min)
    return best


def _doses(series: Sequence[tuple[float, float]]) -> list[float]:
    """Concentration times minutes up to each point."""
    if not series:
        raise ValueError("a series needs at least one point")
    doses = [0.0]
    for time, value in series:
        if not math.isfinite(time):
            raise ValueError(f"the times of a series must be finite, not {time}")
        zero_or_more(value, "a concentration")
    for (before, low), (after, high) in itertools.pairwise(series):
        if after < before:
            raise ValueError(f"the times of a series must run forwards, not from {before:g} to {after:g}")
        doses.append(doses[-1] + 0.5 * (low + high) * (after - before))
    return doses


def _piece(series: Sequence[tuple[float, float]], time: float, late: bool) -> int:
    """The number of the line that holds ``time``; of two, the later one if ``late``."""
    for number in range(len(series) - 1):
        end = series[number + 1][0]
        if time < end or (time == end and not late):
            return number
    return len(series) - 2


def _value(series: Sequence[tuple[float, float]], time: float, late: bool) -> float:
    number = _piece(series, time, late)
    (start, low), (end, high) = series[number], series[number + 1]
    return high if end == start else low + (high - low) * (time - start) / (end - start)


def _dose_at(series: Sequence[tuple[float, float]], doses: Sequence[float], time: float) -> float:
    number = _piece(series, time, late=True)
    start, low = series[number]
    return doses[number] + 0.5 * (low + _value(series, time, late=False)) * (time - start)


def _level(series: Sequence[tuple[float, float]], left: float, right: float, window: float) -> float:
    """Where between two corners both ends of the window read the same: the top of a parabola."""
    at_left = _value(series, left + window, late=True) - _value(series, left, late=True)
    at_right = _value(series, right + window, late=False) - _value(series, right, late=False)
    if at_left <= 0 or at_right >= 0:
        return left
    return left + (right - left) * at_left / (at_left - at_right)


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
        if limit is None:
            unknown.append(name)
        else:
            counted.append(name)
            shares.append(value / above_zero(limit, f"the limit of {name}"))
    return AdditiveIndex(math.fsum(shares) if counted else None, tuple(counted), tuple(unknown))


def mixture_limit(concentrations: Mapping[str, float], limits: Mapping[str, float | None]) -> float | None:
    """Limit of an airborne mixture as a whole: total over additive index; None if any limit is not known.

    Arithmetic on 29 CFR 1910.1000(d)(2)(i) (derived). Raises ValueError if there is nothing in the air.
    """
    index = additive_index(concentrations, limits)
    if index.value is None or index.unknown:
        return None
    return math.fsum(concentrations.values()) / above_zero(index.value, "the additive index")


def liquid_mixture_limit_mg_m3(
    weight_fractions: Mapping[str, float], limits_mg_m3: Mapping[str, float | None]
) -> float | None:
    """Limit of the vapour of a blend that evaporates whole: 1 / sum(f / L); None if any limit is not known.

    Wrong for a blend that evaporates in part. Source: ACGIH (from memory).
    """
    index = additive_index(weight_fractions, limits_mg_m3)
    if index.value is None or index.unknown:
        return None
    return math.fsum(weight_fractions.values()) / above_zero(index.value, "the sum of the fractions")


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
