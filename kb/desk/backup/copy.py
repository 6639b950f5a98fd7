"""Copy a studio: what belongs to it, file by file, on disk and compared with what was read."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from kb.book import seen
from kb.book.files import files
from kb.book.kinds.field import is_sha256
from kb.book.read import raw_lines
from kb.book.storage import CLOSED_ON_EXEC, PLAIN, sync
from kb.desk.records.photographs import NAMED
from kb.desk.sharing.work import marks

STUDIO, PHOTOGRAPHS = "studio", "photographs"
PHOTO_LIST = "photographs.tsv"
TRIES = 3
_BLOCK = 1 << 20


class Source(NamedTuple):
    """One file to copy: where it is, what it is called in the backup, how many bytes of it; -1: all."""

    path: Path
    name: str
    size: int = -1


class Copied(NamedTuple):
    """One file as it was copied: SHA-256, bytes and line ends of what was read."""

    digest: str
    size: int
    lines: int


def is_derived(name: str) -> bool:
    """Whether a name in the studio folder is of something that comes back by itself, or is of no use later.

    Hidden names are tools' own: above all .git, which comes back by joining again.
    """
    return name.startswith((".", "index.db")) or name.endswith(".part")


def sources(root: Path) -> tuple[list[Source], list[str]]:
    """All files of a studio, its book up to the last whole lines; and what cannot be copied, in words."""
    found: list[Source] = []
    told: list[str] = []
    whole = marks(root / "book")
    for path in _walk(root, root, {root.resolve()}, told):
        inner = path.relative_to(root)
        size = whole.get(path.name, -1) if inner.parent == Path("book") else -1
        found.append(Source(path, f"{STUDIO}/{inner.as_posix()}", size))
    return found, told


def _walk(folder: Path, root: Path, passed: set[Path], told: list[str]) -> Iterator[Path]:
    # How far this machine saw the book reach is not copied: read after the book, it could say more than the
    # copy holds, and a studio put back would then accuse itself of having lost records.
    try:
        names = sorted(os.listdir(folder))
    except OSError as error:
        told.append(f"The folder {folder.relative_to(root)} cannot be read ({error.strerror}).")
        return
    for name in names:
        path = folder / name
        if is_derived(name) or path == root / seen.FOLDER:
            continue
        try:
            mode = path.stat().st_mode
        except OSError as error:
            told.append(f"{path.relative_to(root)} cannot be read ({error.strerror}).")
            continue
        if stat.S_ISREG(mode):
            yield path
        elif stat.S_ISDIR(mode):
            # Links are followed, since the studio is read through them; but none in a circle.
            if path.resolve() not in passed:
                yield from _walk(path, root, passed | {path.resolve()}, told)
        else:
            told.append(f"{path.relative_to(root)} is no plain file and was not copied.")


def line_counts(book: Path) -> dict[str, int]:
    """Line ends in each book file as it is now."""
    counts: dict[str, int] = {}
    for path in files(book):
        with path.open("rb") as source:
            counts[path.name] = sum(block.count(b"\n") for block in iter(lambda: source.read(_BLOCK), b""))
    return counts


def copy(source: Source, target: Path) -> Copied | None:
    """Copy a file and put the copy on disk. None if the file is gone or changed each time it was read.

    Raises OSError if it cannot be read or the copy cannot be written.
    """
    target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    for _ in range(TRIES):
        try:
            fd = os.open(source.path, os.O_RDONLY | CLOSED_ON_EXEC | getattr(os, "O_NONBLOCK", 0))
        except FileNotFoundError:
            break
        try:
            before = os.fstat(fd)
            made = _copy(fd, target, source.size if source.size >= 0 else None)
            after = os.fstat(fd)
        finally:
            os.close(fd)
        # A book file only grows behind the part that is copied.
        if source.size >= 0 or (before.st_size, before.st_mtime_ns) == (after.st_size, after.st_mtime_ns):
            return made
    target.unlink(missing_ok=True)
    return None


def _copy(fd: int, target: Path, most: int | None) -> Copied:
    digest, size, lines = hashlib.sha256(), 0, 0
    with open(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | CLOSED_ON_EXEC, 0o600), "wb") as copy:
        while block := os.read(fd, _BLOCK if most is None else min(_BLOCK, most - size)):
            digest.update(block)
            copy.write(block)
            size += len(block)
            lines += block.count(b"\n")
        copy.flush()
        sync(copy.fileno())
        _forget(copy.fileno())
    return Copied(digest.hexdigest(), size, lines)


def _forget(fd: int) -> None:
    """Have the system drop its memory of a file, so that reading it back asks the disk."""
    if hasattr(os, "posix_fadvise"):
        os.posix_fadvise(fd, 0, 0, os.POSIX_FADV_DONTNEED)


def write(target: Path, content: bytes) -> Copied:
    """Write a file of the backup's own and put it on disk."""
    with open(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | CLOSED_ON_EXEC, 0o600), "wb") as file:
        file.write(content)
        file.flush()
        sync(file.fileno())
        _forget(file.fileno())
    return Copied(hashlib.sha256(content).hexdigest(), len(content), content.count(b"\n"))


def digest_of(path: Path) -> str:
    """SHA-256 of a plain file, read from the start to the end. Raises OSError; also for a link or device."""
    fd = os.open(path, os.O_RDONLY | PLAIN)
    with open(fd, "rb") as file:
        if not stat.S_ISREG(os.fstat(fd).st_mode):
            raise OSError(0, "no plain file")
        return hashlib.file_digest(file, "sha256").hexdigest()


def copy_photographs(root: Path, target: Path, copied: dict[str, Copied]) -> tuple[int, int]:
    """Copy the photographs that records name and that lie elsewhere, and list all that are named.

    Gives how many were copied, and how many are not to be had.

    A record comes from any bench, and may name any file of this machine: so a file is copied only if its
    content is what the record says. ``copied`` is what is in the backup already, and grows.
    """
    here = {one.digest: name for name, one in copied.items()}
    for name in copied:
        # A copy that came without its place stands for the photograph that records know.
        if (named := NAMED.fullmatch(Path(name).name)) and named[2]:
            here.setdefault(named[1], name)
    rows, missing, count = [], 0, 0
    for path, digest in sorted(set(named_photographs(target / STUDIO / "book"))):
        if digest not in here:
            name = f"{PHOTOGRAPHS}/{digest[:16]}-{_plain(path)}"
            made = _fetched(root, path, digest, target / name)
            if made is not None:
                copied[name], here[digest] = made, name
                count += 1
        missing += digest not in here
        rows.append((digest, here.get(digest, "not found with this content"), path))
    if rows:
        lines = ["\t".join(("sha256", "file in this backup", "path in the record"))]
        lines += ["\t".join((digest, name, json.dumps(path)[1:-1])) for digest, name, path in rows]
        copied[PHOTO_LIST] = write(target / PHOTO_LIST, ("\n".join(lines) + "\n").encode())
    return count, missing


def _fetched(root: Path, path: str, digest: str, target: Path) -> Copied | None:
    for place in (root / path, Path(path).absolute()):
        try:
            if digest_of(place) != digest:
                continue
            made = copy(Source(place, ""), target)
        except (OSError, ValueError) as error:
            if isinstance(error, OSError) and target.exists():
                # It was the writing that failed.
                raise
            continue
        if made is not None and made.digest == digest:
            return made
        target.unlink(missing_ok=True)
    return None


def _plain(path: str) -> str:
    return re.sub(r"[^A-Za-z0-9._-]+", "-", Path(path).name)[-80:].lstrip(".-") or "photograph"


def named_photographs(book: Path) -> Iterator[tuple[str, str]]:
    """Path and SHA-256 of each photograph that a record names, or an amendment of one.

    A file that may not be read names none: that it cannot be read is told where the book is verified.
    """
    with contextlib.suppress(OSError):
        for path in files(book):
            yield from _named_in(path)


def _named_in(path: Path) -> Iterator[tuple[str, str]]:
    with contextlib.suppress(OSError):
        for raw in raw_lines(path):
            # Few records name one, and to decode them all would take longer than to verify the book.
            if b'"photos"' not in raw.data:
                continue
            try:
                body = json.loads(raw.data)["body"]
            except (ValueError, LookupError, TypeError, RecursionError):
                continue
            yield from _photos_in(body)


def _photos_in(body: Any) -> Iterator[tuple[str, str]]:
    if not isinstance(body, dict):
        return
    changed = body.get("set")
    for one in (body, changed if isinstance(changed, dict) else {}):
        photos = one.get("photos")
        for photo in photos if isinstance(photos, list) else ():
            if isinstance(photo, dict):
                path, digest = photo.get("path"), photo.get("sha256")
                if isinstance(path, str) and isinstance(digest, str) and is_sha256(digest):
                    yield path, digest
