"""Amounts as a user types them: a number and a unit, read into one base unit for each kind of amount.

Factors are exact by definition (SI; the international yard and pound agreement of 1959; US and imperial
gallons), from memory. Capital letters, blanks and full stops in a unit do not matter. A unit of the wrong
kind, or one that means two things, is refused with the list of what can be meant.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple


class Unit(NamedTuple):
    """One unit: how it is shown, its worth in the base unit, its zero there, and other spellings."""

    shown: str
    factor: float
    zero: float = 0.0
    also: tuple[str, ...] = ()


class Quantity(NamedTuple):
    """A number in the base unit of its dimension (BASE_UNITS)."""

    value: float
    dimension: str


class QuantityRange(NamedTuple):
    """From ``low`` to ``high`` in the base unit of the dimension; equal if one number was typed."""

    low: float
    high: float
    dimension: str


_UK_OUNCE_ML, _US_OUNCE_ML = 28.4130625, 29.5735295625
_FOOT_M, _INCH_M, _POUND_G = 0.3048, 0.0254, 453.59237
_FT3_M3 = _FOOT_M**3

UNITS: Mapping[str, tuple[Unit, ...]] = {
    "volume": (
        Unit(
            "ml",
            1.0,
            also=("mls", "millilitre", "millilitres", "milliliter", "milliliters", "cm3", "cc", "ccm"),
        ),
        Unit("l", 1000.0, also=("litre", "litres", "liter", "liters", "ltr", "dm3")),
        Unit("µl", 0.001, also=("mcl", "microlitre", "microlitres", "microliter", "microliters", "mm3")),
        Unit("cl", 10.0, also=("centilitre", "centilitres", "centiliter", "centiliters")),
        Unit("dl", 100.0, also=("decilitre", "decilitres", "deciliter", "deciliters")),
        Unit("US fl oz", _US_OUNCE_ML, also=("us oz fl", "fl oz us")),
        Unit("imp fl oz", _UK_OUNCE_ML, also=("imperial fl oz", "uk fl oz", "fl oz imp", "fl oz uk")),
        Unit("US pint", 16 * _US_OUNCE_ML, also=("us pints", "us pt")),
        Unit(
            "imp pint",
            20 * _UK_OUNCE_ML,
            also=("imperial pint", "imp pints", "uk pint", "uk pints", "imp pt", "uk pt"),
        ),
    ),
    "mass": (
        Unit("g", 1.0, also=("gram", "grams", "gramme", "grammes")),
        Unit("mg", 0.001, also=("milligram", "milligrams", "milligramme", "milligrammes")),
        Unit("kg", 1000.0, also=("kilo", "kilos", "kilogram", "kilograms", "kilogramme", "kilogrammes")),
        Unit("µg", 1e-6, also=("mcg", "microgram", "micrograms")),
        Unit("oz", _POUND_G / 16, also=("ounce", "ounces")),
        Unit("lb", _POUND_G, also=("lbs", "pound", "pounds")),
    ),
    "temperature": (
        Unit("°C", 1.0, also=("celsius", "centigrade")),
        Unit("°F", 5 / 9, -160 / 9, also=("fahrenheit",)),
        Unit("K", 1.0, -273.15, also=("kelvin", "kelvins")),
    ),
    "room volume": (
        Unit("m3", 1.0, also=("cubic metre", "cubic metres", "cubic meter", "cubic meters", "cu m", "cbm")),
        Unit("ft3", _FT3_M3, also=("cubic foot", "cubic feet", "cu ft", "cuft", "cf")),
        Unit("l", 0.001, also=("litre", "litres", "liter", "liters", "ltr", "dm3")),
    ),
    "length": (
        Unit("cm", 0.01, also=("centimetre", "centimetres", "centimeter", "centimeters")),
        Unit("mm", 0.001, also=("millimetre", "millimetres", "millimeter", "millimeters")),
        Unit("m", 1.0, also=("metre", "metres", "meter", "meters")),
        Unit(
            "µm", 1e-6, also=("micron", "microns", "micrometre", "micrometres", "micrometer", "micrometers")
        ),
        Unit("in", _INCH_M, also=("inch", "inches", '"', "″")),
        Unit("ft", _FOOT_M, also=("foot", "feet", "'", "′")),
    ),
    "area": (
        Unit("cm2", 1e-4, also=("sq cm", "square centimetre", "square centimetres", "square centimeters")),
        Unit("mm2", 1e-6, also=("sq mm", "square millimetre", "square millimetres", "square millimeters")),
        Unit("m2", 1.0, also=("sq m", "square metre", "square metres", "square meter", "square meters")),
        Unit("in2", _INCH_M**2, also=("sq in", "square inch", "square inches")),
        Unit("ft2", _FOOT_M**2, also=("sq ft", "square foot", "square feet")),
    ),
    "time": (
        Unit("s", 1.0, also=("sec", "secs", "second", "seconds")),
        Unit("min", 60.0, also=("mins", "minute", "minutes")),
        Unit("h", 3600.0, also=("hr", "hrs", "hour", "hours")),
    ),
    "per cent": (Unit("%", 1.0, also=("percent", "per cent", "pct", "% v/v", "% vol", "vol %")),),
    "parts per million": (
        Unit("ppm", 1.0, also=("ppmv", "ppm v", "parts per million")),
        Unit("ppb", 0.001, also=("ppbv", "parts per billion")),
    ),
    "air concentration": (
        Unit("mg/m3", 1.0, also=("mg m-3", "mg/cbm")),
        Unit("µg/m3", 0.001, also=("mcg/m3", "ug m-3")),
        Unit("g/m3", 1000.0, also=("g m-3", "mg/l")),
    ),
    "air changes": (
        Unit(
            "/h",
            1.0,
            also=("ach", "per hour", "per h", "h-1", "1/h", "air changes per hour", "air changes/h", "/hr"),
        ),
    ),
    "air flow": (
        Unit("m3/h", 1.0, also=("m3/hr", "m3 per hour", "cbm/h", "cmh")),
        Unit("m3/min", 60.0, also=("m3 per minute",)),
        Unit("m3/s", 3600.0),
        Unit("l/s", 3.6, also=("litres per second",)),
        Unit("l/min", 0.06),
        Unit("ft3/min", 60 * _FT3_M3, also=("cfm", "cu ft/min", "cubic feet per minute")),
    ),
    "air speed": (
        Unit("m/s", 1.0, also=("m s-1", "metres per second")),
        Unit("cm/s", 0.01),
        Unit("m/min", 1 / 60, also=("metres per minute",)),
        Unit("ft/min", _FOOT_M / 60, also=("fpm", "feet per minute")),
    ),
    "conductivity": (
        Unit("µS/cm", 1.0, also=("uS", "microsiemens", "microsiemens per cm")),
        Unit("mS/cm", 1000.0, also=("mS", "millisiemens", "millisiemens per cm")),
        Unit("mS/m", 10.0),
        Unit("S/m", 10_000.0),
    ),
    "illuminance": (
        Unit("lux", 1.0, also=("lx",)),
        # One lumen on a square foot; the foot is exact.
        Unit("foot-candle", 1 / _FOOT_M**2, also=("foot-candles", "footcandle", "footcandles", "fc")),
    ),
    "grammage": (Unit("g/m2", 1.0, also=("gsm", "g m-2")),),
    "density": (
        Unit("g/ml", 1.0, also=("g/cm3", "kg/l", "g ml-1", "g cm-3")),
        Unit("kg/m3", 0.001, also=("g/l", "kg m-3")),
    ),
    "pressure": (
        Unit("kPa", 1.0),
        Unit("hPa", 0.1, also=("mbar",)),
        Unit("Pa", 0.001),
        Unit("mmHg", 101.325 / 760, also=("torr", "mm hg")),
        Unit("atm", 101.325, also=("atmosphere", "atmospheres")),
    ),
    "solubility parameter": (
        Unit("MPa^0.5", 1.0, also=("MPa^1/2", "(J/cm3)^0.5", "(J/cm3)^1/2", "(J/ml)^0.5")),
        # The thermochemical calorie, 4.184 J by definition.
        Unit("(cal/cm3)^0.5", math.sqrt(4.184), also=("(cal/cm3)^1/2", "(cal/ml)^0.5", "hildebrand")),
    ),
}
"""Every dimension with its units, the usual ones first. The base unit is in BASE_UNITS."""

BASE_UNITS: Mapping[str, str] = {
    "volume": "ml",
    "mass": "g",
    "temperature": "°C",
    "room volume": "m3",
    "length": "m",
    "area": "m2",
    "time": "s",
    "per cent": "%",
    "parts per million": "ppm",
    "air concentration": "mg/m3",
    "air changes": "/h",
    "air flow": "m3/h",
    "air speed": "m/s",
    "conductivity": "µS/cm",
    "illuminance": "lux",
    "grammage": "g/m2",
    "density": "g/ml",
    "pressure": "kPa",
    "solubility parameter": "MPa^0.5",
}

_DOUBTFUL = {
    "floz": "a fluid ounce differs between the United States and Britain: write US fl oz, imp fl oz or ml",
    "pint": "a pint differs between the United States and Britain: write US pint, imp pint or ml",
    "drop": "a drop has no fixed size: count how many drops make 1 ml, and give ml",
    "%w/v": "% w/v is grams in 100 ml: give the two amounts in g and ml",
    "%w/w": "% w/w is a share by mass: give the two amounts in g",
}
_DOUBTFUL |= {"fluidounce": _DOUBTFUL["floz"], "fluidounces": _DOUBTFUL["floz"], "ozfl": _DOUBTFUL["floz"]}
_DOUBTFUL |= {"pints": _DOUBTFUL["pint"], "pt": _DOUBTFUL["pint"], "drops": _DOUBTFUL["drop"]}
_DOUBTFUL |= {"gtt": _DOUBTFUL["drop"], "w/v": _DOUBTFUL["%w/v"], "w/w": _DOUBTFUL["%w/w"]}

_MINUS = "\u2212\u2010\u2011\u2013\ufe63\uff0d"
_SIGNS = str.maketrans(
    {
        **dict.fromkeys(_MINUS, "-"),
        **dict.fromkeys("\u00a0\u2009\u202f\u2007\t", " "),
        **dict.fromkeys("\u00b5\u03bc", "u"),
        **dict.fromkeys("\u02da\u00ba\u00b0", "°"),
        "\u00b2": "2",
        "\u00b3": "3",
        "\u207b": "-",
        "\u00b9": "1",
        "\u2103": "°C",
        "\u2109": "°F",
        "\u2113": "l",
        "\u2019": "'",
        "\u201d": '"',
        "\uff05": "%",
    }
)
# As text: the library keeps what it compiled, and a program that reads no amount need not wait for it.
_RAISED = r"\d[\u00b2\u00b3\u00b9\u2070-\u209f]"
_NUMBER = r"(?ai)[+-]?(?:\d{1,3}(?: \d{3})+(?!\d)|\d[\d.,]*|[.,]\d+)(?:e[+-]?\d{1,3}(?!\d))?"
_GROUPED_DOT = r"(?a)\d{1,3}(?:\.\d{3})+,\d+|\d{1,3}(?:\.\d{3}){2,}"
_GROUPED_COMMA = r"(?a)\d{1,3}(?:,\d{3})+\.\d+|\d{1,3}(?:,\d{3}){2,}"
_EITHER = r"(?a)[1-9]\d{0,2}(?:,\d{3}|\.\d00)"
"""A thousand or a decimal. With a point only where it ends in two zeros: a balance shows 16.325 g."""
_PLAIN = r"(?a)\d+(?:[.,]\d*)?|[.,]\d+"
_TO = r"(?i)\s*(?:\bto\b|\.\.\.?|…|(?<=[\w°%\"'])(?<!\de)(?<!\.e)\s*-)\s*(?=[+-]?[\d.,])"
_LONGEST = 80


def _key(unit: str) -> str:
    """A unit without what does not tell it from another."""
    bare = re.sub(r"[\s.^]|\*\*", "", unit.translate(_SIGNS)).lower()
    return re.sub(r"^(?:°|degrees?|deg)(?=[cfk]|$)", "", bare)


@cache
def _by_key(dimension: str) -> dict[str, Unit]:
    """The units of a dimension by each spelling. Made when one is asked for: there are some three hundred."""
    return {_key(spelling): unit for unit in UNITS[dimension] for spelling in (unit.shown, *unit.also)}


def parse_quantity(text: str, *meant: str, bare: str = "") -> Quantity:
    """Read ``2,5 ml``, ``70 °F`` or ``1 h 30 min`` into the base unit of its dimension.

    ``meant`` names the dimensions that make sense here, first the likeliest; none means all of UNITS.
    ``bare`` is the unit of a number typed without one; without it such a number is refused. A decimal
    comma is read as one. Raises ValueError, in a sentence that lists what can be meant, for anything else:
    another kind of unit, a unit of two meanings (fl oz), "1,000" or "1.000" (one or a thousand), a
    negative amount of anything but temperature, a temperature at or below absolute zero.
    """
    dimensions = _known(meant)
    plain = _plain(text)
    if "time" in dimensions and (seconds := _long_time(plain)) is not None:
        return Quantity(seconds, "time")
    found = re.match(_NUMBER, plain)
    if not found:
        raise ValueError(f"{_quoted(text)} does not begin with a number; {_expected(dimensions)}")
    number = _number(found.group(), text)
    unit_text = plain[found.end() :].strip()
    return _in_base(number, unit_text or bare, dimensions, text)


def parse_range(text: str, *meant: str, bare: str = "") -> QuantityRange:
    """Read ``0.3 to 1 /h`` or ``0,3-1 /h``; one amount alone gives a range of no width.

    The first number may go without its unit, which then is that of the second. Raises ValueError like
    parse_quantity, and for a range that runs backwards.
    """
    dimensions = _known(meant)
    plain = _plain(text)
    # From the second character on: a number may begin with what stands between two.
    cut = re.compile(_TO).search(plain, 1) if plain else None
    if cut is None:
        one = parse_quantity(text, *dimensions, bare=bare)
        return QuantityRange(one.value, one.value, one.dimension)
    high = parse_quantity(plain[cut.end() :], *dimensions, bare=bare)
    ending = plain[cut.end() :]
    number = re.match(_NUMBER, ending)
    unit_text = ending[number.end() :].strip() if number else ""
    low = parse_quantity(plain[: cut.start()], high.dimension, bare=unit_text or bare)
    if low.value > high.value:
        raise ValueError(f"{_quoted(text)} runs from more to less; give the smaller amount first")
    return QuantityRange(low.value, high.value, high.dimension)


def parse_number(text: str, most: float = math.inf) -> float:
    """Read a number without a unit, with point or comma as in amounts.

    Raises ValueError for what is no number, and for "1,000", which is one or one thousand; not where ``most``
    leaves one of the two, as with a pH.
    """
    plain = _plain(text)
    if not re.fullmatch(_NUMBER, plain):
        raise ValueError(f"{_quoted(text)} is not a number")
    if re.fullmatch(_EITHER, plain) and float(re.sub("[.,]", "", plain)) > most:
        plain = f"{float(plain.replace(',', '.')):g}"
    return _number(plain, text)


def units_of(*dimensions: str) -> tuple[str, ...]:
    """What can be typed for the dimensions, as shown; no dimension means all."""
    return tuple(dict.fromkeys(unit.shown for name in _known(dimensions) for unit in UNITS[name]))


def convert(value: float, dimension: str, unit: str) -> float:
    """A value in the base unit, in another unit of its dimension. Raises ValueError if there is none."""
    (name,) = _known((dimension,))
    known = _by_key(name).get(_key(unit))
    if known is None:
        raise ValueError(f"{_quoted(unit)} is no unit of {name}; {_expected((name,))}")
    return (value - known.zero) / known.factor


def _known(dimensions: tuple[str, ...]) -> tuple[str, ...]:
    for name in dimensions:
        if name not in UNITS:
            raise ValueError(f"{_quoted(name)} is no kind of amount; there are {', '.join(UNITS)}")
    return dimensions or tuple(UNITS)


def _plain(text: str) -> str:
    if len(text) > _LONGEST:
        raise ValueError(f"an amount is a number and a unit, not {len(text)} characters of text")
    if re.search(_RAISED, text):
        raise ValueError(f"{_quoted(text)} has a raised digit behind a number; write powers as 1e3")
    return re.sub(r" +", " ", text.translate(_SIGNS)).strip()


def _number(typed: str, text: str) -> float:
    """The number, with a decimal point or comma and with groups of three where that leaves no doubt."""
    sign = -1.0 if typed.startswith("-") else 1.0
    body, _, exponent = typed.lstrip("+-").lower().partition("e")
    body = body.replace(" ", "")
    if re.fullmatch(_EITHER, body):
        whole, point = re.sub("[.,]", "", body), body.replace(",", ".")
        how = "it without a comma" if "," in body else f"{whole} or {float(point):g}"
        raise ValueError(f"{_quoted(text)} can be read as {whole} or as {point}; write {how}")
    if re.fullmatch(_GROUPED_DOT, body):
        body = body.replace(".", "").replace(",", ".")
    elif re.fullmatch(_GROUPED_COMMA, body):
        body = body.replace(",", "")
    elif not re.fullmatch(_PLAIN, body):
        raise ValueError(f"{_quoted(text)} does not begin with a number that can be read")
    value = sign * float(body.replace(",", ".") + (f"e{exponent}" if exponent else ""))
    if not math.isfinite(value):
        raise ValueError(f"{_quoted(text)} is too large a number")
    return value


def _in_base(number: float, unit_text: str, dimensions: tuple[str, ...], text: str) -> Quantity:
    if not unit_text:
        raise ValueError(f"{_quoted(text)} has no unit; {_expected(dimensions)}")
    key = _key(unit_text)
    for name in dimensions:
        unit = _by_key(name).get(key)
        if unit is not None:
            return _checked(number * unit.factor + unit.zero, name, text)
    if key in _DOUBTFUL:
        raise ValueError(f"{_quoted(text)}: {_DOUBTFUL[key]}")
    other = next((name for name in UNITS if key in _by_key(name)), None)
    kind = f"is an amount of {other}" if other else "has a unit that is not known here"
    raise ValueError(f"{_quoted(text)} {kind}; {_expected(dimensions)}")


def _checked(value: float, dimension: str, text: str) -> Quantity:
    if not math.isfinite(value):
        raise ValueError(f"{_quoted(text)} is too large an amount")
    if dimension == "temperature":
        if value <= -273.15:
            raise ValueError(f"{_quoted(text)} is at or below absolute zero, -273.15 °C")
    elif value < 0:
        raise ValueError(f"{_quoted(text)} is below zero, and {dimension} cannot be")
    return Quantity(value + 0.0, dimension)


def _long_time(plain: str) -> float | None:
    """Seconds of a time in two or three units - 1 h 30 min, 1h30, 1:30, 1:02:03; None for any other text.

    1:30 is a minute and a half, as a stopwatch shows it, whatever the unit of a bare number is.
    """
    if watch := re.fullmatch(r"(?:(\d{1,4}):(?=\d+:))?(\d{1,4}):([0-5]?\d(?:[.,]\d+)?)", plain, re.ASCII):
        hours, minutes, seconds = (float((part or "0").replace(",", ".")) for part in watch.groups())
        return 3600 * hours + 60 * minutes + seconds if minutes < 60 or not watch[1] else None
    found = re.fullmatch(
        r"(\d{1,4}) ?h(?:ours?|rs?)? ?(?:(\d{1,2}) ?(?:m(?:in(?:ute)?s?)?)?)?"
        r" ?(?:(\d{1,2}) ?s(?:ec(?:ond)?s?)?)?"
        r"|(\d{1,4}) ?m(?:in(?:ute)?s?)? ?(\d{1,2}) ?s(?:ec(?:ond)?s?)?",
        plain,
        re.ASCII | re.IGNORECASE,
    )
    if not found:
        return None
    hours, minutes, seconds, only_minutes, only_seconds = (float(part or 0) for part in found.groups())
    return 3600 * hours + 60 * (minutes + only_minutes) + seconds + only_seconds


def _expected(dimensions: tuple[str, ...]) -> str:
    if len(dimensions) == len(UNITS):
        return f"expected a number and a unit, for {', '.join(UNITS)}"
    return f"expected a number and one of {', '.join(units_of(*dimensions))}"


def _quoted(text: str) -> str:
    return repr(text if len(text) <= _LONGEST else text[:_LONGEST] + "…")
