"""Colour differences: what must hold for any two readings, and the words for them."""

from __future__ import annotations

import math

import pytest

from kb.science.sheet.colour import Lab, chroma, delta_e_2000, difference_in_words, hue_deg

PAPER = Lab(88.0, 1.5, 12.0)


def test_chroma_and_hue():
    """Along the axes, and grey without a hue."""
    assert chroma(Lab(50, 3, 4)) == 5
    assert [hue_deg(Lab(50, *ab)) for ab in ((1, 0), (0, 1), (-1, 0), (0, -1))] == [0, 90, 180, 270]
    assert hue_deg(Lab(50, 0, 0)) == 0


def test_the_same_colour_does_not_differ():
    """Zero to itself, and to black from black."""
    assert delta_e_2000(PAPER, PAPER) == 0
    assert delta_e_2000(Lab(0, 0, 0), Lab(0, 0, 0)) == 0


def test_lightness_alone():
    """In the middle of the scale the difference is that of the readings; at its ends less."""
    assert delta_e_2000(Lab(50, 0, 0), Lab(51, 0, 0)) == pytest.approx(1, abs=0.01)
    assert delta_e_2000(Lab(95, 0, 0), Lab(96, 0, 0)) < 0.7


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_readings_must_be_numbers(bad):
    """A gap in a reading is not a colour."""
    with pytest.raises(ValueError, match="must be numbers"):
        delta_e_2000(PAPER, Lab(bad, 0, 0))


def test_words_for_a_difference():
    """Each threshold belongs to the word above it."""
    assert [difference_in_words(delta) for delta in (0.0, 1.0, 2.0, 5.0, 5.1)] == [
        "not seen side by side by most people",
        "at the edge of being seen",
        "seen, and near",
        "seen, and near",
        "seen at once",
    ]
