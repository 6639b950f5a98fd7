"""What must hold for every recipe, dilution, bath, mend, colour and budget."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from kb.science.cited import Span
from kb.science.making import (
    after_evaporation,
    amounts_to_blend,
    blended,
    converted,
    dry_load_g_m2,
    factor_between,
    handy,
    in_unit,
    stock_for,
    wet_film_for_load_um,
)
from kb.science.sheet.colour import Lab, delta_e_2000
from kb.science.sheet.paper import days_left, expansion_mm, gap_mm
from kb.science.sheet.tissue import strips_for
from kb.science.water.baths import (
    CannotReach,
    amount_for_ph,
    bath_of,
    baths_for_reserve,
    capacity,
    reserve_percent,
)
from kb.science.water.speciation import FORMING, SOLIDS, Totals, solve
from tests.plain_forms import Portion, co2_pressure_atm, reserve_mol_kg, saturation_index, scaled

# No time limit: a busy machine is not a failure.
steady = settings(deadline=None)
brief = settings(deadline=None, max_examples=40)

ACROSS = Span(0.008, 0.020, "memory", False)
"""Movement of paper across its grain, per cent of length per per cent of humidity."""
NAMES = st.text("abcdefgh -", min_size=1, max_size=6).filter(str.strip)
AMOUNTS = st.floats(1e-4, 1e5)
FACTORS = st.floats(1e-3, 1e3)
WEIGHED = st.sampled_from(["mg", "g", "kg"])
MEASURED = st.sampled_from(["uL", "mL", "cL", "L"])
PORTIONS = st.builds(
    lambda name, amount, wider, unit: Portion(name, amount, amount * wider, unit),
    NAMES,
    AMOUNTS,
    st.sampled_from([1.0, 1.0, 1.5]),
    st.one_of(WEIGHED, MEASURED),
)
RECIPES = st.lists(PORTIONS, min_size=1, max_size=8)
STRENGTHS = st.floats(0.01, 99)
TEMPERATURES = st.floats(0, 50)
LEVELS = st.one_of(st.just(0.0), st.floats(-8, -0.7).map(lambda power: 10.0**power))
AIRS = st.one_of(st.none(), st.floats(1, 6).map(lambda power: 10.0**power))
COLOURS = st.builds(Lab, st.floats(0, 100), st.floats(-110, 110), st.floats(-110, 110))


def densities(recipe):
    """The same invented density for every ingredient."""
    return {portion.name: 1.1 for portion in recipe}


# Recipes -------------------------------------------------------------------------------------------------


@steady
@given(RECIPES, st.data())
def test_scaling_by_what_is_at_hand_uses_it_up(recipe, data):
    """Whichever ingredient, whichever unit of its kind."""
    index = data.draw(st.integers(0, len(recipe) - 1))
    portion = recipe[index]
    unit = data.draw(WEIGHED if portion.unit in ("mg", "g", "kg") else MEASURED)
    at_hand = data.draw(AMOUNTS)
    made = scaled(recipe, factor_between(portion.high, portion.unit, at_hand, unit))[index]
    assert in_unit(made.high, made.unit, unit) == pytest.approx(at_hand, rel=1e-9)


@steady
@given(AMOUNTS, AMOUNTS, WEIGHED, MEASURED, st.floats(0.5, 2))
def test_units_convert_there_and_back(makes, wanted, weighed, measured, density):
    """Weight to volume and back, and the yield that was asked for is the yield."""
    there = in_unit(wanted, weighed, measured, density)
    assert in_unit(there, measured, weighed, density) == pytest.approx(wanted, rel=1e-12)
    factor = factor_between(makes, measured, wanted, weighed, density)
    assert in_unit(makes * factor, measured, weighed, density) == pytest.approx(wanted, rel=1e-12)


@steady
@given(st.floats(1e-5, 1e8), st.one_of(WEIGHED, MEASURED))
def test_the_handy_unit_is_the_same_amount(amount, unit):
    """Only the unit changes, and three digits are enough before the point."""
    value, name = handy(amount, unit)
    assert in_unit(value, name, unit) == pytest.approx(amount, rel=1e-12)
    assert value < 1000 or name in ("kg", "L")


# Dilution ------------------------------------------------------------------------------------------------


@steady
@given(STRENGTHS, STRENGTHS, AMOUNTS)
def test_what_is_dissolved_is_kept(one, other, total):
    """C1 V1 = C2 V2, and blending the portions with water gives the wanted strength."""
    wanted, stock = sorted((one, other))
    taken, diluent = stock_for(wanted, total, stock)
    assert taken * stock == pytest.approx(wanted * total, rel=1e-9)
    assert taken + diluent == pytest.approx(total, rel=1e-9)
    assert diluent >= 0
    assert blended(stock, taken, 0, diluent) == pytest.approx(wanted, rel=1e-9)


@steady
@given(STRENGTHS, STRENGTHS, st.floats(0, 1), AMOUNTS)
def test_blending_hits_the_strength_between(first, second, share, total):
    """The amounts add up and mix to what was wanted."""
    assume(abs(first - second) > 1e-3)
    wanted = min(max(first * share + second * (1 - share), min(first, second)), max(first, second))
    a, b = amounts_to_blend(first, second, wanted, total)
    assert a + b == pytest.approx(total, rel=1e-9)
    assert blended(first, a, second, b) == pytest.approx(wanted, rel=1e-6)


@steady
@given(
    st.floats(0.1, 30),
    st.sampled_from(["w/w", "w/v", "v/v"]),
    st.sampled_from(["w/w", "w/v", "v/v"]),
    st.floats(0.8, 1.3),
    st.floats(0.6, 1.6),
)
def test_bases_convert_there_and_back(percent, given_basis, wanted, mix, part):
    """Through the same densities."""
    known = {"mix_density_g_ml": mix, "part_density_g_ml": part}
    there = converted(percent, given_basis, wanted, **known)
    assert converted(there, wanted, given_basis, **known) == pytest.approx(percent, rel=1e-12)


@steady
@given(st.floats(0.1, 50), st.floats(0.51, 1.0), AMOUNTS)
def test_cooking_down_keeps_the_solids(percent, kept, before):
    """Grams of solid are the same before and after."""
    after = after_evaporation(percent, before, before * kept)
    assert after * before * kept == pytest.approx(percent * before, rel=1e-9)


@steady
@given(st.floats(0.1, 500), st.floats(0.1, 60), st.floats(0.7, 1.5))
def test_film_and_load_are_each_others_inverse(film, percent, density):
    """Wet film to dry load and back."""
    load = dry_load_g_m2(film, percent, density)
    assert wet_film_for_load_um(load, percent, density) == pytest.approx(film, rel=1e-12)


# Baths ---------------------------------------------------------------------------------------------------


@settings(deadline=None, max_examples=150)
@given(LEVELS, LEVELS, LEVELS, LEVELS, TEMPERATURES, AIRS)
def test_every_bath_balances(calcium, magnesium, carbon, acid, temp_c, co2_ppm):
    """Charges cancel, every atom is found again, nothing is above saturation, and what dropped is at it."""
    totals = Totals(calcium, magnesium, carbon, acid)
    bath = solve(totals, temp_c, co2_ppm)
    species, solids = bath.species_mol_l, bath.solids_mol_l
    plus = math.fsum(amount * name.count("+") for name, amount in species.items())
    minus = math.fsum(amount * name.count("-") for name, amount in species.items()) + acid
    assert plus == pytest.approx(minus, rel=1e-7)
    for metal, total in (("Ca", calcium), ("Mg", magnesium)):
        found = [amount for name, amount in species.items() if name.startswith(metal)]
        found += [amount for name, amount in solids.items() if SOLIDS[name].metal == metal]
        assert math.fsum(found) == pytest.approx(total, rel=1e-9, abs=1e-18)
    if co2_ppm is None:
        found = [amount for name, amount in species.items() if "CO" in name and "OH" not in name]
        found += [amount * SOLIDS[name].carbonate for name, amount in solids.items()]
        assert math.fsum(found) == pytest.approx(carbon, rel=1e-7, abs=1e-15)
    else:
        assert co2_pressure_atm(bath) == pytest.approx(co2_ppm * 1e-6, rel=1e-6)
    assert all(saturation_index(bath, name) < 1e-6 for name in FORMING)
    for name, amount in solids.items():
        assert amount >= 0
        assert saturation_index(bath, name) == pytest.approx(0, abs=1e-6)


@brief
@given(
    st.sampled_from(["calcium-hydroxide", "magnesium-hydroxide"]),
    st.floats(-7, -1.3),
    st.floats(0.01, 0.5),
    TEMPERATURES,
    AIRS,
)
def test_more_alkali_never_lowers_the_ph(reagent, power, more, temp_c, co2_ppm):
    """Closed or open, below saturation or above."""
    weak, strong = (bath_of(reagent, 10.0**p, temp_c, co2_ppm) for p in (power, power + more))
    assert strong.ph >= weak.ph - 1e-7


@brief
@given(st.floats(-5, -1.5), TEMPERATURES, st.floats(2, 5.5), st.floats(0.01, 0.5))
def test_more_carbon_dioxide_never_raises_the_ph(power, temp_c, air, more):
    """Nor does the open bath ever stand above the closed one."""
    calcium = 10.0**power
    fresh, aired, foul = (
        bath_of("calcium-hydroxide", calcium, temp_c, co2) for co2 in (None, 10.0**air, 10.0 ** (air + more))
    )
    assert fresh.ph >= aired.ph - 1e-7
    assert aired.ph >= foul.ph - 1e-7


@brief
@given(
    st.sampled_from(
        ["calcium-hydroxide", "magnesium-hydroxide", "calcium-carbonate", "magnesium-bicarbonate"]
    ),
    st.floats(4, 14),
    st.floats(5, 35),
    st.sampled_from(["closed", "open"]),
)
def test_a_target_is_hit_or_refused(reagent, target, temp_c, atmosphere):
    """Never a dose that gives another pH; a refusal has a reason and something nearer."""
    refusal = None
    try:
        dose = amount_for_ph(reagent, target, 1.0, temp_c, atmosphere)
    except CannotReach as problem:
        refusal = problem
    if refusal is None:
        assert dose.bath.ph == pytest.approx(target, abs=1e-4)
        assert dose.amount_mol > 0
    else:
        assert str(refusal)
        assert refusal.why in ("below-water", "above-saturation", "air-takes-it-down", "out-of-reach")
        assert 4 < refusal.nearest_ph < 13.5


@brief
@given(st.floats(-5, -1.8), TEMPERATURES, AIRS)
def test_capacity_is_that_of_the_reagent(power, temp_c, co2_ppm):
    """Two equivalents to a mol of lime, whether dissolved or dropped, fresh or aired."""
    amount = 10.0**power
    found = capacity(bath_of("calcium-hydroxide", amount, temp_c, co2_ppm))
    assert found.with_solids_mmol_l == pytest.approx(2000 * amount, rel=1e-9)
    assert found.hydroxide_mmol_l <= found.neutralising_mmol_l * (1 + 1e-6) + 1e-3
    assert found.neutralising_mmol_l <= found.with_solids_mmol_l * (1 + 1e-9)


@steady
@given(st.floats(0, 10), st.sampled_from(["CaCO3", "MgCO3", "Ca(OH)2", "Mg(OH)2"]), st.floats(0.001, 1))
def test_reserve_units_and_numbers_of_baths(percent, compound, per_bath):
    """There and back; the baths suffice and one fewer would not."""
    reserve = reserve_mol_kg(percent, compound)
    assert reserve_percent(reserve_mol_kg(percent)) == pytest.approx(percent, rel=1e-12)
    baths = baths_for_reserve(reserve, per_bath)
    assert baths * per_bath >= reserve - 1e-6
    assert baths == 1 or (baths - 1) * per_bath < reserve


# Paper, tissue, colour, light ----------------------------------------------------------------------------


@steady
@given(st.floats(10, 3000), st.floats(0, 100), st.floats(0, 100), st.floats(0, 100))
def test_movement_adds_up(length, a, b, c):
    """Over two steps of humidity as over one; a gap at each side is half of it."""
    low, middle, high = sorted((a, b, c))
    first, second, whole = (
        expansion_mm(length, *step, ACROSS) for step in ((low, middle), (middle, high), (low, high))
    )
    assert first.high + second.high == pytest.approx(whole.high, abs=1e-9)
    assert whole.low <= whole.high
    assert gap_mm(length, low, high, ACROSS).high_mm == pytest.approx(whole.high / 2)


@steady
@given(st.floats(1, 5000), st.floats(2, 20), st.integers(0, 2))
def test_strips_cover_the_tear(tear, width, edges):
    """No piece too long, one fewer would not do, and more is cut than laid."""
    strips = strips_for(tear, width, edges_crossed=edges)
    run, overlap = tear + 10 * edges, 2
    assert strips.piece_mm <= 75 + 1e-6
    covered = strips.pieces * strips.piece_mm - (strips.pieces - 1) * overlap
    assert covered == pytest.approx(run, rel=1e-9)
    assert strips.pieces == 1 or (strips.pieces - 1) * (75 - overlap) + overlap < run
    assert strips.cut_area_mm2 > strips.area_mm2


@steady
@given(COLOURS, COLOURS)
def test_colour_difference_is_a_distance_to_the_eye(first, second):
    """Never negative, the same both ways, zero only for the same."""
    there, back = delta_e_2000(first, second), delta_e_2000(second, first)
    assert there >= 0
    assert there == pytest.approx(back, abs=1e-9)
    assert delta_e_2000(first, first) == 0
    if math.dist(first, second) > 0.01:
        assert there > 0


@steady
@given(st.sampled_from([15e3, 150e3, 600e3]), st.floats(0, 1e6), st.floats(1, 1000), st.floats(0.1, 24))
def test_days_left_use_up_the_budget(limit, used, lux, hours):
    """Just the days it names, no fewer and no more."""
    left = days_left(limit, used, lux, hours)
    assert left >= 0
    assert used + lux * hours * left == pytest.approx(max(limit, used), rel=1e-9)
