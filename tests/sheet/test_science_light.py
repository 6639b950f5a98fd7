"""Light: doses, what a year still holds, ultraviolet."""

from __future__ import annotations

import math

import pytest

from kb.science.sheet.paper import days_left, lux_hours, uv_uw_cm2


def test_dose_is_a_product():
    """Nothing in the dark; a day has 24 hours."""
    assert lux_hours(50, 8, 90) == 36000
    assert lux_hours(0, 24, 365) == 0
    with pytest.raises(ValueError, match="24 hours"):
        lux_hours(50, 25, 1)
    with pytest.raises(ValueError, match="lux must be"):
        lux_hours(-50, 8, 1)


def test_what_is_left_of_a_year():
    """15 000 with 6 000 used leaves 9 000: 22.5 days of 50 lux for 8 h."""
    assert days_left(15_000, 6000, 50, 8) == 22.5


def test_budget_used_up_and_budget_in_the_dark():
    """Overdrawn there are no days left; in the dark it lasts for ever."""
    assert days_left(15_000, 16_000, 50, 8) == 0
    assert days_left(150_000, 0, 0, 8) == math.inf
    with pytest.raises(ValueError, match="used_lux_hours must be"):
        days_left(15_000, -1, 50, 8)
    with pytest.raises(ValueError, match="24 hours"):
        days_left(15_000, 0, 50, 25)


def test_ultraviolet_on_the_sheet():
    """The old limit, 75 microwatt per lumen, at 50 lux."""
    assert uv_uw_cm2(75, 50) == pytest.approx(0.375)
    with pytest.raises(ValueError, match="lux must be"):
        uv_uw_cm2(75, -1)
