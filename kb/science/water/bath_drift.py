"""How the pH of an open bath moves as it takes up carbon dioxide from the air, or gives it off.

At every moment the bath is taken to be in equilibrium within itself; only the exchange with the air takes
time. The path is computed; the pace is a range. Its main figure has no source, so the hours are an order of
magnitude: measure at the start and at the end.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import NamedTuple

from kb.science.cited import Known, Span, need_not_negative, need_positive
from kb.science.water.aqueous import ZERO_C_K
from kb.science.water.baths import OUTDOOR_CO2_PPM
from kb.science.water.speciation import FORMING, Bath, solve

TRANSFER_CM_H = Span(
    0.5, 5.0, "project", False, "gas transfer of a still to a gently moved tray; a guess without a source"
)
CO2_DIFFUSION_M2_S = Known(1.9e-9, "memory", False, "in water at 25 C")
HYDROXIDE_DIFFUSION_M2_S = Known(5.3e-9, "memory", False, "in water at 25 C")
HYDRATION_TERMS = (
    Known(13.635, "memory", False, "log10 k = 13.635 - 2895 / T, L/mol/s, of CO2 + OH- = HCO3-"),
    Known(-2895.0, "memory", False),
)
PACE_DOUBT = Known(2.0, "project", False, "for the skin of chalk, draughts and the reaction's own figures")
"""The soonest hours are divided by this, the latest multiplied."""
LEAST_STEP_PH = 0.25
"""Neighbouring points of a path lie no further apart than this, as long as MOST_POINTS allow."""
MOST_POINTS = 48
END_SHARE = 0.98
"""A path is followed to this share of the whole exchange; the rest takes for ever."""


class DriftPoint(NamedTuple):
    """One point of the path. ``taken_mol_l`` is below zero where the bath gives CO2 off."""

    taken_mol_l: float
    bath: Bath
    hours_soonest: float
    hours_latest: float


class Drift(NamedTuple):
    """The path of a bath in air, and where it ends if left for long enough."""

    points: tuple[DriftPoint, ...]
    end: Bath


def drift(
    start: Bath,
    depth_mm: float,
    co2_ppm: float = OUTDOOR_CO2_PPM.value,
    transfer_cm_h: Span = TRANSFER_CM_H,
    solids: tuple[str, ...] = FORMING,
) -> Drift:
    """The path of a bath of ``depth_mm`` from ``start`` towards balance with air of ``co2_ppm``.

    Raises ValueError for a depth or pace that is not above zero.
    """
    need_positive(depth_mm=depth_mm, transfer_low=transfer_cm_h.low, transfer_high=transfer_cm_h.high)
    end = solve(start.totals, start.temp_c, co2_ppm, solids)
    begin = start.totals.carbon_mol_l
    whole = end.totals.carbon_mol_l - begin

    def bath_at(share: float) -> Bath:
        return solve(start.totals._replace(carbon_mol_l=begin + share * whole), start.temp_c, None, solids)

    baths = _refined({share: bath_at(share) for share in (0.0, 0.25, 0.5, 0.75, 0.9, END_SHARE)}, bath_at)
    fast = _hours(baths, end, depth_mm, transfer_cm_h.high)
    slow = _hours(baths, end, depth_mm, transfer_cm_h.low)
    doubt = PACE_DOUBT.value
    points = (
        DriftPoint(bath.totals.carbon_mol_l - begin, bath, soon / doubt, late * doubt)
        for bath, soon, late in zip(baths, fast, slow, strict=True)
    )
    return Drift(tuple(points), end)


def ph_after(path: Drift, hours: float) -> tuple[float, float]:
    """Lowest and highest pH to expect after ``hours`` in the air."""
    need_not_negative(hours=hours)
    soon = _ph_at(path, hours, [point.hours_soonest for point in path.points])
    late = _ph_at(path, hours, [point.hours_latest for point in path.points])
    return min(soon, late), max(soon, late)


def _refined(known: dict[float, Bath], bath_at: Callable[[float], Bath]) -> list[Bath]:
    """Baths along the path, with more of them where the pH falls steeply."""
    while len(known) < MOST_POINTS:
        shares = sorted(known)
        steps = [(abs(known[a].ph - known[b].ph), (a + b) / 2.0) for a, b in pairwise(shares)]
        widest, middle = max(steps)
        if widest <= LEAST_STEP_PH:
            break
        known[middle] = bath_at(middle)
    return [known[share] for share in sorted(known)]


def _hours(baths: list[Bath], end: Bath, depth_mm: float, transfer_cm_h: float) -> list[float]:
    """Hours until each point of the path, at one pace."""
    rates = [_rate_mol_l_h(bath, end, depth_mm, transfer_cm_h) for bath in baths]
    hours = [0.0]
    for (a, b), (r, q) in zip(pairwise(baths), pairwise(rates), strict=True):
        moved = abs(b.totals.carbon_mol_l - a.totals.carbon_mol_l)
        # The mean of 1 / rate where the rate changes in a straight line over the step.
        mean = math.log(q / r) / (q - r) if abs(q - r) > 1e-6 * r else 1.0 / r
        hours.append(hours[-1] + moved * mean)
    return hours


def _rate_mol_l_h(bath: Bath, end: Bath, depth_mm: float, transfer_cm_h: float) -> float:
    """How fast CO2 goes in or out, always above zero.

    Hydroxide takes CO2 up within the film of still water at the surface and so speeds the uptake, by at
    most as much as hydroxide can diffuse to meet it (film theory, from memory).
    """
    gap = end.species_mol_l["CO2(aq)"] - bath.species_mol_l["CO2(aq)"]
    faster = 1.0
    if gap > 0:
        hydroxide = bath.species_mol_l["OH-"]
        pace_m_s = transfer_cm_h / 100.0 / 3600.0
        per_second = 10.0 ** (HYDRATION_TERMS[0].value + HYDRATION_TERMS[1].value / (bath.temp_c + ZERO_C_K))
        by_reaction = math.sqrt(1.0 + CO2_DIFFUSION_M2_S.value * per_second * hydroxide / pace_m_s**2)
        reach = HYDROXIDE_DIFFUSION_M2_S.value / CO2_DIFFUSION_M2_S.value
        by_supply = 1.0 + reach * hydroxide / (2.0 * end.species_mol_l["CO2(aq)"])
        faster = min(by_reaction, by_supply)
    per_hour = transfer_cm_h / 100.0 / (depth_mm / 1000.0)
    return per_hour * faster * max(abs(gap), 1e-12)


def _ph_at(path: Drift, hours: float, times: list[float]) -> float:
    """The pH at one moment, in a straight line between points; past the last one towards the end state."""
    points = path.points
    for (a, b), (t0, t1) in zip(pairwise(points), pairwise(times), strict=True):
        if hours <= t1:
            share = (hours - t0) / (t1 - t0) if t1 > t0 else 1.0
            return a.bath.ph + share * (b.bath.ph - a.bath.ph)
    return path.end.ph if hours > 0 else points[0].bath.ph
