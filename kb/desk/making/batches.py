"""Batches: what was made up, what its label says, when it goes off, and what it touched.

The label of a batch, as text and as a drawing to print.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import msgspec

from kb.book.kinds.batch import Batch
from kb.book.kinds.parts import Portion
from kb.desk.errors import DeskError, save_as
from kb.desk.making.recipe import Made, life_words, recipe, strength_words, words
from kb.desk.records.record import Written, note_on, record_named, write
from kb.desk.shelf.bottles import expiry, first_day, last_day, not_ahead
from kb.desk.studio import Studio
from kb.index.kept_rows import SHORTEST, KeptRow, batches_named, kept, naming, one_kept
from kb.index.queries import ids_starting
from kb.index.rows import STATES
from kb.model.question import Plain
from kb.model.recipe import Recipe, ShelfLife
from kb.science.numbers import counted

NOTICE_DAYS = 2
"""How long before its day a batch is listed as expiring. This project's own choice: pastes keep for days."""
_SHORT = 10


class BatchView(Plain, frozen=True, kw_only=True):
    """A batch as it stands. ``short`` is the beginning of its id by which it can be named.

    ``recipe_changed`` is True where the recipe's entry is no longer the one that was used.
    """

    id: str
    short: str
    state: str
    name: str
    recipe: str
    version: str
    recipe_changed: bool
    weights: tuple[Portion, ...]
    water: str
    made: str
    ph: float | None
    strength: str
    made_at: str
    expires: str
    hazards: tuple[str, ...]
    bad: str
    finished: str
    remarks: str
    at: str
    who: str


def facts(one: BatchView) -> Iterator[tuple[str, str]]:
    """Label and text of all that a batch says, what speaks against it before what it was made of."""
    changed = "; the recipe was changed since" if one.recipe_changed else ""
    said = (
        ("contents", one.name),
        ("MUST NOT BE USED", one.bad),
        ("recipe", one.recipe and f"{one.recipe}{one.version and f', version {one.version}'}{changed}"),
        *(("weighed", _portion(part)) for part in one.weights),
        ("water", one.water),
        ("yield", one.made),
        ("pH", "" if one.ph is None else f"{one.ph:g}"),
        ("strength", one.strength),
        ("made on", one.made_at),
        ("use by", one.expires or "not known"),
        ("hazards", ", ".join(one.hazards)),
        ("used up", one.finished),
        ("remarks", one.remarks),
    )
    yield from (fact for fact in said if fact[1])


def _portion(part: Portion) -> str:
    """``14.3 g wheat starch, from batch 01ABC``."""
    taken = f", from batch {part.batch}" if part.batch else ""
    return f"{part.amount:.4g} {part.unit} {part.name}{taken}"


class DueBatch(Plain, frozen=True, kw_only=True):
    """A batch that expires or must not be used. ``days`` is how long it is overdue, below 0 if to come."""

    batch: str
    short: str
    name: str
    what: str
    date: str
    days: int | None
    text: str


class Use(Plain, frozen=True, kw_only=True):
    """One record in which a batch was used; ``through`` is the batch named there."""

    kind: str
    id: str
    at: str
    who: str
    sheet: str
    through: str


class Trace(Plain, frozen=True, kw_only=True):
    """Where a batch went: records that name it, batches it went into and their records, and all sheets."""

    batch: BatchView
    made_into: tuple[BatchView, ...]
    uses: tuple[Use, ...]
    sheets: tuple[str, ...]


def record(studio: Studio, batch: Batch, today: date) -> Written:
    """Write down a batch; returns only after it is on disk.

    Of a recipe the version, name, strength, hazard words and last day are filled in where they are not
    given. Raises DeskError for a recipe or batch that is not known, and for a day that lies ahead.
    """
    for name in ("made_at", "finished"):
        not_ahead(getattr(batch, name), name, today)
    for one in batch.weights:
        if one.batch and one_kept(studio.index.conn, "batch", one.batch) is None:
            raise DeskError(f"No batch {one.batch}, from which {one.name} was taken, is in the book.")
    return write(studio, "batch", filled(studio, batch, today))


def filled(studio: Studio, batch: Batch, today: date) -> Batch:
    """The batch with what its recipe says where it does not say so itself."""
    if not batch.recipe:
        return batch
    known, version = recipe(studio, batch.recipe)
    made = first_day(batch.made_at) or today
    proposed: dict[str, Any] = {
        "version": version,
        "name": known.name,
        "strength": strength_words(known),
        "made_at": made.isoformat(),
        "expires": keeps_until(known, made),
        "hazards": known.hazards,
    }
    missing = {name: value for name, value in proposed.items() if not getattr(batch, name)}
    return msgspec.structs.replace(batch, **missing)


def keeps_until(known: Recipe, made: date) -> str:
    """The last day by the recipe: the short end of its shortest shelf life; empty if it names none."""
    shortest = _shortest(known)
    return (made + timedelta(days=int(_short_end(shortest)))).isoformat() if shortest else ""


def keeps_words(known: Recipe) -> str:
    """What ``use by`` is where nobody says it: ``3 days on, if left empty; keeps 3 to 7 days``."""
    shortest = _shortest(known)
    if shortest is None:
        return "the recipe does not say"
    days = int(_short_end(shortest))
    when = f"{counted(days, 'day')} on" if days else "the same day"
    return f"{when}, if left empty; keeps {life_words(shortest).partition(',')[0]}"


def _shortest(known: Recipe) -> ShelfLife | None:
    return min((one for one in known.shelf_life if _short_end(one)), key=_short_end, default=None)


def _short_end(one: ShelfLife) -> float:
    """Days; the safe end of 3 to 7. 0 where only words are known."""
    return one.days or one.days_high or 0.0


def portions(made: Made) -> tuple[Portion, ...]:
    """The amounts of a recipe as made, the middle of a range; to be corrected by what was weighed."""
    return tuple(
        Portion(name=one.name, amount=(one.low + one.high) / 2.0, unit=one.unit)
        for one in made.parts
        if one.low is not None and one.high is not None
    )


def batch_id(studio: Studio, text: str) -> str:
    return record_named(studio, "batch", text, where="the list of batches shows them")


def named(studio: Studio, text: str) -> str:
    """The id of a batch if the words are the beginning of one; any other words as they are."""
    start = text.strip().upper()
    found = ids_starting(studio.index.conn, "batch", start, 2) if len(start) >= SHORTEST else []
    return found[0] if len(found) == 1 else text


def all_batches(studio: Studio, *, finished: bool = False, recipe_id: str = "") -> list[BatchView]:
    """Batches in use, the newest first; with ``finished`` the others too."""
    rows = kept(studio.index.conn, "batch", recipe_id)
    return [_view(studio, row) for row in reversed(rows) if finished or not row.body.finished]


def show(studio: Studio, batch_id: str) -> BatchView:
    """One batch as it stands, withdrawn or not."""
    row = one_kept(studio.index.conn, "batch", batch_id)
    if row is None:
        raise DeskError(f"There is no batch {batch_id}; the list of batches shows them.")
    return _view(studio, row)


def finish(studio: Studio, batch_id: str, *, on: str, today: date) -> Written:
    """Write down that a batch was used up or thrown away."""
    not_ahead(on, "finished", today)
    return note_on(studio, "batch", batch_id, {"finished": on}, "used up or thrown away")


def mark_bad(studio: Studio, batch_id: str, why: str) -> Written:
    """Write down that a batch must not be used any more, and why. `trace` says what it touched."""
    if not why.strip():
        raise DeskError("Say what is wrong with the batch.")
    return note_on(studio, "batch", batch_id, {"bad": why.strip()}, "found to be bad")


def expiring(studio: Studio, today: date, notice_days: int = NOTICE_DAYS) -> list[DueBatch]:
    """Batches in use that are bad, past their day, or within so many days of it; the most pressing first."""
    found = [due for one in all_batches(studio) if (due := _due(one, today, notice_days)) is not None]
    return sorted(found, key=lambda one: (one.what != "bad", -(one.days or 0), one.batch))


def trace(studio: Studio, batch_id: str) -> Trace:
    """Every record and sheet that a batch went to, also through other batches it was made into."""
    conn = studio.index.conn
    first = show(studio, batch_id)
    into: dict[str, KeptRow] = {}
    queue = [batch_id]
    rows = kept(conn, "batch")
    while queue:
        source = queue.pop()
        for row in rows:
            if row.id not in into and any(one.batch == source for one in row.body.weights):
                into[row.id] = row
                queue.append(row.id)
    into.pop(batch_id, None)
    uses = [
        Use.taken_from(one, through=through) for through in (batch_id, *into) for one in naming(conn, through)
    ]
    return Trace(
        batch=first,
        made_into=tuple(_view(studio, into[key]) for key in sorted(into)),
        uses=tuple(sorted(uses, key=lambda one: one.id)),
        sheets=tuple(sorted({one.sheet for one in uses if one.sheet})),
    )


def touched(studio: Studio, sheet: str) -> list[BatchView]:
    """Batches that a record of the sheet names, or that went into one of those, the newest first.

    The way of `trace` backwards, without a look at the records of other sheets.
    """
    rows = {row.id: row for row in kept(studio.index.conn, "batch")}
    queue = [named(studio, one) for one in batches_named(studio.index.conn, sheet.strip())]
    found: set[str] = set()
    while queue:
        row = rows.get(queue.pop())
        if row is not None and row.id not in found:
            found.add(row.id)
            queue += [part.batch for part in row.body.weights if part.batch]
    return [_view(studio, rows[key]) for key in sorted(found, reverse=True)]


def _due(one: BatchView, today: date, notice_days: int) -> DueBatch | None:
    day = last_day(one.expires)
    bad = ("bad", f"Must not be used: {one.bad}") if one.bad else None
    said = bad or expiry(day, today, notice_days)
    if said is None:
        return None
    return DueBatch.taken_from(
        one,
        batch=one.id,
        what=said[0],
        date=day.isoformat() if day else "",
        days=(today - day).days if day else None,
        text=said[1],
    )


def _view(studio: Studio, row: KeptRow) -> BatchView:
    one = row.body
    return BatchView.taken_from(
        row,
        one,
        short=_short(studio, row.id),
        state=STATES[row.state],
        name=one.name or one.recipe,
        recipe_changed=_changed(studio, one),
        made=words(one.made_amount, one.made_amount, one.made_unit),
        made_at=one.made_at or row.at[:10],
        bad=one.bad or _bad_through(studio, one),
    )


def _bad_through(studio: Studio, body: Batch) -> str:
    """Why a batch must not be used that is good itself: what it was made from, directly or through others."""
    seen: set[str] = set()
    queue = [part.batch for part in body.weights]
    while queue:
        source = queue.pop(0)
        row = one_kept(studio.index.conn, "batch", source) if source and source not in seen else None
        if row is None:
            continue
        seen.add(source)
        if row.body.bad:
            return f"made from batch {source[:_SHORT]} ({row.body.name or row.body.recipe}): {row.body.bad}"
        queue += [part.batch for part in row.body.weights]
    return ""


def _short(studio: Studio, batch_id: str) -> str:
    """The shortest beginning of an id, of ten characters at least, that no other batch shares."""
    for end in range(_SHORT, len(batch_id)):
        if len(ids_starting(studio.index.conn, "batch", batch_id[:end], 2)) == 1:
            return batch_id[:end]
    return batch_id


def _changed(studio: Studio, one: Batch) -> bool:
    if not (one.recipe and one.version):
        return False
    try:
        return recipe(studio, one.recipe).version != one.version
    except DeskError:
        return True


WIDTH_MM, HEIGHT_MM = 80, 50
_COLUMNS = 38
_MOST_LINES = 11
_UNWANTED = "[\x00-\x1f\x7f-\x9f\u200b\ufeff\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"


class Label(Plain, frozen=True, kw_only=True):
    """A label of 80 by 50 mm: the lines as text, and the drawing as one SVG document."""

    batch: str
    short: str
    text: str
    svg: str


def label(studio: Studio, batch_id: str) -> Label:
    """The label of a batch: contents, strength, day, last day, hazard words, short id."""
    one = show(studio, batch_id)
    lines = label_lines(one)
    return Label(
        batch=one.id, short=one.short, text="\n".join(line for line, _ in lines) + "\n", svg=_svg(lines)
    )


def save_svg(made: Label, path: Path) -> None:
    """Write the drawing. Raises DeskError if the file exists already or cannot be written."""
    save_as(path, made.svg)


def label_lines(one: BatchView) -> list[tuple[str, bool]]:
    """The lines of a label, each with whether it is set bold. Nothing is cut off: long words are broken."""
    told: list[tuple[str, bool]] = [(one.name, True)]
    if one.bad:
        told.append((f"DO NOT USE: {one.bad}", True))
    told += [(", ".join(one.hazards).upper(), True)] if one.hazards else []
    told += [(one.strength, False)] if one.strength else []
    if one.ph is not None:
        told.append((f"pH {one.ph:g}", False))
    told.append((f"made {one.made_at} by {one.who}", False))
    told.append((f"use by {one.expires} at the latest" if one.expires else "use by: not known", True))
    told.append((f"batch {one.short}", True))
    return [
        (line, bold)
        for text, bold in told
        for line in textwrap.wrap(re.sub(_UNWANTED, " ", text), _COLUMNS, break_long_words=True) or [""]
    ]


def _svg(lines: list[tuple[str, bool]]) -> str:
    """The lines as a drawing; more lines than usual are set smaller, so that all of them fit."""
    from html import escape

    step_mm = (HEIGHT_MM - 6) / max(_MOST_LINES, len(lines))
    size_mm = round(step_mm * 0.82, 2)
    rows = "".join(
        f'<text x="3" y="{3 + step_mm * (place + 0.85):.2f}" font-size="{size_mm}"'
        f"{' font-weight=' + chr(34) + 'bold' + chr(34) if bold else ''}>{escape(line)}</text>"
        for place, (line, bold) in enumerate(lines)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_MM}mm" height="{HEIGHT_MM}mm" '
        f'viewBox="0 0 {WIDTH_MM} {HEIGHT_MM}" font-family="sans-serif" fill="black">'
        f'<rect x="0.5" y="0.5" width="{WIDTH_MM - 1}" height="{HEIGHT_MM - 1}" fill="white" '
        f'stroke="black" stroke-width="0.3"/>{rows}</svg>\n'
    )
