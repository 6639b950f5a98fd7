"""Files of a package: which names are safe, copied without following links, hashed while being written."""

from __future__ import annotations

import errno
import os
import re
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from io import BufferedReader
from pathlib import Path
from typing import NamedTuple

from kb.book.storage import CLOSED_ON_EXEC, DEVICES, PLAIN, sync, unlock, wait_for_lock

LONGEST_NAME = 200
_READ = os.O_RDONLY | PLAIN
_NAME = re.compile('[^\x00-\x1f\x7f-\x9f/\\\\:*?"<>|\u202a-\u202e\u2066-\u2069\ud800-\udfff]+')


class Unfit(Exception):
    """A file that is not taken; the text says why, in a few words."""


def safe_name(name: str) -> bool:
    """Whether every system can hold a file of this name, and it can lead nowhere else."""
    return (
        _NAME.fullmatch(name) is not None
        and not name.startswith((".", "-", " "))
        and not name.endswith((".", " "))
        and name.partition(".")[0].lower() not in DEVICES
        and len(name.encode()) <= LONGEST_NAME
    )


def safe_path(path: str) -> bool:
    """Whether a path with slashes stays below the folder it is put in, on every system."""
    parts = path.split("/")
    return len(parts) <= 20 and all(map(safe_name, parts))


def open_plain(path: Path, limit: int) -> BufferedReader:
    """A plain file, open for reading. Raises Unfit for a link, pipe, folder or device, or above ``limit``."""
    try:
        fd = os.open(path, _READ)
    except OSError as error:
        raise Unfit(_why(error, os.path.islink(path))) from error
    except ValueError as error:
        raise Unfit("its name cannot be one") from error
    return _plain(fd, limit)


def open_below(root: Path, path: str, limit: int) -> BufferedReader:
    """Like :func:`open_plain` for a path below a folder; no folder on the way may be a link either."""
    *folders, name = path.split("/")
    if os.open not in os.supports_dir_fd:
        # One after the other by name: links are looked for, though one may be put there meanwhile.
        if _is_link(root, path):
            raise Unfit("a link")
        return open_plain(root / path, limit)
    here = os.open(root, os.O_RDONLY | os.O_DIRECTORY | CLOSED_ON_EXEC)
    try:
        for folder in folders:
            flags = os.O_RDONLY | os.O_DIRECTORY | PLAIN
            inner = os.open(folder, flags, dir_fd=here)
            os.close(here)
            here = inner
        fd = os.open(name, _READ, dir_fd=here)
    except OSError as error:
        raise Unfit(_why(error, _is_link(root, path))) from error
    finally:
        os.close(here)
    return _plain(fd, limit)


def _plain(fd: int, limit: int) -> BufferedReader:
    found = os.fstat(fd)
    if stat.S_ISREG(found.st_mode) and found.st_size <= limit:
        return os.fdopen(fd, "rb")
    os.close(fd)
    raise Unfit("larger than is taken" if stat.S_ISREG(found.st_mode) else "not a plain file")


def _is_link(root: Path, path: str) -> bool:
    here = root
    for part in path.split("/"):
        here /= part
        if here.is_symlink():
            return True
    return False


def _why(error: OSError, is_link: bool) -> str:
    return "a link, which is not followed" if is_link else (error.strerror or "not readable")


FORMAT = 1
"""The form of package that is written, and the newest that can be brought back."""
DESCRIPTOR = "datapackage.json"
README = "README.txt"
SETTINGS = ("studio.yaml", "shelf.yaml")
SIDE_FOLDERS = ("pool", "set-aside", "to-settle")
"""Counts of other studios, and what sharing put aside: lines that fit nowhere and files in dispute."""
SIDE_LIMIT = 64 << 20
"""Bytes; catalogue, settings and files of the side folders above this are refused."""
LOCK_WAIT_S = 10.0
_BLOCK = 1 << 20


class Member(NamedTuple):
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
        self.file = full.open("xb")
        """To be closed without more ado where the folder it lies in is thrown away."""
        self._digest = sha256()
        self._bytes = 0

    def write(self, data: bytes | str) -> None:
        raw = data.encode() if isinstance(data, str) else data
        self.file.write(raw)
        self._digest.update(raw)
        self._bytes += len(raw)

    def close(self) -> Member:
        """Bring it to the disk; its size and hash."""
        self.file.flush()
        sync(self.file.fileno())
        self.file.close()
        return Member(self.path, self._bytes, self._digest.hexdigest())


def copy(source: BufferedReader, folder: Path, path: str, limit: int) -> Member:
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
        target.file.close()
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
