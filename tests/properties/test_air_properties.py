"""What must hold of air, fire and evaporation for any amounts: mass, bounds, order, proportion."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.science.air import exposure
from kb.science.air import room as room_air
from kb.science.air.flammability import Filling, enclosed, enclosed_blend, max_blend_volume_ml
from kb.science.air.room import Course, Release
from kb.science.liquids.evaporation import Vapour, WetArea, rates
from kb.science.numbers import Spread, mg_m3_to_ppm, ppm_to_mg_m3
from tests.plain_forms import build_up_mg_m3, spread_over

steady = settings(deadline=None)
VOLUME = st.floats(5, 500)
FLOW = st.one_of(st.just(0.0), st.floats(1e-6, 50))
EXCHANGE = st.floats(0.5, 30)
MASS = st.floats(0.01, 1e5)
TIME = st.floats(0, 600)


@st.composite
def releases(draw):
    """One to five releases, at once or over time, in the first hours."""
    found = []
    for _ in range(draw(st.integers(1, 5))):
        start = draw(st.floats(0, 200))
        length = draw(st.one_of(st.just(0.0), st.floats(0.1, 100)))
        found.append(Release(start, start + length, draw(MASS)))
    return found


@st.composite
def zones(draw):
    """A well-mixed room, a near field or a far field, and the room's volume and flow."""
    volume, flow = draw(VOLUME), draw(FLOW)
    if draw(st.booleans()):
        return room_air.well_mixed(volume, flow)
    near_far = room_air.near_and_far_field(volume, draw(st.floats(0.1, 3)), flow, draw(EXCHANGE))
    return near_far[draw(st.integers(0, 1))]


def total_mg(all_released):
    """Everything that evaporates."""
    return math.fsum(one.mass_mg for one in all_released)


@steady
@given(VOLUME, FLOW, st.floats(0.1, 3), EXCHANGE, releases(), TIME)
def test_nothing_is_created_or_lost(volume, flow, near_volume, exchange, released, time):
    """What is in both zones and what the ventilation carried away is what was released by then."""
    near, far = room_air.near_and_far_field(volume, near_volume, flow, exchange)
    near_course, far_course = Course(near, released), Course(far, released)
    in_air = near_volume * near_course.concentration_mg_m3(time)
    in_air += (volume - near_volume) * far_course.concentration_mg_m3(time)
    away = flow * far_course.dose_mg_min_m3(time)
    freed = 0.0
    for one in released:
        if time >= one.end_min:
            freed += one.mass_mg
        elif time > one.start_min:
            freed += one.mass_mg * (time - one.start_min) / (one.end_min - one.start_min)
    assert in_air + away == pytest.approx(freed, rel=1e-6, abs=1e-6 * total_mg(released))


@steady
@given(VOLUME, FLOW, releases(), TIME)
def test_nothing_is_created_or_lost_in_one_room(volume, flow, released, time):
    """The same for the well-mixed room, in the end: all of it is in the air or was carried away."""
    course = Course(room_air.well_mixed(volume, flow), released)
    time += 400
    in_air = volume * course.concentration_mg_m3(time)
    assert in_air + flow * course.dose_mg_min_m3(time) == pytest.approx(total_mg(released), rel=1e-6)


@steady
@given(zones(), releases(), st.floats(0.1, 10), TIME)
def test_proportional_to_the_amount(zone, released, factor, time):
    """Twice the liquid, twice every figure: the model is linear."""
    course = Course(zone, released)
    more = Course(zone, [one._replace(mass_mg=factor * one.mass_mg) for one in released])
    for read in (
        lambda one: one.concentration_mg_m3(time),
        lambda one: one.worst_mean_mg_m3(300),
        lambda one: one.twa_8h_mg_m3(480),
    ):
        assert read(more) == pytest.approx(factor * read(course), rel=1e-6, abs=1e-9)


@steady
@given(zones(), releases(), MASS, TIME)
def test_more_liquid_never_gives_a_lower_figure(zone, released, extra, time):
    """Now, in the worst quarter of an hour and over the day."""
    course = Course(zone, released)
    more = Course(zone, [*released, Release(50, 60, extra)])
    assert more.concentration_mg_m3(time) >= course.concentration_mg_m3(time) * (1 - 1e-9)
    assert more.worst_mean_mg_m3(300) >= course.worst_mean_mg_m3(300) * (1 - 1e-6)
    assert more.twa_8h_mg_m3() >= course.twa_8h_mg_m3() * (1 - 1e-9)


@steady
@given(zones(), releases())
def test_means_lie_between_the_8_hour_average_and_the_peak(zone, released):
    """The worst quarter of an hour of a day is at least its average, and the window shorter, the higher."""
    course = Course(zone, released)
    worst = course.worst_mean_mg_m3(480)
    assert course.twa_8h_mg_m3(480) <= worst * (1 + 1e-9)
    assert worst <= course.worst_mean_mg_m3(480, 5) * (1 + 1e-6)


@steady
@given(VOLUME, st.floats(0.01, 20), st.floats(0.1, 3), EXCHANGE, MASS, st.floats(1, 600))
def test_the_air_at_the_source_is_never_better_than_the_room_while_it_gives_off(
    volume, flow, near_volume, exchange, emission, time
):
    """A steady source: near field above far field, and above the well-mixed room."""
    zones_of_room = room_air.near_and_far_field(volume, near_volume, flow, exchange)
    source = [Release(0, 600, 600 * emission)]
    near, far = (Course(zone, source).concentration_mg_m3(time) for zone in zones_of_room)
    assert near >= far * (1 - 1e-9)
    assert near >= build_up_mg_m3(time, emission, flow, volume) * (1 - 1e-9)


@steady
@given(
    st.floats(0.3, 1.0), st.floats(1, 4), st.floats(1, 3), st.floats(1, 3), st.floats(1, 3),
    *[st.floats(0, 1)] * 3, st.sampled_from(["room", "near"]),
)  # fmt: skip
def test_a_range_holds_every_case_within_it(
    changes, source, more_air, more_source, more_exchange, a, b, c, place
):
    """Room and near field: no air, emission and exchange within their ranges give a figure outside."""

    def worst(air, emission, exchange):
        flow = room_air.effective_flow_m3_min(air, 60.0)
        near, _ = room_air.near_and_far_field(60.0, 1.0, flow, exchange)
        zone = near if place == "near" else room_air.well_mixed(60.0, flow)
        return Course(zone, [Release(0, 30, 30 * emission), Release(60, 60, emission)]).worst_mean_mg_m3(120)

    air = Spread(changes, changes * more_air)
    emission = Spread(source, source * more_source)
    exchange = Spread(2.0, 2.0 * more_exchange)
    found = spread_over(worst, air, emission, exchange)
    value = worst(
        *(
            one.low + share * (one.high - one.low)
            for one, share in zip((air, emission, exchange), (a, b, c), strict=True)
        )
    )
    assert found.low * (1 - 1e-9) <= value <= found.high * (1 + 1e-9)


@steady
@given(st.floats(0, 1e6), st.floats(10, 400), st.floats(-20, 50), st.floats(80, 110))
def test_conversion_and_back(ppm, molar_mass, temp_c, pressure_kpa):
    """Parts per million and mg/m3 of the same air."""
    there = ppm_to_mg_m3(ppm, molar_mass, temp_c, pressure_kpa)
    assert mg_m3_to_ppm(there, molar_mass, temp_c, pressure_kpa) == pytest.approx(ppm, rel=1e-12, abs=1e-300)


@steady
@given(st.floats(1e-3, 80), st.floats(10, 400), st.floats(0, 40))
def test_saturated_air_is_the_same_in_both_units(vapour_kpa, molar_mass, temp_c):
    """By way of the conversion."""
    by_ppm = ppm_to_mg_m3(exposure.saturated_ppm(vapour_kpa), molar_mass, temp_c, 101.325)
    assert exposure.saturated_mg_m3(vapour_kpa, molar_mass, temp_c) == pytest.approx(by_ppm, rel=1e-9)


POINTS = st.lists(st.tuples(st.floats(0, 40), st.floats(0, 100)), min_size=1, max_size=8)


def value_at(series, time):
    """Straight lines between the points."""
    for (start, low), (end, high) in itertools.pairwise(series):
        if start <= time <= end and end > start:
            return low + (high - low) * (time - start) / (end - start)
    return series[-1][1]


NAMES = st.dictionaries(st.sampled_from("abcdef"), st.floats(0, 1000), min_size=1)
LIMITS = st.dictionaries(st.sampled_from("abcdef"), st.one_of(st.none(), st.floats(1, 1000)))


@steady
@given(NAMES, LIMITS)
def test_the_index_leaves_nothing_out_silently(air, limits):
    """Each vapour is counted or named as unknown; the index is None exactly if none is counted."""
    found = exposure.additive_index(air, limits)
    assert sorted(found.counted + found.unknown) == sorted(air)
    assert (found.value is None) is (not found.counted)
    if found.value is not None:
        assert found.value == pytest.approx(sum(air[name] / limits[name] for name in found.counted))


VAPOURS = st.builds(Vapour, st.floats(18, 300), st.floats(1e-3, 60), st.one_of(st.none(), st.floats(0.5, 3)))
WET = st.builds(
    WetArea,
    st.floats(1e-4, 0.5),
    st.floats(0.01, 0.7),
    st.one_of(st.just(0.0), st.floats(0.01, 2)),
    st.floats(10, 35),
)


@steady
@given(VAPOURS, WET, st.floats(1, 5))
def test_evaporation_grows_with_pressure_and_area(vapour, wet, factor):
    """In proportion, in every model, and every applying model gives something."""
    found = rates(vapour, wet)
    more = rates(vapour._replace(vapour_pressure_kpa=factor * vapour.vapour_pressure_kpa), wet)
    wider = rates(vapour, wet._replace(area_m2=factor * wet.area_m2))
    for one, two, three in zip(found.models, more.models, wider.models, strict=True):
        assert two.rate_g_min == pytest.approx(factor * one.rate_g_min)
        assert three.rate_g_min == pytest.approx(factor * one.rate_g_min)
        assert one.rate_g_min > 0 or not one.applies
    assert 0 < found.spread_g_min.low <= found.spread_g_min.high


FILLINGS = st.builds(
    Filling,
    st.floats(0.01, 50),
    st.floats(0.6, 1.6),
    st.floats(30, 200),
    st.floats(0.001, 70),
    st.one_of(st.none(), st.floats(0.5, 13)),
)


@steady
@given(FILLINGS, st.floats(1, 1000), st.floats(10, 30), st.floats(1, 10))
def test_a_closed_space_never_holds_more_than_saturation(filling, space_l, temp_c, factor):
    """More liquid never less vapour; the share of the limit follows."""
    found = enclosed(filling, space_l, temp_c)
    more = enclosed(filling._replace(volume_ml=factor * filling.volume_ml), space_l, temp_c)
    assert found.vol_pct <= more.vol_pct <= 100 * filling.vapour_pressure_kpa / 101.325 * (1 + 1e-12)
    assert (found.lel_pct is None) is (filling.lower_limit_vol_pct is None)


@steady
@given(st.lists(FILLINGS, min_size=1, max_size=3), st.floats(1, 100), st.sampled_from([0.1, 0.25]))
def test_the_most_of_a_blend_is_the_edge(fillings, space_l, share):
    """At that amount the share is reached, just above it is passed, or no amount reaches it."""
    most = max_blend_volume_ml(fillings, space_l, 22, share)
    if most is None:
        assert all(one.lower_limit_vol_pct is None for one in fillings)
        return
    total = math.fsum(one.volume_ml for one in fillings)

    def reached(volume_ml):
        scaled = [one._replace(volume_ml=one.volume_ml / total * volume_ml) for one in fillings]
        return enclosed_blend(scaled, space_l, 22)[1]

    if most == math.inf:
        assert reached(1e15) <= 100 * share * (1 + 1e-9)
        return
    assert reached(most * (1 - 1e-9)) <= 100 * share * (1 + 1e-9)
    assert reached(most * (1 + 1e-6)) >= 100 * share * (1 - 1e-9)
