"""All records of the book by one way: listed, shown, corrected, taken out, brought back.

Taking back what was just stored: a withdrawal that says so, within a minute of the write.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from time import monotonic
from typing import Any

import msgspec

from kb.book.check import decode_record
from kb.book.fold import Change, Fold, fold
from kb.book.kinds.spot_test import harm_words
from kb.book.kinds.table import KEPT, KINDS, noun_of
from kb.book.pieces import bench_of
from kb.desk.errors import Choice, DeskError, Unclear
from kb.desk.records.record import AWAY, Step, Written, gone, steps, write
from kb.desk.records.typed_fields import (
    DAMAGED,
    DAMAGED_MM,
    must_be_graded_fitly,
    must_fit,
    must_lie_on,
    whole_changes,
)
from kb.desk.records.typed_fields import changes_from_words as of_kind
from kb.desk.records.work_records import Teller, against_kept, against_test, plain_fields
from kb.desk.studio import Studio
from kb.index.book_lines import line_at, lines_about
from kb.index.kept_rows import plain_body
from kb.index.queries import BookRow, OtherRow, book_rows, other_rows, records_starting, root_of
from kb.index.rows import AMENDED, CURRENT, STATES, WITHDRAWN
from kb.model.question import Plain
from kb.model.record import Amend, Line, Withdraw


class RecordSummary(Plain, frozen=True, kw_only=True):
    """One record in a list. ``what`` says in one line what it holds; ``sheet`` is empty where it has none."""

    id: str
    kind: str
    at: str
    who: str
    bench: str = ""
    state: str
    sheet: str
    what: str


class RecordDetail(Plain, frozen=True, kw_only=True):
    """One record as it stands, as it was first written, and how the one came from the other.

    ``fields`` are label (with unit) and text of all that it says.
    """

    id: str
    kind: str
    at: str
    who: str
    bench: str
    state: str
    sheet: str
    fields: tuple[tuple[str, str], ...]
    first_fields: tuple[tuple[str, str], ...]
    history: tuple[Step, ...]


def list_records(
    studio: Studio,
    *,
    kinds: tuple[str, ...] = (),
    sheet: str = "",
    who: str = "",
    limit: int = 50,
    before: str = "",
) -> list[RecordSummary]:
    """Records of all kinds or of those named, newest first, those of kinds that are not known here too.

    ``limit`` 0 lists all; ``before`` goes on from an id. Raises DeskError for a kind that is not in the book
    and not known.
    """
    conn = studio.index.conn
    sheet, who, before, limit = sheet.strip(), who.strip(), before.strip().upper(), max(0, limit)
    foreign = tuple(kind for kind in kinds if kind not in KINDS)
    for kind in foreign:
        if not other_rows(conn, (kind,), limit=1):
            raise DeskError(f'There is no kind of record "{kind}"; there are {", ".join(KINDS)}.')
    wanted = [kind for kind in kinds or KINDS if kind in KINDS]
    teller = Teller(studio)
    found = [
        _summary(teller, row)
        for row in book_rows(conn, wanted, sheet=sheet, who=who, limit=limit, before=before)
    ]
    if foreign or not kinds:
        found += _others(studio, foreign, sheet, who, limit, before)
        found.sort(key=lambda one: one.id, reverse=True)
    return found[:limit] if limit else found


def _summary(teller: Teller, row: BookRow) -> RecordSummary:
    if row.row is not None:
        what = teller.test(row.row)
    else:
        what = teller.kept(KEPT[row.kind], msgspec.json.decode(row.body, type=KEPT[row.kind].type))
    return _listed(row, row.state, row.sheet, what)


def _listed(row: BookRow | OtherRow, state: int, sheet: str, what: str) -> RecordSummary:
    bench = bench_of(Path(row.file).name)
    return RecordSummary.taken_from(row, bench=bench, state=STATES[state], sheet=sheet, what=what)


def _others(
    studio: Studio, kinds: tuple[str, ...], sheet: str, who: str, limit: int, before: str
) -> list[RecordSummary]:
    """Records of kinds that are not known here. Their sheet is seen only by reading them."""
    conn = studio.index.conn
    found: list[RecordSummary] = []
    for row in other_rows(conn, kinds, who=who, limit=0 if sheet else limit, before=before):
        line = line_at(conn, *row.place)
        lies_on = str(plain_body(line.body if line else b"").get("sheet", ""))
        if sheet and lies_on != sheet:
            continue
        what = f"A record of the kind {row.kind}, which this version does not know"
        found.append(_listed(row, _other_state(studio, row), lies_on, what))
        if limit and len(found) == limit:
            break
    return found


def _other_state(studio: Studio, row: OtherRow) -> int:
    """Such a record can be taken out, and cannot be amended here."""
    if not row.changed:
        return CURRENT
    return WITHDRAWN if row.id in fold(lines_about(studio.index.conn, row.id)).withdrawn else CURRENT


# -- one record ----------------------------------------------------------------------------------------------


def record_id(studio: Studio, start: str) -> str:
    """The record that is meant by the beginning of its id, or of the id of a change of it.

    Raises DeskError if there is none, and Unclear if there are several.
    """
    return root_of(studio.index.conn, _any_id(studio, start)[1])


def _any_id(studio: Studio, typed: str) -> tuple[str, str]:
    """Kind and id of the record or change that is meant."""
    start = typed.strip().upper()
    found = records_starting(studio.index.conn, start, tuple(KEPT)) if start else []
    exact = [one for one in found if one[1] == start]
    if len(exact or found) == 1:
        return (exact or found)[0]
    if not found:
        raise DeskError(f'No record has an id that begins with "{typed.strip()}"; the book lists them.')
    raise Unclear("id", start, tuple(Choice(one, noun_of(kind)) for kind, one in found))


def kind_of(studio: Studio, record_id: str) -> str:
    """The kind of a record, or amend or withdraw for a change of one; by the beginning of its id."""
    return _any_id(studio, record_id)[0]


def show_record(studio: Studio, record_id_start: str) -> RecordDetail:
    """One record of any kind with its history. The id of a change shows the record that it is about.

    Raises DeskError if there is none, or if it can no longer be read in the book.
    """
    root = record_id(studio, record_id_start)
    lines = lines_about(studio.index.conn, root)
    own = next((line for line in lines if line.id == root), None)
    if own is None:
        raise gone(root)
    return _detail(studio, own, lines, fold(lines))


def last_written(studio: Studio, record: RecordSummary) -> tuple[str, str]:
    """When and by whom a record got what it says now: a patch may be begun by one and finished by another."""
    if record.state != "amended":
        return record.at, record.who
    last = [step for step in show_record(studio, record.id).history if step.in_force and step.kind == "amend"]
    return (last[-1].at, last[-1].who) if last else (record.at, record.who)


def _detail(studio: Studio, own: Line, lines: Iterable[Line], book: Fold) -> RecordDetail:
    teller, root = Teller(studio), own.id
    history: tuple[Change, ...] = ()
    if own.kind not in KINDS:
        plain = plain_body(own.body)
        fields = first = plain_fields(plain)
        sheet = str(plain.get("sheet", ""))
        history = tuple(_changes(own, lines, book))
    else:
        body, started, history = _as_it_stands(own, book)
        fields, first = (teller.fields(KINDS[own.kind], each) for each in (body, started))
        sheet = str(getattr(body, "sheet", ""))
    amended = bool(history) and own.kind in KINDS
    return RecordDetail.taken_from(
        own,
        state=STATES[WITHDRAWN if root in book.withdrawn else AMENDED if amended else CURRENT],
        sheet=sheet,
        fields=fields,
        first_fields=first,
        history=tuple(steps(root, history, lines, book)),
    )


def _as_it_stands(own: Line, book: Fold) -> tuple[Any, Any, tuple[Change, ...]]:
    """A known record now, as first written, and its changes."""
    try:
        now = book.current(own.kind, own.id)
        return now.body, decode_record(own), now.history
    except (KeyError, ValueError):
        raise gone(own.id) from None


def _changes(own: Line, lines: Iterable[Line], book: Fold) -> Iterator[Change]:
    """Changes of a record of a kind that is not known here: only withdrawals can be in force."""
    for line in sorted(lines, key=lambda line: line.id):
        if line.id != own.id:
            in_force = line.kind == "withdraw" and line.id not in {*book.withdrawn, *book.troubles}
            yield Change(line, in_force, book.troubles.get(line.id, ""))


# -- changes -------------------------------------------------------------------------------------------------


def changes_from_words(studio: Studio, kind: str, texts: list[str]) -> dict[str, Any]:
    """``["length=45", "site.words=lower edge"]`` -> changes of a record of that kind. Raises DeskError.

    Names of a test's materials are resolved as when it was added.
    """
    if kind != "test":
        return of_kind(studio, kind, texts)
    from kb.desk.records.typed import changes_from_words as of_test

    return of_test(studio, texts)


def amend_record(studio: Studio, record_id: str, changes: Mapping[str, Any], why: str) -> Written:
    """Correct fields of a record. The first record stays, with the correction beside it.

    A key such as ``site.words`` changes one part of a field and leaves the rest as it stands. Raises
    DeskError for a field that the kind does not have, for what cannot be, and for a withdrawn record.
    """
    kind, meant, current, whole = _corrected(studio, record_id, changes)
    if kind in DAMAGED and not {*DAMAGED_MM, "sheet"}.isdisjoint(whole):
        must_fit(studio, msgspec.structs.replace(current, **whole))
    if kind == "test":
        corrected = _with(current, whole)
        if not {"control", "release"}.isdisjoint(whole):
            must_be_graded_fitly(corrected)
        if not {"site", "sheet"}.isdisjoint(whole):
            must_lie_on(studio, corrected.sheet, (corrected.site.x_mm, corrected.site.y_mm))
    return write(studio, "amend", Amend(of=meant, set=whole, why=why))


def against_change(studio: Studio, record_id: str, changes: Mapping[str, Any]) -> tuple[str, ...]:
    """What to mind of a record that is corrected so, and which kinds of harm it takes out.

    Asked before it is stored. Raises DeskError as `amend_record` does.
    """
    kind, _, current, whole = _corrected(studio, record_id, changes)
    corrected = _with(current, whole)
    if kind != "test":
        known, new = (tuple(against_kept(studio, KINDS[kind], body)) for body in (current, corrected))
        return tuple(one for one in new if one not in known)
    gone = [
        f"{one} ({harm_words(one)[grade]})"
        for one, grade in current.harm.items()
        if one not in corrected.harm
    ]
    out = (f"Taken out of harm, so that it counts as not looked at: {', '.join(gone)}.",) if gone else ()
    return (*out, *against_test(studio, corrected, whole))


def _with(current: Any, whole: Mapping[str, Any]) -> Any:
    said = {**msgspec.to_builtins(current), **msgspec.to_builtins(whole)}
    return msgspec.convert(said, type(current))


def _corrected(
    studio: Studio, record_id: str, changes: Mapping[str, Any]
) -> tuple[str, str, Any, dict[str, Any]]:
    """Kind and whole id of the record, what it says now, and the changes as they would be stored."""
    kind, meant = _any_id(studio, record_id)
    if kind in {"amend", "withdraw"}:
        raise DeskError(
            "That is a change of a record and no record. A change is not amended: withdraw it and write a "
            "new one. Nothing was recorded."
        )
    if kind not in KINDS:
        raise DeskError(
            f"A record of the kind {kind} cannot be amended by this version. Nothing was recorded."
        )
    book = fold(lines_about(studio.index.conn, meant))
    if meant in book.withdrawn:
        raise DeskError(AWAY)
    current = book.current(kind, meant).body
    return kind, meant, current, whole_changes(kind, current, changes)


def withdraw_record(studio: Studio, record_id: str, why: str) -> Written:
    """Take a record out as written down by mistake, or undo a change by its id. Every line stays readable.

    Withdrawing a withdrawal brings back what it took out. Raises DeskError for what is out already.
    """
    meant = _any_id(studio, record_id)[1]
    root = root_of(studio.index.conn, meant)
    if meant in fold(lines_about(studio.index.conn, root)).withdrawn:
        raise DeskError("That was withdrawn already. Nothing was recorded.")
    return write(studio, "withdraw", Withdraw(of=meant, why=why))


def restore_record(studio: Studio, record_id: str, why: str) -> Written:
    """Bring back a record that was withdrawn, by withdrawing each withdrawal of it that is in force.

    Raises DeskError for a record that is not withdrawn.
    """
    _, meant = _any_id(studio, record_id)
    root = root_of(studio.index.conn, meant)
    shown = show_record(studio, root)
    in_force = [one.id for one in shown.history if one.kind == "withdraw" and one.of == root and one.in_force]
    if not in_force:
        raise DeskError("That record is not withdrawn. Nothing was recorded.")
    written = [write(studio, "withdraw", Withdraw(of=one, why=why)) for one in in_force]
    return written[-1]


WITHIN_S = 60.0
WHY = "taken back within a minute of being stored"
NOTHING = "Nothing was stored in the last minute, so there is nothing to take back."


def undo_last(studio: Studio) -> str:
    """Withdraw the record that this program stored last; returns what was done in words.

    A correction is taken back too, which brings back what it changed. Raises DeskError where nothing was
    stored in the last minute.
    """

    last = studio.last_written
    if last is None or monotonic() - last.at_s > WITHIN_S:
        raise DeskError(NOTHING)
    root = record_id(studio, last.id)
    withdraw_record(studio, last.id, WHY)
    studio.last_written = None
    # The newest before any later id is the record itself: what it says, as in the list.
    (found,) = list_records(studio, before=f"{root}0", limit=1)
    what = f"{'' if root == last.id else 'the correction of a '}{found.what[:1].lower()}{found.what[1:]}"
    on = f", on {found.sheet}" if found.sheet and found.sheet not in what else ""
    return f"Taken back: {what}{on}. It stays readable in the book, marked as withdrawn."
