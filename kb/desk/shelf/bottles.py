"""Bottles on the shelf: opened, tested, used up, and what is due."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Literal

from kb.book.kinds.bottle import Bottle
from kb.desk.errors import DeskError, Unclear, the_one
from kb.desk.records.record import Written, note_on, write
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from kb.index.kept_rows import KeptRow, kept
from kb.index.queries import ids_starting
from kb.model.liquid import base_code
from kb.model.question import Plain

PEROXIDES = "EUH019"
"""The statement by which a liquid counts as a peroxide former here. Others form them more slowly."""
PRACTICE = "common practice, no source"
What = Literal["expired", "expires soon", "peroxide test", "undated"]
_DATE = r"(?a)\d{4}(?:-\d\d){0,2}"
_ORDER = {"peroxide test": 0, "expired": 1, "undated": 2, "expires soon": 3}


class BottleView(Plain, frozen=True, kw_only=True):
    """A bottle as it stands. Dates are as they were written down; empty means not known."""

    id: str
    liquid: str
    name: str
    label: str
    opened: str
    expires: str
    peroxide_tested: str
    peroxide_result: str
    finished: str
    lot: str
    grade: str
    remarks: str
    at: str
    who: str
    forms_peroxides: bool


class Due(Plain, frozen=True, kw_only=True):
    """One thing to do about one bottle. ``days`` is how long it is overdue, below 0 if still to come."""

    bottle: str
    liquid: str
    name: str
    label: str
    what: What
    date: str
    days: int | None
    text: str
    mark: str
    """A word for what the rule rests on; empty where it is the date on the bottle."""


def open_bottle(studio: Studio, bottle: Bottle, today: date) -> Written:
    """Write down a bottle; raises DeskError for days that lie ahead."""
    for field in ("opened", "peroxide_tested", "finished"):
        not_ahead(getattr(bottle, field), field, today)
    return write(studio, "bottle", bottle)


def peroxide_tested(studio: Studio, bottle_id: str, *, on: str, result: str, today: date) -> Written:
    """Write down a test for peroxides. An earlier one stays in the book."""
    if not result.strip():
        raise DeskError('Say what the test showed, for instance "below 1 mg/l".')
    not_ahead(on, "tested", today)
    changes = {"peroxide_tested": on, "peroxide_result": result.strip()}
    return note_on(studio, "bottle", bottle_id, changes, "tested for peroxides")


def finish(studio: Studio, bottle_id: str, *, on: str, today: date) -> Written:
    """Write down that a bottle was used up or thrown away."""
    not_ahead(on, "finished", today)
    return note_on(studio, "bottle", bottle_id, {"finished": on}, "used up or thrown away")


def bottle_id(studio: Studio, text: str) -> str:
    """The bottle that is meant: by the beginning of its id, or by its liquid if only one is in use."""
    conn = studio.index.conn
    start = text.strip().upper()
    found = ids_starting(conn, "bottle", start) if start else []
    if not found and start:
        from kb.desk.materials.resolve import resolve

        try:
            liquid = resolve(studio, "liquid", text)
        except Unclear:
            liquid = ""
        found = [row.id for row in kept(conn, "bottle", liquid) if not row.body.finished] if liquid else []
    return the_one(found, "bottle", text, f'No bottle is known by "{text}"; the shelf lists them.')


def all_bottles(studio: Studio, *, finished: bool = False) -> list[BottleView]:
    """Bottles in use, by liquid and then by age; with ``finished`` the others too."""
    rows = kept(studio.index.conn, "bottle")
    views = [_view(studio.compiled, row) for row in rows if finished or not row.body.finished]
    return sorted(views, key=lambda one: (one.name.casefold(), one.opened, one.id))


def _view(compiled: Compiled, row: KeptRow) -> BottleView:
    known = compiled.by_id.get(row.body.liquid)
    return BottleView.taken_from(
        row,
        row.body,
        name=known.name if known else row.body.liquid,
        forms_peroxides=known is not None and PEROXIDES in map(base_code, known.statements),
    )


def due(studio: Studio, today: date) -> list[Due]:
    """What is due on that day, the most pressing first.

    A bottle whose day is past, or within the studio's notice; a peroxide former that was neither opened
    nor tested within the studio's interval; a bottle of which no day is known at all. The interval is
    common practice without a source; the data sheet and the test kit say what a result means.
    """
    shelf = studio.compiled.shelf
    found: list[Due] = []
    for one in all_bottles(studio):
        found += _dates(one, today, shelf.expiry_notice_days)
        if one.forms_peroxides:
            found += _peroxides(one, today, shelf.peroxide_test_months)
    # What is not dated cannot be said to be less late than anything else, so it comes first.
    return sorted(
        found, key=lambda one: (_ORDER[one.what], one.days is not None, -(one.days or 0), one.bottle)
    )


def _due(one: BottleView, what: What, day: date | None, today: date, text: str, mark: str = "") -> Due:
    return Due.taken_from(
        one,
        bottle=one.id,
        what=what,
        date=day.isoformat() if day else "",
        days=(today - day).days if day else None,
        text=text,
        mark=mark,
    )


def _dates(one: BottleView, today: date, notice_days: int) -> Iterator[Due]:
    day = last_day(one.expires)
    if day is None:
        if not one.opened and not one.forms_peroxides:
            yield _due(
                one, "undated", None, today, "Neither a day of opening nor an expiry is known: give one."
            )
    elif said := expiry(day, today, notice_days):
        yield _due(one, said[0], day, today, said[1])


def _peroxides(one: BottleView, today: date, months: float) -> Iterator[Due]:
    start = first_day(one.peroxide_tested) or first_day(one.opened)
    if start is None:
        text = (
            f"Forms explosive peroxides ({PEROXIDES}), and neither a day of opening nor a test is known. Do "
            "not open or shake it if crystals or a skin can be seen; have it tested or taken away."
        )
        yield _due(one, "peroxide test", None, today, text, PRACTICE)
        return
    day = later(start, months)
    if today > day:
        since = "tested" if one.peroxide_tested else "opened"
        last = f" (result: {one.peroxide_result})" if one.peroxide_tested and one.peroxide_result else ""
        text = (
            f"Forms explosive peroxides ({PEROXIDES}) and was last {since} on {start.isoformat()}{last}: "
            f"test it before use. A test is due every {months:g} months (peroxide_test_months in shelf.yaml)."
        )
        yield _due(one, "peroxide test", day, today, text, PRACTICE)


def expiry(day: date | None, today: date, notice_days: int) -> tuple[What, str] | None:
    """Whether a last day is over, or within so many days of it, in a word and a sentence."""
    if day is not None and today > day:
        return "expired", f"Expired on {day.isoformat()}."
    if day is not None and today + timedelta(days=notice_days) >= day:
        return "expires soon", f"Expires on {day.isoformat()}."
    return None


def first_day(text: str) -> date | None:
    """The first day that a date can mean: of 2024-05 the 1st of May. None if nothing is given.

    Raises ValueError if it is no date.
    """
    if not text:
        return None
    if re.fullmatch(_DATE, text) is None:
        raise ValueError("not a date")
    year, month, day = (*(int(part) for part in text.split("-")), 1, 1)[:3]
    return date(year, month, day)


def last_day(text: str) -> date | None:
    """The last day that a date can mean: of 2024-05 the 31st of May, as labels are read."""
    if not text:
        return None
    numbers = [int(part) for part in text.split("-")]
    year = numbers[0]
    month = numbers[1] if len(numbers) > 1 else 12
    return date(year, month, numbers[2] if len(numbers) > 2 else _days_in(year, month))


def _days_in(year: int, month: int) -> int:
    """Days of a month. Python's own calendar loads what names the months in other languages."""
    if month == 2:
        return 29 if year % 4 == 0 and (year % 100 or year % 400 == 0) else 28
    return 30 if month in {4, 6, 9, 11} else 31


def later(day: date, months: float) -> date:
    """The day so many months later; the last of a month where there is no such day."""
    whole = int(months)
    place = day.year * 12 + day.month - 1 + whole
    year, month = place // 12, place % 12 + 1
    moved = date(year, month, min(day.day, _days_in(year, month)))
    return moved + timedelta(days=round((months - whole) * 30))


def not_ahead(text: str, field: str, today: date) -> None:
    """Raise DeskError for what is no date, and for a day to come."""
    try:
        day = first_day(text)
    except ValueError:
        raise DeskError(
            f'"{text}" is not a date; write 2024-05-31 or 2024-05. Nothing was recorded.'
        ) from None
    if day is not None and day > today:
        raise DeskError(f"{text} ({field.replace('_', ' ')}) lies ahead of today. Nothing was recorded.")
