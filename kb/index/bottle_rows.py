"""Bottles of the book in the index: each as it stands, with the place of its first line."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

import msgspec

from kb.book.read import decode_bottle, fold
from kb.index.book_lines import lines_about
from kb.model.kinds import plain_id
from kb.model.record import Bottle, Line

CURRENT, AMENDED, WITHDRAWN = 0, 1, 2


class BottleRow(NamedTuple):
    """One bottle as it stands, amendments taken in."""

    id: str
    at: str
    who: str
    state: int
    bottle: Bottle


def store_bottle(conn: sqlite3.Connection, line: Line, place: tuple[int, int, int]) -> str:
    """Store a bottle as first written; what is wrong with it in words, or nothing."""
    try:
        bottle = decode_bottle(line)
    except ValueError as error:
        return f"a bottle that cannot be read: {error}"
    values = (line.id, *place, line.at, line.who, plain_id(bottle.liquid), line.body, CURRENT)
    conn.execute("INSERT OR IGNORE INTO bottle VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", values)
    return ""


def apply_to_bottles(conn: sqlite3.Connection, touched: Iterable[str]) -> None:
    """Re-derive each bottle that one of these ids, a record or a change of one, leads to."""
    if conn.execute("SELECT 1 FROM bottle LIMIT 1").fetchone() is None:
        return
    done: set[str] = set()
    for of in sorted(touched):
        root = _bottle_of(conn, of)
        if root is None or root in done:
            continue
        done.add(root)
        now = fold(lines_about(conn, root)).bottles[root]
        state = WITHDRAWN if now.withdrawn else AMENDED if now.history else CURRENT
        conn.execute(
            "UPDATE bottle SET liquid = ?, body = ?, state = ? WHERE id = ?",
            (plain_id(now.bottle.liquid), msgspec.json.encode(now.bottle), state, root),
        )


def bottles(conn: sqlite3.Connection, liquid: str = "") -> list[BottleRow]:
    """All bottles that were not withdrawn, or those of one liquid, the oldest record first."""
    sql = (
        "SELECT id, at, who, state, body FROM bottle WHERE state <> 2 AND (? = '' OR liquid = ?) ORDER BY id"
    )
    rows = conn.execute(sql, (liquid, liquid))
    return [
        BottleRow(row[0], row[1], row[2], row[3], msgspec.json.decode(row[4], type=Bottle)) for row in rows
    ]


def bottle_ids_starting(conn: sqlite3.Connection, start: str, limit: int = 5) -> list[str]:
    """Ids of bottles that begin with ``start``."""
    sql = "SELECT id FROM bottle WHERE id >= ? AND id < ? ORDER BY id LIMIT ?"
    return [row[0] for row in conn.execute(sql, (start, start + "~", limit))]


def _bottle_of(conn: sqlite3.Connection, of: str) -> str | None:
    """The bottle that a record or change is about, following changes of changes; None if none."""
    seen: set[str] = set()
    while of not in seen:
        seen.add(of)
        if conn.execute("SELECT 1 FROM bottle WHERE id = ?", (of,)).fetchone():
            return of
        row = conn.execute("SELECT of FROM change WHERE id = ?", (of,)).fetchone()
        if row is None:
            return None
        of = row[0]
    return None
