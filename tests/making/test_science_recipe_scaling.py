"""Recipes at another size."""

from __future__ import annotations

import pytest

from kb.science.making import (
    factor_between,
    factor_for_area,
    handy,
    in_unit,
    known_unit,
)
from tests.plain_forms import Portion, scaled

PASTE = (Portion("wheat starch", 57, 57, "g"), Portion("water", 400, 400, "mL"))
WATER = {"water": 0.9982}


def test_factor_from_the_yield():
    """440 g made into 110 g or 0.22 kg; into mL only with a density."""
    assert factor_between(440, "g", 110, "g") == pytest.approx(0.25)
    assert factor_between(440, "g", 0.22, "kg") == pytest.approx(0.5)
    assert factor_between(440, "g", 110, "mL", 1.02) == pytest.approx(110 * 1.02 / 440)
    with pytest.raises(ValueError, match="a density is missing to turn mL into g"):
        factor_between(440, "g", 110, "mL")
    with pytest.raises(ValueError, match="do not measure the same thing"):
        factor_between(440, "g", 1, "bath")


def test_factor_from_what_is_at_hand():
    """20 g of starch left: 0.351 of the recipe."""
    assert factor_between(57, "g", 20, "g") == pytest.approx(20 / 57)
    assert factor_between(2, "g", 500, "mg") == pytest.approx(0.25)
    used = scaled(PASTE, factor_between(400, "mL", 0.1, "L"))
    assert used[1].low == pytest.approx(100)
    with pytest.raises(ValueError, match="the amount of the recipe must be"):
        factor_between(0, "g", 20, "g")
    with pytest.raises(ValueError, match="the amount asked for must be"):
        factor_between(57, "g", 0, "g")


def test_factor_from_area():
    """0.2 m2 at 100 um is 20 mL."""
    assert factor_for_area(100, 0.2, 100) == pytest.approx(0.2)


def test_units():
    """Written any way, converted within a kind, counts left alone."""
    assert known_unit(" ML ") == ("mL", "volume")
    assert known_unit("µg") == ("ug", "weight")
    assert known_unit("parts") == ("parts", "count")
    assert in_unit(1.5, "L", "mL") == pytest.approx(1500)
    assert in_unit(250, "cm2", "m2") == pytest.approx(0.025)
    assert in_unit(3, "drops", "drops") == 3
    assert in_unit(100, "mL", "g", 0.7893) == pytest.approx(78.93)
    assert in_unit(78.93, "g", "L", 0.7893) == pytest.approx(0.1)
    with pytest.raises(ValueError, match="drops and mL do not measure the same thing"):
        in_unit(3, "drops", "mL")
    with pytest.raises(ValueError, match="no unit and g"):
        in_unit(3, "", "g")


@pytest.mark.parametrize(
    ("amount", "unit", "shown"),
    [
        (0.0463, "g", (46.3, "mg")),
        (1500, "g", (1.5, "kg")),
        (0.4, "mL", (400, "uL")),
        (2.5, "L", (2.5, "L")),
        (1e9, "g", (1e6, "kg")),
        (999.99999, "g", (1.0, "kg")),
        (0, "g", (0, "g")),
        (7, "parts", (7, "parts")),
    ],
)
def test_amounts_in_the_handy_unit(amount, unit, shown):
    """What balance and cylinder show."""
    value, name = handy(amount, unit)
    assert (value, name) == (pytest.approx(shown[0]), shown[1])
