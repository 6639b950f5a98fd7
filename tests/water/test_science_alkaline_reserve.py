"""Alkaline reserve: units, titration, mass balance, and how many baths."""

from __future__ import annotations

import math

import pytest

from kb.science.cited import Span
from kb.science.water.baths import (
    PURE_CO2_PPM,
    against_acid,
    bath_of,
    baths_for_reserve,
    deposit_mol_kg,
    expected_reserve,
    reserve_percent,
    saturated,
)
from kb.science.water.speciation import Totals, solve
from tests.plain_forms import reserve_mol_kg

HELD = Span(1.0, 2.0, "common-practice", False)
"""Grams of liquid held by a gram of dry paper."""


def test_units_there_and_back():
    """Per cent to mol/kg and back."""
    assert reserve_percent(reserve_mol_kg(1.7)) == pytest.approx(1.7)


def test_deposit_less_the_acid():
    """Twice the metal in the liquid, less what the sheet's acid takes."""
    assert deposit_mol_kg(1.5, 0.1) == pytest.approx(0.3)
    assert deposit_mol_kg(1.5, 0.1, 0.1) == pytest.approx(0.2)
    assert deposit_mol_kg(1.0, 0.02, 0.1) < 0


def test_reserve_to_expect_counts_what_is_dissolved():
    """Fresh limewater leaves up to 0.4 %, the same bath after days in air next to nothing."""
    fresh = expected_reserve(bath_of("calcium-hydroxide", 0.0203, 25), 0.0, HELD)
    assert reserve_percent(fresh.low) == pytest.approx(0.20, abs=0.01)
    assert reserve_percent(fresh.high) == pytest.approx(0.41, abs=0.01)
    aired = expected_reserve(solve(Totals(calcium_mol_l=0.0203), 25, 420), 0.0, HELD)
    assert reserve_percent(aired.high) < 0.02
    strong = expected_reserve(bath_of("magnesium-hydroxide", 0.1, 20, PURE_CO2_PPM), 0.0, HELD)
    assert strong.high == pytest.approx(0.4, abs=1e-6)


def test_reserve_to_expect_with_own_pickup_and_acid():
    """A measured pickup closes the interval; acid moves it down."""
    bath = saturated("calcium-hydroxide", 20)
    own = expected_reserve(bath, 0.01, Span(1.6, 1.6, "project", True))
    assert own.low == own.high
    assert own.low == pytest.approx(3.2 * bath.dissolved.calcium_mol_l - 0.01)


def test_number_of_dips():
    """Whole numbers up, exact multiples not rounded up, the acid met first, at least one."""
    assert baths_for_reserve(0.4, 0.061) == 7
    assert baths_for_reserve(0.4, 0.1) == 4
    assert baths_for_reserve(0.3, 0.1, 0.11) == 5
    assert baths_for_reserve(0.0, 0.1) == 1
    with pytest.raises(ValueError, match="per_bath_mol_kg must be"):
        baths_for_reserve(0.4, 0.0)


def test_number_of_baths_against_acid():
    """2.5 mmol of acid: one bath of 2 L limewater, five of 0.5 L at 1 mmol/L."""
    assert against_acid(bath_of("calcium-hydroxide", 0.02, 20), 2.0, 25, 100).baths == 1
    assert against_acid(bath_of("calcium-hydroxide", 0.0005, 20), 0.5, 25, 100).baths == 5
    assert against_acid(bath_of("calcium-hydroxide", 0.0005, 20), 0.5, 25, 0).baths == 1
    with pytest.raises(ValueError, match="no alkali"):
        against_acid(solve(Totals(), 20), 1, 25, 100)
    with pytest.raises(ValueError, match="acid_mmol_kg must be"):
        against_acid(solve(Totals(), 20), 1, 25, math.nan)
