"""Vapour in a room, averages, indices and ventilation: hand-worked figures, limits of models, refusals."""

from __future__ import annotations

import math

import pytest

from kb.science.air import exposure
from kb.science.air import room as room_air
from kb.science.air.room import Course, Release, dish, swabs
from kb.science.numbers import Spread, hull
from tests.plain_forms import (
    build_up_mg_m3,
    decay_mg_m3,
    instant_release_mg_m3,
    mean_build_up_mg_m3,
    near_field_steady_mg_m3,
    spread_over,
    steady_mg_m3,
)

ROOM = room_air.well_mixed(60.0, 0.5)
NEAR, FAR = room_air.near_and_far_field(60.0, 1.07, 0.5, 5.0)
EVERY_ZONE = pytest.mark.parametrize("zone", [ROOM, NEAR, FAR], ids=["room", "near field", "far field"])


def test_build_up_decay_and_release_by_hand():
    """60 m3, 0.5 m3/min, 30 mg/min: after one air change 1 - 1/e of 60 mg/m3; then what goes away."""
    assert build_up_mg_m3(120, 30, 0.5, 60) == pytest.approx(60 * (1 - math.exp(-1)))
    assert build_up_mg_m3(120, 30, 0.5, 60, initial_mg_m3=60) == pytest.approx(60)
    assert build_up_mg_m3(120, 0, 0.5, 60, incoming_mg_m3=7) == pytest.approx(7 * (1 - math.exp(-1)))
    assert steady_mg_m3(30, 0.5) == 60
    assert decay_mg_m3(120, 60, 0.5, 60) == pytest.approx(60 / math.e)
    assert instant_release_mg_m3(0, 600, 0.5, 60) == 10


def test_without_ventilation_everything_stays():
    """Zero flow is allowed: a straight rise, no decay, times that never come."""
    assert build_up_mg_m3(60, 30, 0, 60, initial_mg_m3=1) == pytest.approx(31)
    assert mean_build_up_mg_m3(60, 30, 0, 60) == pytest.approx(15)
    assert decay_mg_m3(60, 5, 0, 60) == 5
    assert steady_mg_m3(30, 0) == math.inf
    assert steady_mg_m3(0, 0) == 0
    near, far = room_air.near_and_far_field(60, 1, 0, 5)
    course = Course(far, [Release(0, 0, 600)])
    assert course.concentration_mg_m3(1e6) == pytest.approx(10)
    assert Course(near, [Release(0, 0, 600)]).concentration_mg_m3(1e6) == pytest.approx(10)


def test_flow_from_air_changes_and_back():
    """3 changes of 40 m3 are 2 m3/min, of which poor mixing leaves half."""
    assert room_air.effective_flow_m3_min(3, 40) == 2
    assert room_air.effective_flow_m3_min(3, 40, mixing_factor=2) == 1
    assert room_air.air_changes_per_h(2, 40) == 3


def test_a_mixing_fraction_is_refused_with_its_factor():
    """One convention: 0.5 would silently double the air."""
    with pytest.raises(ValueError, match=r"a fraction of 0\.5 is a factor of 2"):
        room_air.effective_flow_m3_min(3, 40, mixing_factor=0.5)
    with pytest.raises(ValueError, match="factor of 2"):
        room_air.dilution_flow_m3_h(1, 1, 100, 100, mixing_factor=0.5)


def test_two_zones_against_independent_integration():
    """The exact solution and scipy on the differential equations, three flows, to a millionth."""
    from scipy.integrate import solve_ivp

    volume, near_volume, exchange, source = 60.0, 1.07, 5.0, 30.0
    for flow in (0.0, 0.5, 20.0):

        def slopes(_, c, flow=flow):
            mixing = exchange * (c[1] - c[0])
            return [(source + mixing) / near_volume, (-mixing - flow * c[1]) / (volume - near_volume)]

        solved = solve_ivp(slopes, (0, 50), [0, 0], "LSODA", [1, 10, 50], rtol=1e-10, atol=1e-12)
        zones = room_air.near_and_far_field(volume, near_volume, flow, exchange)
        for zone, values in zip(zones, solved.y, strict=True):
            course = Course(zone, [Release(0, 50, 50 * source)])
            for time, value in zip((1, 10, 50), values, strict=True):
                assert course.concentration_mg_m3(time) == pytest.approx(value, rel=1e-6)


def test_two_zones_settle_at_the_steady_state():
    """G/Q + G/beta near the source, G/Q elsewhere."""
    near, far = near_field_steady_mg_m3(30, 0.5, 5)
    day = [Release(0, 1e5, 30 * 1e5)]
    assert Course(NEAR, day).concentration_mg_m3(9e4) == pytest.approx(near)
    assert Course(FAR, day).concentration_mg_m3(9e4) == pytest.approx(far)
    assert near_field_steady_mg_m3(30, 0, 5) == (math.inf, math.inf)
    assert near_field_steady_mg_m3(0, 0, 5) == (0, 0)


def test_near_field_geometry():
    """A half-sphere of 0.8 m and its exchange at the customary low and typical air speeds."""
    assert room_air.hemisphere_volume_m3() == pytest.approx(1.0723, abs=1e-4)
    low, high = (room_air.exchange_flow_m3_min(air_speed_m_min=speed) for speed in room_air.AIR_SPEED_M_MIN)
    assert (low, high) == (pytest.approx(3.016, abs=1e-3), pytest.approx(7.238, abs=1e-3))


@EVERY_ZONE
def test_course_agrees_with_the_closed_forms(zone):
    """A steady source and a release at once in the well-mixed room; doses by quadrature in every zone."""
    from scipy.integrate import quad

    releases = [Release(0, 0, 100), Release(10, 40, 900), Release(25, 25, 50)]
    course = Course(zone, releases)
    if zone is ROOM:
        steady = Course(zone, [Release(0, 100, 3000)])
        assert steady.concentration_mg_m3(60) == pytest.approx(build_up_mg_m3(60, 30, 0.5, 60))
        assert steady.mean_mg_m3(0, 60) == pytest.approx(mean_build_up_mg_m3(60, 30, 0.5, 60))
        once = Course(zone, [Release(5, 5, 100)])
        assert once.concentration_mg_m3(65) == pytest.approx(instant_release_mg_m3(60, 100, 0.5, 60))
    dose = quad(course.concentration_mg_m3, 0, 60, points=[10, 25, 40], limit=200)[0]
    assert course.dose_mg_min_m3(60) == pytest.approx(dose, rel=1e-7)


@EVERY_ZONE
def test_worst_window_is_no_lower_than_any_other(zone):
    """Against a fine scan of the start, with swabs, a gap and a second burst."""
    course = Course(zone, [*swabs(40, 20, 0, 30), *swabs(40, 60, 70, 85), Release(100, 130, 300)])
    worst = course.worst_mean_mg_m3(240)
    scanned = max(course.mean_mg_m3(step / 20, step / 20 + 15) for step in range(225 * 20 + 1))
    assert scanned <= worst * (1 + 1e-12)
    assert worst == pytest.approx(scanned, rel=1e-3)


def test_work_shorter_than_the_window_counts_as_clean_air_after_it():
    """Five minutes at 12 mg/m3 are 4 mg/m3 over 15 min, and one 96th of that over 8 h."""
    still = room_air.well_mixed(10.0, 0.0)
    course = Course(still, [Release(0, 0, 120)])
    assert course.worst_mean_mg_m3(5) == pytest.approx(4)
    assert course.twa_8h_mg_m3(5) == pytest.approx(12 / 96)


def test_an_8_hour_average_of_a_long_day_is_above_its_mean():
    """The divisor stays 8 h: 12 h at 10 count as 15."""
    course = Course(room_air.well_mixed(10.0, 0.0), [Release(0, 0, 100)])
    assert course.twa_8h_mg_m3(720) == pytest.approx(15)


def test_a_dish_empties_or_is_covered():
    """100 mg at 20 mg/min last 5 min; in 2 min only 40 mg go."""
    assert dish(100, 20, 10, 60) == (Release(10, 15, 100),)
    assert dish(100, 20, 10, 12) == (Release(10, 12, 40),)


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda: Course(ROOM, [Release(5, 4, 1)]), "run forwards"),
        (lambda: Course(ROOM, [Release(-1, 4, 1)]), "run forwards"),
        (lambda: Course(ROOM, [Release(0, 4, -1)]), "the mass released in mg"),
        (lambda: Course(ROOM, [Release(0, math.inf, 1)]), "run forwards"),
        (lambda: Course(ROOM, []).mean_mg_m3(5, 5), "run forwards"),
        (lambda: Course(ROOM, []).worst_mean_mg_m3(0), "the stay in min"),
        (lambda: swabs(20, 0.5, 0, 60), "make 0"),
        (lambda: swabs(20, 0, 0, 60), "swabs per hour"),
        (lambda: swabs(20, 6, 60, 60), "run forwards"),
        (lambda: dish(20, 0, 0, 60), "the emission"),
        (lambda: room_air.near_and_far_field(1, 1, 1, 1), "smaller than the room"),
        (lambda: room_air.near_and_far_field(10, 1, 1, 0), "the exchange"),
        (lambda: room_air.well_mixed(0, 1), "the room's volume"),
        (lambda: room_air.well_mixed(1, -1), "the flow"),
    ],
)
def test_impossible_figures_are_named(make, why):
    """A message that names the figure, never a number."""
    with pytest.raises(ValueError, match=why):
        make()


def test_saturated_air():
    """A hundredth of the pressure is 10,000 ppm; a liquid above its boiling point fills the air."""
    assert exposure.saturated_ppm(1.01325) == pytest.approx(10_000)
    assert exposure.saturated_ppm(200) == 1e6
    assert exposure.saturated_mg_m3(1.01325, 100, 25) == pytest.approx(1e6 / 24.465 * 100 / 100, rel=1e-4)
    with pytest.raises(ValueError, match="the vapour pressure"):
        exposure.saturated_ppm(0)


def test_a_blend_shares_out_the_pressure():
    """Equal volumes, one with half the molar volume: a third and two thirds in moles, and Raoult on that."""
    fractions = exposure.mole_fractions([0.5, 0.5], [100, 50])
    assert fractions == (pytest.approx(1 / 3), pytest.approx(2 / 3))
    assert exposure.partial_pressures_kpa(fractions, [3, 6]) == (pytest.approx(1), pytest.approx(4))


def test_no_limit_known_is_none_and_never_zero():
    """Index, highest amount, room_air."""
    found = exposure.additive_index({"a": 5, "b": 10, "c": 1}, {"a": 10, "b": None})
    assert found == (0.5, ("a",), ("b", "c"))
    assert exposure.additive_index({"b": 10}, {}).value is None
    assert exposure.highest_amount(None) is None
    assert room_air.dilution_flow_m3_h(1, 1, 100, None) is None
    assert room_air.flow_for_mixture([1, None]) is None
    assert room_air.flow_for_mixture([]) is None


def test_highest_amount_brings_the_index_to_the_level():
    """Linear: ten swabs per hour at 0.2 leave room for 50 at 1, for 25 at the action level."""
    assert exposure.highest_amount(0.02) == pytest.approx(50)
    assert exposure.highest_amount(0.02, exposure.ACTION_SHARE) == pytest.approx(25)
    assert exposure.highest_amount(0) == math.inf


def test_flow_of_a_mixture_adds_up_for_like_effects():
    """Taking effects as alike is the cautious choice."""
    assert room_air.flow_for_mixture([100, 200]) == 300


def test_ranges_in_ranges_out():
    """All corners of the inputs; a range that runs backwards is refused."""
    found = spread_over(steady_mg_m3, Spread(10, 30), Spread(0.5, 1.0))
    assert found == (10, 60)
    assert spread_over(steady_mg_m3, Spread(10, 10), Spread(1, 1)) == (10, 10)
    with pytest.raises(ValueError, match="from more to less"):
        spread_over(steady_mg_m3, Spread(3, 1), Spread(1, 1))
    with pytest.raises(ValueError, match="no values"):
        hull([])


def test_swabs_counted():
    """60 per hour for 8 hours are 480."""
    each = swabs(20, 60, 0, 480)
    assert (len(each), each[1]) == (480, Release(1.0, 1.0, 20))
    # Of the second, begun before the end, nothing was counted.
    assert [one.start_min for one in swabs(20, 1, 0, 90)] == [0, 60]
    assert swabs(20, 60, 0, 480)[-1] == Release(479, 479, 20)
