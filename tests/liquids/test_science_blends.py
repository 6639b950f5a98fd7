"""Blends: averages, shares, the text of a blend, and reading it back."""

from __future__ import annotations

import math

import pytest

from kb.science.liquids.blends import blend_id, mix_hansen, normalise, parse_blend

ACETONE = (15.5, 10.4, 7.0)
HEPTANE = (15.3, 0.0, 0.0)


def test_mix_is_the_average_by_volume():
    """A quarter and three quarters, by hand."""
    assert mix_hansen([ACETONE, HEPTANE], [0.25, 0.75]) == pytest.approx((15.35, 2.6, 1.75), abs=1e-12)
    assert mix_hansen([ACETONE], [1.0]) == ACETONE
    assert mix_hansen([ACETONE, HEPTANE], [1.0, 0.0]) == ACETONE


def test_mix_allows_rounding_in_the_shares_but_no_more():
    """Shares that miss 1 by less than a millionth pass, by more are refused."""
    mix_hansen([ACETONE, HEPTANE], [0.5, 0.5 + 9e-7])
    with pytest.raises(ValueError, match="sum to 1"):
        mix_hansen([ACETONE, HEPTANE], [0.5, 0.5 + 2e-6])


@pytest.mark.parametrize(
    ("shares", "why"),
    [([1.0], "1 shares"), ([1.5, -0.5], "negative"), ([math.nan, 1.0], "negative"), ([0.4, 0.4], "sum to 1")],
)
def test_mix_refuses_wrong_shares(shares, why):
    """Missing, negative, undefined and incomplete shares are errors."""
    with pytest.raises(ValueError, match=why):
        mix_hansen([ACETONE, HEPTANE], shares)


def test_mix_of_nothing_is_refused():
    """No parts, no blend."""
    with pytest.raises(ValueError, match="sum to 1"):
        mix_hansen([], [])


def test_normalise_orders_and_drops():
    """Largest first, equals by name, zeros gone."""
    shares = normalise({"water": 25, "ethanol": 25, "toluene": 0, "acetone": 50})
    assert list(shares.items()) == [("acetone", 0.5), ("ethanol", 0.25), ("water", 0.25)]


@pytest.mark.parametrize("count", [2, 3, 6, 7, 11, 49, 1000])
def test_normalise_sums_to_exactly_one(count):
    """Equal parts, where thirds and sevenths do not add up by themselves; names stay in order."""
    shares = normalise({f"part-{i:04}": 1.0 for i in range(count)})
    assert math.fsum(shares.values()) == 1.0
    assert list(shares) == sorted(shares)


@pytest.mark.parametrize(
    ("parts", "why"),
    [
        ({}, "at least one part"),
        ({"acetone": 0.0}, "at least one part"),
        ({"acetone": -1.0, "water": 2.0}, "acetone"),
        ({"acetone": math.nan}, "acetone"),
        ({"acetone": math.inf}, "acetone"),
        ({"acetone": 1.7e308, "water": 1.7e308}, "too large"),
    ],
)
def test_normalise_refuses(parts, why):
    """Nothing, negatives and what is not a number are errors that name the part."""
    with pytest.raises(ValueError, match=why):
        normalise(parts)


@pytest.mark.parametrize(
    ("parts", "text"),
    [
        ({"acetone": 1}, "acetone"),
        ({"acetone": 1, "water": 0}, "acetone"),
        ({"n-heptane": 1, "acetone": 1}, "acetone 50 + n-heptane 50"),
        ({"acetone": 12.5, "n-heptane": 87.5}, "n-heptane 87.5 + acetone 12.5"),
        ({"c": 1, "b": 1, "a": 1}, "a 33.3 + b 33.3 + c 33.3"),
        ({"toluene": 4, "acetone": 1, "ethanol": 1}, "toluene 66.7 + acetone 16.7 + ethanol 16.7"),
        ({"b": 50.001, "a": 49.999}, "a 50 + b 50"),
        ({"acetone": 9999, "water": 1}, "acetone"),
        ({"acetone": 999, "water": 1}, "acetone 99.9 + water 0.1"),
        ({"acetone": 0.7, "water": 0.2, "ethanol": 0.1}, "acetone 70 + water 20 + ethanol 10"),
        ({"a": 12.35, "b": 87.65}, "b 87.6 + a 12.4"),
    ],
)
def test_blend_id(parts, text):
    """The text of a blend: rounded, ordered by what is shown, traces left out, halves to even."""
    assert blend_id(parts) == text
    assert blend_id(dict(reversed(parts.items()))) == text


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("acetone", {"acetone": 1.0}),
        ("acetone 100 %", {"acetone": 1.0}),
        ("acetone 50, n-heptane 50", {"acetone": 0.5, "n-heptane": 0.5}),
        ("acetone 50 + n-heptane 50", {"acetone": 0.5, "n-heptane": 0.5}),
        ("50% acetone; 50 % n-heptane", {"acetone": 0.5, "n-heptane": 0.5}),
        ("acetone 1, n-heptane 3", {"n-heptane": 0.75, "acetone": 0.25}),
        ("Acetone 12,5; white spirit 87,5", {"white-spirit": 0.875, "acetone": 0.125}),
        ("acetone 12,5, n_heptane 87,5 %", {"n-heptane": 0.875, "acetone": 0.125}),
        ("acetone 50,1-4-dioxane 50", {"1-4-dioxane": 0.5, "acetone": 0.5}),
        ("2-butoxyethanol .5 + water 1.5,", {"water": 0.75, "2-butoxyethanol": 0.25}),
        ("acetone 5, water 0", {"acetone": 1.0}),
    ],
)
def test_parse(text, parts):
    """What a user may type, in either order and with either decimal mark."""
    assert parse_blend(text) == parts
    assert list(parse_blend(text)) == list(parts)


def test_parse_gives_back_what_rounding_took():
    """66.7 + 16.7 + 16.7 is 4:1:1 again, and thirds are thirds."""
    assert parse_blend("t 66.7 + a 16.7 + e 16.7") == pytest.approx({"t": 4 / 6, "a": 1 / 6, "e": 1 / 6})
    assert parse_blend("a 33.3, b 33.3, c 33.3") == pytest.approx({"a": 1 / 3, "b": 1 / 3, "c": 1 / 3})


def test_parse_scales_what_is_no_rounded_per_cent():
    """Further from 100 than rounding can lead, or finer than a tenth: amounts keep their proportions."""
    assert parse_blend("a 90, b 9.8") == pytest.approx({"a": 90 / 99.8, "b": 9.8 / 99.8}, rel=1e-12)
    assert parse_blend("a 99.99, b 0.03") == pytest.approx(
        {"a": 99.99 / 100.02, "b": 0.03 / 100.02}, rel=1e-12
    )


@pytest.mark.parametrize(
    "text",
    [
        "",
        " , ",
        "50",
        "50 %",
        "acetone 50 %",
        "acetone 150%, water 20%",
        "acetone 50 %, n-heptane 60 %",
        "acetone, n-heptane",
        "acetone 50 n-heptane 50",
        "acetone 50,50 n-heptane",
        "1,4-dioxane 50",
        "acetone 50 50",
        "ace 50 tone",
        "acetone %",
        "% acetone 50",
        "acetone 50 %%",
        "acetone -5, water 105",
        "acetone 50, acetone 50",
        "acetone/water 50",
        "\x1b[31m 50",
    ],
)
def test_parse_says_what_was_expected(text):
    """What cannot be read for certain is refused with an example, never guessed."""
    with pytest.raises(ValueError, match="expected names and amounts by volume, for example"):
        parse_blend(text)


@pytest.mark.parametrize("text", ["acetone 0", "acetone " + "9" * 400])
def test_parse_refuses_impossible_amounts(text):
    """Nothing at all and an amount beyond any number are errors."""
    with pytest.raises(ValueError, match="amount"):
        parse_blend(text)


def test_error_text_carries_no_control_characters():
    """Typed text is quoted in the message so that it cannot steer a terminal."""
    with pytest.raises(ValueError) as caught:
        parse_blend("\x1b[31m 50")
    assert "\x1b" not in str(caught.value)
