"""Light budgets and climates."""

from __future__ import annotations

import math

import pytest

from kb.science.sheet.light import (
    CLIMATES,
    LUX_WORKS_ON_PAPER,
    UV_AIM_UW_LM,
    UV_OLD_LIMIT_UW_LM,
    budget,
    lux_hours,
    uv_uw_cm2,
)


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
    left = budget("high", 6000, 50, 8)
    assert (left.left_lux_hours, left.days_left) == (9000, 22.5)
    assert (left.limit_lux_hours.source, left.limit_lux_hours.seen) == ("memory", False)


def test_budget_used_up_and_budget_in_the_dark():
    """Overdrawn shows by how much, with no days left; in the dark it lasts for ever."""
    over = budget("high", 16000, 50, 8)
    assert (over.left_lux_hours, over.days_left) == (-1000, 0)
    assert budget("medium", 0, 0, 8).days_left == math.inf
    with pytest.raises(ValueError, match="no class 'extreme'; there are high, medium, low"):
        budget("extreme", 0, 50, 8)


def test_ultraviolet_on_the_sheet():
    """The old limit and the aim at 50 lux; both were read."""
    assert uv_uw_cm2(UV_OLD_LIMIT_UW_LM.value, LUX_WORKS_ON_PAPER.value) == pytest.approx(0.375)
    assert UV_AIM_UW_LM.value < UV_OLD_LIMIT_UW_LM.value
    assert UV_AIM_UW_LM.seen
    assert LUX_WORKS_ON_PAPER.seen


def test_climates_are_ranges_from_memory():
    """Each lies the right way round and says where it comes from."""
    for climate in CLIMATES.values():
        for span in (climate.temp_c, climate.rh_percent):
            if span is not None:
                assert span.low < span.high
                assert (span.source, span.seen) == ("memory", False)
