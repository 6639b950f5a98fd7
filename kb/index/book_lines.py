"""What the index knows of the book: whether its files are still what was read, and where records stand."""

import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from itertools import groupby
from operator import attrgetter
from pathlib import Path
from typing import NamedTuple

import msgspec

from kb.book.files import files
from kb.book.seen import tip_of
from kb.model.record import Line

_RECORDS = ("test", "kept", "other_record")


class BookFile(NamedTuple):
    """What the index remembers of one book file."""

    rowid: int
    path: str
    size: int
    mtime_ns: int
    ctime_ns: int
    offset: int
    lines: int
    tip: str


def book_changed(conn: sqlite3.Connection, book_dir: Path) -> bool:
    """Whether the book's files differ from what was read, without writing anything."""
    known = known_files(conn)
    present = files_of(book_dir)
    return (
        any(rewritten(one) for one in known.values())
        # A file that went away took its records with it.
        or bool(set(known) - {str(path) for path in present})
        or any(grew(path, known.get(str(path))) for path in present)
    )


def files_of(book: Path) -> list[Path]:
    """The files of a book folder in order, or the one file that was named instead."""
    return [book] if book.is_file() else files(book)


def known_files(conn: sqlite3.Connection) -> dict[str, BookFile]:
    """What the index remembers of each file, by path."""
    rows = (BookFile(*row) for row in conn.execute("SELECT rowid, * FROM book_file"))
    return {os.fsdecode(one.path): one._replace(path=os.fsdecode(one.path)) for one in rows}


def storable(path: Path) -> str | bytes:
    """A path as the database takes it and ``os.fsdecode`` gives it back: as bytes if it is not UTF-8."""
    text = str(path)
    return os.fsencode(path) if any("\ud800" <= sign <= "\udfff" for sign in text) else text


def shown_name(path: Path) -> str:
    """A file's name for people, with a mark in place of what is not UTF-8."""
    return path.name.encode(errors="replace").decode()


def grew(path: Path, known: BookFile | None) -> bool:
    """Whether there is more in a file than was read, or an unfinished line was taken back."""
    return known is None or path.stat().st_size != known.size


def rewritten(known: BookFile) -> bool:
    """Whether what was read before may no longer be what the file says."""
    try:
        found = Path(known.path).stat()
    except OSError:
        return True
    # Shorter than what was read: lines are gone, whatever the times say.
    if found.st_size < known.offset:
        return True
    if found.st_size == known.size:
        # An editor that keeps the time of change cannot keep the time at which the system noted it.
        return (found.st_mtime_ns, found.st_ctime_ns) != (known.mtime_ns, known.ctime_ns)
    # It grew: only if the last line read is still in its place was it appended to and not written anew.
    return bool(known.tip) and tip_of(Path(known.path), known.offset) != known.tip


class Place(NamedTuple):
    """Where a line stands: the book file, and bytes from its beginning."""

    path: Path
    offset: int
    length: int


def lines_about(conn: sqlite3.Connection, root: str) -> list[Line]:
    """A record's own line and every change that points at it, directly or through another change.

    The record may be of any kind, known or not.
    """
    return list(_lines_in(places_about(conn, root, _RECORDS)))


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
    return "" if found is None else ", ".join(in_line(found.body))


def places_about(
    conn: sqlite3.Connection, root: str, tables: Sequence[str] = (*_RECORDS, "change")
) -> Iterator[Place]:
    """Where those lines stand, the record's own first; a change may be looked for as well."""
    paths = _Paths(conn)
    for table in tables:
        row = conn.execute(f"SELECT file, offset, length FROM {table} WHERE id = ?", (root,)).fetchone()
        if row:
            yield from paths.place(*row)
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
            yield from paths.place(*place)


class _Paths:
    """The book files by their number in the index, each asked for once."""

    def __init__(self, conn: sqlite3.Connection) -> None:
        self._conn = conn
        self._known: dict[int, Path | None] = {}

    def place(self, file: int, offset: int, length: int) -> Iterator[Place]:
        """The place, if there is such a file."""
        if file not in self._known:
            row = self._conn.execute("SELECT path FROM book_file WHERE rowid = ?", (file,)).fetchone()
            self._known[file] = Path(os.fsdecode(row[0])) if row else None
        if path := self._known[file]:
            yield Place(path, offset, length)


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
    return next(lines_at(conn, [(file, offset, length)]), None)


def lines_at(conn: sqlite3.Connection, places: Iterable[tuple[int, int, int]]) -> Iterator[Line]:
    """Read lines back from the book: number of the file, offset and length of each.

    A file is opened once for places that follow on one another; what is no longer there is passed over.
    """
    paths = _Paths(conn)
    return _lines_in(there for place in places for there in paths.place(*place))


def _lines_in(places: Iterable[Place]) -> Iterator[Line]:
    """The records at these places; what is no longer there is passed over."""
    from kb.book.line import decode_line

    # Thousands of changes of one record stand in one file or two, which are opened once.
    for path, there in groupby(places, key=attrgetter("path")):
        with suppress(OSError), path.open("rb") as handle:
            for place in there:
                # The book may have been cut or altered since it was indexed; the next refresh says so.
                with suppress(OSError, msgspec.MsgspecError, ValueError):
                    handle.seek(place.offset)
                    yield decode_line(handle.read(place.length).rstrip(b"\n"))


def problems(conn: sqlite3.Connection) -> Iterator[tuple[str, int, str]]:
    """Lines of the book that could not be read: file, line number, what is wrong."""
    rows: Iterable[tuple[str, int, str]] = conn.execute("SELECT file, line, text FROM problem ORDER BY 1, 2")
    yield from rows
