"""Growth curves as one SVG with log-log axes. Dashes, markers and labels tell the lines apart too."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from html import escape
from typing import NamedTuple

from scripts.bench_parts.measure import Curve, Spread

PLOT_W, PLOT_H = 330.0, 240.0
LEFT, RIGHT, TOP, BOTTOM = 70.0, 185.0, 40.0, 56.0
PANEL_W, PANEL_H = LEFT + PLOT_W + RIGHT, TOP + PLOT_H + BOTTOM
COLUMNS = 2
LINE_H = 16.0
"""Least distance of two labels."""
LEAST_WHISKER = 4.0
"""Shorter spreads hide behind their marker."""
DASHES = ("none", "9 4", "2 4", "12 4 2 4")
MARKERS = (
    "M-4 0a4 4 0 1 0 8 0a4 4 0 1 0 -8 0z",
    "M-3.6 -3.6h7.2v7.2h-7.2z",
    "M0 -4.8L4.6 3.4H-4.6z",
    "M0 -5L5 0L0 5L-5 0z",
)
STYLE = """
text { font: 12px system-ui, sans-serif; fill: #1c1c1c }
.title { font-weight: 600; font-size: 13px }
.ground { fill: #ffffff }
.grid { stroke: #d4d4d4; stroke-width: 1; fill: none }
.axis { stroke: #555555; stroke-width: 1; fill: none }
.line { stroke-width: 2; fill: none }
.leader { stroke-width: 1; fill: none }
.c0 { stroke: #0b5fa5 } .c1 { stroke: #b3421b } .c2 { stroke: #2b7a3d } .c3 { stroke: #7a3d94 }
.marker { stroke-width: 1.5; fill: #ffffff }
@media (prefers-color-scheme: dark) {
text { fill: #e8e8e8 }
.ground, .marker { fill: #16181c }
.grid { stroke: #3a3d44 }
.axis { stroke: #a5a5a5 }
.c0 { stroke: #6cb4f5 } .c1 { stroke: #f59b73 } .c2 { stroke: #7fd394 } .c3 { stroke: #cf9cec }
}
"""


class _Axes(NamedTuple):
    """Powers of ten at the ends of both axes."""

    x_low: int
    x_high: int
    y_low: int
    y_high: int

    def x(self, value: float) -> float:
        return LEFT + PLOT_W * (math.log10(value) - self.x_low) / (self.x_high - self.x_low)

    def y(self, value: float) -> float:
        return TOP + PLOT_H * (self.y_high - math.log10(value)) / (self.y_high - self.y_low)


def chart(curves: Sequence[Curve]) -> str:
    """All curves, one drawing for each of their panels. Needs no script, font or other file."""
    panels = list(dict.fromkeys(one.panel for one in curves))
    rows = math.ceil(len(panels) / COLUMNS)
    wide, high = PANEL_W * min(COLUMNS, len(panels)), PANEL_H * rows
    body = []
    for number, panel in enumerate(panels):
        x, y = PANEL_W * (number % COLUMNS), PANEL_H * (number // COLUMNS)
        body.append(f'<g transform="translate({x:.0f} {y:.0f})">')
        body += _panel(panel, [one for one in curves if one.panel == panel])
        body.append("</g>")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.0f} {high:.0f}" '
        f'width="{wide:.0f}" height="{high:.0f}" role="img">\n'
        f"<title>How costs grow with the number of tests in the book</title>\n<style>{STYLE}</style>\n"
        f'<rect class="ground" width="100%" height="100%"/>\n' + "\n".join(body) + "\n</svg>\n"
    )


def _panel(title: str, curves: Sequence[Curve]) -> Iterator[str]:
    axes, unit = _axes(curves), curves[0].unit
    yield f'<text class="title" x="{LEFT:.0f}" y="20">{escape(title)} ({_axis_words(unit)})</text>'
    yield from _grid(axes, unit)
    ends = []
    for number, curve in enumerate(curves):
        yield from _line(axes, curve, number)
        length, last = max(curve.points.items())
        ends.append((axes.y(last.middle), axes.x(length), number, curve.name))
    yield from _labels(ends)


def _axes(curves: Sequence[Curve]) -> _Axes:
    lengths = [length for curve in curves for length in curve.points]
    values = [one.middle for curve in curves for one in curve.points.values()]
    x_low, x_high = math.floor(math.log10(min(lengths))), math.ceil(math.log10(max(lengths)))
    y_low, y_high = math.floor(math.log10(min(values))), math.ceil(math.log10(max(values)))
    return _Axes(x_low, max(x_high, x_low + 1), y_low, max(y_high, y_low + 1))


def _grid(axes: _Axes, unit: str) -> Iterator[str]:
    bottom, right = TOP + PLOT_H, LEFT + PLOT_W
    for power in range(axes.y_low, axes.y_high + 1):
        y = axes.y(10.0**power)
        yield f'<path class="grid" d="M{LEFT:.0f} {y:.1f}H{right:.0f}"/>'
        yield f'<text x="{LEFT - 8:.0f}" y="{y + 4:.1f}" text-anchor="end">{tick(power, unit)}</text>'
    for power in range(axes.x_low, axes.x_high + 1):
        x = axes.x(10.0**power)
        yield f'<path class="grid" d="M{x:.1f} {TOP:.0f}V{bottom:.0f}"/>'
        yield f'<text x="{x:.1f}" y="{bottom + 18:.0f}" text-anchor="middle">{10**power:,}</text>'
    yield f'<path class="axis" d="M{LEFT:.0f} {TOP:.0f}V{bottom:.0f}H{right:.0f}"/>'
    middle = LEFT + PLOT_W / 2
    yield f'<text x="{middle:.0f}" y="{bottom + 38:.0f}" text-anchor="middle">own tests in the book</text>'


def _line(axes: _Axes, curve: Curve, number: int) -> Iterator[str]:
    colour = f"c{number % len(DASHES)}"
    places = [(axes.x(length), one) for length, one in sorted(curve.points.items())]
    points = " ".join(f"{x:.1f},{axes.y(one.middle):.1f}" for x, one in places)
    dash = DASHES[number % len(DASHES)]
    yield f'<polyline class="line {colour}" stroke-dasharray="{dash}" points="{points}"/>'
    for x, one in places:
        yield from _whisker(axes, x, one, colour)
        shape = MARKERS[number % len(MARKERS)]
        place = f"translate({x:.1f} {axes.y(one.middle):.1f})"
        yield f'<path class="marker {colour}" transform="{place}" d="{shape}"/>'


def _whisker(axes: _Axes, x: float, one: Spread, colour: str) -> Iterator[str]:
    """The quartiles, where they can be seen."""
    low, high = (min(max(axes.y(value), TOP), TOP + PLOT_H) for value in (one.low, one.high))
    if low - high >= LEAST_WHISKER:
        yield f'<path class="leader {colour}" d="M{x:.1f} {low:.1f}V{high:.1f}"/>'


def _labels(ends: Sequence[tuple[float, float, int, str]]) -> Iterator[str]:
    """Names at the ends of the lines, moved apart where they would touch, each tied to its end."""
    ordered = sorted(ends)
    places = spaced([end[0] for end in ordered], TOP + 4, TOP + PLOT_H)
    for place, (y, x, number, name) in zip(places, ordered, strict=True):
        edge = LEFT + PLOT_W + 16
        way = f"M{x + 6:.1f} {y:.1f}L{edge:.1f} {place:.1f}"
        yield f'<path class="leader c{number % len(DASHES)}" d="{way}"/>'
        yield f'<text x="{edge + 4:.0f}" y="{place + 4:.1f}">{escape(name)}</text>'


def spaced(wanted: Sequence[float], low: float, high: float) -> list[float]:
    """Rising places at least LINE_H apart, near the wanted rising ones, within the limits if they fit."""
    places: list[float] = []
    for one in wanted:
        places.append(max(one, places[-1] + LINE_H if places else low))
    limit = high
    for number in range(len(places) - 1, -1, -1):
        places[number] = min(places[number], limit)
        limit = places[number] - LINE_H
    return places


def _axis_words(unit: str) -> str:
    return {"s": "time", "B": "bytes"}[unit]


def tick(power: int, unit: str) -> str:
    """A power of ten seconds or bytes with its unit."""
    names = {-9: "ns", -6: "µs", -3: "ms", 0: "s"} if unit == "s" else {0: "B", 3: "kB", 6: "MB", 9: "GB"}
    step = max(name for name in names if name <= max(power, min(names)))
    return f"{10 ** (power - step):,} {names[step]}"
