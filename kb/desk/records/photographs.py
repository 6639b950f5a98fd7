"""Photographs taken into the studio: a copy under the name of its hash, so that a record never dangles.

The original stays where it is and as it is. A copy is whole and on disk before the record is written.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from kb.book.kinds.parts import Photo
from kb.book.line import hash_of
from kb.book.storage import PLAIN, sync
from kb.desk.errors import DeskError

FOLDER = "photographs"
NAMED = re.compile(r"([0-9a-f]{64})(?:-([0-9a-f]{64}))?(\.[a-z0-9]{1,5})?")
"""How a photograph is named here and in a package: the SHA-256 that records know it by, and if the place
where it was taken was blanked in the copy, that of the copy too."""
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
    """The studio's own copy, if it is there; its content is for ``verify`` to look at.

    The photograph as it was taken comes before a copy without its place.
    """
    found = [path for path in (root / FOLDER).glob(f"{sha256}*") if NAMED.fullmatch(path.name)]
    return min(found, key=lambda path: ("-" in path.name, path.name), default=None)


def content_named(name: str, sha256: str) -> str:
    """The SHA-256 that a file of this name must have to be the photograph that records know by ``sha256``."""
    found = NAMED.fullmatch(name)
    return (found[2] or sha256) if found and found[1] == sha256 else sha256


def bears_its_name(path: Path) -> bool:
    """Whether a photograph under the name of its content is what the name says."""
    found = NAMED.fullmatch(path.name)
    return found is not None and _digest(path) == (found[2] or found[1])


def leaving(raw: bytes, sha256: str, ending: str) -> tuple[str, bytes]:
    """Name and content of a copy that leaves the studio: without the place where it was taken."""
    from kb.science.photo.position import without_position

    blanked = without_position(raw)
    ending = ending.lower() if _ENDING.fullmatch(ending.lower()) else ""
    if blanked == raw:
        return f"{sha256}{ending}", raw
    return f"{sha256}-{hash_of(blanked)}{ending}", blanked


def fit_to_leave(root: Path, known: set[str]) -> set[str]:
    """Names of the photographs that may leave the studio as they lie in its folder.

    Beside one that says where it was taken a copy is laid that does not. ``known`` are names that were found
    fit before: what bears the name of its content need not be read again.
    """
    fit: set[str] = set()
    try:
        paths = sorted(path for path in (root / FOLDER).iterdir() if NAMED.fullmatch(path.name))
    except OSError:
        return fit
    for path in paths:
        if path.name in known:
            fit.add(path.name)
            continue
        try:
            raw = _plain_bytes(path)
        except (OSError, ValueError):
            continue
        sha256 = path.name[:64]
        if hash_of(raw) != content_named(path.name, sha256):
            continue
        if "-" not in path.name:
            name, content = leaving(raw, sha256, path.suffix)
        elif leaving(raw, sha256, path.suffix)[1] == raw:
            name, content = path.name, raw
        else:
            # A copy from elsewhere that says where it was taken all the same.
            continue
        if name != path.name and not (root / FOLDER / name).exists():
            from kb.book.storage import put_whole

            put_whole(root / FOLDER / name, content)
        fit.add(name)
    return fit


def _plain_bytes(path: Path) -> bytes:
    with open(os.open(path, os.O_RDONLY | PLAIN), "rb") as stream:
        return stream.read() if _has_an_end(stream.fileno()) else b""


def lost(root: Path, named: Iterable[tuple[str, str]]) -> Iterator[Lost]:
    """Which of the photographs (path, SHA-256) are missing, or are other pictures by now."""
    for path, sha256 in sorted(set(named)):
        own = stored(root, sha256)
        places = [place for place in (own, root / path, Path(path).absolute()) if place is not None]
        found = [(_digest(place), content_named(place.name, sha256)) for place in places]
        if not any(digest == expected for digest, expected in found):
            yield Lost(path, sha256, any(digest for digest, _ in found))


def _digest(path: Path) -> str:
    """SHA-256 of a plain file; empty if it cannot be read."""
    from hashlib import file_digest

    try:
        with open(os.open(path, os.O_RDONLY | PLAIN), "rb") as stream:
            return file_digest(stream, "sha256").hexdigest() if _has_an_end(stream.fileno()) else ""
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
        handle = os.open(source, os.O_RDONLY | PLAIN)
    except OSError:
        return
    if not _has_an_end(handle):
        os.close(handle)
        return
    import hashlib

    try:
        with open(handle, "rb") as original:
            folder.mkdir(exist_ok=True, mode=0o700)
            digest = hashlib.sha256()
            with part.open("wb") as copy:
                while block := original.read(_BLOCK):
                    digest.update(block)
                    copy.write(block)
                copy.flush()
                sync(copy.fileno())
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
