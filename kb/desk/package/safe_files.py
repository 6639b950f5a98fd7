"""Files that come from elsewhere or go there: which names are safe, and opening without following links."""

from __future__ import annotations

import os
import re
import stat
from io import BufferedReader
from pathlib import Path

from kb.book.storage import CLOSED_ON_EXEC, PLAIN

LONGEST_NAME = 200
_READ = os.O_RDONLY | PLAIN
_NAME = re.compile('[^\x00-\x1f\x7f-\x9f/\\\\:*?"<>|\u202a-\u202e\u2066-\u2069\ud800-\udfff]+')
_DEVICE = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)


class Unfit(Exception):
    """A file that is not taken; the text says why, in a few words."""


def safe_name(name: str) -> bool:
    """Whether every system can hold a file of this name, and it can lead nowhere else."""
    return (
        _NAME.fullmatch(name) is not None
        and not name.startswith((".", "-", " "))
        and not name.endswith((".", " "))
        and _DEVICE.fullmatch(name) is None
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
