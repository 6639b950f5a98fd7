"""Evaporation models: which apply, how far they differ, and what is refused."""

from __future__ import annotations

import math

import pytest

from kb.science.liquids.evaporation import (
    Vapour,
    WetArea,
    flat_plate_coefficient_m_s,
    flux_g_m2_s,
    pool_coefficient_m_s,
    rates,
    scaled_coefficient_m_s,
    schmidt_number,
)
from kb.science.numbers import molar_volume_l_mol

TOLUENE = Vapour(92.14, 2.92, 1.8)
SPOT = WetArea(area_m2=0.0079, length_m=0.1, air_speed_m_s=0.1)


def names(found, applies):
    """The models that do or do not count."""
    return {model.model for model in found.models if model.applies is applies}


def test_models_differ_by_a_factor_of_seven_for_a_wet_spot():
    """Toluene, 0.1 m/s over 0.1 m: mass transfer coefficients from 0.07 to 0.48 cm/s."""
    slow = 100 * pool_coefficient_m_s(0.1, 0.1, 1.8)
    fast = 100 * scaled_coefficient_m_s(92.14)
    assert (slow, fast) == (pytest.approx(0.07, abs=0.005), pytest.approx(0.48, abs=0.005))
    spread = rates(TOLUENE, SPOT).spread_g_min
    assert spread.high / spread.low == pytest.approx(fast / slow, rel=1e-9)
    assert 6 < spread.high / spread.low < 8


def test_every_model_is_returned_with_where_it_holds_and_whether_its_source_was_read():
    """Five models; those from memory say so."""
    found = rates(TOLUENE, SPOT)
    assert len({model.model for model in found.models}) == 5
    assert all(model.validity and model.source for model in found.models)
    assert {model.model for model in found.models if not model.seen} == {
        "EPA penetration",
        "EPA mass transfer",
    }


def test_only_models_that_apply_make_the_spread():
    """In still air only the scaling from water; above 100 ft/min the other EPA model."""
    still = rates(TOLUENE, SPOT._replace(air_speed_m_s=0.0))
    assert names(still, True) == {"scaled from water"}
    assert still.spread_g_min.low == still.spread_g_min.high > 0
    assert "EPA mass transfer" in names(rates(TOLUENE, SPOT), False)
    assert "EPA penetration" in names(rates(TOLUENE, SPOT._replace(air_speed_m_s=0.6)), False)
    assert "EPA mass transfer" in names(rates(TOLUENE, SPOT._replace(air_speed_m_s=0.6)), True)


def test_flux_by_hand():
    """1 cm/s of air saturated at 2.92 kPa: M / Vm grams per litre."""
    saturated_g_m3 = 1000 * 92.14 / molar_volume_l_mol(20, 2.92)
    assert flux_g_m2_s(0.01, TOLUENE, 20) == pytest.approx(0.01 * saturated_g_m3)
    assert flux_g_m2_s(0.01, Vapour(92.14, 0.0), 20) == 0


def test_flat_plate_turns_turbulent_without_losing_its_sign():
    """Both branches near Re 20,000 give a coefficient of the same order; none without air."""
    laminar = flat_plate_coefficient_m_s(0.1, 2.999, 1.8)
    turbulent = flat_plate_coefficient_m_s(0.1, 3.001, 1.8)
    assert 0.5 < laminar / turbulent < 2
    assert flat_plate_coefficient_m_s(0.1, 0.0, 1.8) == 0


def test_schmidt_number_is_taken_from_water_where_none_is_given():
    """0.6 for water; for toluene 1.36, below the 1.8 of a handbook, so that it dries faster."""
    assert schmidt_number(18) == pytest.approx(0.6)
    assert schmidt_number(92.14) == pytest.approx(1.357, abs=1e-3)
    guessed = rates(TOLUENE._replace(schmidt=None), SPOT).spread_g_min
    assert guessed.low > rates(TOLUENE, SPOT).spread_g_min.low


@pytest.mark.parametrize(
    ("vapour", "wet", "why"),
    [
        (TOLUENE._replace(molar_mass_g_mol=0), SPOT, "molar mass"),
        (TOLUENE._replace(vapour_pressure_kpa=-1), SPOT, "vapour pressure"),
        (TOLUENE._replace(schmidt=0), SPOT, "Schmidt"),
        (TOLUENE, SPOT._replace(area_m2=0), "wet area"),
        (TOLUENE, SPOT._replace(length_m=0), "length"),
        (TOLUENE, SPOT._replace(air_speed_m_s=math.nan), "air speed"),
        (TOLUENE, SPOT._replace(temp_c=80), "0 to 60"),
    ],
)
def test_impossible_figures_are_named(vapour, wet, why):
    """A message, never a number."""
    with pytest.raises(ValueError, match=why):
        rates(vapour, wet)
