"""Sheets as records of their own: made once, found by any part of a name, renamed and merged.

What is told of a sheet goes into its record and its condition, as far as it is new. What is wrong with it is
listed, and checked off by what was done about it.

Apart from `facts.py`, because every record's lengths are held against the sheet's, those written here too.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import msgspec

from kb.book.kinds.condition import Condition, Damage, condition_words
from kb.book.kinds.sheet import Sheet, size_words
from kb.book.kinds.table import KINDS
from kb.desk.amounts import size_mm
from kb.desk.errors import DeskError, in_a_sentence
from kb.desk.records.book_list import amend_record, kind_of, list_records, record_id, withdraw_record
from kb.desk.records.record import Written, photo, write
from kb.desk.records.typed_fields import changes_from_words, must_fit, must_lie_on, whole_changes
from kb.desk.sheet.facts import SheetFacts, conditions, note_file, open_tear, sheet_facts, tested
from kb.desk.sheet.names import (
    exactly,
    folded,
    found_sheet,
    known_sheets,
    sheet_named,
    sheet_record,
    sheet_row,
)
from kb.desk.studio import Studio
from kb.index.kept_rows import one_kept
from kb.model.question import Plain
from kb.model.record import Amend

NOTHING = "-"
"""Typed for a field, it takes out what stood there; an empty text says nothing of it."""


class SheetLine(Plain, frozen=True, kw_only=True):
    """A sheet in a list. ``id`` is empty for one that records lie on and that was never written down."""

    sheet: str
    id: str
    number: str
    owner: str
    size: str
    records: int


def sheet_lines(studio: Studio) -> list[SheetLine]:
    """All sheets with the number of their records."""
    found = []
    for named in known_sheets(studio):
        body = named.row.body if named.row is not None else Sheet(sheet=named.name)
        found.append(
            SheetLine(
                sheet=named.name,
                id=named.row.id if named.row is not None else "",
                number=body.number,
                owner=body.owner,
                size=size_words(body),
                records=len(list_records(studio, sheet=named.name, limit=0)),
            )
        )
    return found


def record_from_words(studio: Studio, kind: str, words: Mapping[str, Any]) -> Any:
    """A record of a kind from typed words by field; ``photo`` names files. Raises DeskError in a sentence."""
    from kb.book.check import make_kept

    typed = [f"{name}={value}" for name, value in words.items() if isinstance(value, str) and value.strip()]
    plain: dict[str, Any] = dict(changes_from_words(studio, kind, typed))
    pictures = [photo(Path(path), "before") for path in words.get("photo") or () if str(path).strip()]
    if pictures:
        plain["photos"] = msgspec.to_builtins(pictures)
    with in_a_sentence("Nothing was recorded."):
        return make_kept(kind, plain)


def add_sheet(studio: Studio, words: Mapping[str, Any]) -> Written:
    """Write a sheet down. Raises DeskError for no name, one that is taken, or figures that cannot be."""
    if not str(words.get("sheet") or "").strip():
        raise DeskError("The record names no sheet. Nothing was recorded.")
    sheet: Sheet = record_from_words(studio, "sheet", words)
    for named in known_sheets(studio):
        if named.row is not None and folded(sheet.sheet) in {
            folded(word) for word in (named.name, *named.row.body.also)
        }:
            raise DeskError(f'There is a sheet "{named.name}" already; amend it, or give a new name.')
    return write(studio, "sheet", sheet)


def amend_sheet(studio: Studio, typed: str, words: Mapping[str, str], why: str) -> Written:
    """Correct what is known of a sheet; one without a record of its own is given one.

    A field for which `NOTHING` is typed is emptied; one for which nothing at all is typed stays.
    """
    return _amended(studio, sheet_named(studio, typed, to_write=True), words, why)


def _amended(studio: Studio, name: str, words: Mapping[str, str], why: str) -> Written:
    """The same by its whole name, which may be new. What is refused renames and founds nothing."""
    row = sheet_row(studio, name)
    given = {key: value for key, value in words.items() if value.strip()}
    new_name = given.pop("sheet", "").strip()
    if not given and new_name in {"", name}:
        raise DeskError("Nothing is to be changed.")
    texts = [f"{key}={'' if value == NOTHING else value}" for key, value in given.items()]
    changes = changes_from_words(studio, "sheet", texts)
    if row is None:
        known = {key: value for key, value in given.items() if value != NOTHING}
        body = record_from_words(studio, "sheet", {**known, "sheet": new_name or name})
    elif given:
        whole_changes("sheet", row.body, changes)
    if new_name and new_name != name:
        rename(studio, name, new_name, why)
        # By its own id: what cannot be shown is left out of a name, so the new one may not be as typed.
        row = row or sheet_row(studio, new_name)
    if row is None:
        return write(studio, "sheet", body)
    if not given:
        return Written(id=row.id, bench=studio.bench, at=row.at)
    return amend_record(studio, row.id, changes, why)


def rename(studio: Studio, old: str, new: str, why: str) -> int:
    """Give a sheet another name in all its records, each with an amendment; returns how many.

    Nothing is lost: every record keeps the line it was written with, and the old name still finds the sheet.
    """
    name = new.strip()
    if not name:
        raise DeskError("Say the new name of the sheet.")
    taken = exactly(name, known_sheets(studio))
    if taken and taken != old:
        raise DeskError(f'There is a sheet "{taken}" already; merge the two instead.')
    if sheet_row(studio, old) is None:
        write(studio, "sheet", Sheet(sheet=old))
    own = sheet_row(studio, old)
    moved = _move(studio, old, name, why)
    if own is not None:
        also = tuple(dict.fromkeys((*own.body.also, old)))
        amend_record(studio, own.id, {"sheet": name, "also": also}, why)
    return moved + 1


def merge(studio: Studio, typed: str, into: str, why: str) -> int:
    """All records of one sheet lie on another from now on; returns how many. So do facts only it had."""
    old, kept_name = (sheet_named(studio, name, to_write=True) for name in (typed, into))
    if old == kept_name:
        raise DeskError(f'"{typed}" and "{into}" are the same sheet, {old}.')
    source, target = sheet_record(studio, old), sheet_row(studio, kept_name)
    if target is None:
        write(studio, "sheet", Sheet(sheet=kept_name))
        target = sheet_row(studio, kept_name)
    moved = _move(studio, old, kept_name, why)
    if target is not None:
        body: Sheet = target.body
        changes: dict[str, Any] = {"also": tuple(dict.fromkeys((*body.also, *source.also, old)))}
        for field in Sheet.__struct_fields__:
            if field not in {"sheet", "also"} and getattr(source, field) and not getattr(body, field):
                changes[field] = getattr(source, field)
        amend_record(studio, target.id, changes, why)
    own = sheet_row(studio, old)
    if own is not None:
        withdraw_record(studio, own.id, f"merged into {kept_name}: {why}")
    return moved


def _move(studio: Studio, old: str, new: str, why: str) -> int:
    """The name in all records of the sheet but its own, withdrawn ones too: they may be brought back."""
    moved = [
        summary.id
        for summary in reversed(list_records(studio, kinds=tuple(KINDS), sheet=old, limit=0))
        if summary.kind != "sheet"
    ]
    for record in moved:
        write(studio, "amend", Amend(of=record, set={"sheet": new}, why=why))
    return len(moved)


WHY = "known now"
FIGURES = ("size", "grammage", "mass", "thickness", "grain", "humidity", "paper")
"""Facts that are words of the command ``sheet amend`` too."""


def keep_facts(studio: Studio, sheet: str, facts: SheetFacts) -> None:
    """Write what is new of these facts into the sheet's record and condition; founds the sheet if need be.

    Raises DeskError for figures that cannot be. An older version's note is done away with.
    """
    from kb.desk.choose.recorded import recorded

    name = sheet.strip()
    if not name:
        raise DeskError("Name the sheet.")
    body = sheet_record(studio, name)
    now = sheet_facts(studio, name) if not note_file(studio, name).exists() else SheetFacts()
    said = msgspec.structs.replace(facts, grain=facts.grain.replace("unknown", ""))
    changes = {
        field: getattr(said, field) or NOTHING
        for field in FIGURES
        if getattr(said, field) != getattr(now, field)
    }
    known, _ = recorded(studio, "medium", (*body.media_front, *body.media_back))
    by_tests = tested(studio, name).media
    for field, here in (("media_front", facts.media), ("media_back", facts.media_back)):
        # What its tests name is known from them, and a look on bare paper says nothing of a face.
        new = [medium for medium in here if medium not in {*known, *by_tests}]
        if new:
            changes[field] = ", ".join((*getattr(body, field), *new))
    tear = _tear(studio, name, facts)
    if changes:
        _amended(studio, name, changes, WHY)
    if tear:
        record, torn = tear
        if isinstance(torn, Condition):
            found_sheet(studio, name)
            write(studio, "condition", torn)
        else:
            amend_record(studio, record, torn, WHY)
    note_file(studio, name).unlink(missing_ok=True)


def _tear(studio: Studio, name: str, facts: SheetFacts) -> tuple[str, Condition | dict[str, Any]] | None:
    """The record of its open tear with what changes of it, or a new one; None where nothing is new.

    Read before anything is written: a length that cannot be would leave a sheet that nobody asked for.
    """
    tear = open_tear(studio, name)
    if (facts.tear, facts.tear_length) == (tear.kind, tear.length) or not (facts.tear or facts.tear_length):
        return None
    damage: Damage = "loss" if facts.tear == "loss" else "tear"
    typed = [f"damage={damage}", f"tear={facts.tear}", f"width_mm={facts.tear_length}"]
    changes = changes_from_words(studio, "condition", typed)
    body = tear.row.body if tear.row else Condition(sheet=name, damage=damage)
    changed = msgspec.structs.replace(body, **whole_changes("condition", body, changes))
    must_fit(studio, changed, size_mm(facts.size) if facts.size else None)
    return (tear.row.id, changes) if tear.row else ("", changed)


# -- what is wrong with a sheet ------------------------------------------------------------------------------


class ConditionLine(Plain, frozen=True, kw_only=True):
    """One thing in a list; ``treated`` is empty while it is open."""

    id: str
    at: str
    words: str
    treated: str
    condition: Condition


def add_condition(studio: Studio, words: Mapping[str, Any]) -> Written:
    """Write down one thing that is wrong. Raises DeskError for a damage that has no word of the trade."""
    name = sheet_named(studio, str(words.get("sheet") or ""), to_write=True)
    body = record_from_words(studio, "condition", {**words, "sheet": name})
    must_fit(studio, body)
    must_lie_on(studio, name, (body.x_mm, body.y_mm))
    return write(studio, "condition", body)


def condition_list(studio: Studio, typed: str) -> list[ConditionLine]:
    """What is written down of a sheet, the oldest first."""
    return [
        ConditionLine.taken_from(row, row.body, words=condition_words(row.body), condition=row.body)
        for row in conditions(studio, sheet_named(studio, typed))
    ]


def settle(studio: Studio, record: str, treated: str, by: str = "") -> Written:
    """Check one thing off: what was done about it, and by which record."""
    if kind_of(studio, record) != "condition":
        raise DeskError(f'"{record}" is no record of a condition; benchleaf condition list shows them.')
    if not treated.strip():
        raise DeskError("Say what was done about it, or why it was left.")
    record = record_id(studio, record)
    found = one_kept(studio.index.conn, "condition", record)
    if found is not None and found.body.treated:
        raise DeskError(
            f"It is checked off: {found.body.treated}. Nothing was recorded. "
            f"benchleaf book amend {record} --set treated=... --why ... corrects that."
        )
    changes: dict[str, Any] = {"treated": treated.strip()}
    if by:
        changes["treated_by"] = record_id(studio, by)
    return amend_record(studio, record, changes, "settled by treatment")
