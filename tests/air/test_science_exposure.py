"""Vapour in a room, averages, indices and ventilation: hand-worked figures, limits of models, refusals."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad, solve_ivp

from kb.science.air import exposure, ventilation
from kb.science.air import room as room_air
from kb.science.air.course import Course, Release, dish, swabs, swabs_evenly
from kb.science.spread import Spread, hull, known, spread_over

ROOM = room_air.well_mixed(60.0, 0.5)
NEAR, FAR = room_air.near_and_far_field(60.0, 1.07, 0.5, 5.0)
EVERY_ZONE = pytest.mark.parametrize("zone", [ROOM, NEAR, FAR], ids=lambda zone: zone.name)


def test_build_up_decay_and_release_by_hand():
    """60 m3, 0.5 m3/min, 30 mg/min: after one air change 1 - 1/e of 60 mg/m3; then what goes away."""
    assert room_air.build_up_mg_m3(120, 30, 0.5, 60) == pytest.approx(60 * (1 - math.exp(-1)))
    assert room_air.build_up_mg_m3(120, 30, 0.5, 60, initial_mg_m3=60) == pytest.approx(60)
    assert room_air.build_up_mg_m3(120, 0, 0.5, 60, incoming_mg_m3=7) == pytest.approx(7 * (1 - math.exp(-1)))
    assert room_air.steady_mg_m3(30, 0.5) == 60
    assert room_air.decay_mg_m3(120, 60, 0.5, 60) == pytest.approx(60 / math.e)
    assert room_air.instant_release_mg_m3(0, 600, 0.5, 60) == 10
    assert room_air.time_to_clear_min(60, 6, 0.5, 60) == pytest.approx(120 * math.log(10))
    assert room_air.time_to_clear_min(6, 60, 0.5, 60) == 0


def test_without_ventilation_everything_stays():
    """Zero flow is allowed: a straight rise, no decay, times that never come."""
    assert room_air.build_up_mg_m3(60, 30, 0, 60, initial_mg_m3=1) == pytest.approx(31)
    assert room_air.mean_build_up_mg_m3(60, 30, 0, 60) == pytest.approx(15)
    assert room_air.decay_mg_m3(60, 5, 0, 60) == 5
    assert room_air.time_to_reach_min(15, 30, 0, 60) == pytest.approx(30)
    assert room_air.steady_mg_m3(30, 0) == math.inf
    assert room_air.steady_mg_m3(0, 0) == 0
    assert room_air.half_life_min(0, 60) == math.inf
    assert room_air.time_to_clear_min(60, 6, 0, 60) == math.inf
    near, far = room_air.near_and_far_field(60, 1, 0, 5)
    course = Course(far, [Release(0, 0, 600)])
    assert course.concentration_mg_m3(1e6) == pytest.approx(10)
    assert Course(near, [Release(0, 0, 600)]).concentration_mg_m3(1e6) == pytest.approx(10)


def test_time_to_reach_is_the_inverse_of_build_up():
    """And never for a level that the ventilation keeps away."""
    time = room_air.time_to_reach_min(20, 30, 0.5, 60)
    assert room_air.build_up_mg_m3(time, 30, 0.5, 60) == pytest.approx(20)
    assert room_air.time_to_reach_min(60, 30, 0.5, 60) == math.inf
    assert room_air.time_to_reach_min(60, 0, 0.5, 60) == math.inf
    assert room_air.time_to_reach_min(0, 0, 0.5, 60) == 0


def test_mean_of_a_build_up_is_its_integral():
    """Against quadrature."""
    integral = quad(lambda t: room_air.build_up_mg_m3(t, 30, 0.5, 60), 0, 90)[0]
    assert room_air.mean_build_up_mg_m3(90, 30, 0.5, 60) == pytest.approx(integral / 90, rel=1e-10)


def test_flow_from_air_changes_and_back():
    """3 changes of 40 m3 are 2 m3/min, of which poor mixing leaves half."""
    assert room_air.effective_flow_m3_min(3, 40) == 2
    assert room_air.effective_flow_m3_min(3, 40, mixing_factor=2) == 1
    assert room_air.air_changes_per_h(2, 40) == 3
    assert room_air.flow_of_half_life_m3_min(room_air.half_life_min(2, 40), 40) == pytest.approx(2)


def test_a_mixing_fraction_is_refused_with_its_factor():
    """One convention: 0.5 would silently double the air."""
    with pytest.raises(ValueError, match=r"a fraction of 0\.5 is a factor of 2"):
        room_air.effective_flow_m3_min(3, 40, mixing_factor=0.5)
    with pytest.raises(ValueError, match="factor of 2"):
        ventilation.dilution_flow_m3_h(1, 1, 100, 100, mixing_factor=0.5)


def test_two_zones_against_independent_integration():
    """The exact solution and scipy on the differential equations, three flows, to a millionth."""
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
    near, far = room_air.near_field_steady_mg_m3(30, 0.5, 5)
    day = [Release(0, 1e5, 30 * 1e5)]
    assert Course(NEAR, day).concentration_mg_m3(9e4) == pytest.approx(near)
    assert Course(FAR, day).concentration_mg_m3(9e4) == pytest.approx(far)
    assert room_air.near_field_steady_mg_m3(30, 0, 5) == (math.inf, math.inf)
    assert room_air.near_field_steady_mg_m3(0, 0, 5) == (0, 0)


def test_near_field_geometry():
    """A half-sphere of 0.8 m and its exchange at the customary low and typical air speeds."""
    assert room_air.hemisphere_volume_m3() == pytest.approx(1.0723, abs=1e-4)
    low, high = (room_air.exchange_flow_m3_min(air_speed_m_min=speed) for speed in room_air.AIR_SPEED_M_MIN)
    assert (low, high) == (pytest.approx(3.016, abs=1e-3), pytest.approx(7.238, abs=1e-3))


@EVERY_ZONE
def test_course_agrees_with_the_closed_forms(zone):
    """A steady source and a release at once in the well-mixed room; doses by quadrature in every zone."""
    releases = [Release(0, 0, 100), Release(10, 40, 900), Release(25, 25, 50)]
    course = Course(zone, releases)
    if zone is ROOM:
        steady = Course(zone, [Release(0, 100, 3000)])
        assert steady.concentration_mg_m3(60) == pytest.approx(room_air.build_up_mg_m3(60, 30, 0.5, 60))
        assert steady.mean_mg_m3(0, 60) == pytest.approx(room_air.mean_build_up_mg_m3(60, 30, 0.5, 60))
        once = Course(zone, [Release(5, 5, 100)])
        assert once.concentration_mg_m3(65) == pytest.approx(room_air.instant_release_mg_m3(60, 100, 0.5, 60))
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


def test_swabs_counted_and_spread():
    """60 per hour for 8 hours are 480; as one steady source they free the same mass."""
    each = swabs(20, 60, 0, 480)
    assert (len(each), each[1]) == (480, Release(1.0, 1.0, 20))
    assert swabs(20, 60, 0, 480, dries_in_min=3)[-1] == Release(479, 482, 20)
    assert swabs_evenly(20, 60, 0, 480) == (Release(0, 480, 9600),)
    evenly, at_once = (Course(ROOM, make(20, 60, 0, 480)).twa_8h_mg_m3() for make in (swabs_evenly, swabs))
    assert evenly == pytest.approx(at_once, rel=0.01)


def test_a_dish_empties_or_is_covered():
    """100 mg at 20 mg/min last 5 min; in 2 min only 40 mg go."""
    assert dish(100, 20, 10, 60) == (Release(10, 15, 100),)
    assert dish(100, 20, 10, 12) == (Release(10, 12, 40),)


def test_nothing_is_given_above_saturation():
    """A closed closet and far too much liquid: readings and means stop at the ceiling."""
    course = Course(room_air.well_mixed(1.0, 0.0), [Release(0, 0, 1e6)], ceiling_mg_m3=500)
    assert course.concentration_mg_m3(3) == 500
    assert course.mean_mg_m3(0, 10) == 500
    assert course.worst_mean_mg_m3(60) == 500
    assert course.twa_8h_mg_m3(480) == 500
    assert course.twa_8h_mg_m3(48) == 50


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda: Course(ROOM, [Release(5, 4, 1)]), "run forwards"),
        (lambda: Course(ROOM, [Release(-1, 4, 1)]), "run forwards"),
        (lambda: Course(ROOM, [Release(0, 4, -1)]), "the mass released in mg"),
        (lambda: Course(ROOM, [Release(0, math.inf, 1)]), "run forwards"),
        (lambda: Course(ROOM, [], ceiling_mg_m3=0), "saturated concentration"),
        (lambda: Course(ROOM, []).mean_mg_m3(5, 5), "run forwards"),
        (lambda: Course(ROOM, []).worst_mean_mg_m3(0), "the stay in min"),
        (lambda: swabs(20, 0.5, 0, 60), "make 0"),
        (lambda: swabs(20, 0, 0, 60), "swabs per hour"),
        (lambda: swabs(20, 6, 60, 60), "run forwards"),
        (lambda: dish(20, 0, 0, 60), "the emission"),
        (lambda: room_air.near_and_far_field(1, 1, 1, 1), "smaller than the room"),
        (lambda: room_air.near_and_far_field(10, 1, 1, 0), "the exchange"),
        (lambda: room_air.build_up_mg_m3(1, math.nan, 1, 1), "the emission"),
        (lambda: room_air.build_up_mg_m3(1, 1, 1, 0), "the room's volume"),
        (lambda: room_air.build_up_mg_m3(-1, 1, 1, 1), "the time"),
        (lambda: room_air.time_to_clear_min(5, 0, 1, 1), "to reach"),
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
    assert exposure.partial_pressures_kpa(fractions, [3, 6], [2, 1]) == (pytest.approx(2), pytest.approx(4))


def test_no_limit_known_is_none_and_never_zero():
    """Hazard ratio, index, mixture limit, highest amount, ventilation."""
    assert exposure.vapour_hazard_ratio(1000, 50) == 20
    assert exposure.vapour_hazard_index(1000, 10) == 2
    assert exposure.vapour_hazard_ratio(1000, None) is None
    assert exposure.vapour_hazard_index(1000, None) is None
    found = exposure.additive_index({"a": 5, "b": 10, "c": 1}, {"a": 10, "b": None})
    assert found == (0.5, ("a",), ("b", "c"))
    assert exposure.additive_index({"b": 10}, {}).value is None
    assert exposure.mixture_limit({"a": 5, "b": 10}, {"a": 10}) is None
    assert exposure.liquid_mixture_limit_mg_m3({"a": 0.5, "b": 0.5}, {"a": 10}) is None
    assert exposure.highest_amount(None) is None
    assert ventilation.dilution_flow_m3_h(1, 1, 100, None) is None
    assert ventilation.dilution_flow_cfm(1, 1, 100, None) is None
    assert ventilation.flow_for_mixture([1, None]) is None
    assert ventilation.flow_for_mixture([]) is None


def test_limit_of_a_liquid_blend_by_weight():
    """Half and half of limits 100 and 300: 1 / (0.005 + 0.00167)."""
    limit = exposure.liquid_mixture_limit_mg_m3({"a": 0.5, "b": 0.5}, {"a": 100, "b": 300})
    assert limit == pytest.approx(150)


def test_highest_amount_brings_the_index_to_the_level():
    """Linear: ten swabs per hour at 0.2 leave room for 50 at 1, for 25 at the action level."""
    assert exposure.highest_amount(0.02) == pytest.approx(50)
    assert exposure.highest_amount(0.02, exposure.ACTION_SHARE) == pytest.approx(25)
    assert exposure.highest_amount(0) == math.inf


def test_series_with_a_slope_and_a_step():
    """A tent of 100: the best 15 min lie around its top; a step is held to its edge."""
    tent = [(0, 0), (30, 100), (60, 0)]
    assert exposure.worst_mean_of_series(tent) == pytest.approx(87.5)
    assert exposure.twa_8h_of_series(tent) == pytest.approx(3000 / 480)
    step = exposure.series_of([(20, 0), (10, 90), (20, 30)])
    assert exposure.worst_mean_of_series(step) == pytest.approx((900 + 5 * 30) / 15)
    assert exposure.worst_mean_of_series([(0, 30), (5, 30)]) == pytest.approx(10)
    assert exposure.worst_mean_of_series([(0, 30)]) == 0


@pytest.mark.parametrize(
    ("series", "why"),
    [([], "at least one point"), ([(1, 1), (0, 1)], "run forwards"), ([(0, -1)], "a concentration"),
     ([(math.nan, 1)], "finite")],
)  # fmt: skip
def test_series_that_cannot_be(series, why):
    """Named."""
    with pytest.raises(ValueError, match=why):
        exposure.worst_mean_of_series(series)


def test_ventilation_metric_and_imperial_agree():
    """One US pint per minute in both; the constant 403 is rounded."""
    cfm = ventilation.dilution_flow_cfm(1, 0.9, 88, 200, 3)
    litres_h = 60 * ventilation.US_PINT_L
    m3_h = ventilation.dilution_flow_m3_h(litres_h, 0.9, 88, 200, 3)
    assert m3_h == pytest.approx(cfm * 60 * ventilation.FT3_L / 1000, rel=2e-3)
    fire_cfm = ventilation.fire_flow_cfm(1, 0.9, 88, 2.0)
    fire_m3_h = ventilation.fire_flow_m3_h(litres_h, 0.9, 88, 2.0)
    assert fire_m3_h == pytest.approx(fire_cfm * 60 * ventilation.FT3_L / 1000, rel=2e-3)
    assert fire_m3_h < m3_h


def test_flow_of_a_mixture_adds_up_for_like_effects():
    """Else the largest."""
    assert ventilation.flow_for_mixture([100, 200]) == 300
    assert ventilation.flow_for_mixture([100, 200], alike=False) == 200


def test_ranges_in_ranges_out():
    """All corners of the inputs; a range that runs backwards is refused."""
    found = spread_over(room_air.steady_mg_m3, Spread(10, 30), Spread(0.5, 1.0))
    assert found == (10, 60)
    assert spread_over(room_air.steady_mg_m3, known(10), known(1)) == (10, 10)
    with pytest.raises(ValueError, match="from more to less"):
        spread_over(room_air.steady_mg_m3, Spread(3, 1), known(1))
    with pytest.raises(ValueError, match="no values"):
        hull([])
