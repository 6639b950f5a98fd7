"""The courses of a liquid's vapours in a room: per part the low and the high case of two models."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from typing import Generic, NamedTuple, TypeVar

from kb.desk.air.inputs import Room, Use
from kb.desk.materials.physical import Physical
from kb.science.air.exposure import mole_fractions, partial_pressures_kpa, saturated_mg_m3
from kb.science.air.room import (
    SHORT_TERM_MIN,
    Course,
    Release,
    Zone,
    dish,
    effective_flow_m3_min,
    exchange_flow_m3_min,
    hemisphere_volume_m3,
    near_and_far_field,
    swabs,
    well_mixed,
)
from kb.science.liquids.evaporation import Rates, Vapour, WetArea, rates
from kb.science.numbers import Spread, hull

T = TypeVar("T")
STEPS = 48
"""Points of the series; each is the mean since the point before."""


class Reads(NamedTuple):
    """What a person would breathe in one case, mg/m3, without the ceiling of saturation."""

    twa_8h: float
    worst_15: float
    peak: float
    series: tuple[float, ...]

    def scaled(self, factor: float) -> Reads:
        """The same for another mass: the models are linear."""
        return Reads(
            self.twa_8h * factor,
            self.worst_15 * factor,
            self.peak * factor,
            tuple(one * factor for one in self.series),
        )


class Cases(NamedTuple, Generic[T]):
    """The well-mixed room and the near field, each at its low and its high end."""

    room_low: T
    room_high: T
    near_low: T
    near_high: T


class PartCourse(NamedTuple):
    """One part: its cases, its saturated concentration (mg/m3), and what it gives off."""

    liquid: Physical
    share: float
    ceiling_mg_m3: float
    cases: Cases[Reads]
    released_ml_h: Spread
    """Millilitres of liquid that evaporate per hour of the stay."""
    rates: Rates | None


def courses(
    liquids: Sequence[Physical],
    parts: Mapping[str, float],
    use: Use,
    room: Room,
    stay_min: float,
    temp_c: float,
) -> tuple[PartCourse, ...]:
    """Every part of the blend. Raises ValueError for figures that cannot be; all figures must be known."""
    zones, wet = _zones(room), use.how in ("dish", "bath")
    unit = () if wet else _unit_releases(use, stay_min)
    one_mg = [_reads(zone, unit, stay_min) for zone in zones if unit]
    found = []
    for liquid, pressure in zip(
        liquids, _partial(liquids, parts) if wet else [0.0] * len(liquids), strict=True
    ):
        ml, density = parts[liquid.id] * use.amount_ml, liquid.density_g_ml or 0.0
        mass_mg = ml * density * 1000.0
        if wet:
            by, ends = _from_area(use, room, Vapour(liquid.molar_mass_g_mol or 0.0, pressure), temp_c)
            dried = [dish(mass_mg, max(end * 1000.0, 1e-12), 0.0, stay_min) for end in ends]
            reads = [_reads(zone, one, stay_min) for zone, one in zip(zones, dried * 2, strict=True)]
            released = [one[0].mass_mg * (60.0 / stay_min / 1000.0 / (density or 1.0)) for one in dried]
        else:
            by, reads = None, [case.scaled(mass_mg) for case in one_mg]
            released = [ml * len(unit) * 60.0 / stay_min] * 2
        found.append(
            PartCourse(
                liquid=liquid,
                share=parts[liquid.id],
                ceiling_mg_m3=_ceiling(liquid, temp_c),
                cases=Cases(*reads),
                released_ml_h=Spread(*released),
                rates=by,
            )
        )
    return tuple(found)


def flows_m3_min(room: Room) -> Spread:
    """Fresh air that counts: the fewest changes with the worst mixing, and the most with the best."""
    ach, mixing = room.air_changes_per_h, room.mixing
    return Spread(
        effective_flow_m3_min(ach.low, room.volume_m3, mixing.high),
        effective_flow_m3_min(ach.high, room.volume_m3, mixing.low),
    )


def _zones(room: Room) -> Cases[Zone]:
    flow = flows_m3_min(room)
    near_m3 = hemisphere_volume_m3(room.near_radius_m)
    slow, quick = (exchange_flow_m3_min(room.near_radius_m, speed) for speed in room.air_speed_m_min)
    return Cases[Zone](
        room_low=well_mixed(room.volume_m3, flow.high),
        room_high=well_mixed(room.volume_m3, flow.low),
        near_low=near_and_far_field(room.volume_m3, near_m3, flow.high, quick)[0],
        near_high=near_and_far_field(room.volume_m3, near_m3, flow.low, slow)[0],
    )


def _unit_releases(use: Use, stay_min: float) -> tuple[Release, ...]:
    """One milligram each time: a swab dries at once, a dome gives all it holds when it is opened."""
    return (Release(0.0, 0.0, 1.0),) if use.per_hour is None else swabs(1.0, use.per_hour, 0.0, stay_min)


def _from_area(use: Use, room: Room, vapour: Vapour, temp_c: float) -> tuple[Rates, Spread]:
    """The rates over the wet area at the quicker air, and the range in g/min over both."""
    area = use.area_m2 or 0.0
    length = 2.0 * math.sqrt(area / math.pi)
    each = [rates(vapour, WetArea(area, length, speed / 60.0, temp_c)) for speed in room.air_speed_m_min]
    return each[-1], hull(end for one in each for end in one.spread_g_min)


def _partial(liquids: Sequence[Physical], parts: Mapping[str, float]) -> tuple[float, ...]:
    """Partial pressures over the fresh blend (Raoult)."""
    pressures = [one.vapour_pressure_kpa or 0.0 for one in liquids]
    if len(liquids) == 1:
        return (pressures[0],)
    volumes = [one.molar_volume_cm3_mol or 0.0 for one in liquids]
    return partial_pressures_kpa(mole_fractions([parts[one.id] for one in liquids], volumes), pressures)


def _ceiling(liquid: Physical, temp_c: float) -> float:
    """Saturated vapour of the part alone: an upper bound over a blend."""
    return saturated_mg_m3(liquid.vapour_pressure_kpa or 0.0, liquid.molar_mass_g_mol or 0.0, temp_c)


def _reads(zone: Zone, releases: Sequence[Release], stay_min: float) -> Reads:
    course = Course(zone, releases)
    step = stay_min / STEPS
    times = [number * step for number in range(STEPS + 1)]
    watched = {*times, *(time for time in course.breaks_min if time <= stay_min)}
    return Reads(
        twa_8h=course.twa_8h_mg_m3(stay_min),
        worst_15=course.worst_mean_mg_m3(stay_min, SHORT_TERM_MIN),
        peak=max(course.concentration_mg_m3(time) for time in watched),
        series=tuple(course.mean_mg_m3(start, end) for start, end in itertools.pairwise(times)),
    )
