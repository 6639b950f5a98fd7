"""Vapour in the air of a room over time: one well-mixed room, or a near field within it.

Units: mg, m3, min. Flows are effective flows (effective_flow_m3_min): mixing is a factor K of 1 or more
that divides the flow, never a fraction that multiplies it. "Never" is infinite time. Screening models: no
sink, no draught, no local exhaust.

The flow of fresh air that keeps a steady, spread-out source under a limit stands at the end. It is for
vapours of low hazard, limits near or above 100 ppm, and a worker away from the source (lecture on dilution
ventilation, seen); not for highly toxic or uneven sources.

Sources: the dilution balance as printed on a university formula page and an engineering table (seen), and
P. Hewett, Easy modeling, The Synergist, April 2017 (seen); the near-field flow after M. Nicas 1996 and
C. B. Keil and M. Nicas (from memory). Mean, instant release and time courses are derived from them.

The course of a vapour's concentration through a working day, from what is released and when.

These zones are linear, so every release adds its own course. Everything here is exact
for those models: no time steps. Derived from the sources named above.
"""

from __future__ import annotations

import itertools
import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from kb.science.numbers import ATMOSPHERE_KPA, above_zero, molar_volume_l_mol, zero_or_more

NEAR_RADIUS_M = 0.8
"""Customary radius of the near field; from memory."""
AIR_SPEED_M_MIN = (1.5, 3.6)
"""Random air speed indoors, low and typical; from memory."""


Mode = tuple[float, float]
"""One exponential of a zone's answer to a release, weight exp(-rate t): weight per m3 and rate per min."""
Zone = tuple[Mode, ...]
"""A zone's concentration (mg/m3) after 1 mg was released at time zero, as a sum of modes."""


def decayed(x: float) -> float:
    """(1 - exp(-x)) / x for x of zero or more, without loss near zero, where it is 1."""
    # Near zero the difference of two numbers that are nearly 1 loses its figures; the series keeps them.
    return -math.expm1(-x) / x if x > 1e-8 else 1.0 - x / 2.0


def decayed_twice(x: float) -> float:
    """(x - 1 + exp(-x)) / x^2 for x of zero or more, without loss near zero, where it is 1/2."""
    # From here on the plain form is exact to all figures; below, terms are summed until they vanish.
    if x > 0.1:
        return (x + math.expm1(-x)) / (x * x)
    total, term = 0.0, 0.5
    for n in range(3, 14):
        if total + term == total:
            break
        total += term
        term *= -x / n
    return total


def effective_flow_m3_min(air_changes_per_h: float, volume_m3: float, mixing_factor: float = 1.0) -> float:
    """Fresh air that counts, Q / K, from air changes per hour.

    ``mixing_factor`` K: 1 for perfect mixing, up to about 10; textbooks that multiply by a fraction of 0.1
    to 0.5 mean K of 10 to 2 (Crowl and Louvar, slides seen). Raises ValueError for K below 1.
    """
    # A fraction is the other convention in textbooks; taken as a factor it would multiply the fresh air.
    _check_mixing(mixing_factor)
    zero_or_more(air_changes_per_h, "the air changes per hour")
    return air_changes_per_h * above_zero(volume_m3, "the room's volume in m3") / 60.0 / mixing_factor


def air_changes_per_h(flow_m3_min: float, volume_m3: float) -> float:
    """Air changes per hour from the flow: n = 60 Q / V. Source: Hewett 2017 (seen)."""
    zero_or_more(flow_m3_min, "the flow of air in m3/min")
    return 60.0 * flow_m3_min / above_zero(volume_m3, "the room's volume in m3")


def hemisphere_volume_m3(radius_m: float = NEAR_RADIUS_M) -> float:
    """Volume of a near field that stands as a half-sphere on the bench."""
    return 2.0 / 3.0 * math.pi * above_zero(radius_m, "the radius of the near field in m") ** 3


# Half of the surface takes air in and half lets it out.
def exchange_flow_m3_min(
    radius_m: float = NEAR_RADIUS_M, air_speed_m_min: float = AIR_SPEED_M_MIN[1]
) -> float:
    """Air exchanged between a half-sphere on the bench and the room: beta = FSA S / 2, FSA = 2 pi r^2.

    Source: Nicas 1996, Keil and Nicas (from memory). Both figures are usually guessed: give a range.
    """
    above_zero(radius_m, "the radius of the near field in m")
    above_zero(air_speed_m_min, "the random air speed in m/min")
    return 0.5 * 2.0 * math.pi * radius_m**2 * air_speed_m_min


def well_mixed(volume_m3: float, flow_m3_min: float) -> Zone:
    _changes(0.0, flow_m3_min, volume_m3)
    return ((1.0 / volume_m3, flow_m3_min / volume_m3),)


def near_and_far_field(
    volume_m3: float, near_volume_m3: float, flow_m3_min: float, exchange_m3_min: float
) -> tuple[Zone, Zone]:
    """The air at the source and the rest of the room, all that is released coming into the former.

    VN dCN/dt = G + beta (CF - CN), VF dCF/dt = beta (CN - CF) - Q CF, VF = V - VN, solved exactly with the
    two eigenvalues (derived; agrees with the published two-zone form, from memory). Raises ValueError if
    the near field is not smaller than the room.
    """
    above_zero(near_volume_m3, "the volume of the near field in m3")
    above_zero(exchange_m3_min, "the exchange with the near field in m3/min")
    zero_or_more(flow_m3_min, "the flow of air in m3/min")
    # A near field as large as the room leaves no room for the far one, and the rates would divide by zero.
    if not near_volume_m3 < volume_m3 < math.inf:
        raise ValueError(
            f"the near field, {near_volume_m3:.3g} m3, must be smaller than the room, {volume_m3:g} m3: give "
            "a nearer face, or take a closed box as a dome"
        )
    near_rate = exchange_m3_min / near_volume_m3
    far_volume = volume_m3 - near_volume_m3
    far_rate = (exchange_m3_min + flow_m3_min) / far_volume
    product = near_rate * (flow_m3_min / far_volume)
    root = math.sqrt((near_rate - far_rate) ** 2 + 4.0 * near_rate * (exchange_m3_min / far_volume))
    fast = 0.5 * (near_rate + far_rate + root)
    # From the product and not as a difference: the slow rate may be a thousandth of the fast one.
    slow = product / fast
    apart = fast - slow
    # The rest of the room answers the near field's rate of change, which fixes the two weights.
    near_fast = (near_rate - slow) / apart / near_volume_m3
    near_slow = (fast - near_rate) / apart / near_volume_m3
    far_weight = near_rate * (exchange_m3_min / far_volume) / apart / exchange_m3_min
    return ((near_fast, fast), (near_slow, slow)), ((-far_weight, fast), (far_weight, slow))


def _changes(time_min: float, flow_m3_min: float, volume_m3: float) -> float:
    """How often the air was changed by then."""
    zero_or_more(time_min, "the time in min")
    zero_or_more(flow_m3_min, "the flow of air in m3/min")
    return flow_m3_min * time_min / above_zero(volume_m3, "the room's volume in m3")


SHORT_TERM_MIN = 15.0
"""The averaging time of short-term limits unless the list says otherwise (footnote of the EU lists, seen)."""
DAY_MIN = 480.0
"""An 8-hour average is always over 8 hours, also of a short day (29 CFR 1910.1000(d)(1)(i), seen)."""


class Release(NamedTuple):
    """``mass_mg`` set free evenly from ``start_min`` to ``end_min``; at once if the two are equal."""

    start_min: float
    end_min: float
    mass_mg: float


def swabs(mass_each_mg: float, per_hour: float, start_min: float, end_min: float) -> tuple[Release, ...]:
    """Swabs at even intervals, the first at the start; each dries at once, the cautious choice.

    Raises ValueError if not even one swab falls into the time.
    """
    count = _count(per_hour, start_min, end_min)
    zero_or_more(mass_each_mg, "the mass on a swab in mg")
    # The first swab at the start: work begins with one, and a later first would make the worst quarter hour
    # milder.
    times = [start_min + number * 60.0 / per_hour for number in range(count)]
    return tuple(Release(time, time, mass_each_mg) for time in times)


def dish(mass_mg: float, emission_mg_min: float, start_min: float, end_min: float) -> tuple[Release, ...]:
    """An open dish, tray or wet area that evaporates steadily until it is empty or covered again."""
    above_zero(emission_mg_min, "the emission in mg/min")
    zero_or_more(mass_mg, "the mass in mg")
    if not 0 <= start_min < end_min < math.inf:
        raise ValueError(f"the time must run forwards, not from {start_min} to {end_min} min")
    # A dish that runs dry stops adding; one that is covered before keeps the rest.
    empty = start_min + mass_mg / emission_mg_min
    if empty <= end_min:
        return (Release(start_min, empty, mass_mg),)
    return (Release(start_min, end_min, emission_mg_min * (end_min - start_min)),)


def _count(per_hour: float, start_min: float, end_min: float) -> int:
    above_zero(per_hour, "the number of swabs per hour")
    if not 0 <= start_min < end_min < math.inf:
        raise ValueError(f"the time must run forwards, not from {start_min} to {end_min} min")
    # A hair so that 8 hours of 60 swabs are 480 whatever the rounding.
    due = per_hour * (end_min - start_min) / 60.0
    if not 1 <= due + 1e-9 < 1_000_001:
        made = f"{per_hour:g} swabs per hour make {math.floor(due)} in this time"
        raise ValueError(f"{made}; expected 1 to 1,000,000, or none per hour for one at the start")
    # The one that is begun before the end counts: an hour and a half at one an hour are two.
    return math.ceil(due - 1e-9)


class _Stretch(NamedTuple):
    """One mode from a breakpoint on: what is in the air, what comes, and the dose so far."""

    amount_mg: float
    source_mg_min: float
    dose_mg_min: float


class Course:
    """Concentration of one vapour in one zone that was clean at time zero.

    It knows of no saturation: who asks holds what it says under the saturated concentration. The liquid is
    not held back there, so such figures are upper bounds. Raises ValueError for a release that is negative or
    runs backwards.
    """

    def __init__(self, zone: Zone, releases: Iterable[Release]) -> None:
        # In the order of time, so that amounts can be carried from one breakpoint to the next.
        kept = sorted(releases)
        for one in kept:
            zero_or_more(one.mass_mg, "the mass released in mg")
            if not 0 <= one.start_min <= one.end_min < math.inf:
                raise ValueError(
                    f"a release must run forwards, not from {one.start_min} to {one.end_min} min"
                )
        self.zone = zone
        self._times = sorted({0.0, *(time for one in kept for time in one[:2])})
        pulses, sources = self._events(kept)
        self._modes = [(weight, rate, self._stretches(rate, pulses, sources)) for weight, rate in zone]

    @property
    def breaks_min(self) -> tuple[float, ...]:
        """The times at which a release begins or ends, and zero."""
        return tuple(self._times)

    def _events(self, releases: Sequence[Release]) -> tuple[list[float], list[float]]:
        """Per breakpoint: the mass set free at once, and the steady source until the next."""
        place = {time: number for number, time in enumerate(self._times)}
        # Rates that begin and end are kept apart, so that releases may overlap in any way.
        pulses, starts, ends = ([[] for _ in self._times] for _ in range(3))  # type: ignore[var-annotated]
        for one in releases:
            if one.start_min == one.end_min:
                pulses[place[one.start_min]].append(one.mass_mg)
            else:
                rate = one.mass_mg / (one.end_min - one.start_min)
                starts[place[one.start_min]].append(rate)
                ends[place[one.end_min]].append(rate)
        running: list[float] = []
        sources = []
        for begun, ended in zip(starts, ends, strict=True):
            for rate in ended:
                # The very figure that was added is taken off: a running sum would leave rounding behind as
                # a source.
                running.remove(rate)
            running += begun
            sources.append(math.fsum(running))
        return [math.fsum(masses) for masses in pulses], sources

    def _stretches(self, rate: float, pulses: Sequence[float], sources: Sequence[float]) -> list[_Stretch]:
        found: list[_Stretch] = []
        now = _Stretch(0.0, 0.0, 0.0)
        before = 0.0
        for time, pulse, source in zip(self._times, pulses, sources, strict=True):
            elapsed = time - before
            now = _Stretch(_amount(now, rate, elapsed) + pulse, source, _dose(now, rate, elapsed))
            found.append(now)
            before = time
        return found

    def _sum(self, time_min: float, read: Callable[[_Stretch, float, float], float]) -> float:
        time_min = max(time_min, 0.0)
        # The last breakpoint at or before this moment; from there on one formula holds.
        number = bisect_right(self._times, time_min) - 1
        elapsed = time_min - self._times[number]
        return math.fsum(
            [weight * read(stretches[number], rate, elapsed) for weight, rate, stretches in self._modes]
        )

    def concentration_mg_m3(self, time_min: float) -> float:
        """The concentration; at the moment of a release at once, just after it. Zero before time zero."""
        if time_min < 0:
            return 0.0
        return max(self._sum(time_min, _amount), 0.0)

    def dose_mg_min_m3(self, time_min: float) -> float:
        """Concentration times time from zero to ``time_min``."""
        return max(self._sum(time_min, _dose), 0.0)

    def mean_mg_m3(self, start_min: float, end_min: float) -> float:
        """Mean between two times. Raises ValueError unless the second is later."""
        if not start_min < end_min < math.inf:
            raise ValueError(f"the time must run forwards, not from {start_min} to {end_min} min")
        dose = self.dose_mg_min_m3(end_min) - self.dose_mg_min_m3(start_min)
        return max(dose, 0.0) / (end_min - start_min)

    def twa_8h_mg_m3(self, stay_min: float = DAY_MIN) -> float:
        """8-hour average of a person who leaves at ``stay_min``: the dose until then, divided by 8 h."""
        above_zero(stay_min, "the stay in min")
        return self.dose_mg_min_m3(stay_min) / DAY_MIN

    def worst_mean_mg_m3(self, stay_min: float, window_min: float = SHORT_TERM_MIN) -> float:
        """The highest mean of any ``window_min`` minutes in a row while the person stays.

        The window slides; it does not follow the clock. Before and after the stay counts as clean air.
        """
        above_zero(stay_min, "the stay in min")
        above_zero(window_min, "the averaging time in min")
        last = stay_min - window_min
        # A stay shorter than the window: the rest of the window is clean air.
        if last <= 0:
            return self.dose_mg_min_m3(stay_min) / window_min
        starts = self._starts(last, window_min)
        best = max(self.mean_mg_m3(start, start + window_min) for start in starts)
        for left, right in itertools.pairwise(starts):
            top = self._top(left, right, window_min)
            if top is not None:
                best = max(best, self.mean_mg_m3(top, top + window_min))
        return best

    def _starts(self, last: float, window: float) -> list[float]:
        """Where the mean of the window, seen over its start, may have a corner; and a few more."""
        # A few even places as well, because between far corners the mean may have more than one top.
        steps = min(math.ceil(last / window * 4.0), 4000)
        even = [last * step / steps for step in range(steps + 1)]
        corners = [time - back for time in self._times for back in (0.0, window)]
        return sorted({*even, *(time for time in corners if 0 <= time <= last)})

    def _top(self, left: float, right: float, window: float) -> float | None:
        """Start of the highest window between two corners, where it is a smooth top."""

        def rises(start: float) -> bool:
            return self.concentration_mg_m3(start + window) > self.concentration_mg_m3(start)

        # At the corner itself the concentration jumps, so it is looked at a hair inside.
        inset = 1e-9 * (right - left)
        low, high = left + inset, right - inset
        if not rises(low) or rises(high):
            return None
        # Forty halvings of a quarter hour are far below a second.
        for _ in range(40):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if rises(middle) else (low, middle)
        return low


def _amount(stretch: _Stretch, rate: float, elapsed: float) -> float:
    """What is in the air some time later, with no new release in between."""
    x = rate * elapsed
    # Of swabs nothing comes between two of them, and of a day a thousand moments are looked at.
    steady = stretch.source_mg_min and stretch.source_mg_min * (elapsed * decayed(x))
    return stretch.amount_mg * math.exp(-x) + steady


def _dose(stretch: _Stretch, rate: float, elapsed: float) -> float:
    """The dose by then, of the same mode."""
    x = rate * elapsed
    steady = stretch.source_mg_min and stretch.source_mg_min * elapsed * elapsed * decayed_twice(x)
    return stretch.dose_mg_min + (stretch.amount_mg * (elapsed * decayed(x)) + steady)


# -- fresh air that is needed --------------------------------------------------------------------------------


FIRE_SAFETY = (4.0, 12.0)
"""Customary safety factors of ventilation against fire; ACGIH, from memory."""


def dilution_flow_m3_h(
    evaporation_l_h: float,
    density_kg_l: float,
    molar_mass_g_mol: float,
    limit_ppm: float | None,
    mixing_factor: float = 1.0,
    temp_c: float = 21.1,
) -> float | None:
    """Fresh air needed to hold one vapour at its limit: Vm SG ER K 1e6 / (M L); None if no limit is known.

    ``evaporation_l_h`` is litres of liquid per hour. Raises ValueError for
    an impossible figure or a mixing factor below 1.
    """
    vapour_l_h = _vapour_l(evaporation_l_h, density_kg_l, molar_mass_g_mol, temp_c)
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
) -> float:
    """Fresh air that keeps the room at 1/``safety_factor`` of the lower explosive limit, below 120 °C.

    Never in place of the flow for health, which is usually larger. Source: ACGIH (from memory).
    """
    vapour_l_h = _vapour_l(evaporation_l_h, density_kg_l, molar_mass_g_mol, temp_c)
    above_zero(lower_limit_vol_pct, "the lower explosive limit in % by volume")
    above_zero(safety_factor, "the safety factor")
    return vapour_l_h / 1e3 * 100.0 * safety_factor / lower_limit_vol_pct


def flow_for_mixture(flows: Sequence[float | None]) -> float | None:
    """Flow for several vapours: the sum, as where effects add; None if one is not known.

    Source: ACGIH (from memory). Taking effects as alike is the cautious choice.
    """
    known = [zero_or_more(flow, "a flow of air") for flow in flows if flow is not None]
    if len(known) != len(flows) or not known:
        return None
    return math.fsum(known)


def _vapour_l(amount_l: float, density_kg_l: float, molar_mass: float, temp_c: float) -> float:
    zero_or_more(amount_l, "the liquid that evaporates")
    above_zero(density_kg_l, "the density in kg/l")
    above_zero(molar_mass, "the molar mass in g/mol")
    return 1e3 * amount_l * density_kg_l / molar_mass * molar_volume_l_mol(temp_c, ATMOSPHERE_KPA)


def _check_mixing(factor: float) -> None:
    if not 1 <= factor < math.inf:
        raise ValueError(f"the mixing factor is 1 or more, not {factor}; a fraction of 0.5 is a factor of 2")
