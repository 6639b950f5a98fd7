"""A bench's book in pieces: a file that has grown to its size is closed, and the next one is begun.

Copying, sharing and looking for changes cost as much as the last piece, however long the book is. The first
piece bears the bench's plain name, as books did before there were pieces; a longer file from that time is
simply closed. The chain of hashes goes on: the first line of a piece carries the hash of the last line of
the piece before it.
"""

from __future__ import annotations

import contextlib
import os
import re
from functools import lru_cache
from pathlib import Path

from kb.book import disk
from kb.book.disk import Opened, Tail, which
from kb.book.files import SUFFIX
from kb.book.storage import CLOSED_ON_EXEC, MAY_STAY_OPEN, lock, pread, unlock

CLOSED_AT_BYTES = 2 << 20
"""A piece that holds as much gets no further line. Git keeps and sends a piece of this size in a fifth of a
second; a million tests make three hundred of them, and a system lets a program open some 1,000 at once."""

# A bench's name has no full stop, so the two parts are never mixed up.
_PIECE = re.compile(r"([^.]+)\.(\d{4,6})" + re.escape(SUFFIX))


def bench_of(name: str) -> str:
    """The bench whose piece a file is, by its name."""
    found = _PIECE.fullmatch(name)
    return found[1] if found else name.removesuffix(SUFFIX)


def number_of(name: str) -> int:
    """Which piece of its bench a file is, counted from 1, by its name."""
    found = _PIECE.fullmatch(name)
    return int(found[2]) if found else 1


Written = tuple[Opened, str, bytes, str, str]
"""A piece and its path, the last line with the newlines around it, the hash of what lies between, its id."""
# Of one bench only, which is all that a program writes for. Not believed: that file, its last line and the
# name of a piece after it are looked for again.
_left: dict[str, Written] = {}
"""By its first piece the one that this program wrote to last, still open and not locked."""


def last_piece(first: str) -> str:
    """The piece that a bench writes in now; ``first`` is the path of its first piece, there or not."""
    folder, name = os.path.split(first)
    start = f"{bench_of(name)}."
    try:
        names = [other for other in os.listdir(folder) if other.startswith(start)]
    except (FileNotFoundError, NotADirectoryError):
        return first
    return piece_path(first, max((number_of(other) for other in names if _PIECE.fullmatch(other)), default=1))


def open_last(first: str) -> tuple[Opened, str, tuple[int, str, str, bool]]:
    """Open the piece for the next line and keep other writers out; also its path and its `Tail`.

    Closing it, or `leave_open`, lets the next writer in. Raises OSError as `disk.open_locked` does.
    """
    # Taken out: a lock is one for each opening, so a second thread needs one of its own.
    left = _left.pop(first, None)
    if left is None:
        return _open_last(first)
    opened, path, line, prev, record_id = left
    fd, file = opened
    length, size = len(line), -1
    try:
        # Looked at once it is locked: nobody put another in its place or after it, and nobody wrote in it.
        if lock(fd) and not os.access(_after(first, path), os.F_OK):
            found = os.lstat(path)
            begin = found.st_size - length
            fits = which(found) == file and 0 <= begin < CLOSED_AT_BYTES - length
            if fits and pread(fd, length, begin) == line:
                size = found.st_size
    except OSError:
        # What is wrong is said on the long way.
        pass
    finally:
        if size < 0:
            os.close(fd)
    return _open_last(first) if size < 0 else (opened, path, (size, prev, record_id, False))


def _open_last(first: str) -> tuple[Opened, str, Tail]:
    """The same, whatever was done by others since this program wrote, or if it never did."""
    while True:
        path = last_piece(first)
        opened, size = disk.open_locked(path)
        fd = opened[0]
        try:
            # A line that was cut short is sealed where it stands: what comes next must follow from it.
            if size < CLOSED_AT_BYTES or disk.read_tail(fd, size, path).torn:
                return opened, path, _tail_of(fd, size, path)
            # Made while the piece before is locked: whoever waits for that finds it closed and comes here.
            os.close(disk.open_locked(_after(first, path))[0][0])
        except BaseException:
            os.close(fd)
            raise
        os.close(fd)


def leave_open(first: str, left: Written) -> None:
    """Let the next writer in, and keep the file open for this program's next line."""
    stays = False
    # The record is kept by now: nothing that fails here may say otherwise.
    try:
        if MAY_STAY_OPEN:
            unlock(left[0][0])
            if _left:
                _close_left(first)
            # Said before it is so: stopped between the two, a file may stay open for nothing, but none is
            # closed that is found here for the next line.
            stays = True
            # Another thread may have left the same file open meanwhile.
            stays = _left.setdefault(first, left) is left
    except OSError:
        pass
    finally:
        # Whatever stops this: a file that stayed locked would keep every writer out.
        if not stays:
            with contextlib.suppress(OSError):
                os.close(left[0][0])


def _close_left(but: str = "") -> None:
    for first in [first for first in _left if first != but]:
        if left := _left.pop(first, None):
            os.close(left[0][0])


if hasattr(os, "register_at_fork"):
    # Parent and child would share one opening, and with it one lock.
    os.register_at_fork(after_in_child=_close_left)


def _tail_of(fd: int, size: int, path: str) -> Tail:
    """What the next line follows: the end of this piece, or of the one before if this one is empty yet."""
    found = disk.read_tail(fd, size, path)
    before = piece_before(Path(path)) if size == 0 else None
    if before is None:
        return found
    ended = end_of(before)
    return found._replace(prev=ended.prev, last_id=ended.last_id)


def piece_before(path: Path) -> Path | None:
    """The piece that this one goes on from; None for a first piece, or if that one is not there."""
    number = number_of(path.name)
    before = Path(piece_path(str(path.with_name(bench_of(path.name) + SUFFIX)), number - 1))
    return before if number > 1 and before.is_file() else None


def end_of(path: Path) -> Tail:
    """The end of a piece that is read only. Raises OSError."""
    fd = os.open(path, os.O_RDONLY | CLOSED_ON_EXEC)
    try:
        return disk.read_tail(fd, os.fstat(fd).st_size, str(path))
    finally:
        os.close(fd)


@lru_cache(maxsize=1)
def _after(first: str, path: str) -> str:
    return piece_path(first, number_of(os.path.basename(path)) + 1)


def piece_path(first: str, number: int) -> str:
    """Where a piece of a bench lies, counted from 1; ``first`` is the path of its first one."""
    return first if number == 1 else f"{first.removesuffix(SUFFIX)}.{number:04}{SUFFIX}"
