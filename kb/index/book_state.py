"""Whether the book on disk is still what the index has read. Light to import, and writes nothing."""

import os
import sqlite3
from pathlib import Path
from typing import NamedTuple

from kb.book.read import files
from kb.book.seen import tip_of


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
