"""What names a batch: the way back from a bad batch to every sheet it touched."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

import msgspec

from kb.index.book_lines import line_at
from kb.index.kept_rows import kept_ids_starting

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
    starts = [batch_id[:end] for end in range(SHORTEST, len(batch_id) + 1)]
    names = {one for one in starts if kept_ids_starting(conn, "batch", one, 2) == [batch_id]}
    marks = ", ".join("?" * len(names))
    sql = (
        f"SELECT 'test', id, at, who, sheet FROM test WHERE batch <> '' AND batch IN ({marks}) AND state <> 2"
    )
    found = [Naming(*row) for row in conn.execute(sql, list(names))]
    work = conn.execute(
        "SELECT kind, id, at, who, subject, body FROM kept "
        "WHERE kind NOT IN ('batch', 'bottle') AND state <> 2"
    )
    found += [Naming(*row[:5]) for row in work if _named(row[5]) in names]
    others = conn.execute(
        "SELECT kind, id, at, who, file, offset, length FROM other_record WHERE NOT EXISTS "
        "(SELECT 1 FROM change WHERE change.of = other_record.id AND change.kind = 'withdraw')"
    )
    for kind, id, at, who, *place in others.fetchall():
        line = line_at(conn, *place)
        if line is not None and _named(bytes(line.body)) in names:
            found.append(Naming(kind, id, at, who, _text(bytes(line.body), "sheet")))
    return sorted(found, key=lambda one: one.id)


def _named(body: bytes) -> str:
    return _text(body, "batch").strip().upper()


def _text(body: bytes, field: str) -> str:
    try:
        plain = msgspec.json.decode(body)
    except msgspec.MsgspecError:
        return ""
    found = plain.get(field, "") if isinstance(plain, dict) else ""
    return found if isinstance(found, str) else ""
