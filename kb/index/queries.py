"""Reading the index: entries of the catalogue and tests of the book."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import NamedTuple

from kb.index.rows import TEST_COLUMNS, Row
from kb.index.vectors import unpack

FILTERS = (
    "sheet",
    "tape",
    "adhesive",
    "stage",
    "carrier",
    "medium",
    "paper",
    "liquid",
    "method",
    "who",
)
"""Columns of a test that a list can be narrowed by."""
NEVER = "\x00"


class EntryRow(NamedTuple):
    """One catalogue entry as stored: JSON body, and the file and line it was read from."""

    kind: str
    id: str
    name: str
    also: str
    body: bytes
    file: str
    line: int
    origin: str


def entry(conn: sqlite3.Connection, kind: str, entry_id: str) -> EntryRow | None:
    """One entry, or None."""
    sql = "SELECT kind, id, name, also, body, file, line, origin FROM entry WHERE kind = ? AND id = ?"
    row = conn.execute(sql, (kind, entry_id)).fetchone()
    return EntryRow(*row) if row else None


def entries(conn: sqlite3.Connection, kind: str) -> list[EntryRow]:
    """All entries of a kind, by name."""
    sql = (
        "SELECT kind, id, name, also, body, file, line, origin FROM entry WHERE kind = ? "
        "ORDER BY name COLLATE NOCASE, id"
    )
    return [EntryRow(*row) for row in conn.execute(sql, (kind,))]


def spot_tests(
    conn: sqlite3.Connection,
    filters: dict[str, str],
    *,
    limit: int = 0,
    before: str = "",
    withdrawn: bool = True,
) -> list[Row]:
    """Tests, newest first. ``limit`` 0 means all; ``before`` is the id to go on from."""
    where, values = ["1"], list[object]()
    for column in FILTERS:
        if filters.get(column):
            where.append(f"{column} = ?")
            values.append(filters[column])
    if before:
        where.append("id < ?")
        values.append(before)
    if not withdrawn:
        where.append("state <> 2")
    sql = f"SELECT {TEST_COLUMNS} FROM test WHERE {' AND '.join(where)} ORDER BY id DESC"
    if limit:
        sql += " LIMIT ?"
        values.append(limit)
    return [Row(*row) for row in conn.execute(sql, values)]


def spot_test(conn: sqlite3.Connection, test_id: str) -> Row | None:
    """One test by its id, or None."""
    row = conn.execute(f"SELECT {TEST_COLUMNS} FROM test WHERE id = ?", (test_id,)).fetchone()
    return Row(*row) if row else None


def ids_starting(conn: sqlite3.Connection, start: str, limit: int = 5) -> list[str]:
    """Ids of tests that begin with ``start``; the short form that a person types."""
    sql = "SELECT id FROM test WHERE id >= ? AND id < ? LIMIT ?"
    return [row[0] for row in conn.execute(sql, (start, start + "~", limit))]


def count_tests(conn: sqlite3.Connection) -> tuple[int, int]:
    """Tests in the book, and how many of them were withdrawn."""
    row = conn.execute("SELECT count(*), coalesce(sum(state = 2), 0) FROM test").fetchone()
    return int(row[0]), int(row[1])


def sheets(conn: sqlite3.Connection) -> list[tuple[str, int]]:
    """Sheets with tests and how many tests each has, the most recent first."""
    sql = "SELECT sheet, count(*) FROM test WHERE sheet <> '' GROUP BY sheet ORDER BY max(id) DESC"
    return [(row[0], row[1]) for row in conn.execute(sql)]


def blends(conn: sqlite3.Connection) -> list[tuple[str, str]]:
    """Blends that were tested: id and parts as JSON."""
    rows = conn.execute("SELECT liquid, parts FROM blend WHERE uses > 0 ORDER BY liquid").fetchall()
    return [(row[0], row[1]) for row in rows]


def vectors(
    conn: sqlite3.Connection, table: str, columns: Sequence[str], keys: Sequence[Sequence[str]]
) -> dict[tuple[str, ...], int]:
    """Sums whose leading key columns are among ``keys`` (one list of values per column)."""
    where = " AND ".join(
        f"{column} IN ({', '.join('?' * len(values))})" for column, values in zip(columns, keys, strict=False)
    )
    values = [value for group in keys for value in group]
    listed = ", ".join(columns)
    rows = conn.execute(f"SELECT {listed}, vector FROM {table} WHERE {where}", values)
    return {row[:-1]: unpack(row[-1]) for row in rows}


def masks(conn: sqlite3.Connection) -> dict[str, int]:
    """For each liquid the set of (adhesive, stage, carrier) it was tested on, as bits of a number."""
    rows = conn.execute("SELECT liquid, mask FROM liquid_mask")
    return {row[0]: int.from_bytes(row[1], "little") for row in rows}
