"""Dilution, blending, bases kept apart, loose powder, and what a wet film leaves."""

from __future__ import annotations

import math

import pytest

from kb.science.making import (
    after_evaporation,
    amounts_to_blend,
    blended,
    converted,
    dry_load_g_m2,
    film_volume_ml,
    made_from,
    stock_for,
    wet_film_for_load_um,
)


def test_stock_to_working_strength():
    """500 mL of 0.5 % from 2 %: 125 and 375; the stock itself needs no water; 125 mL make 500 again."""
    assert stock_for(0.5, 500, 2) == pytest.approx((125, 375))
    assert stock_for(2, 500, 2) == (500, 0)
    assert stock_for(0, 500, 2) == (0, 500)
    assert made_from(2, 125, 0.5) == pytest.approx(500)


@pytest.mark.parametrize(
    ("wanted", "total", "stock", "why"),
    [
        (5, 100, 2, "cannot be diluted to 5"),
        (-1, 100, 2, "wanted must be zero or more"),
        (1, 0, 2, "total must be"),
        (1, 100, 0, "stock must be"),
        (math.nan, 100, 2, "wanted must be"),
    ],
)
def test_stock_refuses(wanted, total, stock, why):
    """A weaker stock, and amounts that are none."""
    with pytest.raises(ValueError, match=why):
        stock_for(wanted, total, stock)


def test_stronger_than_stock_cannot_be_made():
    """The other way round refuses too."""
    with pytest.raises(ValueError, match="cannot be diluted"):
        made_from(2, 100, 3)


def test_blending_two_strengths():
    """There and back; the wanted strength must lie between."""
    assert blended(12, 100, 4, 300) == pytest.approx(6)
    assert amounts_to_blend(12, 4, 6, 400) == pytest.approx((100, 300))
    assert amounts_to_blend(4, 12, 4, 400) == (400, 0)
    with pytest.raises(ValueError, match="13 does not lie between 12 and 4"):
        amounts_to_blend(12, 4, 13, 400)
    with pytest.raises(ValueError, match="one strength"):
        amounts_to_blend(4, 4, 4, 100)
    with pytest.raises(ValueError, match="total must be"):
        blended(4, 0, 5, 0)


def test_solids_after_cooking_down():
    """57 g in 457 g cooked to 440 g: 12.95 %; the solids themselves do not boil away."""
    before = 100 * 57 / 457
    assert after_evaporation(before, 457, 440) == pytest.approx(100 * 57 / 440)
    assert after_evaporation(before, 457, 57) == pytest.approx(100)
    with pytest.raises(ValueError, match="less than the 57 g of solids"):
        after_evaporation(before, 457, 56)
    with pytest.raises(ValueError, match="does not gain weight"):
        after_evaporation(before, 440, 457)
    with pytest.raises(ValueError, match="0 to 100 %"):
        after_evaporation(101, 457, 440)


def test_bases_convert_through_densities():
    """Ethanol as an example: 70 % v/v is 55.3 % w/v, and 62.4 % w/w in a mix of 0.886 g/mL."""
    assert converted(70, "v/v", "w/v", part_density_g_ml=0.7893) == pytest.approx(55.25, abs=0.01)
    by_weight = converted(70, "v/v", "w/w", part_density_g_ml=0.7893, mix_density_g_ml=0.8856)
    assert by_weight == pytest.approx(62.4, abs=0.05)
    back = converted(by_weight, "w/w", "v/v", part_density_g_ml=0.7893, mix_density_g_ml=0.8856)
    assert back == pytest.approx(70)
    assert converted(12.5, "w/w", "w/v", mix_density_g_ml=1.05) == pytest.approx(13.125)
    assert converted(5, "w/v", "w/v") == 5


@pytest.mark.parametrize(
    ("given", "wanted", "densities", "why"),
    [
        ("w/w", "w/v", {}, "density of the mix is missing"),
        ("w/v", "w/w", {"part_density_g_ml": 1.0}, "density of the mix is missing"),
        ("v/v", "w/v", {"mix_density_g_ml": 1.0}, "density of the ingredient is missing"),
        ("w/v", "v/v", {}, "density of the ingredient is missing"),
        ("w/w", "v/v", {}, "density of the mix and of the ingredient is missing"),
        ("w/w", "v/v", {"mix_density_g_ml": 1.0}, "density of the ingredient is missing"),
        ("w/w", "w/v", {"mix_density_g_ml": 0.0}, "density of the mix must be above zero"),
        ("w/w", "percent", {}, "no basis 'percent'; there are w/w, w/v, v/v"),
    ],
)
def test_no_conversion_without_the_density_it_takes(given, wanted, densities, why):
    """The error names what is missing; the other density does not help."""
    with pytest.raises(ValueError, match=why):
        converted(10, given, wanted, **densities)


def test_impossible_strengths_are_refused():
    """More than all of a mix, before or after converting."""
    with pytest.raises(ValueError, match="0 to 100 %"):
        converted(120, "w/w", "w/v", mix_density_g_ml=1.2)
    with pytest.raises(ValueError, match="would be 150 % w/w"):
        converted(120, "w/v", "w/w", mix_density_g_ml=0.8)


def test_load_of_a_remoistenable_tissue():
    """100 um of 3 % leaves 3 g/m2; the film for a load is the way back; 100 um on 0.2 m2 is 20 mL."""
    assert dry_load_g_m2(100, 3, 1.0) == pytest.approx(3)
    assert dry_load_g_m2(100, 3, 1.02) == pytest.approx(3.06)
    assert wet_film_for_load_um(3.06, 3, 1.02) == pytest.approx(100)
    assert film_volume_ml(100, 0.2) == pytest.approx(20)
    with pytest.raises(ValueError, match="percent_ww must be"):
        wet_film_for_load_um(3, 0, 1.0)
