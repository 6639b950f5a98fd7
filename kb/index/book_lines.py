"""Read single records back from the book, by the place that the index remembers."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import msgspec

from kb.model.record import Line

_RECORDS = ("test", "kept", "other_record")


class Place(NamedTuple):
    """Where a line stands: the book file, and bytes from its beginning."""

    path: Path
    offset: int
    length: int


def lines_about(conn: sqlite3.Connection, root: str) -> list[Line]:
    """A record's own line and every change that points at it, directly or through another change.

    The record may be of any kind, known or not.
    """
    found = (_line_in(place) for place in places_about(conn, root, _RECORDS))
    return [line for line in found if line is not None]


def own_words(conn: sqlite3.Connection, test_id: str) -> str:
    """What declared fields of a test say in the one line of a list.

    The index keeps of a test what questions count; the book is read only if a field has words for the line.
    """
    from kb.book.kinds.field import in_line, leaves
    from kb.book.kinds.table import KINDS

    # No declared field of the test speaks in lists today: then the book need not be opened at all.
    if not any(field.says.line for field in leaves(KINDS["test"].type)):
        return ""
    from kb.book.fold import fold

    found = fold(lines_about(conn, test_id)).tests.get(test_id)
    return "" if found is None else ", ".join(in_line(found.test))


def places_about(
    conn: sqlite3.Connection, root: str, tables: Sequence[str] = (*_RECORDS, "change")
) -> Iterator[Place]:
    """Where those lines stand, the record's own first; a change may be looked for as well."""
    for table in tables:
        row = conn.execute(f"SELECT file, offset, length FROM {table} WHERE id = ?", (root,)).fetchone()
        if row:
            yield from _place(conn, *row)
            break
    seen, ids = {root}, [root]
    # One query per generation and not one per change: a record may have been corrected very often.
    while ids:
        marks = ", ".join("?" * len(ids))
        sql = f"SELECT id, file, offset, length FROM change WHERE of IN ({marks}) ORDER BY id"
        # Changes of a damaged book may point at each other in a ring.
        rows = [row for row in conn.execute(sql, ids).fetchall() if row[0] not in seen]
        ids = [row[0] for row in rows]
        seen.update(ids)
        for _, *place in rows:
            yield from _place(conn, *place)


def _place(conn: sqlite3.Connection, file: int, offset: int, length: int) -> Iterator[Place]:
    path = conn.execute("SELECT path FROM book_file WHERE rowid = ?", (file,)).fetchone()
    if path is not None:
        yield Place(Path(os.fsdecode(path[0])), offset, length)


def changes_of(conn: sqlite3.Connection) -> Callable[[str], str | None]:
    """What a change points at, by the id of the change; None for an id that is of no change here."""

    def of(change_id: str) -> str | None:
        row = conn.execute("SELECT of FROM change WHERE id = ?", (change_id,)).fetchone()
        return None if row is None else str(row[0])

    return of


def roots_of(
    ids: Iterable[str], of: Callable[[str], str | None], is_record: Callable[[str], bool]
) -> dict[str, str]:
    """The record that each of these ids - records, and changes of changes - is about; without those of none.

    Each link is followed once, however many changes hang on one another.
    """
    known: dict[str, str | None] = {}
    for start in ids:
        way: list[str] = []
        here: str | None = start
        while here is not None and here not in known:
            # Set before the link is followed, so that a ring of changes ends with None and not in a loop.
            known[here] = None
            way.append(here)
            if is_record(here):
                known[here] = here
                break
            here = of(here)
        root = None if here is None else known[here]
        known.update(dict.fromkeys(way, root))
    return {start: root for start in ids if (root := known[start]) is not None}


def latest_about(conn: sqlite3.Connection, of: str) -> str:
    """The highest id among a record and all changes that lead to it; ``of`` may be any one of them."""
    # UNION and not UNION ALL: it drops what was seen, so a ring of changes ends here, too.
    sql = """
        WITH RECURSIVE
            up(id) AS (VALUES (?) UNION SELECT of FROM change JOIN up USING (id)),
            down(id) AS (SELECT id FROM up UNION SELECT change.id FROM change JOIN down ON of = down.id)
        SELECT max(id) FROM down
    """
    found: str = conn.execute(sql, (of,)).fetchone()[0]
    return found


def line_at(conn: sqlite3.Connection, file: int, offset: int, length: int) -> Line | None:
    """Read one line back from the book."""
    return next((_line_in(place) for place in _place(conn, file, offset, length)), None)


def _line_in(place: Place) -> Line | None:
    from kb.book.line import decode_line

    try:
        with place.path.open("rb") as handle:
            handle.seek(place.offset)
            return decode_line(handle.read(place.length).rstrip(b"\n"))
    # The book may have been cut or altered since it was indexed; the next refresh finds that out and says
    # it.
    except (OSError, msgspec.MsgspecError, ValueError):
        return None


def problems(conn: sqlite3.Connection) -> Iterator[tuple[str, int, str]]:
    """Lines of the book that could not be read: file, line number, what is wrong."""
    rows: Iterable[tuple[str, int, str]] = conn.execute("SELECT file, line, text FROM problem ORDER BY 1, 2")
    yield from rows
