"""Hansen distance, RED and fractions: hand arithmetic, transcribed spheres, and refusals."""

from __future__ import annotations

import math

import pytest

from kb.science.liquids.solubility import distance, fractional, red

ACETONE = (15.5, 10.4, 7.0)
TOLUENE = (18.0, 1.4, 2.0)

# Sphere centres and radii: Hansen 2007, Appendix Table A.2, read as a machine transcription (row 33 in a
# second one). Liquids: an open table of Hansen parameters. The RED values are this project's arithmetic,
# done apart from this code; they check the formula, not the chemistry.
ROW_33 = ((16.57, 1.41, -0.82), 9.62)  # cis-polyisoprene
ROW_66 = ((18.64, 10.52, 7.51), 8.59)  # poly(methyl methacrylate)
ROW_170 = ((16.9, 16.3, 3.7), 13.7)  # cellulose acetate
ROW_48 = ((15.41, 14.73, 8.84), 11.46)  # cellulose nitrate
ROW_373 = ((18.0, 0.0, 3.0), 9.0)  # butyl rubber


def test_distance_by_hand():
    """4 * 2.5^2 + 9^2 + 5^2 = 131: dispersion counts double."""
    assert distance(ACETONE, TOLUENE) == pytest.approx(math.sqrt(131.0), rel=1e-15)
    assert distance((17.0, 0.0, 0.0), (16.0, 0.0, 0.0)) == 2.0
    assert distance((16.0, 1.0, 0.0), (16.0, 0.0, 0.0)) == 1.0


def test_distance_is_a_distance():
    """Zero to itself, and the same in both directions."""
    assert distance(ACETONE, ACETONE) == 0.0
    assert distance(ACETONE, TOLUENE) == distance(TOLUENE, ACETONE)


@pytest.mark.parametrize(
    ("sphere", "liquid", "expected"),
    [
        (ROW_33, (16.8, 0.0, 0.2), 0.187),  # cyclohexane
        (ROW_33, TOLUENE, 0.418),
        (ROW_33, ACETONE, 1.258),
        (ROW_33, (16.0, 9.0, 5.1), 1.008),  # butanone
        (ROW_66, (16.8, 5.7, 8.0), 0.708),  # tetrahydrofuran
        (ROW_66, TOLUENE, 1.249),
        (ROW_66, (15.5, 16.0, 42.3), 4.165),  # water
        (ROW_170, (15.8, 18.8, 5.1), 0.264),  # nitromethane
        (ROW_170, ACETONE, 0.534),
        (ROW_48, (15.8, 3.7, 6.3), 0.990),  # n-butyl acetate
        (ROW_48, (19.0, 1.8, 7.4), 1.297),  # 1,4-dioxane
        (ROW_373, (18.4, 0.0, 2.0), 0.142),  # benzene
        (ROW_373, (15.1, 12.3, 22.3), 2.623),  # methanol
    ],
)
def test_red_of_transcribed_spheres(sphere, liquid, expected):
    """RED agrees with the separate arithmetic to its three decimals."""
    centre, r0 = sphere
    assert red(liquid, centre, r0) == pytest.approx(expected, abs=5.1e-4)


@pytest.mark.parametrize("r0", [0.0, -1.0, math.nan])
def test_red_refuses_a_sphere_without_radius(r0):
    """A radius that is not above zero is an error, not an infinite RED."""
    with pytest.raises(ValueError, match="radius"):
        red(ACETONE, TOLUENE, r0)


@pytest.mark.parametrize(
    ("hansen", "expected"),
    [
        (ACETONE, (47.1, 31.6, 21.3)),
        (TOLUENE, (84.1, 6.5, 9.3)),
        ((15.8, 8.8, 19.4), (35.9, 20.0, 44.1)),  # ethanol
        ((15.3, 0.0, 0.0), (100.0, 0.0, 0.0)),  # n-heptane
        (ROW_33[0], (92.2, 7.8, 0.0)),  # a fitted centre with a negative parameter
        (ROW_66[0], (50.8, 28.7, 20.5)),
    ],
)
def test_fractions(hansen, expected):
    """Per cents agree with the separate arithmetic, sum to 100, and never fall below zero."""
    fractions = fractional(hansen)
    assert fractions == pytest.approx(expected, abs=0.051)
    assert sum(fractions) == pytest.approx(100.0, abs=1e-12)
    assert min(fractions) >= 0


@pytest.mark.parametrize("hansen", [(0.0, 0.0, 0.0), (-1.0, -2.0, 0.0), (math.nan, 1.0, 1.0)])
def test_fractions_need_something_above_zero(hansen):
    """Nothing to divide is an error."""
    with pytest.raises(ValueError, match="fractions"):
        fractional(hansen)
