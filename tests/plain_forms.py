"""Plain and closed forms that the program does not need; what it computes is held against them."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from kb.science.air.room import DAY_MIN, decayed, decayed_twice
from kb.science.choose.evidence import EDGE_SLACK, OBSERVED_SHARE, RING_EDGES, Posterior, combine
from kb.science.cited import need_not_negative, need_positive
from kb.science.numbers import Spread, above_zero, hull, zero_or_more
from kb.science.water.aqueous import constants, davies
from kb.science.water.speciation import SOLIDS, Bath, Totals


def build_up_mg_m3(
    time_min: float,
    emission_mg_min: float,
    flow_m3_min: float,
    volume_m3: float,
    initial_mg_m3: float = 0.0,
    incoming_mg_m3: float = 0.0,
) -> float:
    """Concentration in a well-mixed room with a steady source, also without any ventilation.

    C = Cin + (G/Q)(1 - exp(-Qt/V)) + (C0 - Cin) exp(-Qt/V). Not for the air beside the swab. Sources: see
    the module. Raises ValueError for a negative or missing figure.
    """
    x = flow_m3_min * time_min / volume_m3
    zero_or_more(emission_mg_min, "the emission in mg/min")
    zero_or_more(initial_mg_m3, "the concentration at the start in mg/m3")
    zero_or_more(incoming_mg_m3, "the concentration of the incoming air in mg/m3")
    from_source = emission_mg_min * time_min / volume_m3 * decayed(x)
    return from_source - incoming_mg_m3 * math.expm1(-x) + initial_mg_m3 * math.exp(-x)


def mean_build_up_mg_m3(
    time_min: float, emission_mg_min: float, flow_m3_min: float, volume_m3: float
) -> float:
    """Mean from the start to ``time_min`` in a room that was clean (derived: integral of build_up_mg_m3)."""
    x = flow_m3_min * time_min / volume_m3
    return zero_or_more(emission_mg_min, "the emission in mg/min") * time_min / volume_m3 * decayed_twice(x)


def instant_release_mg_m3(time_min: float, mass_mg: float, flow_m3_min: float, volume_m3: float) -> float:
    """Concentration after a mass evaporated at once: (m/V) exp(-Qt/V) (derived); cautious for a swab."""
    zero_or_more(mass_mg, "the mass in mg")
    return decay_mg_m3(
        time_min, mass_mg / above_zero(volume_m3, "the room's volume in m3"), flow_m3_min, volume_m3
    )


def near_field_steady_mg_m3(
    emission_mg_min: float, flow_m3_min: float, exchange_m3_min: float
) -> tuple[float, float]:
    """Final concentrations near the source and in the rest of the room: G/Q + G/beta, and G/Q.

    A point source at arm's length, no local exhaust. Source: open scripts of the two-zone models (equation
    seen). Infinite without ventilation. In one solvent study predictions were 0 to 1.6 times the measured
    means (Plisko and Spencer, abstract seen): show a range.
    """
    above_zero(exchange_m3_min, "the exchange with the near field in m3/min")
    far = steady_mg_m3(emission_mg_min, flow_m3_min)
    return (far + emission_mg_min / exchange_m3_min, far)


def from_cells(p0: float, cells: Iterable[Cell]) -> Posterior:
    """The plain form of the method, from cells in any order; what faster forms are checked against.

    A cell of the own class counts whatever its weight; any other with less than LEAST_WEIGHT does not.
    """
    tests: list[list[float]] = [[], [], [], []]
    rated: list[list[float]] = [[], [], [], []]
    for cell in cells:
        place = 3 if cell.own else ring(cell.weight)
        if place is None or cell.n <= 0:
            continue
        effective = cell.weight * cell.n
        tests[place].append(effective)
        rated[place].append(effective * corrected_rate(cell.k, cell.n, p0, cell.p0))
    # fsum: the same cells in another order give the same bits.
    groups = [(math.fsum(tests[i]), math.fsum(rated[i])) for i in range(4)]
    return combine(p0, groups[3], groups[:3])


def spread_over(evaluate: Callable[..., float], *inputs: Spread) -> Spread:
    """What a model gives over all combinations of the lowest and highest inputs.

    This bounds the answer if the model rises or falls all the way in each input, as the models of
    kb.science.air.room do for the near field and the well-mixed room. Raises ValueError for a range that
    runs backwards.
    """
    for one in inputs:
        if not one.low <= one.high:
            raise ValueError(f"a range must not run from more to less: {one.low} to {one.high}")
    corners = itertools.product(*(dict.fromkeys(one) for one in inputs))
    return hull(evaluate(*corner) for corner in corners)


def mixed(first: Totals, first_l: float, second: Totals, second_l: float) -> Totals:
    """Two baths poured together; volumes are taken to add up."""
    need_not_negative(first_l=first_l, second_l=second_l)
    both = first_l + second_l
    need_positive(volume_l=both)
    return Totals(*((a * first_l + b * second_l) / both for a, b in zip(first, second, strict=True)))


def diluted(totals: Totals, share: float, water_co2_mol_l: float = 0.0) -> Totals:
    """``share`` (0..1) of a bath made up to 1 with pure water holding ``water_co2_mol_l``.

    ``share`` 0.1 is one in ten: 1 part and 9 parts of water. Raises ValueError outside 0..1.
    """
    if not 0.0 <= share <= 1.0:
        raise ValueError(f"the share of the stock must be from 0 to 1, not {share}")
    return mixed(totals, share, Totals(carbon_mol_l=water_co2_mol_l), 1.0 - share)


def steady_mg_m3(emission_mg_min: float, flow_m3_min: float) -> float:
    """Final concentration in a well-mixed room, G/Q; infinite without ventilation. Source: see the module."""
    zero_or_more(emission_mg_min, "the emission in mg/min")
    if zero_or_more(flow_m3_min, "the flow of air in m3/min") > 0:
        return emission_mg_min / flow_m3_min
    return math.inf if emission_mg_min > 0 else 0.0


def decay_mg_m3(time_min: float, initial_mg_m3: float, flow_m3_min: float, volume_m3: float) -> float:
    """Concentration once the source is gone: C0 exp(-Qt/V) (purge equation pages, seen).

    Wet swabs left in the room are still a source.
    """
    x = flow_m3_min * time_min / volume_m3
    return zero_or_more(initial_mg_m3, "the concentration at the start in mg/m3") * math.exp(-x)


def corrected_rate(k: float, n: float, p0_target: float, p0_cell: float) -> float:
    """Rate of events in a cell, moved by half of what chemistry expects to differ from the question.

    May lie outside 0..1. Raises ValueError if there are no tests.
    """
    if not n > 0:
        raise ValueError("a cell without tests has no rate")
    return k / n + OBSERVED_SHARE * (p0_target - p0_cell)


COMPOUNDS_G_MOL = {"CaCO3": 100.087, "MgCO3": 84.314, "Ca(OH)2": 74.093, "Mg(OH)2": 58.320}
"""Alkalis that neutralise two mol of acid each, and their molar masses (computed)."""


def reserve_mol_kg(percent: float, compound: str = "CaCO3") -> float:
    """mol/kg from per cent by mass of a compound: 2 % CaCO3 is 0.400."""
    return 20.0 * percent / COMPOUNDS_G_MOL[compound]


class Portion(NamedTuple):
    """One ingredient. A range has ``high`` above ``low``; an amount that is one figure has both alike."""

    name: str
    low: float
    high: float
    unit: str


def scaled(portions: Sequence[Portion], factor: float) -> tuple[Portion, ...]:
    """Every ingredient times ``factor``; names, order and units stay.

    Raises ValueError unless the factor is above zero and every result is a number.
    """
    need_positive(factor=factor)
    new = tuple(one._replace(low=one.low * factor, high=one.high * factor) for one in portions)
    for one in new:
        need_not_negative(**{one.name: one.low, f"{one.name} at most": one.high})
    return new


def saturation_index(bath: Bath, solid: str) -> float:
    """log10 of how far above (plus) or below (minus) saturation a solid stands; -inf without its parts."""
    metal, hydroxide, carbonate, atoms = SOLIDS[solid]
    gamma = davies(bath.ionic_strength_mol_l, 2, bath.temp_c)
    there, free = (bath.species_mol_l[name] * gamma for name in (f"{metal}++", "CO3--"))
    if there <= 0.0 or (carbonate and free <= 0.0):
        return -math.inf
    allowed = math.log10(constants(bath.temp_c)[solid]) / atoms - bath.ph * hydroxide
    return (math.log10(there) - allowed + (carbonate * math.log10(free) if carbonate else 0.0)) * atoms


def co2_pressure_atm(bath: Bath) -> float:
    """Of the gas over a bath that is in balance with it."""
    gamma = davies(bath.ionic_strength_mol_l, 0, bath.temp_c)
    return bath.species_mol_l["CO2(aq)"] * gamma / constants(bath.temp_c)["co2-gas"]


class Cell(NamedTuple):
    """Tests of one class as they speak for one question.

    ``weight`` 0..1 is the similarity, ``n`` tests (already discounted by studio) gave ``k`` events, ``p0``
    is the chemistry prior of the cell, and ``own`` marks the question's own class.
    """

    weight: float
    n: float
    k: float
    p0: float
    own: bool


def ring(weight: float) -> int | None:
    """Which ring a weight falls into, 0 to 2, widest first; None if it is too small to count.

    A weight is a product, so one that rounding left just below an edge lies on it.
    """
    place = bisect_right(RING_EDGES, weight + EDGE_SLACK)
    return place - 1 if place else None


def twa_8h(intervals: Sequence[tuple[float, float]]) -> float:
    """8-hour average of (hours, concentration) pairs: sum(C T) / 8, also for a day shorter than 8 h.

    Time that is not listed counts as clean air. Source: 29 CFR 1910.1000(d)(1)(i) (seen). Extended shifts
    have rules of their own, which are not applied here.
    """
    # A short day is divided by eight hours as well, as the rule has it.
    return math.fsum(
        zero_or_more(hours, "the time in h") * zero_or_more(value, "a concentration")
        for hours, value in intervals
    ) / (DAY_MIN / 60.0)
