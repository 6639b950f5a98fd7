"""Colour of papers and infills in CIELAB, and how far two readings lie apart.

Readings of different instruments or geometries do not compare; say which was used.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from kb.science.cited import Span

UNSEEN_BELOW = Span(0.0, 1.0, "memory", False, "most people see no difference side by side")
SEEN_FROM = Span(2.0, 3.0, "memory", False, "visible side by side")
NEAR_TO = 5.0
"""Up to here two papers are called near; this project's own."""
HALF_TURN = 180.0 + 1e-9
"""Exactly opposite hues count as half a turn on every machine, whatever its last digit says."""
POW7_25 = 25.0**7


class Lab(NamedTuple):
    """A reading in CIELAB: lightness 0-100, red-green, yellow-blue."""

    lightness: float
    a: float
    b: float


def chroma(colour: Lab) -> float:
    """Distance from grey."""
    return math.hypot(colour.a, colour.b)


def hue_deg(colour: Lab) -> float:
    """Hue angle 0 up to 360 degrees; 0 for grey."""
    return math.degrees(math.atan2(colour.b, colour.a)) % 360.0


def delta_e_2000(first: Lab, second: Lab) -> float:
    """Colour difference CIEDE2000, all weights 1; the same in both directions.

    Source of the formula and its special cases: Sharma G., Wu W., Dalal E.N. (2005), Color Res. Appl. 30,
    21-30 (formula from memory, results checked against the pairs printed there). Raises ValueError for
    readings that are not numbers.
    """
    if not all(map(math.isfinite, (*first, *second))):
        raise ValueError(f"colours must be numbers: {first}, {second}")
    a1, a2 = _stretched_a(first, second)
    c1, c2 = math.hypot(a1, first.b), math.hypot(a2, second.b)
    h1, h2 = hue_deg(Lab(0.0, a1, first.b)), hue_deg(Lab(0.0, a2, second.b))
    coloured = c1 * c2 > 0.0
    turn = _turn(h1, h2) if coloured else 0.0
    d_lightness = second.lightness - first.lightness
    d_chroma = c2 - c1
    d_hue = 2.0 * math.sqrt(c1 * c2) * math.sin(math.radians(turn) / 2.0)
    mean_c = (c1 + c2) / 2.0
    mean_h = _mean_hue(h1, h2) if coloured else h1 + h2
    s_l, s_c, s_h, coupled = weighing(math, (first.lightness + second.lightness) / 2.0, mean_c, mean_h)
    lightness, saturation, hue = d_lightness / s_l, d_chroma / s_c, d_hue / s_h
    square = lightness**2 + saturation**2 + hue**2 + coupled * saturation * hue
    return math.sqrt(max(square, 0.0))


def _stretched_a(first: Lab, second: Lab) -> tuple[float, float]:
    """The red-green axis, stretched near grey."""
    mean7 = ((chroma(first) + chroma(second)) / 2.0) ** 7
    stretch = 1.0 + 0.5 * (1.0 - math.sqrt(mean7 / (mean7 + POW7_25)))
    return first.a * stretch, second.a * stretch


def _turn(h1: float, h2: float) -> float:
    """From one hue to the other the short way, degrees."""
    turn = h2 - h1
    if abs(turn) <= HALF_TURN:
        return turn
    return turn - 360.0 if turn > 0 else turn + 360.0


def _mean_hue(h1: float, h2: float) -> float:
    """The hue between two, on the short side of the circle."""
    if abs(h1 - h2) <= HALF_TURN:
        return (h1 + h2) / 2.0
    return (h1 + h2 + (360.0 if h1 + h2 < 360.0 else -360.0)) / 2.0


def weighing(m: Any, lightness: Any, mean_c: Any, mean_h: Any) -> tuple[Any, Any, Any, Any]:
    """Of CIEDE2000 the scales of lightness, chroma and hue, and what couples chroma and hue among blues.

    ``m`` is math for single readings and numpy for pictures; the means are numbers or arrays accordingly.
    """
    from_middle = (lightness - 50.0) ** 2
    wave = (
        1.0
        - 0.17 * m.cos(m.radians(mean_h - 30.0))
        + 0.24 * m.cos(m.radians(2.0 * mean_h))
        + 0.32 * m.cos(m.radians(3.0 * mean_h + 6.0))
        - 0.20 * m.cos(m.radians(4.0 * mean_h - 63.0))
    )
    angle, mean7 = 30.0 * m.exp(-(((mean_h - 275.0) / 25.0) ** 2)), mean_c**7
    return (
        1.0 + 0.015 * from_middle / m.sqrt(20.0 + from_middle),
        1.0 + 0.045 * mean_c,
        1.0 + 0.015 * mean_c * wave,
        -2.0 * m.sqrt(mean7 / (mean7 + POW7_25)) * m.sin(m.radians(2.0 * angle)),
    )


def difference_in_words(delta: float) -> str:
    """What a CIEDE2000 difference means beside a sheet; thresholds from memory, the last is the project's."""
    if delta < UNSEEN_BELOW.high:
        return "not seen side by side by most people"
    if delta < SEEN_FROM.low:
        return "at the edge of being seen"
    return "seen side by side" if delta <= NEAR_TO else "seen at once"
