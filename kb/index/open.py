"""Open the index, and make it say what the catalogue and the book say now.

The index holds nothing that is not in the catalogue or the book. So a file that is damaged, altered or of
another version is thrown away and derived anew, and where no file can be kept the answers come from memory.
What belongs to another program is left as it is.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import closing, contextmanager, nullcontext, suppress
from pathlib import Path
from typing import NamedTuple

import msgspec

from kb.index.book_lines import book_changed
from kb.index.compiled import Compiled
from kb.index.index_file import (
    APPLICATION_ID,
    BUSY,
    BUSY_CODES,
    DAMAGE,
    SIDE_FILES,
    IndexUnusable,
    NoPlace,
    Seal,
    SealedConnection,
    code_of,
    connect,
    derive_anew,
    give_up,
    inode_of,
    is_in_the_way,
    look_through,
    remember,
    remove_index,
)
from kb.index.pool_queries import pool_changed
from kb.index.schema import VERSION, create
from kb.model.studio import Settings, Shelf
from kb.science.numbers import percent

Progress = Callable[[str], None]
MAKING_KB = 32_768
"""Memory for pages of an index that is made anew, in KiB: what does not fit is written and read again."""
CATCHING_UP = 6
"""How often at most a new index takes in what was written while it was made, before it is used."""
_State = tuple[str, int, int, str]
"""What the index remembers of a YAML file: path, size, time and content hash."""


def silent(_: str) -> None:
    """Progress that nobody watches."""


class Origins(NamedTuple):
    """Where the index is derived from."""

    catalogue_folders: tuple[Path, ...]
    settings_file: Path
    book_dir: Path
    """The folder of the book, or one file of it."""
    shelf_file: Path | None = None

    @property
    def own_files(self) -> tuple[Path, ...]:
        """What a studio says of itself. No entry and no record of the index depends on it."""
        return (self.settings_file,) if self.shelf_file is None else (self.settings_file, self.shelf_file)

    @property
    def pool_dir(self) -> Path:
        """The folder with the counts of other studios."""
        return self.settings_file.parent / "pool"


class Index:
    """An open index with the compiled catalogue. Cheap to keep, safe to reopen."""

    def __init__(
        self, conn: sqlite3.Connection, origins: Origins, compiled: Compiled, path: Path | None = None
    ) -> None:
        self.conn = conn
        self.origins = origins
        self.compiled = compiled
        self._path = path
        self._inode = inode_of(path)
        self._changed_by_others = _changes_by_others(conn)

    def refresh(self, progress: Progress = silent) -> bool:
        """Take in what is new on disk. True if anything changed.

        Raises IndexUnusable while another program holds the index, sqlite3.Error if the file was damaged
        or cannot grow (open the index again then), and OSError if the book cannot be read.
        """
        try:
            others = _changes_by_others(self.conn)
            # Only another connection can have put another catalogue there; reading it anew at each question
            # would also throw away what was worked out from it.
            known = self.compiled if others == self._changed_by_others else None
            changed, self.compiled = _refresh(self.conn, self.origins, progress, known)
            self._changed_by_others = others
        except sqlite3.Error as error:
            if code_of(error) in BUSY_CODES:
                raise IndexUnusable(BUSY) from error
            raise
        return changed

    def replaced(self) -> bool:
        """Whether another file, or none, now stands where this index was opened."""
        return self._path is not None and inode_of(self._path) != self._inode


def open_index(
    path: Path | None, origins: Origins, progress: Progress = silent, *, unread: bool = False
) -> Index:
    """Open (or make) the index at ``path`` (None: in memory) and bring it up to date.

    ``unread``: nobody reads it before it is whole, and half made it is thrown away.
    Raises IndexUnusable with a sentence, and OSError if the book or the catalogue cannot be read.
    """
    if path is not None:
        try:
            # A full disk, a read-only folder or a link in the way: answers matter more than keeping them.
            return _open_file(path, origins, progress, unread)
        except NoPlace:
            progress("The index cannot be kept on the disk now; it is derived in memory")
    conn = None
    try:
        conn = connect(None)
        return Index(conn, origins, _refresh(conn, origins, progress)[1])
    except sqlite3.Error as error:
        if conn is not None:
            conn.close()
        raise IndexUnusable(
            f"The index could not be derived ({error}). The records in the book are safe."
        ) from error


def renew(path: Path, origins: Origins, progress: Progress = silent) -> None:
    """Derive the index anew in a file beside ``path`` and put it in its place at the end.

    Until then others answer from the old one; who has it open sees that it was replaced (`Index.replaced`).
    Raises IndexUnusable, also if the old one cannot be replaced, and OSError as `open_index`.
    """
    # With the number of the process: two rebuilds at once must not write into one file.
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    _clear(path)
    rounds = CATCHING_UP
    try:
        made = open_index(part, origins, progress, unread=True)
        # What was written meanwhile: whoever asks right after the exchange would wait for it.
        # Bounded: a writer that never stops would keep the rebuild from ever ending.
        while made.refresh(progress) and (rounds := rounds - 1):
            pass
        # As it is opened from now on: else the first reader would have to write.
        made.conn.execute("PRAGMA journal_mode=WAL")
        made.conn.close()
        seal = Seal.take(path)
        try:
            # Without a new file - no room for a second one - the next to open the index derives it.
            # Remove first: replacing only the main file would leave side files that belong to the old one.
            remove_index(path)
            if part.exists():
                part.replace(path)
        except OSError as error:
            raise IndexUnusable(
                f"The old index {path} cannot be removed ({error.strerror}). The records in the book are "
                "safe. Change the rights of the studio folder or move the index away, then try again."
            ) from error
        finally:
            seal.leave()
    finally:
        for left in ("", *SIDE_FILES):
            Path(f"{part}{left}").unlink(missing_ok=True)


def _clear(path: Path) -> None:
    """Take away what a renewal left that was killed; nothing takes a day to derive."""
    for left in path.parent.glob(f".{path.name}.*.part*"):
        with suppress(OSError):
            # Younger ones may be another process at work.
            if time.time() - left.stat().st_mtime > 24 * 3600:
                left.unlink()


def _open_file(path: Path, origins: Origins, progress: Progress, unread: bool) -> Index:
    """The index in a file, derived anew if need be. Raises NoPlace if no file can be kept there."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        in_the_way = is_in_the_way(path)
    except OSError as error:
        raise NoPlace from error
    if in_the_way:
        raise NoPlace
    seal = Seal.take(path)
    try:
        return _open_sealed(path, seal, origins, progress, unread)
    except BaseException:
        # Also on an interrupt: a seal that nobody holds would lock the studio's next start out.
        seal.drop()
        raise


def _open_sealed(path: Path, seal: Seal, origins: Origins, progress: Progress, unread: bool) -> Index:
    verdict = seal.verdict()
    # Do not even look inside: an altered file could say wrong things without being damaged.
    if verdict == "altered":
        derive_anew(path, progress)
    # Twice: damage found while reading is cured by a new file; if that fails too, the cause is elsewhere.
    for last in (False, True):
        conn: SealedConnection | None = None
        try:
            conn = connect(path)
            if unread:
                # A log is for readers beside the writer: each page would be written twice.
                conn.execute("PRAGMA journal_mode=MEMORY")
                conn.execute(f"PRAGMA cache_size=-{MAKING_KB}")
            # Only after a kill, because it reads the whole file; on the second round the file is new.
            if verdict == "doubtful" and not last:
                look_through(conn)
            _, compiled = _refresh(conn, origins, progress)
            seal.share()
            remember(conn, seal)
            return Index(conn, origins, compiled, path)
        except BaseException as error:
            if conn is not None:
                conn.close()
            if not isinstance(error, DAMAGE):
                raise
            give_up(error, last=last)
        derive_anew(path, progress)
    raise AssertionError("unreachable")


def _states_differ(conn: sqlite3.Connection, files: list[Path], *, apart: Collection[Path] = ()) -> bool:
    """Whether any YAML file changed its content since it was compiled, but for those ``apart``.

    A file with a new time but the same content only has its time noted.
    """
    known = {path: state for path, *state in conn.execute("SELECT * FROM source_file")}
    # Settings and shelf change often and touch no entry; who asks about entries alone leaves them out.
    for path in apart:
        known.pop(str(path), None)
    if set(known) != {str(path) for path in files}:
        return True
    for path in files:
        found, (size, mtime_ns, sha) = path.stat(), known[str(path)]
        if (found.st_size, found.st_mtime_ns) == (size, mtime_ns):
            continue
        if found.st_size != size or _hash_of(path) != sha:
            return True
        # A checkout or a copy gives new times to the same bytes; reading YAML again would take seconds.
        conn.execute("UPDATE source_file SET mtime_ns = ? WHERE path = ?", (found.st_mtime_ns, str(path)))
    return False


def _state_of(path: Path) -> _State:
    found = path.stat()
    return str(path), found.st_size, found.st_mtime_ns, _hash_of(path)


def _hash_of(path: Path) -> str:
    # Here, for it loads a library that an answer on an unchanged catalogue does without.
    from hashlib import sha256

    return sha256(path.read_bytes()).hexdigest()


def _refresh(
    conn: sqlite3.Connection, origins: Origins, progress: Progress, known: Compiled | None = None
) -> tuple[bool, Compiled]:
    """One transaction: schema if needed, catalogue if it changed, then the book's new lines.

    ``known``: the catalogue as this connection has it, if it is sure that the index holds no other.
    """
    from kb.catalogue.paths import yaml_files

    entries = [f for folder in origins.catalogue_folders for f in yaml_files(folder)]
    files = entries + [f for f in origins.own_files if f.exists()]
    version = conn.execute("PRAGMA user_version").fetchone()[0]
    if version not in {0, VERSION}:
        # Another program may read it just now: its file goes (`derive_anew`), and is not emptied under it.
        raise sqlite3.DatabaseError("the index is of another version")
    compiled = (known or _read_compiled(conn)) if version == VERSION else None
    # A refresh in which nothing changed must not open a writing transaction: readers would wait for it.
    if compiled is not None:
        # Book after catalogue, always: which cell a test falls into depends on the catalogue's tapes.
        if not _states_differ(conn, files):
            changed = _refresh_book(conn, origins, compiled)
            return _refresh_pool(conn, origins, compiled) or changed, compiled
        # Settings and shelf alone: no entry and no count depends on them, so the book need not be read.
        if not _states_differ(conn, entries, apart=origins.own_files):
            with _transaction(conn):
                compiled = _take_own(conn, origins, compiled)
            _refresh_book(conn, origins, compiled)
            _refresh_pool(conn, origins, compiled)
            return True, compiled
    if version != VERSION:
        # Outside the transaction: the library that makes the tables commits by itself.
        # The mark first, so that a file that is left half made is known for ours.
        conn.execute(f"PRAGMA application_id={APPLICATION_ID}")
        _drop_all(conn)
        create(conn)
    with _transaction(conn):
        return True, _rebuild(conn, origins, files, progress)


def _changes_by_others(conn: sqlite3.Connection) -> int:
    """A number that is another one after any other connection wrote to the file."""
    return int(conn.execute("PRAGMA data_version").fetchone()[0])


@contextmanager
def _transaction(conn: sqlite3.Connection) -> Iterator[None]:
    # IMMEDIATE: waiting for the lock happens here and not in the middle, where it would end in a refusal.
    conn.execute("BEGIN IMMEDIATE")
    try:
        yield
        conn.execute("COMMIT")
    except BaseException:
        # A full disk may have rolled back already; a second ROLLBACK would hide its error.
        if conn.in_transaction:
            conn.execute("ROLLBACK")
        raise


def _refresh_book(conn: sqlite3.Connection, origins: Origins, compiled: Compiled) -> bool:
    if not book_changed(conn, origins.book_dir):
        return False
    from kb.index.book_rows import refresh_book

    with _transaction(conn):
        return refresh_book(conn, origins.book_dir, compiled)


def _refresh_pool(conn: sqlite3.Connection, origins: Origins, compiled: Compiled) -> bool:
    if not pool_changed(conn, origins.pool_dir):
        return False
    from kb.index.pool_rows import refresh_pool

    with _transaction(conn):
        return refresh_pool(conn, origins.pool_dir, compiled)


def _rebuild(conn: sqlite3.Connection, origins: Origins, files: list[Path], progress: Progress) -> Compiled:
    from kb.index.book_lines import files_of
    from kb.index.reading import SecondProcess

    def watch(share: float) -> None:
        progress(f"Reading the bench book, {percent(share)}")

    # Before the catalogue is read: the other process gets through a third of a long book meanwhile.
    second = SecondProcess.of_long(files_of(origins.book_dir))
    with closing(second) if second else nullcontext():
        from kb.catalogue.load import load
        from kb.index.book_rows import clear_book, refresh_book
        from kb.index.catalogue_rows import write_catalogue
        from kb.index.compile import compile_catalogue
        from kb.index.pool_rows import clear_pool, refresh_pool

        progress("Reading the catalogue")
        states = [_state_of(path) for path in files]
        catalogue, problems = load(list(origins.catalogue_folders))
        settings, shelf, own_problems = _read_own(origins, catalogue.entries)
        compiled = compile_catalogue(catalogue, settings, shelf)
        write_catalogue(conn, catalogue, compiled)
        for table in ("source_file", "catalogue_problem"):
            conn.execute(f"DELETE FROM {table}")
        _note(conn, states, (*map(str, problems), *own_problems))
        clear_book(conn)
        refresh_book(conn, origins.book_dir, compiled, watch, second)
    clear_pool(conn)
    if pool_changed(conn, origins.pool_dir):
        progress("Reading the counts of other studios")
        refresh_pool(conn, origins.pool_dir, compiled)
    # Last: a rebuild cut short leaves the old number, and the next start does it again.
    conn.execute(f"PRAGMA user_version={VERSION}")
    return compiled


def _read_own(origins: Origins, known: Mapping[str, Collection[str]]) -> tuple[Settings, Shelf, list[str]]:
    """Settings, shelf, and what is wrong in their files."""
    from kb.catalogue.own_files import read_settings, read_shelf_file

    settings, problems = read_settings(origins.settings_file)
    if origins.shelf_file is None:
        return settings, Shelf(), problems
    shelf, more = read_shelf_file(origins.shelf_file, known)
    return settings, shelf, problems + more


def _take_own(conn: sqlite3.Connection, origins: Origins, compiled: Compiled) -> Compiled:
    """Take in a change of what the studio says of itself; catalogue and book stay as they are."""
    from kb.index.catalogue_rows import known_ids, write_compiled

    states = [_state_of(path) for path in origins.own_files if path.exists()]
    settings, shelf, problems = _read_own(origins, known_ids(conn))
    compiled = msgspec.structs.replace(compiled, settings=settings, shelf=shelf)
    for path in origins.own_files:
        conn.execute("DELETE FROM source_file WHERE path = ?", (str(path),))
        # Problems are text that starts with the file's name; those of the two own files are taken out by it.
        start = f"{path.name}:"
        conn.execute("DELETE FROM catalogue_problem WHERE substr(text, 1, ?) = ?", (len(start), start))
    _note(conn, states, problems)
    write_compiled(conn, compiled)
    return compiled


def _note(conn: sqlite3.Connection, states: Iterable[_State], problems: Iterable[str]) -> None:
    conn.executemany("INSERT INTO source_file VALUES (?, ?, ?, ?)", states)
    conn.executemany("INSERT INTO catalogue_problem VALUES (?)", [(text,) for text in problems])


def _drop_all(conn: sqlite3.Connection) -> None:
    """Empty the database, virtual tables first because they own others."""
    rows = conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'").fetchall()
    # Dropping a table that a virtual one owns is refused.
    for name, _ in sorted(rows, key=lambda row: not str(row[1]).startswith("CREATE VIRTUAL")):
        if not name.startswith("sqlite_"):
            conn.execute(f'DROP TABLE IF EXISTS "{name}"')


def _read_compiled(conn: sqlite3.Connection) -> Compiled | None:
    row = conn.execute("SELECT value FROM meta WHERE key = 'compiled'").fetchone()
    if row is None:
        return None
    try:
        return msgspec.msgpack.decode(row[0], type=Compiled)
    # Another version's layout, or damage: either way it is derived anew.
    except msgspec.MsgspecError:
        return None
