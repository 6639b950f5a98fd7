"""Bath equilibrium, targets, drift and capacity: what must hold without looking anything up."""

from __future__ import annotations

import importlib
import math
import random
from itertools import pairwise

import pytest

from kb.science.cited import SOURCES, Known, Span
from kb.science.numbers import bracketed_root
from kb.science.water import speciation
from kb.science.water.aqueous import REACTIONS, SOLID_REACTIONS, constants, davies, water_density_g_ml
from kb.science.water.baths import (
    PURE_CO2_PPM,
    REAGENTS,
    TRANSFER_CM_H,
    CannotReach,
    against_acid,
    air_balanced_co2_mol_l,
    amount_for_ph,
    bath_of,
    capacity,
    drift,
    ph_after,
    reagent_mass_g,
    reagent_totals,
    saturated,
)
from kb.science.water.speciation import FORMING, SOLIDS, Totals, solve
from tests.plain_forms import co2_pressure_atm, saturation_index

LIMEWATER = Totals(calcium_mol_l=0.02)


# Roots ---------------------------------------------------------------------------------------------------


def test_root_of_a_curve_a_line_and_a_jump():
    """Found to the tolerance, also where the function leaps over zero or ends on it."""
    assert bracketed_root(lambda x: x**3 - 2, 0, 2) == pytest.approx(2 ** (1 / 3), abs=1e-11)
    assert bracketed_root(lambda x: 3 * x - 1, -10, 10) == pytest.approx(1 / 3, abs=1e-11)
    assert bracketed_root(lambda x: -1.0 if x < 0.7 else 5.0, 0, 1) == pytest.approx(0.7, abs=1e-11)
    assert bracketed_root(lambda x: x - 1, 1, 4) == 1
    assert bracketed_root(lambda x: x - 4, 1, 4) == 4


def test_root_needs_a_change_of_sign():
    """Two ends on one side of zero are refused."""
    with pytest.raises(ValueError, match="does not change sign"):
        bracketed_root(lambda x: x * x + 1, -1, 1)


# Constants ---------------------------------------------------------------------------------------------


def test_constants_at_25_c_are_those_of_the_tables():
    """log10 K at 25 C of every reaction, as the databases print them (magnesium pairs to 0.01)."""
    printed = {
        "water": -14.00,
        "co2-gas": -1.468,
        "carbonic-1": -6.352,
        "carbonic-2": -10.329,
        "CaOH+": 1.22,
        "CaHCO3+": 1.106,
        "CaCO3(aq)": 3.224,
        "MgOH+": -11.44,
        "MgHCO3+": 1.07,
        "MgCO3(aq)": 2.98,
        "calcite": -8.480,
        "aragonite": -8.336,
        "vaterite": -7.913,
        "portlandite": 22.8,
        "brucite": 16.84,
        "nesquehonite": -5.621,
        "magnesite": -8.029,
        "hydromagnesite": -8.762,
    }
    assert printed.keys() == constants(25.0).keys()
    for name, value in printed.items():
        assert math.log10(constants(25.0)[name]) == pytest.approx(value, abs=0.011), name


def test_every_constant_names_a_source_that_is_known():
    """No constant without a source; those with a part from memory say so and do not count as read."""
    both = {**REACTIONS, **SOLID_REACTIONS}
    assert all(reaction.source in SOURCES for reaction in both.values())
    unread = {name for name, reaction in both.items() if not reaction.seen}
    assert unread == {"CaOH+", "vaterite"}
    assert all("memory" in both[name].note for name in unread)


def figures(thing):
    """Every figure with a source within a thing, however deep."""
    if isinstance(thing, Known | Span):
        yield thing
    elif isinstance(thing, dict):
        for value in thing.values():
            yield from figures(value)
    elif isinstance(thing, tuple):
        for value in thing:
            yield from figures(value)


@pytest.mark.parametrize("name", ["water.baths", "making", "sheet.colour", "sheet.paper", "sheet.tissue"])
def test_every_figure_of_the_making_modules_has_a_source(name):
    """Known source, and nothing from memory, custom or this project's choice passes as read."""
    module = importlib.import_module(f"kb.science.{name}")
    found = [figure for thing in vars(module).values() for figure in figures(thing)]
    assert found
    for figure in found:
        assert figure.source in SOURCES, figure
        if figure.source in ("memory", "common-practice", "project"):
            assert not figure.seen, figure


def test_activity_coefficients():
    """One in pure water, lower with charge; beyond the usual limit the equation still answers."""
    assert [davies(0.0, charge, 25) for charge in (0, 1, 2)] == [1, 1, 1]
    assert davies(0.05, 2, 25) == pytest.approx(davies(0.05, 1, 25) ** 4)
    assert davies(0.1, 1, 25) == pytest.approx(0.78, abs=0.01)
    assert davies(0.05, 0, 25) > 1


@pytest.mark.parametrize("temp_c", [-0.1, 50.1, math.nan])
def test_temperature_out_of_range_is_refused(temp_c):
    """The constants are not stretched."""
    with pytest.raises(ValueError, match="hold from 0 to 50 C"):
        solve(LIMEWATER, temp_c)


def test_density_of_water_is_highest_at_4_c():
    """And refused where water is ice or steam."""
    assert water_density_g_ml(4) > max(water_density_g_ml(3), water_density_g_ml(5))
    with pytest.raises(ValueError, match="0 to 100 C"):
        water_density_g_ml(101)


# Equilibrium ---------------------------------------------------------------------------------------------


def test_species_of_fresh_limewater():
    """Half of nothing is forgotten: a tenth of the calcium is paired, and no carbon appears."""
    bath = solve(LIMEWATER, 20)
    species = bath.species_mol_l
    assert species["Ca++"] + species["CaOH+"] == pytest.approx(0.02, rel=1e-9)
    assert 0.1 < species["CaOH+"] / 0.02 < 0.25
    assert (species["HCO3-"], species["CO3--"], co2_pressure_atm(bath)) == (0, 0, 0)
    assert bath.solids_mol_l == {}
    assert saturation_index(bath, "calcite") == -math.inf
    assert saturation_index(bath, "portlandite") == pytest.approx(-0.06, abs=0.05)
    assert not bath.beyond_davies


def test_two_solids_of_one_metal():
    """Milk of lime with some carbon holds chalk and slaked lime at once, both just saturated."""
    bath = solve(Totals(calcium_mol_l=0.1, carbon_mol_l=0.03), 25)
    assert set(bath.solids_mol_l) == {"calcite", "portlandite"}
    assert bath.solids_mol_l["calcite"] == pytest.approx(0.03, rel=1e-3)
    for name in bath.solids_mol_l:
        assert saturation_index(bath, name) == pytest.approx(0, abs=1e-6)


def test_three_solids_of_two_metals():
    """Calcium and magnesium with too little carbon for both: chalk first, then a share for magnesium."""
    bath = solve(Totals(0.03, 0.03, 0.04), 20)
    assert set(bath.solids_mol_l) == {"calcite", "brucite", "nesquehonite"}
    carbon = math.fsum(amount * SOLIDS[name].carbonate for name, amount in bath.solids_mol_l.items())
    assert carbon + bath.dissolved.carbon_mol_l == pytest.approx(0.04, rel=1e-9)


@pytest.mark.parametrize("temp_c", [5, 20, 40])
def test_carbon_asked_for_alone_is_that_of_the_whole(temp_c):
    """The search asks for the carbon alone nine times of ten: to the last digit that of all species."""
    gammas = tuple(davies(0.01, charge, temp_c) for charge in range(3))
    dice = random.Random(temp_c)
    for solids in (FORMING, ()):
        chemistry = speciation._chemistry(temp_c, solids)
        dropped = 0
        for _ in range(200):
            calcium, magnesium = (dice.choice((0.0, 10 ** dice.uniform(-6, -1))) for _ in range(2))
            trial = speciation._Trial(
                chemistry, Totals(calcium, magnesium), 10 ** dice.uniform(-12, -4), gammas
            )
            carbonate = 10 ** dice.uniform(-12, -2)
            whole = trial.point(carbonate)
            assert trial.carbon(carbonate) == whole.carbon
            dropped += bool(whole.solids)
        assert (dropped > 20) == bool(solids)


def test_solids_that_may_not_drop_stay_in_as_supersaturation():
    """Without solids the same bath is above saturation and says by how much."""
    bath = solve(Totals(calcium_mol_l=0.02, carbon_mol_l=0.01), 20, solids=())
    assert bath.solids_mol_l == {}
    assert saturation_index(bath, "calcite") > 3


def test_slow_solids_are_reported_but_do_not_drop():
    """Aired magnesium water is far above magnesite, which takes years; nesquehonite is what falls."""
    bath = saturated("magnesium-carbonate", 20, 420)
    assert set(bath.solids_mol_l) == {"nesquehonite"}
    assert saturation_index(bath, "magnesite") > 1
    assert {"magnesite", "hydromagnesite", "aragonite", "vaterite"}.isdisjoint(FORMING)


def test_a_single_slow_solid_can_be_asked_for():
    """Hydromagnesite alone comes to its own balance, five magnesium to a formula."""
    bath = solve(Totals(magnesium_mol_l=0.05), 25, 420, solids=("hydromagnesite",))
    assert saturation_index(bath, "hydromagnesite") == pytest.approx(0, abs=1e-6)
    assert 0 < bath.solids_mol_l["hydromagnesite"] < 0.05


def test_pure_water_and_acid():
    """Neutral is half of pKw; a strong acid gives its own pH; salt of a strong acid leaves water neutral."""
    assert solve(Totals(), 25).ph == pytest.approx(6.997, abs=0.005)
    assert solve(Totals(), 5).ph == pytest.approx(7.365, abs=0.005)
    assert solve(Totals(acid_mol_l=1e-3), 25).ph == pytest.approx(3.015, abs=0.005)
    assert bath_of("calcium-chloride", 0.001, 25).ph == pytest.approx(6.99, abs=0.02)


@pytest.mark.parametrize(
    ("totals", "co2_ppm", "solids", "why"),
    [
        (Totals(calcium_mol_l=-0.1), None, FORMING, "calcium_mol_l must be zero or more"),
        (Totals(calcium_mol_l=math.nan), None, FORMING, "calcium_mol_l must be zero or more"),
        (Totals(carbon_mol_l=3.0), None, FORMING, "beyond 2 mol/L"),
        (LIMEWATER, 0.0, FORMING, "CO2 must be above 0"),
        (LIMEWATER, 1.1e6, FORMING, "CO2 must be above 0 and up to 1000000"),
        (LIMEWATER, None, ("chalk",), "not a solid known here: chalk"),
    ],
)
def test_equilibrium_refuses_nonsense(totals, co2_ppm, solids, why):
    """Amounts, gas and solids out of range are named."""
    with pytest.raises(ValueError, match=why):
        solve(totals, 20, co2_ppm, solids)


# Reagents, dilution, capacity ------------------------------------------------------------------------


def test_reagents_bring_what_their_formula_says():
    """A mol of bicarbonate brings two of carbon; a chloride brings acid; each has a weight."""
    assert reagent_totals("calcium-bicarbonate", 0.01) == Totals(0.01, 0, 0.02, 0)
    assert reagent_totals("calcium-chloride", 0.01) == Totals(0.01, 0, 0, 0.02)
    assert reagent_totals("magnesium-hydroxide", 0.01, 1e-5) == Totals(0, 0.01, 1e-5, 0)
    for name in REAGENTS:
        assert all(grams > 50 for grams in reagent_mass_g(name, 1.0).values())
    with pytest.raises(ValueError, match=r"no reagent 'lime'; there are calcium-hydroxide"):
        reagent_mass_g("lime", 1.0)


def test_air_balanced_water_holds_a_trace_of_carbon():
    """17 micromol per litre at 25 C, more when cold."""
    assert air_balanced_co2_mol_l(25) == pytest.approx(17e-6, rel=0.02)
    assert air_balanced_co2_mol_l(5) > air_balanced_co2_mol_l(25)


def test_capacity_of_a_bath():
    """Limewater: all as hydroxide; chalk water: none as hydroxide; what dropped counts apart."""
    fresh = capacity(bath_of("calcium-hydroxide", 0.02, 20))
    assert fresh == pytest.approx((40, 40, 40), rel=1e-6)
    aired = capacity(solve(LIMEWATER, 20, 420))
    assert aired.hydroxide_mmol_l < 0.01
    assert aired.neutralising_mmol_l == pytest.approx(2 * 0.589, rel=0.01)
    assert aired.with_solids_mmol_l == pytest.approx(40)
    assert capacity(bath_of("calcium-chloride", 0.02, 20)).neutralising_mmol_l == pytest.approx(0, abs=1e-9)


def test_bath_against_the_acid_of_a_sheet():
    """A 25 g sheet with 100 mmol/kg needs 2.5 mmol; in 2 L of 40 mmol/L that is 32 times over."""
    bath = bath_of("calcium-hydroxide", 0.02, 20)
    found = against_acid(bath, 2.0, 25.0, 100.0)
    assert found == pytest.approx((2.5, 80.0, 32.0, 1))
    assert against_acid(bath, 2.0, 25.0, 0.0).times_over == math.inf
    with pytest.raises(ValueError, match="no alkali"):
        against_acid(solve(Totals(), 20), 2.0, 25.0, 100.0)


# Targets -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reagent", "target", "temp_c", "atmosphere"),
    [
        ("calcium-hydroxide", 8.5, 18, "closed"),
        ("calcium-hydroxide", 12.0, 5, "closed"),
        ("calcium-hydroxide", 8.0, 18, "open"),
        ("magnesium-bicarbonate", 9.0, 20, "open"),
        ("magnesium-hydroxide", 10.0, 20, "closed"),
        ("calcium-bicarbonate", 7.5, 20, "closed"),
        ("calcium-carbonate", 9.5, 20, "closed"),
    ],
)
def test_a_dose_gives_its_ph(reagent, target, temp_c, atmosphere):
    """Made up again from the amount it names, the bath has the wanted pH."""
    dose = amount_for_ph(reagent, target, 5.0, temp_c, atmosphere)
    assert dose.bath.ph == pytest.approx(target, abs=1e-6)
    held = air_balanced_co2_mol_l(temp_c) if atmosphere == "closed" else 0.0
    air = 420 if atmosphere == "open" else None
    again = bath_of(reagent, dose.amount_mol / 5.0, temp_c, air, held)
    assert again.ph == pytest.approx(target, abs=1e-6)
    assert dose.weigh_g == pytest.approx(reagent_mass_g(reagent, dose.amount_mol))
    assert dose.ph_tenth_less < target < dose.ph_tenth_more


def test_dose_scales_with_volume_and_can_be_measured_as_stock():
    """Twice the volume takes twice the amount; stock and solid say the same; only limewater has a stock."""
    one, two = (amount_for_ph("calcium-hydroxide", 11, litres, 20) for litres in (1.0, 2.0))
    assert two.amount_mol == pytest.approx(2 * one.amount_mol)
    stock = saturated("calcium-hydroxide", 20).dissolved.calcium_mol_l
    assert one.stock_ml is not None
    assert one.stock_ml / 1000 * stock == pytest.approx(one.amount_mol)
    assert amount_for_ph("magnesium-hydroxide", 9, 1, 20).stock_ml is None


def test_weak_baths_are_unsteady():
    """The first part of the reagent only pays for the carbon dioxide that is there already."""
    assert amount_for_ph("calcium-hydroxide", 8, 1.0, 25).unsteady
    assert not amount_for_ph("calcium-hydroxide", 12, 1.0, 25).unsteady


@pytest.mark.parametrize(
    ("reagent", "target", "atmosphere", "why", "words"),
    [
        ("calcium-hydroxide", 8.5, "open", "air-takes-it-down", "calcite drops.*does not hold"),
        ("calcium-hydroxide", 13.0, "closed", "above-saturation", "saturated at pH 12.7"),
        ("magnesium-hydroxide", 11.0, "closed", "above-saturation", "saturated at pH 10.6"),
        ("calcium-hydroxide", 5.0, "closed", "below-water", "the water alone stands at pH 5.58"),
        ("calcium-hydroxide", 5.0, "open", "below-water", "the water alone"),
        ("calcium-bicarbonate", 9.0, "closed", "out-of-reach", "its own carbon dioxide"),
        ("magnesium-bicarbonate", 10.0, "open", "air-takes-it-down", "nesquehonite drops"),
        ("calcium-chloride", 9.0, "closed", "out-of-reach", "whatever the amount"),
    ],
)
def test_impossible_targets_are_refused_with_the_reason(reagent, target, atmosphere, why, words):
    """And with the nearest pH that can be had, which is then no longer refused."""
    with pytest.raises(CannotReach, match=words) as refusal:
        amount_for_ph(reagent, target, 5.0, 18, atmosphere)
    assert refusal.value.why == why
    step = 0.01 if target < refusal.value.nearest_ph else -0.01
    if why != "out-of-reach":
        amount_for_ph(reagent, refusal.value.nearest_ph + step, 5.0, 18, atmosphere)


def test_targets_refuse_nonsense():
    """No volume, no pH, no such reagent."""
    with pytest.raises(ValueError, match="volume_l must be"):
        amount_for_ph("calcium-hydroxide", 8.5, 0.0, 18)
    with pytest.raises(ValueError, match="target_ph must be"):
        amount_for_ph("calcium-hydroxide", math.nan, 1.0, 18)
    with pytest.raises(ValueError, match="no reagent"):
        amount_for_ph("soda", 8.5, 1.0, 18)


# Drift ---------------------------------------------------------------------------------------------------


def test_fresh_limewater_drifts_down_to_chalk_water():
    """The pH only falls, time only rises, calcium is kept, and the end is the balance with air."""
    start = bath_of("calcium-hydroxide", 0.02, 20)
    path = drift(start, 20)
    phs = [point.bath.ph for point in path.points]
    assert phs == sorted(phs, reverse=True)
    assert (phs[0], path.points[0].hours_latest) == (pytest.approx(start.ph, abs=1e-6), 0)
    for hours in ("hours_soonest", "hours_latest"):
        times = [getattr(point, hours) for point in path.points]
        assert times == sorted(times)
    assert all(point.hours_soonest <= point.hours_latest for point in path.points)
    assert all(point.bath.totals.calcium_mol_l == 0.02 for point in path.points)
    assert path.end.ph == pytest.approx(solve(LIMEWATER, 20, 420).ph)
    assert max(a - b for a, b in pairwise(phs)) < 0.6


def test_hydroxide_speeds_the_uptake():
    """Strong limewater: the first hour by hand, and the pace of the film does not matter.

    Uptake = sqrt(D k OH-) times dissolved CO2 at balance; 1.9e-9 m2/s, k from its two terms at 20 C.
    """
    start = bath_of("calcium-hydroxide", 0.02, 20)
    path = drift(start, 20)
    first = path.points[1]
    per_second = 10 ** (13.635 - 2895 / 293.15)
    speed = math.sqrt(1.9e-9 * per_second * start.species_mol_l["OH-"])
    by_hand = speed * path.end.species_mol_l["CO2(aq)"] / 0.020 * 3600
    assert first.taken_mol_l / first.hours_soonest / 2 == pytest.approx(by_hand, rel=0.25)
    assert first.hours_latest / first.hours_soonest == pytest.approx(4, rel=0.01)
    assert 5 < path.points[-1].hours_soonest < path.points[-1].hours_latest < 200


def test_neutral_water_goes_at_the_pace_of_the_film():
    """Without hydroxide the range is that of the transfer, ten times, and the doubt."""
    path = drift(solve(Totals(), 20), 20)
    assert path.points[0].bath.ph == pytest.approx(7.08, abs=0.02)
    last = path.points[-1]
    assert last.hours_latest / last.hours_soonest == pytest.approx(40, rel=0.05)


def test_ph_after_some_time_is_a_range_that_ends_at_balance():
    """It starts at one point, widens, and closes on the end state."""
    path = drift(amount_for_ph("calcium-hydroxide", 9, 1, 20).bath, 30)
    assert ph_after(path, 0) == pytest.approx((9, 9), abs=1e-6)
    low, high = ph_after(path, 2)
    assert path.end.ph <= low < high < 9
    assert ph_after(path, 1e6) == pytest.approx((path.end.ph, path.end.ph))
    with pytest.raises(ValueError, match="hours must be"):
        ph_after(path, -1)


def test_bicarbonate_bath_drifts_up_as_gas_leaves():
    """The gas of the cylinder goes, the pH rises, and chalk drops."""
    made = saturated("calcium-carbonate", 10, PURE_CO2_PPM)
    path = drift(solve(made.dissolved, 20), 20)
    assert path.points[-1].taken_mol_l < 0
    assert path.points[0].bath.ph < 6.5
    assert path.end.ph > 8
    assert path.points[-1].bath.solids_mol_l["calcite"] > 0.005


def test_deep_bath_drifts_slower_and_a_balanced_one_not_at_all():
    """Hours follow the depth; chalk water in air stays where it is."""
    start = bath_of("calcium-hydroxide", 0.001, 20)
    shallow, deep = drift(start, 10).points[-1], drift(start, 40).points[-1]
    assert deep.hours_soonest == pytest.approx(4 * shallow.hours_soonest, rel=1e-6)
    chalk = saturated("calcium-carbonate", 20, 420)
    assert {round(point.bath.ph, 6) for point in drift(chalk, 20).points} == {round(chalk.ph, 6)}


def test_the_pace_of_drift_says_that_it_has_no_source():
    """The range is marked as this project's own guess."""
    assert (TRANSFER_CM_H.source, TRANSFER_CM_H.seen) == ("project", False)
    with pytest.raises(ValueError, match="depth_mm must be"):
        drift(bath_of("calcium-hydroxide", 0.001, 20), 0)
