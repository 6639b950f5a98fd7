"""The file under a bench book: open and lock it, read its end, add bytes for good or not at all."""

from __future__ import annotations

import errno
import os
import re
import stat
import time
from typing import NamedTuple

from kb.book.check import BookError
from kb.book.line import FIRST_PREV, hash_of
from kb.book.storage import (
    BLOCK,
    PLAIN,
    line_start,
    make_folder,
    pread,
    start_writing,
    sync,
    sync_folder,
    wait_for_lock,
)
from kb.book.ulid import SHAPE

LOCK_WAIT_S = 10.0
NOTHING = "Nothing was recorded."

_TRIES = 50
# Damage is rarely longer than a few lines, and reading on would cost the more the worse the damage is.
_LOOK_BACK = 5
# The id stands first in each line, so that it is found without parsing one that is damaged.
LINE_ID = re.compile(rb'\{"id":"(%b)"' % SHAPE.encode())
_FLAGS = os.O_RDWR | os.O_APPEND | PLAIN
# The last line is read before each new one, and to note when would change the file once more.
_UNNOTED = getattr(os, "O_NOATIME", 0)
Opened = tuple[int, tuple[int, ...]]
"""An open file, and which file it is."""


class Tail(NamedTuple):
    """The end of a file: its size in bytes, the last line's hash and id, whether it has no newline."""

    size: int
    prev: str
    last_id: str
    torn: bool


def open_locked(path: str) -> tuple[Opened, int]:
    """Open a file for appending, create it if need be, and keep other writers out.

    Returns it with its size in bytes. Closing it lets the next writer in.
    Raises OSError; EAGAIN after `LOCK_WAIT_S` seconds behind another writer.
    """
    # One deadline over all rounds: a file that keeps being replaced must not renew the wait.
    deadline = time.monotonic() + LOCK_WAIT_S
    for _ in range(_TRIES):
        fd, opened = _open(path)
        try:
            if not wait_for_lock(fd, deadline - time.monotonic()):
                raise BlockingIOError(errno.EAGAIN, "another program holds it")
            found = _is_still(path, opened)
            if found:
                return (fd, opened), found.st_size
        except BaseException:
            os.close(fd)
            raise
        # Another program put a new file in its place while we waited: lock that one.
        os.close(fd)
    raise OSError(errno.ESTALE, "another program keeps replacing it")


def read_tail(fd: int, size: int, path: str) -> Tail:
    """What stands at the end, read backwards, so the cost does not grow with the book."""
    if size == 0:
        # Before the first line, so that a file with lines in it is known to be in its folder for good.
        sync_folder(os.path.dirname(path))
        return Tail(0, FIRST_PREV, "", False)
    block = pread(fd, BLOCK, max(size - BLOCK, 0))
    torn = not block.endswith(b"\n")
    # A torn line is hashed as it stands: the chain then shows that it was torn and not taken away.
    end = len(block) if torn else len(block) - 1
    cut = block.rfind(b"\n", 0, end)
    if cut >= 0 or size <= BLOCK:
        raw = block[cut + 1 : end]
        found = LINE_ID.match(raw)
        prev = hash_of(raw)
    else:
        end = size if torn else size - 1
        start = line_start(fd, end)
        found = LINE_ID.match(pread(fd, 64, start))
        prev = _hash_between(fd, start, end)
    # A damaged last line has no id, and ids must rise beyond the line before it.
    last_id = found[1].decode() if found else _id_before(fd, size if torn else size - 1)
    return Tail(size, prev, last_id, torn)


def _id_before(fd: int, end: int) -> str:
    """The id of the nearest line before a torn or damaged one, whose newline would be at ``end``."""
    for _ in range(_LOOK_BACK):
        end = line_start(fd, end) - 1
        if end <= 0:
            break
        found = LINE_ID.match(pread(fd, 64, line_start(fd, end)))
        if found:
            return found[1].decode()
    return ""


def add(fd: int, path: str, size: int, data: bytes, line: bytes = b"") -> str:
    """Write and sync, or leave the file as it was (``size`` bytes) and raise. Returns the line's hash."""
    try:
        # The system may take a part only: a signal, a full disk.
        done = os.write(fd, data)
        while done < len(data):
            done += os.write(fd, data[done:])
        # Hashed while the disk is at work already: to sync is to wait for it.
        start_writing(fd, size, size + done)
        found = hash_of(line)
        sync(fd)
    except BaseException as error:
        # Half a line is worse than none: it would spoil the next one written.
        undone = _cut_back(fd, size)
        if isinstance(error, OSError) and not undone:
            happened, what_to_do = _in_words(error, path)
            raise BookError(
                f"{happened} The entry does not count as recorded, though part of it "
                f"may stand at the end of the file; later entries are not harmed. {what_to_do}"
            ) from error
        raise
    return found


def refusal(error: OSError, path: str) -> BookError:
    """The system's error as what happened, what was kept and what to do."""
    happened, what_to_do = _in_words(error, path)
    return BookError(f"{happened} {NOTHING} {what_to_do}")


def _open(path: str) -> Opened:
    try:
        fd = os.open(path, _FLAGS | _UNNOTED)
    # Only the owner of a file may ask for that.
    except PermissionError:
        fd = os.open(path, _FLAGS)
    # Existing files are the usual case; the folder is looked for only once one is missing.
    except FileNotFoundError:
        make_folder(os.path.dirname(path))
        fd = os.open(path, _FLAGS | _UNNOTED | os.O_CREAT, 0o600)
    try:
        opened = os.fstat(fd)
        # Writing to a pipe or device would wait or vanish.
        if not stat.S_ISREG(opened.st_mode):
            raise OSError(errno.EINVAL, "not an ordinary file")
    except BaseException:
        os.close(fd)
        raise
    return fd, which(opened)


def which(found: os.stat_result) -> tuple[int, ...]:
    """Which file it is, and under which rights: mode, number and device."""
    return found[:3]


def _is_still(path: str, opened: tuple[int, ...]) -> os.stat_result | None:
    """What stands under the name now, if it is the file that was opened and under the same rights."""
    # Not through links: a link put in its place would lead the record elsewhere.
    try:
        found = os.lstat(path)
    except FileNotFoundError:
        return None
    return found if which(found) == opened else None


def _hash_between(fd: int, start: int, end: int) -> str:
    # Loaded only for a last line longer than a block: a list that asks for a bench's name needs no sums.
    from hashlib import sha256

    digest = sha256()
    while start < end:
        # The file may have become shorter since its size was asked.
        block = pread(fd, min(1 << 16, end - start), start)
        if not block:
            break
        digest.update(block)
        start += len(block)
    return digest.hexdigest()


def _cut_back(fd: int, size: int) -> bool:
    """Take back what was written of a line; whether the file is as it was."""
    try:
        os.ftruncate(fd, size)
        sync(fd)
    except OSError:
        # If not even that was possible, what counts is whether anything was written at all.
        return os.fstat(fd).st_size == size
    return True


_ROOM = "Make room"
_TOLD: tuple[tuple[set[int], str, str], ...] = (
    ({errno.EFBIG}, "The system allows no more growth of {where}.", _ROOM),
    ({errno.ENOSPC, errno.EDQUOT}, "There is no room on the disk for {where}.", _ROOM),
    (
        {errno.EACCES, errno.EPERM, errno.EROFS},
        "You may not write to {where} or its folder.",
        "Change the rights of the studio folder or choose another",
    ),
    (
        {errno.EAGAIN, errno.EWOULDBLOCK},
        "Another program has held {where} for {wait_s:.0f} seconds.",
        "Close the other program or wait for it",
    ),
    (
        {errno.ELOOP, errno.EINVAL, errno.EISDIR, errno.ENXIO, errno.ENOTDIR},
        "What is called {name} is a link, a folder or a device and not a file, or its folder is none.",
        "Move it away or choose another bench name",
    ),
)
"""By the system's numbers: what happened, and what to do before the entry is recorded again."""


def _in_words(error: OSError, path: str) -> tuple[str, str]:
    """What happened, and what to do."""
    name = os.path.basename(path)
    where = f"the bench book file {name}"
    happened = f"The system could not write {where} ({error.strerror or type(error).__name__})."
    what_to_do = "Check the disk"
    for numbers, said, first in _TOLD:
        if error.errno in numbers:
            happened, what_to_do = said.format(name=name, where=where, wait_s=LOCK_WAIT_S), first
    return happened, f"{what_to_do}, then record it again."
