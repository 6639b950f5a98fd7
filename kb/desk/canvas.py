"""A drawing in terminal cells: eight braille dots a cell, and words over them. No colour and no library.

Each dot and word belongs to a layer, a name of the caller's: a screen gives it a colour, and a pipe none.

Gauges and curves in terminal cells, for screens and for the command line. No colour and no library.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

ACROSS, DOWN = 2, 4
"""Dots of a cell. A terminal cell is about twice as high as wide, so the dots lie on a square grid."""
BLANK = 0x2800
"""The first of the 256 braille patterns of Unicode; its lowest eight bits are the dots."""
_BITS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))

Dot = tuple[int, int]
"""Column and row of a dot, from 0 at the upper left."""


class Canvas:
    """``columns`` x ``rows`` cells. What lies outside is not drawn; words cover dots."""

    def __init__(self, columns: int, rows: int) -> None:
        self.columns, self.rows = columns, rows
        self._dots: dict[Dot, int] = {}
        self._signs: dict[Dot, str] = {}
        self._layers: dict[Dot, str] = {}

    def dots(self, dots: Iterable[Dot], layer: str) -> None:
        """Set dots. A cell that two layers share takes the colour of the later one."""
        for x, y in dots:
            cell = x // ACROSS, y // DOWN
            if 0 <= cell[0] < self.columns and 0 <= cell[1] < self.rows:
                self._dots[cell] = self._dots.get(cell, 0) | _BITS[x % ACROSS][y % DOWN]
                self._layers[cell] = layer

    def write(self, column: int, row: int, text: str, layer: str) -> None:
        """Write characters of one cell each, over whatever dots there are."""
        for at, sign in enumerate(text):
            cell = column + at, row
            if 0 <= cell[0] < self.columns and 0 <= row < self.rows:
                self._signs[cell], self._layers[cell] = sign, layer

    def lines(self) -> tuple[str, ...]:
        """The drawing as plain text, each line as wide as the canvas."""
        return tuple("".join(text for text, _ in row) for row in self.runs())

    def runs(self) -> tuple[tuple[tuple[str, str], ...], ...]:
        """For each row pieces of one layer: text and layer ("" where nothing is)."""
        return tuple(tuple(_joined(self._row(row))) for row in range(self.rows))

    def _row(self, row: int) -> Iterable[tuple[str, str]]:
        for column in range(self.columns):
            cell = column, row
            bits = self._dots.get(cell)
            yield self._signs.get(cell) or (chr(BLANK + bits) if bits else " "), self._layers.get(cell, "")


def _joined(pieces: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for text, layer in pieces:
        if found and found[-1][1] == layer:
            found[-1] = (found[-1][0] + text, layer)
        else:
            found.append((text, layer))
    return found


def filled(edge: Sequence[Dot], every: int = 4) -> list[Dot]:
    """A sparse pattern of dots within a closed convex edge: one in ``every`` across and half as many down."""
    ends: dict[int, tuple[int, int]] = {}
    for x, y in edge:
        low, high = ends.get(y, (x, x))
        ends[y] = min(low, x), max(high, x)
    step = max(every // 2, 1)
    return [
        (x, y)
        for y, (low, high) in ends.items()
        if y % step == 0
        # Every second row is moved by half a step, so that a fill looks even and no edge is mistaken for it.
        for x in range(low, high + 1)
        if (x + (step if (y // step) % 2 else 0)) % every == 0
    ]


SOLID, RANGE, REST, LIMIT, AXIS = "solid", "range", "rest", "limit", "axis"
"""Layers of gauges and curves, for a screen to colour."""
Run = tuple[str, str]
"""Text, and the layer that it belongs to."""
ROOM = 1.25
"""How far a gauge goes past its limit, as a share of it, so that going over can be seen."""
FARTHEST = 4.0
"""What lies farther out than so many times the limit ends in an arrow."""


class Axis(NamedTuple):
    """From where to where an axis runs, with the words at both ends."""

    low: float
    high: float
    first: str = ""
    last: str = ""


class Course(NamedTuple):
    """One line of a curve: its points in the units of both axes, in order of the first."""

    layer: str
    points: Sequence[tuple[float, float]]


def gauge(low: float, high: float, width: int, limit: float | None = 1.0) -> tuple[Run, ...]:
    """A bar ``width`` cells wide from nothing to ``high``: certain up to ``low``, light from there.

    Without a limit the bar runs from 0 to 1. With one there is room beyond it, and a mark where it lies;
    the shapes alone tell the parts apart, where there is no colour.
    """
    top = 1.0 if limit is None else min(max(high * 1.05, limit * ROOM), limit * FARTHEST)
    ends = [min(width, max(0, round(width * value / top))) for value in (low, high)]
    signs = ["━"] * ends[0] + ["╍"] * (ends[1] - ends[0]) + ["─"] * (width - ends[1])
    layers = [SOLID] * ends[0] + [RANGE] * (ends[1] - ends[0]) + [REST] * (width - ends[1])
    if limit is not None:
        at = min(width - 1, round(width * limit / top))
        signs[at], layers[at] = "┃", LIMIT
    if high > top and width:
        signs[-1], layers[-1] = "▶", SOLID
    return tuple(_joined(zip(signs, layers, strict=True)))


def curve(courses: Sequence[Course], across: Axis, up: Axis, columns: int, rows: int) -> Canvas:
    """Lines over an axis, drawn in dots. The words of the axes stand outside."""
    margin = max(len(up.first), len(up.last)) + 1
    canvas = Canvas(columns, rows)
    wide, high = max(columns - margin, 2) * ACROSS, max(rows - 1, 2) * DOWN

    def dot(x: float, y: float) -> Dot:
        part_x = (x - across.low) / (across.high - across.low or 1.0)
        part_y = (y - up.low) / (up.high - up.low or 1.0)
        return margin * ACROSS + round(part_x * (wide - 1)), round((1.0 - part_y) * (high - 1))

    canvas.dots(((margin * ACROSS - 1, y) for y in range(high)), AXIS)
    canvas.dots(((x, high - 1) for x in range(margin * ACROSS, margin * ACROSS + wide, 2)), AXIS)
    for course in courses:
        drawn = [dot(x, y) for x, y in course.points if math.isfinite(y)]
        # What lies outside the axis would come down on other rows; the canvas leaves it out.
        canvas.dots(
            (one for one in _line(drawn) if one[0] >= margin * ACROSS and one[1] < high), course.layer
        )
    canvas.write(margin - 1 - len(up.last), 0, up.last, AXIS)
    canvas.write(margin - 1 - len(up.first), rows - 2, up.first, AXIS)
    canvas.write(margin, rows - 1, across.first, AXIS)
    canvas.write(columns - len(across.last), rows - 1, across.last, AXIS)
    return canvas


def _line(ends: Sequence[Dot]) -> list[Dot]:
    """Dots from each point to the next."""
    found = [*ends[:1]]
    for (x0, y0), (x1, y1) in pairwise(ends):
        steps = max(abs(x1 - x0), abs(y1 - y0), 1)
        found += [
            (round(x0 + (x1 - x0) * n / steps), round(y0 + (y1 - y0) * n / steps))
            for n in range(1, steps + 1)
        ]
    return found
