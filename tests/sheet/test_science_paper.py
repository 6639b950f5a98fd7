"""Movement with humidity, gaps, mass, and a mend beside its sheet."""

from __future__ import annotations

import math

import pytest

from kb.science.cited import Span
from kb.science.sheet.paper import (
    expansion_mm,
    gap_mm,
    grammage_g_m2,
    mend_against_sheet,
    sheet_mass_g,
)

ALONG, ACROSS = Span(0.002, 0.008, "memory", False), Span(0.008, 0.020, "memory", False)


def test_movement_is_an_interval():
    """Across the grain moves more than along it; both ways the same."""
    along, across = expansion_mm(500, 40, 60, ALONG), expansion_mm(500, 40, 60, ACROSS)
    assert along == (pytest.approx(0.2), pytest.approx(0.8))
    assert across == (pytest.approx(0.8), pytest.approx(2.0))
    assert expansion_mm(500, 60, 40, ACROSS) == across
    assert expansion_mm(500, 50, 50, ACROSS).high == 0


@pytest.mark.parametrize(
    ("length", "rh_from", "rh_to", "why"),
    [
        (0, 40, 60, "length_mm must be"),
        (500, -1, 60, "humidity must be from 0 to 100"),
        (500, 40, 101, "humidity must be from 0 to 100"),
        (500, 40, math.nan, "humidity must be"),
    ],
)
def test_movement_refuses(length, rh_from, rh_to, why):
    """Sizes and humidities that are none."""
    with pytest.raises(ValueError, match=why):
        expansion_mm(length, rh_from, rh_to, ACROSS)


def test_gap_at_each_side_and_at_one():
    """Held at the centre half, hung from an edge all; clearance on top."""
    centre = gap_mm(500, 35, 60, ACROSS, clearance_mm=1.0)
    hung = gap_mm(500, 35, 60, ACROSS, clearance_mm=1.0, held="one-edge")
    assert (centre.low_mm, centre.high_mm) == (pytest.approx(1.5), pytest.approx(2.25))
    assert (hung.low_mm, hung.high_mm) == (pytest.approx(2.0), pytest.approx(3.5))
    assert not centre.beyond_custom


def test_gap_says_when_custom_does_not_reach():
    """Larger sheets and wider swings."""
    assert gap_mm(800, 40, 60, ACROSS).beyond_custom
    assert gap_mm(500, 20, 80, ACROSS).beyond_custom
    with pytest.raises(ValueError, match="'centre' or at 'one-edge'"):
        gap_mm(500, 40, 60, ACROSS, held="nowhere")


def test_own_coefficient_closes_the_interval():
    """A measured coefficient is no range."""
    own = Span(0.010, 0.010, "project", True, "measured on the sheet")
    moved = expansion_mm(700, 40, 60, own)
    assert moved.low == moved.high == pytest.approx(1.4)


def test_mass_and_grammage_there_and_back():
    """A2 of 100 g/m2; weighed back."""
    mass = sheet_mass_g(420, 594, 100)
    assert grammage_g_m2(mass, 420, 594) == pytest.approx(100)
    with pytest.raises(ValueError, match="width_mm must be"):
        sheet_mass_g(0, 594, 100)


def test_light_mend():
    """5 g/m2 tissue with 3 g/m2 of paste on a 100 g/m2 sheet of 130 um."""
    found = mend_against_sheet(100, 5, 30, customary_most_g_m2=12, sheet_um=130, adhesive_g_m2=3)
    assert found.grammage_share == pytest.approx(0.08)
    assert found.added_um == 30
    assert (found.verdict, found.too_thick) == ("lighter", True)


def test_mend_that_would_outlast_its_sheet():
    """Above custom on one face, above it only on two, and as heavy as a thin sheet."""
    assert mend_against_sheet(30, 5, 30, customary_most_g_m2=3.7).verdict == "heavier than customary"
    assert mend_against_sheet(30, 3.5, 20, customary_most_g_m2=3.7).verdict == "lighter"
    assert (
        mend_against_sheet(30, 3.5, 20, customary_most_g_m2=3.7, faces=2).verdict == "heavier than customary"
    )
    assert mend_against_sheet(18, 10, 50, faces=2).verdict == "as heavy as the sheet"


def test_mend_without_a_known_thickness():
    """Nothing is guessed about the sheet."""
    found = mend_against_sheet(100, 5, 30)
    assert not found.too_thick
    with pytest.raises(ValueError, match="1 or 2 faces"):
        mend_against_sheet(100, 5, 30, faces=3)
