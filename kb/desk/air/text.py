"""The course of a vapour as a plot of plain characters, readable without colour."""

from __future__ import annotations

from collections.abc import Sequence

from kb.desk.air.answer import AirPoint, plain

NEAR, ROOM, BOTH = "#", "=", "%"
LEGEND = (
    f"{NEAR} near the work, low to high   {ROOM} room, low to high   {BOTH} both",
    "mg/m3; each column is the mean since the one before",
)
_MARGIN = 9


def plot(series: Sequence[AirPoint], columns: int = 72, rows: int = 12) -> tuple[str, ...]:
    """Lines of text: ranges of both models over time, an axis with figures, and the legend.

    Empty if there is nothing in the air. At least 30 columns and 4 rows are used.
    """
    columns, rows = max(columns, 30), max(rows, 4)
    top = max((point.near_high for point in series), default=0.0)
    top = max([top, *(point.room_high for point in series)])
    if not series or top <= 0:
        return ()
    wide = columns - _MARGIN - 1
    drawn = [series[min(len(series) * column // wide, len(series) - 1)] for column in range(wide)]
    lines = []
    for row in range(rows):
        high, low = top * (rows - row) / rows, top * (rows - row - 1) / rows
        label = plain(high) if row % 3 == 0 else ""
        lines.append(
            f"{label:>{_MARGIN - 1}} |" + "".join(_mark(point, low, high) for point in drawn).rstrip()
        )
    lines.append(f"{'0':>{_MARGIN - 1}} +" + "-" * wide)
    hours = series[-1].minute / 60.0
    start, end = "0 h", f"{plain(hours)} h"
    lines.append(" " * (_MARGIN + 1) + start + end.rjust(wide - len(start)))
    return (*lines, *LEGEND)


def _mark(point: AirPoint, low: float, high: float) -> str:
    near = point.near_low < high and point.near_high > low
    room = point.room_low < high and point.room_high > low
    return BOTH if near and room else NEAR if near else ROOM if room else " "
