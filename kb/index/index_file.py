"""The file of the index: whose it is, whether it can be used, and what to do if not.

Whether it is still as this program left it, a seal beside it says, looked at before it is opened. SQLite
notices damage to its own structure, but not a changed byte within a number. The index holds no work, so
whatever is not as it was left is simply derived anew. The seal is also a lock: whoever has the index open
shares it, and who finds nobody else may judge, replace and seal the file.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import sqlite3
import stat
import time
import weakref
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Literal, NamedTuple

from kb.book.storage import PLAIN, lock, pread, pwrite

APPLICATION_ID = 0x424E4C46
"""Written in the head of each index file, so that a database of another program is not taken for one."""
BUSY_MS = 5_000
BUSY = (
    "The index is held by another program. The records in the book are safe; "
    "close the other program or wait for it, then try again."
)

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
    # A read error may be the file's own damage, which a new file cures; if that fails too, it is the place.
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
        with contextlib.closing(sqlite3.connect(path, timeout=0)) as conn:
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


# -- the seal of the file -----------------------------------------------------------------------------------

SUFFIX = "-seal"
SIDE_FILES = ("-wal", "-shm", "-journal", SUFFIX)
"""What stands beside an index file and goes with it."""
WAIT_S = 30.0
"""How long to wait for another program that is just making or closing the index."""
CHECK_EVERY_S = 24 * 3600
"""A file that looks untouched is read through at most this often: disks do decay, but slowly."""

Verdict = Literal["sound", "doubtful", "altered"]
READ_AT_ONCE = 16 << 20
"""A file larger than this, in bytes, is not read through each time it was written to, but when it is next
due: until then any change of its times by another hand means that it is derived anew."""
_NOT_READ = -1
_OPEN_MARK = b"open "
"""Stands before the rest while the index is open: a log that is found without it is not of this file."""
_LEFT_OVER = ("-wal", "-journal")
_CHUNK = 1 << 20


class _Mark(NamedTuple):
    """What a seal says of a file: size in bytes, times in ns, CRC-32, and when that was last compared.

    The CRC-32 is _NOT_READ for a large file that was written to since.
    """

    size: int
    mtime_ns: int
    ctime_ns: int
    crc: int
    checked_s: int


class Seal:
    """The seal of one index file, held while the index is open."""

    def __init__(self, path: Path, fd: int, *, alone: bool) -> None:
        self.path = path
        self.alone = alone
        """Nobody else has the index open. False too where files cannot be locked."""
        self._fd = fd

    @classmethod
    def take(cls, path: Path) -> Seal:
        """Hold the seal of ``path``: alone if nobody else does, else shared. Never raises OSError."""
        try:
            flags = os.O_RDWR | os.O_CREAT | PLAIN
            # For its owner alone, as the book is.
            fd = os.open(f"{path}{SUFFIX}", flags, 0o600)
        except OSError:
            # Without a seal the index still works; it only cannot be judged.
            return cls(path, -1, alone=False)
        deadline, pause_s = time.monotonic() + WAIT_S, 0.002
        while True:
            if _lock(fd):
                return cls(path, fd, alone=True)
            # Shared as well as alone may fail for a moment while another judges the file or closes it.
            if _lock(fd, shared=True) or time.monotonic() > deadline:
                return cls(path, fd, alone=False)
            time.sleep(pause_s)
            # Doubling: the usual wait is milliseconds, a rebuild takes seconds.
            pause_s = min(pause_s * 2, 0.05)

    def verdict(self) -> Verdict:
        """What to think of the file: use it, look it through first, or derive it anew.

        A file that was never sealed is used: an older version, or a copy without its seal.
        """
        # Whoever shares it found it judged already by the one who was alone.
        if not self.alone:
            return "sound"
        try:
            found = os.stat(self.path)
            text = pread(self._fd, 200, 0)
        except OSError:
            return "sound"
        # A log beside it is of a killed program if the seal says that it was open; else it was put there.
        if self._has_log():
            return "doubtful" if text.startswith(_OPEN_MARK) or not text else "altered"
        if not text:
            return "sound"
        mark = _read(text)
        if mark is None:
            return "altered"
        # A clock that was set back makes the age negative: then it is read through.
        untouched = mark[:3] == (found.st_size, found.st_mtime_ns, found.st_ctime_ns)
        if untouched and 0 <= time.time() - mark.checked_s < CHECK_EVERY_S:
            return "sound"
        if mark.size != found.st_size:
            return "altered"
        # Another hand may have changed one byte, and there is no sum to compare with.
        if mark.crc == _NOT_READ and not untouched:
            return "altered"
        crc = _crc_of(self.path)
        if mark.crc not in {_NOT_READ, crc}:
            return "altered"
        self._write(_text(found, crc))
        return "sound"

    def share(self) -> None:
        """Let others open the index too, now that it is as it should be."""
        if self.alone:
            with contextlib.suppress(OSError):
                text = pread(self._fd, 200, 0)
                # The mark goes first, before anything is written to the file: a kill from here on leaves it.
                if not text.startswith(_OPEN_MARK):
                    self._write(_OPEN_MARK + text)
            self.alone = False
            _lock(self._fd, shared=True)

    def leave(self) -> None:
        """After the index was closed: seal it, unless others still have it open."""
        if self._fd < 0:
            return
        try:
            # Only who is alone may seal: for others the file is still changing.
            if _lock(self._fd):
                self._seal()
        finally:
            self.drop()

    def drop(self) -> None:
        """Let go without sealing."""
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1

    def _seal(self) -> None:
        with contextlib.suppress(OSError):
            # A log that is left means that the file is not whole without it; sealing would vouch for half.
            if self._has_log():
                return
            before = os.stat(self.path)
            text = pread(self._fd, 200, 0)
            mark = _read(text)
            # Read through only if it was written to: closing after a mere question costs a stat.
            if mark is None or mark[:3] != (before.st_size, before.st_mtime_ns, before.st_ctime_ns):
                large = before.st_size > READ_AT_ONCE
                self._write(_text(before, _NOT_READ if large else _crc_of(self.path)))
            elif text.startswith(_OPEN_MARK):
                self._write(text.removeprefix(_OPEN_MARK))

    def _has_log(self) -> bool:
        return any(_size(f"{self.path}{suffix}") > 0 for suffix in _LEFT_OVER)

    def _write(self, text: bytes) -> None:
        with contextlib.suppress(OSError):
            pwrite(self._fd, text, 0)
            os.ftruncate(self._fd, len(text))


class SealedConnection(sqlite3.Connection):
    """A connection that seals the file when it is closed, given up or the program ends."""

    seal: Seal | None = None

    def close(self) -> None:
        # First close, then seal: closing writes the log back into the file.
        super().close()
        # Taken off before it is used: a second close must not let go of a lock that is another's by now.
        seal, self.seal = self.seal, None
        if seal is not None:
            seal.leave()

    def __del__(self) -> None:
        # A connection that could not even be opened has nothing to close.
        with contextlib.suppress(sqlite3.Error, AttributeError, TypeError):
            self.close()


_open: weakref.WeakSet[SealedConnection] = weakref.WeakSet()


def remember(conn: SealedConnection, seal: Seal) -> None:
    """Tie a seal to its connection; the two end together."""
    conn.seal = seal
    _open.add(conn)


def remove_index(path: Path) -> None:
    """Throw the index file away with all that stands beside it but the seal, which may be held.

    Raises OSError if it cannot be removed.
    """
    for suffix in ("", "-wal", "-shm", "-journal"):
        Path(f"{path}{suffix}").unlink(missing_ok=True)


def _close_all() -> None:
    # A copy, since closing takes connections out of the set.
    for conn in list(_open):
        with contextlib.suppress(sqlite3.Error):
            conn.close()


atexit.register(_close_all)


def _lock(fd: int, *, shared: bool = False) -> bool:
    """Lock the seal; False too where the system has no locks for it."""
    # On some network drives locking is refused; the index is then used as if alone were unknown.
    try:
        return lock(fd, shared=shared)
    except OSError:
        return False


def _size(path: str) -> int:
    try:
        return os.stat(path).st_size
    except OSError:
        return 0


def _read(text: bytes) -> _Mark | None:
    try:
        return _Mark(*map(int, text.removeprefix(_OPEN_MARK).split()))
    except (ValueError, TypeError):
        return None


def _text(found: os.stat_result, crc: int) -> bytes:
    mark = _Mark(found.st_size, found.st_mtime_ns, found.st_ctime_ns, crc, int(time.time()))
    return " ".join(map(str, mark)).encode() + b"\n"


def _crc_of(path: Path) -> int:
    value = 0
    with open(path, "rb", buffering=0) as file:
        while chunk := file.read(_CHUNK):
            value = zlib.crc32(chunk, value)
    return value
