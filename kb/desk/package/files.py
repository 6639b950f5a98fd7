"""Files of a package: copied without following links, hashed while they are written, safe on disk."""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from io import BufferedReader
from pathlib import Path
from typing import NamedTuple

from kb.book.storage import unlock, wait_for_lock
from kb.desk.package.safe_files import Unfit

LOCK_WAIT_S = 10.0
_BLOCK = 1 << 20


class Copied(NamedTuple):
    """A file of the package: path in it (with slashes), size in bytes, SHA-256 as lower-case hex."""

    path: str
    bytes: int
    sha256: str


class Hashed:
    """A new file that counts and hashes what is written to it."""

    def __init__(self, folder: Path, path: str) -> None:
        self.path = path
        full = folder / path
        full.parent.mkdir(parents=True, exist_ok=True)
        self._file = full.open("xb")
        self._digest = sha256()
        self._bytes = 0

    def write(self, data: bytes) -> None:
        """Add bytes."""
        self._file.write(data)
        self._digest.update(data)
        self._bytes += len(data)

    def write_text(self, text: str) -> None:
        """Add text as UTF-8."""
        self.write(text.encode())

    def close(self) -> Copied:
        """Bring it to the disk; its size and hash."""
        self._file.flush()
        os.fsync(self._file.fileno())
        self._file.close()
        return Copied(self.path, self._bytes, self._digest.hexdigest())

    def drop(self) -> None:
        """Close it without more ado; the folder it lies in is thrown away."""
        self._file.close()


def copy(source: BufferedReader, folder: Path, path: str, limit: int) -> Copied:
    """Copy an open file into the package. Raises Unfit if it grows above ``limit`` meanwhile."""
    target = Hashed(folder, path)
    left = limit
    try:
        while block := source.read(min(_BLOCK, left + 1)):
            left -= len(block)
            if left < 0:
                raise Unfit("larger than is taken along")
            target.write(block)
        return target.close()
    except BaseException:
        target.drop()
        (folder / path).unlink(missing_ok=True)
        raise


@contextmanager
def held(files: list[BufferedReader]) -> Iterator[None]:
    """Keep writers out of these files. Raises BlockingIOError after `LOCK_WAIT_S` seconds."""
    deadline = time.monotonic() + LOCK_WAIT_S
    for file in files:
        if not wait_for_lock(file.fileno(), deadline - time.monotonic(), shared=True):
            raise BlockingIOError(errno.EAGAIN, "another program holds it", file.name)
    try:
        yield
    finally:
        for file in files:
            unlock(file.fileno())
