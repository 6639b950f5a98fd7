"""Photographs taken into the studio: a copy under the name of its hash, so that a record never dangles.

The original stays where it is and as it is. A copy is whole and on disk before the record is written.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from kb.book.kinds.parts import Photo
from kb.desk.errors import DeskError

FOLDER = "photographs"
_ENDING = re.compile(r"\.[a-z0-9]{1,5}")
_BLOCK = 1 << 20


class Lost(NamedTuple):
    """A photograph that a record names and that cannot be shown as it was."""

    path: str
    sha256: str
    changed: bool


def take_in(root: Path, photos: Iterable[Photo]) -> None:
    """Copy what lies outside the studio folder into it.

    A file that is not there is left to ``verify``: a record may name what another bench holds. Raises
    DeskError, leaving no part of a copy, if a file is another one by now or the copy cannot be written.
    """
    for photo in photos:
        source = Path(photo.path)
        if stored(root, photo.sha256) or not source.is_absolute() or source.is_relative_to(root):
            continue
        _copied(root, source, photo.sha256)


def stored(root: Path, sha256: str) -> Path | None:
    """The studio's own copy, if it is there; its content is for ``verify`` to look at."""
    return next(iter(sorted((root / FOLDER).glob(f"{sha256}*"))), None)


def lost(root: Path, named: Iterable[tuple[str, str]]) -> Iterator[Lost]:
    """Which of the photographs (path, SHA-256) are missing, or are other pictures by now."""
    for path, sha256 in sorted(set(named)):
        own = stored(root, sha256)
        places = [place for place in (own, root / path, Path(path).absolute()) if place is not None]
        found = [_digest(place) for place in places]
        if sha256 not in found:
            yield Lost(path, sha256, any(found))


def _digest(path: Path) -> str:
    """SHA-256 of a plain file; empty if it cannot be read."""
    try:
        with open(os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK), "rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest() if _has_an_end(stream.fileno()) else ""
    except (OSError, ValueError):
        return ""


def _has_an_end(handle: int) -> bool:
    """Whether it is a plain file: a record of another bench may name a device, which is read for ever."""
    return stat.S_ISREG(os.fstat(handle).st_mode)


def _copied(root: Path, source: Path, sha256: str) -> None:
    folder = root / FOLDER
    ending = source.suffix.lower()
    target = folder / f"{sha256}{ending if _ENDING.fullmatch(ending) else ''}"
    # The ending .part is known to sharing, backup and export as work that is not done.
    part = folder / f"{sha256}.{os.getpid()}.part"
    try:
        handle = os.open(source, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    except OSError:
        return
    if not _has_an_end(handle):
        os.close(handle)
        return
    try:
        with open(handle, "rb") as original:
            folder.mkdir(exist_ok=True, mode=0o700)
            digest = hashlib.sha256()
            with part.open("wb") as copy:
                while block := original.read(_BLOCK):
                    digest.update(block)
                    copy.write(block)
                copy.flush()
                os.fsync(copy.fileno())
        if digest.hexdigest() != sha256:
            raise DeskError(f"The photograph {source} is changing just now. Nothing was recorded; try again.")
        part.replace(target)
    except OSError as error:
        raise DeskError(
            f"The photograph {source} cannot be copied into the studio ({error.strerror}). "
            "Nothing was recorded. Make room or see to the disk, and try again."
        ) from error
    finally:
        part.unlink(missing_ok=True)
