"""Records that are neither tests nor changes - bottles, batches, mends ... - as they stand.

And what names a batch: the way back from a bad one to every sheet it touched.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

import msgspec

from kb.book.kinds.kind import subject_of
from kb.book.kinds.table import KEPT
from kb.index.book_lines import changes_of, lines_about, lines_at, roots_of
from kb.index.queries import ids_starting, sheet_as_known
from kb.index.rows import CURRENT, state_of
from kb.model.record import Line

if TYPE_CHECKING:
    from kb.book.check import Kept


class KeptRow(NamedTuple):
    """One record as it stands, amendments taken in. ``body`` is of its kind's type in KEPT."""

    id: str
    at: str
    who: str
    state: int
    body: Any


_KEPT = f"SELECT {', '.join(KeptRow._fields)} FROM kept WHERE kind = ?"


def _when(body: Kept, line: Line) -> str:
    field = KEPT[line.kind].when
    # When the work was done, not when it was typed: cards are copied in days later.
    return (field and getattr(body, field)) or line.at


def as_kept(line: Line, place: tuple[int, int, int]) -> tuple[tuple[object, ...], str, str]:
    """The row of a record as first written, or none and what is wrong with it in words; and its subject."""
    # The rules of the book are loaded where records are taken in, and not to read what was taken in.
    from kb.book.check import decode_record

    try:
        body = decode_record(line)
    except ValueError as error:
        return (), f"{KEPT[line.kind].name} that cannot be read: {error}", ""
    at, subject = _when(body, line), subject_of(KEPT[line.kind], body)
    return (line.kind, line.id, *place, at, line.who, subject, bytes(line.body), CURRENT), "", subject


def apply_to_kept(conn: sqlite3.Connection, touched: Iterable[str]) -> set[str]:
    """Re-derive each record that one of these ids, a record or a change of one, leads to.

    Gives the subjects of those records, before and after.
    """
    # Most books begin with tests only; then the rules of the other kinds need not be loaded.
    if conn.execute("SELECT 1 FROM kept LIMIT 1").fetchone() is None:
        return set()
    from kb.book.fold import fold

    kinds: dict[str, str] = {}

    def is_kept(record_id: str) -> bool:
        # The id alone does not say of which kind it is: changes point at ids.
        for kind in KEPT:
            if conn.execute("SELECT 1 FROM kept WHERE kind = ? AND id = ?", (kind, record_id)).fetchone():
                kinds[record_id] = kind
                return True
        return False

    subjects = set[str]()
    for record_id in sorted(set(roots_of(touched, changes_of(conn), is_kept).values())):
        kind = kinds[record_id]
        found = conn.execute("SELECT subject FROM kept WHERE kind = ? AND id = ?", (kind, record_id))
        now = fold(lines_about(conn, record_id)).kept[kind][record_id]
        subject = subject_of(KEPT[kind], now.body)
        # Before and after: a patch that was moved to another sheet leaves a gap on the first.
        subjects |= {*found.fetchone(), subject}
        values = (_when(now.body, now.line), subject, msgspec.json.encode(now.body), state_of(now))
        conn.execute(
            "UPDATE kept SET at = ?, subject = ?, body = ?, state = ? WHERE kind = ? AND id = ?",
            (*values, kind, record_id),
        )
    return subjects


def kept(conn: sqlite3.Connection, kind: str, subject: str = "") -> list[KeptRow]:
    """All records of a kind that are not withdrawn, or those of one subject, the oldest first."""
    if subject and KEPT[kind].subject == "sheet":
        subject = sheet_as_known(conn, subject)
    return kept_as_written(conn, kind, subject)


def kept_as_written(conn: sqlite3.Connection, kind: str, subject: str) -> list[KeptRow]:
    """The same, where the subject is a name as records bear it."""
    sql = f"{_KEPT} AND state <> 2 AND (? = '' OR subject = ?) ORDER BY id"
    return [_row(kind, row) for row in conn.execute(sql, (kind, subject, subject))]


def one_kept(conn: sqlite3.Connection, kind: str, record_id: str) -> KeptRow | None:
    """One record by its id, withdrawn or not; None if it is not here."""
    row = conn.execute(f"{_KEPT} AND id = ?", (kind, record_id)).fetchone()
    return _row(kind, row) if row else None


def _row(kind: str, row: tuple[str, str, str, int, bytes]) -> KeptRow:
    return KeptRow(row[0], row[1], row[2], row[3], msgspec.json.decode(row[4], type=KEPT[kind].type))


SHORTEST = 8
"""A record may name a batch by the beginning of its id; a shorter beginning is not taken for one."""


class Naming(NamedTuple):
    """A record that names a batch. ``kind`` is test, reading, mend ... or one not known here."""

    kind: str
    id: str
    at: str
    who: str
    sheet: str


def naming(conn: sqlite3.Connection, batch_id: str) -> list[Naming]:
    """Records that name a batch, by its id or by a beginning of it that no other batch shares, oldest first.

    Withdrawn records are left out. Kinds that this version does not know count if they have a field
    ``batch``.
    """
    # A record names a batch by as much of its id as was typed; a beginning that fits two names neither.
    starts = [batch_id[:end] for end in range(SHORTEST, len(batch_id) + 1)]
    names = {one for one in starts if ids_starting(conn, "batch", one, 2) == [batch_id]}
    marks = ", ".join("?" * len(names))
    sql = (
        # State 2 is withdrawn. No batch is the usual case, and an empty name would match every empty one.
        f"SELECT 'test', id, at, who, sheet FROM test WHERE batch <> '' AND batch IN ({marks}) AND state <> 2"
    )
    found = [Naming(*row) for row in conn.execute(sql, list(names))]
    work = conn.execute(
        "SELECT kind, id, at, who, subject, body FROM kept "
        "WHERE kind NOT IN ('batch', 'bottle') AND state <> 2"
    )
    found += [Naming(*row[:5]) for row in work if _named(row[5]) & names]
    # A newer version may have kinds that use a batch, too; a bad batch must be traceable through them.
    for line in _others(conn):
        body = bytes(line.body)
        if _named(body) & names:
            found.append(Naming(line.kind, line.id, line.at, line.who, _text(body, "sheet")))
    return sorted(found, key=lambda one: one.id)


def batches_named(conn: sqlite3.Connection, sheet: str) -> set[str]:
    """What records of one sheet call the batches they name, in capitals; withdrawn records are left out."""
    tests = "SELECT batch FROM test WHERE sheet = ? AND sheet <> '' AND batch <> '' AND state <> 2"
    found: set[str] = {row[0] for row in conn.execute(tests, (sheet,))}
    work = (
        "SELECT body FROM kept WHERE kind NOT IN ('batch', 'bottle') AND state <> 2 "
        "AND subject = ? AND subject <> ''"
    )
    for (body,) in conn.execute(work, (sheet,)):
        found |= _named(body)
    for line in _others(conn):
        if _text(bytes(line.body), "sheet") == sheet:
            found |= _named(bytes(line.body))
    return found


def _others(conn: sqlite3.Connection) -> Iterator[Line]:
    """Records of kinds that this version does not know, but those withdrawn."""
    rows = conn.execute(
        "SELECT file, offset, length FROM other_record WHERE NOT EXISTS "
        "(SELECT 1 FROM change WHERE change.of = other_record.id AND change.kind = 'withdraw') "
        # As they stand in the book: each of its files is then opened once, and not once for each record.
        "ORDER BY file, offset"
    )
    return lines_at(conn, rows.fetchall())


def _named(body: bytes) -> set[str]:
    """Batches that a record names: that it was made with, and those its colourants were taken from."""
    plain = plain_body(body)
    portions = plain.get("colourants")
    inner = [one for one in portions if isinstance(one, dict)] if isinstance(portions, list) else []
    found = {one["batch"] for one in (plain, *inner) if isinstance(one.get("batch"), str)}
    # Ids are written in capitals in the book; who types one does not bother.
    return {one.strip().upper() for one in found} - {""}


def _text(body: bytes, field: str) -> str:
    found = plain_body(body).get(field, "")
    return found if isinstance(found, str) else ""


def plain_body(body: bytes) -> dict[str, Any]:
    try:
        plain = msgspec.json.decode(body)
    except msgspec.MsgspecError:
        return {}
    return plain if isinstance(plain, dict) else {}
