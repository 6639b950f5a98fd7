"""Open the index, and make it say what the catalogue and the book say now."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

import msgspec

from kb.index.book_rows import clear_book, refresh_book
from kb.index.catalogue_rows import state_of, states_differ, write_catalogue
from kb.index.compiled import Compiled
from kb.index.schema import VERSION, create

BUSY_MS = 5_000
Progress = Callable[[str], None]


def silent(_: str) -> None:
    """Progress that nobody watches."""


class Origins(NamedTuple):
    """Where the index is derived from."""

    catalogue_folders: tuple[Path, ...]
    settings_file: Path
    book_dir: Path
    """The folder of the book, or one file of it."""


class IndexUnusable(Exception):
    """The index file cannot be used and could not be replaced; the sentence says what to do."""


class Index:
    """An open index with the compiled catalogue. Cheap to keep, safe to reopen."""

    def __init__(self, conn: sqlite3.Connection, origins: Origins, compiled: Compiled) -> None:
        self.conn = conn
        self.origins = origins
        self.compiled = compiled

    def refresh(self, progress: Progress = silent) -> bool:
        """Take in what is new on disk. True if anything changed."""
        changed, self.compiled = _refresh(self.conn, self.origins, progress)
        return changed


def open_index(path: Path | None, origins: Origins, progress: Progress = silent) -> Index:
    """Open (or make) the index at ``path`` (None: in memory) and bring it up to date.

    A file that is damaged, of another version or not a database is thrown away and derived anew: it
    holds nothing that is not in the catalogue or the book.
    """
    for attempt in (1, 2):
        conn: sqlite3.Connection | None = None
        try:
            conn = _connect(path)
            _, compiled = _refresh(conn, origins, progress)
            return Index(conn, origins, compiled)
        except sqlite3.OperationalError as error:
            if conn is not None:
                conn.close()
            if "readonly" in str(error) or "unable to open" in str(error):
                return open_index(None, origins, progress)
            if "locked" in str(error) or attempt == 2 or path is None:
                raise IndexUnusable(f"The index is busy ({error}); close the other program.") from error
            _remove(path)
        except sqlite3.DatabaseError as error:
            if conn is not None:
                conn.close()
            if attempt == 2 or path is None:
                raise IndexUnusable(f"The index could not be derived: {error}.") from error
            progress("The index was damaged; deriving it anew.")
            _remove(path)
    raise AssertionError("unreachable")


def _remove(path: Path) -> None:
    for suffix in ("", "-wal", "-shm", "-journal"):
        Path(f"{path}{suffix}").unlink(missing_ok=True)


def _connect(path: Path | None) -> sqlite3.Connection:
    if path is not None:
        path.parent.mkdir(parents=True, exist_ok=True)
    conn = sqlite3.connect(
        ":memory:" if path is None else str(path),
        timeout=BUSY_MS / 1000,
        isolation_level=None,
        check_same_thread=False,
    )
    conn.execute("PRAGMA journal_mode=WAL")
    conn.execute("PRAGMA synchronous=NORMAL")
    conn.execute("PRAGMA trusted_schema=OFF")
    return conn


def _refresh(conn: sqlite3.Connection, origins: Origins, progress: Progress) -> tuple[bool, Compiled]:
    """One transaction: schema if needed, catalogue if it changed, then the book's new lines."""
    from kb.catalogue.paths import yaml_files

    files = [f for folder in origins.catalogue_folders for f in yaml_files(folder)]
    if origins.settings_file.exists():
        files.append(origins.settings_file)
    version = conn.execute("PRAGMA user_version").fetchone()[0]
    if version == VERSION and not states_differ(conn, files):
        compiled = _read_compiled(conn)
        if compiled is not None:
            return _refresh_book(conn, origins, compiled), compiled
    if version != VERSION:
        # Outside the transaction: the library that makes the tables commits by itself.
        _drop_all(conn)
        create(conn)
    with _transaction(conn):
        return True, _rebuild(conn, origins, files, progress)


@contextmanager
def _transaction(conn: sqlite3.Connection) -> Iterator[None]:
    conn.execute("BEGIN IMMEDIATE")
    try:
        yield
        conn.execute("COMMIT")
    except BaseException:
        if conn.in_transaction:
            conn.execute("ROLLBACK")
        raise


def _refresh_book(conn: sqlite3.Connection, origins: Origins, compiled: Compiled) -> bool:
    from kb.index.book_rows import book_changed

    if not book_changed(conn, origins.book_dir):
        return False
    with _transaction(conn):
        return refresh_book(conn, origins.book_dir, compiled)


def _rebuild(conn: sqlite3.Connection, origins: Origins, files: list[Path], progress: Progress) -> Compiled:
    from kb.catalogue.load import load
    from kb.index.compile import compile_catalogue
    from kb.index.settings_file import read_settings

    progress("Reading the catalogue")
    states = [state_of(path) for path in files]
    catalogue, problems = load(list(origins.catalogue_folders))
    settings, setting_problems = read_settings(origins.settings_file)
    compiled = compile_catalogue(catalogue, settings)
    write_catalogue(conn, catalogue, compiled, states)
    conn.execute("DELETE FROM catalogue_problem")
    conn.executemany(
        "INSERT INTO catalogue_problem VALUES (?)",
        [(str(problem),) for problem in (*problems, *setting_problems)],
    )
    progress("Reading the bench book")
    clear_book(conn)
    refresh_book(conn, origins.book_dir, compiled)
    conn.execute(f"PRAGMA user_version={VERSION}")
    return compiled


def _drop_all(conn: sqlite3.Connection) -> None:
    """Empty the database, virtual tables first because they own others."""
    rows = conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'").fetchall()
    for name, _ in sorted(rows, key=lambda row: not str(row[1]).startswith("CREATE VIRTUAL")):
        if not name.startswith("sqlite_"):
            conn.execute(f'DROP TABLE IF EXISTS "{name}"')


def _read_compiled(conn: sqlite3.Connection) -> Compiled | None:
    row = conn.execute("SELECT value FROM meta WHERE key = 'compiled'").fetchone()
    if row is None:
        return None
    try:
        return msgspec.msgpack.decode(row[0], type=Compiled)
    except msgspec.MsgspecError:
        return None
