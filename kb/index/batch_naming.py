"""What names a batch: the way back from a bad batch to every sheet it touched."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, NamedTuple

import msgspec

from kb.index.book_lines import lines_at
from kb.index.kept_rows import kept_ids_starting
from kb.model.record import Line

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
    # A record names a batch by as much of its id as its writer typed; a beginning that fits two batches
    # names neither.
    starts = [batch_id[:end] for end in range(SHORTEST, len(batch_id) + 1)]
    names = {one for one in starts if kept_ids_starting(conn, "batch", one, 2) == [batch_id]}
    marks = ", ".join("?" * len(names))
    sql = (
        # State 2 is withdrawn. No batch is the usual case, and an empty name would otherwise match every
        # empty one.
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
    found: set[str] = set()
    tests = "SELECT batch FROM test WHERE sheet = ? AND sheet <> '' AND batch <> '' AND state <> 2"
    found.update(row[0] for row in conn.execute(tests, (sheet,)))
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
    plain = _plain(body)
    portions = plain.get("colourants")
    inner = [one for one in portions if isinstance(one, dict)] if isinstance(portions, list) else []
    found = {one["batch"] for one in (plain, *inner) if isinstance(one.get("batch"), str)}
    # Ids are written in capitals in the book; who types one does not bother.
    return {one.strip().upper() for one in found} - {""}


def _text(body: bytes, field: str) -> str:
    found = _plain(body).get(field, "")
    return found if isinstance(found, str) else ""


def _plain(body: bytes) -> dict[str, Any]:
    try:
        plain = msgspec.json.decode(body)
    except msgspec.MsgspecError:
        return {}
    return plain if isinstance(plain, dict) else {}
