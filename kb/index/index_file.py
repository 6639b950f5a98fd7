"""The file of the index: whose it is, whether it can be used, and what to do if not."""

from __future__ import annotations

import os
import sqlite3
import stat
import zlib
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import TypeVar

from kb.index.sealed import SealedConnection, remove_index

APPLICATION_ID = 0x424E4C46
"""Written in the head of each index file, so that a database of another program is not taken for one."""
BUSY_MS = 5_000
BUSY = (
    "The index is held by another program. The records in the book are safe; "
    "close the other program or wait for it, then try again."
)
_T = TypeVar("_T")

Error = sqlite3.Error
"""What a full disk or a damaged file raises while the index is asked."""
# What a damaged file can lead to: the database notices itself, or a value is not what it should be.
DAMAGE = (sqlite3.Error, zlib.error, TypeError, ValueError, LookupError)
BUSY_CODES = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
_UNFIT_PLACE = {
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_CANTOPEN,
}
_BAD_READ = {sqlite3.SQLITE_IOERR_READ, sqlite3.SQLITE_IOERR_SHORT_READ}


class IndexUnusable(Exception):
    """The index file cannot be used and could not be replaced; the sentence says what to do."""


class NoPlace(Exception):
    """The index cannot be kept as a file here and now."""


def code_of(error: Exception) -> int:
    """The plain result code of the database, 0 if it did not give one."""
    # The low byte is the plain code; extended codes add the cause above it.
    return int(getattr(error, "sqlite_errorcode", 0)) & 0xFF


def give_up(error: Exception, *, last: bool) -> None:
    """Raise unless the file may be damaged and can be replaced."""
    code = code_of(error)
    if code in BUSY_CODES:
        raise IndexUnusable(BUSY) from error
    # A read error may be the file's own damage, which a new file cures; only if that fails too is it the
    # place.
    if code in _UNFIT_PLACE and (last or getattr(error, "sqlite_errorcode", 0) not in _BAD_READ):
        raise NoPlace from error
    if last and not isinstance(error, sqlite3.Error):
        raise error
    if last:
        raise IndexUnusable(
            f"The index could not be derived ({error}). The records in the book are safe."
        ) from error


def derive_anew(path: Path, progress: Callable[[str], None]) -> None:
    """Make room for a new file, unless the one that is there was never ours."""
    try:
        # No waiting: whoever holds the file has it open rightly, and its owner is told at once.
        with closing(sqlite3.connect(path, timeout=0)) as conn:
            _refuse_foreign(conn, path)
    except sqlite3.Error as error:
        if code_of(error) in BUSY_CODES:
            raise IndexUnusable(BUSY) from error
    progress("The index was damaged, or of another version; deriving it anew")
    try:
        remove_index(path)
    except OSError as error:
        raise NoPlace from error


def _refuse_foreign(conn: sqlite3.Connection, path: Path) -> None:
    (made_by,) = conn.execute("PRAGMA application_id").fetchone()
    if made_by == APPLICATION_ID:
        return
    # No mark and no tables is an empty file, which is what a killed first start leaves.
    tables = {row[0] for row in conn.execute("SELECT name FROM sqlite_master")} if made_by == 0 else {""}
    # Indexes of early versions bear no mark.
    if tables and "book_file" not in tables:
        raise IndexUnusable(
            f"{path} is a database of another program and was left as it is. "
            "Move it out of the studio folder, then try again."
        )


def look_through(conn: sqlite3.Connection) -> None:
    """After a program was killed: raise if the file does not hang together."""
    # One fault is enough to know; the whole list would take as long as deriving the index anew.
    if conn.execute("PRAGMA integrity_check(1)").fetchone() != ("ok",):
        raise sqlite3.DatabaseError("the file does not hang together")


def is_in_the_way(path: Path) -> bool:
    """Whether something else than a file stands where the index or a file beside it goes.

    A pipe would keep the database waiting for ever, and through a link it would write elsewhere.
    """
    if path.exists() and not path.is_file():
        return True
    for suffix in ("-wal", "-shm", "-journal"):
        try:
            if not stat.S_ISREG(os.lstat(f"{path}{suffix}").st_mode):
                return True
        except OSError:
            continue
    return False


def inode_of(path: Path | None) -> int:
    """The number by which the system knows a file; 0 if there is none."""
    try:
        return 0 if path is None else path.stat().st_ino
    except OSError:
        return 0


def connect(path: Path | None) -> SealedConnection:
    """A connection to the file, made if need be, or to a database in memory.

    Raises IndexUnusable for a database of another program, and sqlite3.Error.
    """
    conn = sqlite3.connect(
        ":memory:" if path is None else str(path),
        timeout=BUSY_MS / 1000,
        # Transactions are opened by hand, since the module would open them at its own moments.
        isolation_level=None,
        # The app asks from worker threads, one after the other.
        check_same_thread=False,
        factory=SealedConnection,
    )
    try:
        if path is not None:
            _refuse_foreign(conn, path)
        # Readers go on while one process writes: several windows share one studio.
        conn.execute("PRAGMA journal_mode=WAL")
        # The index can be derived again, so it need not wait for the disk at each commit; the book does.
        conn.execute("PRAGMA synchronous=NORMAL")
        # A file that somebody planted must not run functions of this process through its schema.
        conn.execute("PRAGMA trusted_schema=OFF")
    except BaseException:
        conn.close()
        raise
    return conn
