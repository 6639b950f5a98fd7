"""What a user types becomes what they meant, or is refused in a sentence that says what can be meant."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from kb.science.quantities import BASE_UNITS, UNITS, convert, parse_quantity, parse_range, units_of

steady = settings(deadline=None)


@pytest.mark.parametrize(
    ("text", "value", "dimension"),
    [
        ("5 ml", 5, "volume"),
        ("5mL", 5, "volume"),
        ("5 ML", 5, "volume"),
        ("2,5 ml", 2.5, "volume"),
        (".5 ml", 0.5, "volume"),
        ("0,500 ml", 0.5, "volume"),
        ("16.325 ml", 16.325, "volume"),
        ("1.50 ml", 1.5, "volume"),
        ("1 000 ml", 1000, "volume"),
        ("1.000,5 ml", 1000.5, "volume"),
        ("1,000.5 ml", 1000.5, "volume"),
        ("12,345,678 ml", 12345678, "volume"),
        ("1e3 ml", 1000, "volume"),
        ("1,5e-3 l", 1.5, "volume"),
        ("1 l", 1000, "volume"),
        ("1 L", 1000, "volume"),
        ("1 litre", 1000, "volume"),
        ("250 µl", 0.25, "volume"),
        ("250 μL", 0.25, "volume"),
        ("250 ul", 0.25, "volume"),
        ("3 cl", 30, "volume"),
        ("3 dl", 300, "volume"),
        ("3 cm³", 3, "volume"),
        ("1 US fl. oz.", 29.5735295625, "volume"),
        ("1 imp fl oz", 28.4130625, "volume"),
        ("1 US pint", 473.176473, "volume"),
        ("1 imperial pint", 568.26125, "volume"),
        ("5 g", 5, "mass"),
        ("5 mg", 0.005, "mass"),
        ("1 kg", 1000, "mass"),
        ("1 oz", 28.349523125, "mass"),
        ("1 lb", 453.59237, "mass"),
        ("20 C", 20, "temperature"),
        ("20 °C", 20, "temperature"),
        ("20℃", 20, "temperature"),
        ("20 deg C", 20, "temperature"),
        ("20 degrees Celsius", 20, "temperature"),
        ("-5 °C", -5, "temperature"),
        ("−5 °C", -5, "temperature"),
        ("68 °F", 20, "temperature"),
        ("-40 F", -40, "temperature"),
        ("293.15 K", 20, "temperature"),
        ("40 m3", 40, "room volume"),
        ("40 m³", 40, "room volume"),
        ("1000 ft3", 28.316846592, "room volume"),
        ("1000 cu. ft.", 28.316846592, "room volume"),
        ("5 mm", 0.005, "length"),
        ("2 in", 0.0508, "length"),
        ('2"', 0.0508, "length"),
        ("1 ft", 0.3048, "length"),
        ("5 cm2", 0.0005, "area"),
        ("5 sq. in.", 5 * 0.00064516, "area"),
        ("90 s", 90, "time"),
        ("5 min", 300, "time"),
        ("1,5 h", 5400, "time"),
        ("1 h 30 min", 5400, "time"),
        ("1h30", 5400, "time"),
        ("2 min 30 s", 150, "time"),
        ("10 %", 10, "per cent"),
        ("10 per cent", 10, "per cent"),
        ("50 ppm", 50, "parts per million"),
        ("500 ppb", 0.5, "parts per million"),
        ("1.2 mg/m³", 1.2, "air concentration"),
        ("0.5 /h", 0.5, "air changes"),
        ("0.5 air changes per hour", 0.5, "air changes"),
        ("100 cfm", 169.9010795520, "air flow"),
        ("1 m3/min", 60, "air flow"),
        ("100 ft/min", 0.508, "air speed"),
        ("760 mmHg", 101.325, "pressure"),
        ("1013.25 hPa", 101.325, "pressure"),
    ],
)
def test_reads_what_was_meant(text, value, dimension):
    """Number, unit and dimension, in the base unit."""
    found = parse_quantity(text)
    assert found.value == pytest.approx(value, rel=1e-9, abs=1e-9)
    assert found.dimension == dimension


def test_litres_are_of_a_room_where_a_room_is_meant():
    """The same text by what makes sense: a dome of 30 l, and 30 l of liquid."""
    assert parse_quantity("30 l", "room volume") == (pytest.approx(0.03), "room volume")
    assert parse_quantity("30 l", "volume") == (30000, "volume")
    assert parse_quantity("5 g", "volume", "mass") == (5, "mass")


@pytest.mark.parametrize(
    ("text", "meant", "why"),
    [
        ("5 g", "volume", "an amount of mass; expected a number and one of ml, l, µl"),
        ("2 m3", "volume", "an amount of room volume"),
        ("5 parsec", "volume", "not known here; expected a number and one of ml"),
        ("5", "volume", "no unit; expected a number and one of ml"),
        ("ml", "volume", "does not begin with a number"),
        ("", "volume", "does not begin with a number"),
        ("10 fl oz", "volume", "US fl oz, imp fl oz"),
        ("1 pint", "volume", "US pint, imp pint"),
        ("3 drops", "volume", "how many drops make 1 ml"),
        ("1,000 ml", "volume", "1000 or as 1.000"),
        ("1.000 ml", "volume", "1000 or as 1.000; write 1000 or 1$"),
        ("2.500 ml", "volume", "write 2500 or 2.5$"),
        ("1.2.3 ml", "volume", "cannot|can be read"),
        ("5² ml", "volume", "raised digit"),
        ("½ ml", "volume", "does not begin with a number"),
        ("-5 ml", "volume", "below zero"),
        ("nan ml", "volume", "does not begin with a number"),
        ("1e999 ml", "volume", "too large"),
        ("9e307 l", "volume", "too large"),
        ("-300 C", "temperature", "absolute zero"),
        ("0 K", "temperature", "absolute zero"),
        ("20", "temperature", "one of °C, °F, K"),
        ("5 m", "area", "an amount of length; expected a number and one of cm2"),
        ("5 % w/v", "per cent", "grams in 100 ml"),
        ("5 ml 3", "volume", "not known here"),
        ("x" * 500, "volume", "not 500 characters"),
    ],
)
def test_refuses_with_what_can_be_meant(text, meant, why):
    """Each wrong text has its sentence."""
    with pytest.raises(ValueError, match=why):
        parse_quantity(text, meant)


def test_a_number_alone_takes_the_unit_of_its_field():
    """Only where the caller names one."""
    assert parse_quantity("5", "volume", bare="ml").value == 5
    assert parse_quantity("5 l", "volume", bare="ml").value == 5000


def test_an_unknown_kind_of_amount_is_a_mistake_of_the_caller():
    """Named, with the kinds there are."""
    with pytest.raises(ValueError, match="no kind of amount"):
        parse_quantity("5 ml", "loudness")


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("0.3 to 1 /h", 0.3, 1),
        ("0,3-1 /h", 0.3, 1),
        ("0.3 – 1 ach", 0.3, 1),
        ("0.3 /h - 1 /h", 0.3, 1),
        ("2 /h", 2, 2),
        ("1e-1-2e-1 /h", 0.1, 0.2),
    ],
)
def test_reads_a_range(text, low, high):
    """One unit serves both ends; one amount is a range of no width."""
    assert parse_range(text, "air changes")[:2] == (pytest.approx(low), pytest.approx(high))


def test_a_range_below_zero_and_one_that_runs_backwards():
    """A minus is a sign or a dash by where it stands."""
    assert parse_range("-5 to 5 °C")[:2] == (-5, 5)
    assert parse_range("-5--2 °C")[:2] == (-5, -2)
    assert parse_range("5 ml - 1 l")[:2] == (5, 1000)
    with pytest.raises(ValueError, match="smaller amount first"):
        parse_range("1 to 0.3 /h")


@pytest.mark.parametrize("dimension", UNITS)
def test_every_unit_reads_back(dimension):
    """Each unit, by the text that is shown for it and by every other spelling, means the same."""
    assert BASE_UNITS[dimension] in units_of(dimension)
    for unit in UNITS[dimension]:
        for spelling in (unit.shown, *unit.also):
            found = parse_quantity(f"3 {spelling}", dimension)
            assert convert(found.value, dimension, unit.shown) == pytest.approx(3)
    assert parse_quantity(f"3 {BASE_UNITS[dimension]}", dimension).value == pytest.approx(3)


def test_converting_to_a_unit_of_another_kind_is_refused():
    """With the list of those that fit."""
    assert convert(20, "temperature", "F") == pytest.approx(68)
    with pytest.raises(ValueError, match="one of ml"):
        convert(1, "volume", "kg")


PIECES = st.sampled_from(
    [
        *"0123456789.,-+eE%°/ \"'", "ml", "µ", "l", "h", "min", "to", "m³", "²", "⁵", "\u00a0", "fl oz",
        "K", "F", "C", "…", "1 000", "1,000", "e9", "e-999", "9" * 40, "٣", "①", "\ud800", "\x00",
    ]
)  # fmt: skip
TYPED = st.one_of(st.text(max_size=100), st.lists(PIECES, max_size=12).map("".join))


@steady
@given(
    TYPED, st.lists(st.sampled_from(list(UNITS)), max_size=3, unique=True), st.sampled_from(["", "ml", "x"])
)
@example("1e308 l", [], "")
@example("9" * 79 + "l", ["volume"], "")
def test_any_text_is_an_amount_or_a_value_error(text, meant, bare):
    """Nothing else is ever raised, and what is read is finite and of a kind that was asked for."""
    for parse in (parse_quantity, parse_range):
        try:
            found = parse(text, *meant, bare=bare)
        except ValueError:
            continue
        assert found.dimension in (meant or UNITS)
        assert all(math.isfinite(value) for value in found[:-1])
        assert found.dimension == "temperature" or found[0] >= 0


@steady
@given(
    st.floats(0, 1e9), st.sampled_from([(d, u.shown) for d in UNITS for u in UNITS[d] if d != "temperature"])
)
def test_shown_amounts_read_back(value, what):
    """What a screen writes with a decimal point can be typed in again."""
    dimension, unit = what
    found = parse_quantity(f"{value!r} {unit}", dimension)
    assert convert(found.value, dimension, unit) == pytest.approx(value, rel=1e-12, abs=1e-300)
