"""Gauges and curves in terminal cells, for screens and for the command line. No colour and no library."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from kb.desk.canvas import ACROSS, DOWN, Canvas, Dot

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
    return _joined(signs, layers)


def _joined(signs: Sequence[str], layers: Sequence[str]) -> tuple[Run, ...]:
    runs: list[Run] = []
    for sign, layer in zip(signs, layers, strict=True):
        if runs and runs[-1][1] == layer:
            runs[-1] = runs[-1][0] + sign, layer
        else:
            runs.append((sign, layer))
    return tuple(runs)


def curve(
    courses: Sequence[Course],
    across: Axis,
    up: Axis,
    columns: int,
    rows: int,
    level: float | None = None,
) -> Canvas:
    """Lines over an axis, drawn in dots; ``level`` is dotted across. The words of the axes stand outside."""
    margin = max(len(up.first), len(up.last)) + 1
    canvas = Canvas(columns, rows)
    wide, high = max(columns - margin, 2) * ACROSS, max(rows - 1, 2) * DOWN

    def dot(x: float, y: float) -> Dot:
        part_x = (x - across.low) / (across.high - across.low or 1.0)
        part_y = (y - up.low) / (up.high - up.low or 1.0)
        return margin * ACROSS + round(part_x * (wide - 1)), round((1.0 - part_y) * (high - 1))

    canvas.dots(((margin * ACROSS - 1, y) for y in range(high)), AXIS)
    canvas.dots(((x, high - 1) for x in range(margin * ACROSS, margin * ACROSS + wide, 2)), AXIS)
    if level is not None and up.low <= level <= up.high:
        canvas.dots(((x, dot(across.low, level)[1]) for x in range(margin * ACROSS, columns * 2, 4)), LIMIT)
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
