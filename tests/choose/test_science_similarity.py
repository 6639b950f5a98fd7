"""Similarity weights: the table of figures, symmetry, and what an unknown feature means."""

from __future__ import annotations

import math

import pytest

from kb.science.choose import evidence as s

ACETONE = (15.5, 10.4, 7.0)
BUTANONE = (16.0, 9.0, 5.1)
WATER = (15.5, 16.0, 42.3)


def test_adhesives():
    """Same, same chemistry group, other."""
    assert s.adhesive_weight("rubber", "natural", "rubber", "natural") == 1.0
    assert s.adhesive_weight("rubber", "natural", "rubber-resin", "natural") == 0.6
    assert s.adhesive_weight("rubber", "natural", "acrylic", "synthetic") == 0.25


def test_media():
    """Same, kin, other; an empty kin is kin of nothing."""
    assert s.medium_weight("iron-gall", "aqueous", "iron-gall", "aqueous") == 1.0
    assert s.medium_weight("iron-gall", "aqueous", "dye-ink", "aqueous") == 0.5
    assert s.medium_weight("iron-gall", "aqueous", "ball-point", "alcohol") == 0.25
    assert s.medium_weight("toner", "", "pencil", "") == 0.25
    assert s.medium_weight("toner", "", "toner", "") == 1.0


def test_stages():
    """Same, neighbouring, far, in both directions."""
    table = [[s.stage_weight(i, j) for j in range(3)] for i in range(3)]
    assert table == [[1.0, 0.6, 0.3], [0.6, 1.0, 0.6], [0.3, 0.6, 1.0]]


def test_carriers_methods_papers():
    """These matter little, and papers most of the three."""
    assert (s.carrier_weight("film", "film"), s.carrier_weight("film", "paper")) == (1.0, 0.95)
    assert (s.method_weight("swab", "swab"), s.method_weight("swab", "gel")) == (1.0, 0.97)
    assert (s.paper_weight("rag", "rag"), s.paper_weight("rag", "newsprint")) == (1.0, 0.7)


def test_what_is_not_known_is_not_the_same():
    """Two empty ids do not match each other."""
    assert s.adhesive_weight("", "", "", "") == 0.25
    assert s.medium_weight("", "", "", "") == 0.25
    assert (s.carrier_weight("", ""), s.method_weight("", ""), s.paper_weight("", "")) == (0.95, 0.97, 0.7)
    assert s.UNSTATED == 0.5


def test_liquids_fall_with_distance():
    """0.8 exp(-Ra^2 / 32); Ra^2 of acetone and butanone is 4*0.25 + 1.96 + 3.61 = 6.57."""
    expected = 0.8 * math.exp(-6.57 / 32)
    assert s.liquid_weight(ACETONE, BUTANONE, True, False) == pytest.approx(expected, rel=1e-14)
    assert s.liquid_weight(BUTANONE, ACETONE, False, False) == pytest.approx(expected, rel=1e-14)
    assert s.liquid_weight(ACETONE, ACETONE, True, False) == 0.8
    assert s.liquid_weight(ACETONE, ACETONE, True, True) == 1.0


def test_a_family_has_a_floor():
    """Far apart, only the family speaks."""
    assert s.liquid_weight(ACETONE, WATER, True, False) == 0.15
    assert s.liquid_weight(ACETONE, WATER, False, False) < 1e-10


def test_without_parameters_only_the_family_speaks():
    """Unknown Hansen parameters on either side; the identical liquid is still identical."""
    for a, b in ((None, ACETONE), (ACETONE, None), (None, None)):
        assert s.liquid_weight(a, b, True, False) == 0.15
        assert s.liquid_weight(a, b, False, False) == 0.0
        assert s.liquid_weight(a, b, False, True) == 1.0
