"""Paper, light and dilution against printed figures and the worked checks of the reference notes."""

from __future__ import annotations

import pytest

from kb.desk.materials.measured import guideline, span_of
from kb.desk.studio import Studio
from kb.science.cited import Span
from kb.science.making import stock_for
from kb.science.sheet.paper import expansion_mm, gap_mm, lux_hours, sheet_mass_g, uv_uw_cm2

pytestmark = pytest.mark.published


def test_movement_of_a_sheet():
    """600 mm across the grain, 0.012 % per % RH, 40 to 60 % RH: 1.44 mm, 0.72 at each side (computed)."""
    given = Span(0.012, 0.012, "memory", False)
    moved = expansion_mm(600, 40, 60, given)
    assert moved == (pytest.approx(1.44, abs=0.01), pytest.approx(1.44, abs=0.01))
    assert gap_mm(600, 40, 60, given).high_mm == pytest.approx(0.72, abs=0.005)


@pytest.mark.parametrize(
    ("grain", "low_percent", "high_percent"), [("machine", 0.10, 0.20), ("cross", 0.20, 0.40)]
)
def test_bond_paper_on_a_papermaking_page(studio: Studio, grain, low_percent, high_percent):
    """Table on a papermaking weblog, 2011 (totals seen): over 33 to 66 % RH, the step assumed here.

    Its range and the one from memory overlap.
    """
    (printed,) = guideline(studio, f"movement-{grain}").figure.others
    assert printed.low is not None
    assert printed.high is not None
    table = Span(printed.low, printed.high, printed.sources[0], False)
    moved = expansion_mm(1000, 33, 66, table)
    assert moved.low == pytest.approx(10 * low_percent, rel=0.02)
    assert moved.high == pytest.approx(10 * high_percent, rel=0.02)
    memory = span_of(studio, f"movement-{grain}")
    assert max(memory.low, table.low) < min(memory.high, table.high)


def test_mass_of_standard_sheets():
    """ISO 216 (from memory): A0 is a square metre, so 16 sheets of A4 weigh the grammage in grams."""
    assert 16 * sheet_mass_g(210, 297, 80) == pytest.approx(80, rel=0.003)
    assert sheet_mass_g(420, 594, 100) == pytest.approx(25, abs=0.1)


def test_light_doses(studio: Studio):
    """50 lux, 8 h: 36 000 in 90 days, 120 000 in 300 (computed). CIE 157 limits (from memory)."""
    assert lux_hours(50, 8, 90) == 36000
    assert lux_hours(50, 8, 300) == 120000
    years = [span_of(studio, f"light-year-{name}").high for name in ("high", "medium", "low")]
    assert years == [15e3, 150e3, 600e3]
    assert uv_uw_cm2(75, 50) == pytest.approx(0.375)


def test_dilution():
    """1 L of 2 % from 5 % stock: 400 and 600 mL (computed)."""
    assert stock_for(2, 1000, 5) == (400, 600)
