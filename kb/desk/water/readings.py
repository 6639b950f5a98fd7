"""Readings of the water a sheet lies in: written down, corrected, drawn over the baths, and when to stop."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import msgspec

from kb.book.kinds.bath_reading import BathReading
from kb.desk.materials.measured import value_of
from kb.desk.records.record import Written, record_named, write
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept
from kb.model.question import Plain

if TYPE_CHECKING:
    from kb.desk.canvas import Canvas

SLIP = 5.0
"""Times less conductive within one bath: more than a meter or warmth explains. This project's own figure."""
Stop = Literal["no readings", "cannot tell", "go on", "change the water", "stop"]
TEMPERATURE_MATTERS_C = 5.0
"""Readings that differ by more than this in temperature are not compared without saying so (project)."""


class ReadingView(Plain, frozen=True, kw_only=True):
    id: str
    at: str
    who: str
    amended: bool
    reading: BathReading


class StopRule(Plain, frozen=True, kw_only=True):
    """Whether to go on washing, from the last two readings of a sheet."""

    verdict: Stop
    text: str
    compared: tuple[str, ...]
    """What was read both times."""
    changed: tuple[str, ...]


def add_reading(studio: Studio, reading: BathReading) -> Written:
    """Write down a reading; returns only after it is on disk. Raises DeskError for figures that cannot be."""
    return write(studio, "reading", reading)


def reading_id(studio: Studio, text: str) -> str:
    """The one reading whose id begins with what was typed."""
    return record_named(studio, "reading", text, "reading", "the list of readings shows them")


def all_readings(studio: Studio, sheet: str = "") -> list[ReadingView]:
    """Readings that were not withdrawn, by sheet and bath, in the order they were written down."""
    return [
        ReadingView.taken_from(row, amended=row.state == 1, reading=row.body)
        for row in in_order(kept(studio.index.conn, "reading", sheet.strip()))
    ]


def in_order(rows: list[KeptRow]) -> list[KeptRow]:
    """Readings by sheet and bath, then in the order of writing."""
    return sorted(rows, key=lambda row: (row.body.sheet, row.body.bath, row.id))


def stop_rule(studio: Studio, sheet: str, *new: BathReading) -> StopRule:
    """No further change between two readings means: change the water, or stop. ``new`` is not stored yet.

    Two readings of one bath that agree say that this water takes up no more. The last readings of two baths
    that agree say that fresh water changes nothing either: stop.
    """
    stored = in_order(kept(studio.index.conn, "reading", sheet.strip())) if sheet.strip() else []
    found = sorted([*(row.body for row in stored), *new], key=lambda one: one.bath)
    if len(found) < 2:
        text = "There are fewer than two readings of this sheet: read pH, conductivity and colour again."
        return StopRule(verdict="no readings", text=text, compared=(), changed=())
    last = found[-1]
    same_bath = [one for one in found[:-1] if one.bath == last.bath]
    earlier = [one for one in found[:-1] if one.bath < last.bath]
    # Against the bath just before: a bath that was not read in between may have changed anything.
    if earlier and earlier[-1].bath == last.bath - 1 and not _first_of_bath(same_bath, last):
        between = _compare(studio, earlier[-1], last)
        if between.verdict == "change the water":
            text = (
                f"Bath {last.bath} ended as bath {last.bath - 1} did: fresh water changes nothing more. Stop."
            )
            if last.minutes is None and not same_bath:
                text += " (The time in it was not written down; its reading is taken as its last.)"
            return msgspec.structs.replace(between, verdict="stop", text=text)
    if same_bath:
        return _compare(studio, same_bath[-1], last)
    text = f"Bath {last.bath} has one reading only: read it again before the sheet comes out."
    return StopRule(verdict="cannot tell", text=text, compared=(), changed=())


def _first_of_bath(same_bath: list[BathReading], last: BathReading) -> bool:
    """Whether the last reading was taken as the sheet went in: that says nothing of this bath yet."""
    return not same_bath and last.minutes == 0


def _compare(studio: Studio, before: BathReading, after: BathReading) -> StopRule:
    compared, changed = [], []
    within = value_of(studio, "wash-steady-ph")
    if before.ph is not None and after.ph is not None:
        compared.append("pH")
        if abs(after.ph - before.ph) > within + 1e-9:
            changed.append(f"pH {before.ph:g} to {after.ph:g}")
    share = value_of(studio, "wash-steady-conductivity") / 100.0
    if before.conductivity_us_cm is not None and after.conductivity_us_cm is not None:
        compared.append("conductivity")
        larger = max(before.conductivity_us_cm, after.conductivity_us_cm)
        if abs(after.conductivity_us_cm - before.conductivity_us_cm) > share * larger + 1e-9:
            changed.append(
                f"conductivity {before.conductivity_us_cm:g} to {after.conductivity_us_cm:g} µS/cm"
            )
    if before.colour and after.colour:
        compared.append("colour")
        if before.colour.casefold().strip() != after.colour.casefold().strip():
            changed.append(f"colour {before.colour} to {after.colour}")
    return _said(before, after, tuple(compared), tuple(changed))


def _slip(before: BathReading, after: BathReading) -> bool:
    """Whether conductivity falls further in one bath than a bath can: only fresh water takes salts away."""
    ends = (before.conductivity_us_cm, after.conductivity_us_cm)
    same = before.bath == after.bath
    if not same or ends[0] is None or ends[1] is None:
        return False
    # Nothing at all, after something, is the clearest slip; below one a meter tells nothing apart.
    return ends[0] > SLIP * max(ends[1], 1.0)


def _said(
    before: BathReading, after: BathReading, compared: tuple[str, ...], changed: tuple[str, ...]
) -> StopRule:
    if not compared:
        text = "The two readings have nothing in common: read the same things again."
        return StopRule(verdict="cannot tell", text=text, compared=compared, changed=changed)
    warm = (
        before.temperature_c is not None
        and after.temperature_c is not None
        and abs(after.temperature_c - before.temperature_c) > TEMPERATURE_MATTERS_C
    )
    mind = " The water was not equally warm, which shifts pH and conductivity by itself." if warm else ""
    if _slip(before, after):
        text = (
            f"One of the two readings is doubtful, a slip of meter or pen: {'; '.join(changed)} in one bath. "
            "Read again, and withdraw the wrong one."
        )
        return StopRule(verdict="cannot tell", text=text, compared=compared, changed=changed)
    if changed:
        text = f"Still changing: {'; '.join(changed)}.{mind}"
        return StopRule(verdict="go on", text=text, compared=compared, changed=changed)
    what = ", ".join(compared)
    text = f"No change of {what}: this water takes up no more. Change it, or lift the sheet.{mind}"
    return StopRule(verdict="change the water", text=text, compared=compared, changed=changed)


READ = "read"
"""Layer of the readings."""


def over_baths(readings: Sequence[ReadingView], columns: int, rows: int) -> Canvas | None:
    """Bath after bath along one axis of minutes in the water; None with fewer than two figures.

    A bath without a time stands one minute after the reading before it: its order is known, its place not.
    """
    # Stopping rules are asked for by plans and commands, which draw nothing.
    from kb.desk.canvas import Axis, Course, curve

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
