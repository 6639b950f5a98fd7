"""Conductivity over the baths of a sheet as a drawing: falling within each bath, lower from bath to bath."""

from __future__ import annotations

from collections.abc import Sequence

from kb.desk.canvas import Axis, Canvas, Course, curve
from kb.desk.water.readings import ReadingView

READ = "read"
"""Layer of the readings."""


def over_baths(readings: Sequence[ReadingView], columns: int, rows: int) -> Canvas | None:
    """Bath after bath along one axis of minutes in the water; None with fewer than two figures.

    A bath without a time stands one minute after the reading before it: its order is known, its place not.
    """
    points: dict[int, list[tuple[float, float]]] = {}
    start, now, bath = 0.0, 0.0, None
    # In the order of the baths; within one as they were written down.
    for one in sorted(readings, key=lambda each: each.reading.bath):
        read = one.reading
        if read.bath != bath:
            start, bath = now, read.bath
        # Never backwards: a reading noted late must not lie before the one noted early.
        now = max(now, start + read.minutes if read.minutes is not None else now + 1.0)
        if read.conductivity_us_cm is not None:
            points.setdefault(read.bath, []).append((now, read.conductivity_us_cm))
    figures = [y for bath_points in points.values() for _, y in bath_points]
    # One figure is no course.
    if len(figures) < 2:
        return None
    # At least one, or a scale of nothing would divide by zero.
    top = max(*figures, 1.0)
    return curve(
        [Course(READ, bath_points) for bath_points in points.values()],
        Axis(0.0, max(now, 1.0), "0", f"{now:g} min in water"),
        Axis(0.0, top, "0", f"{top:g} µS/cm"),
        columns,
        rows,
    )
