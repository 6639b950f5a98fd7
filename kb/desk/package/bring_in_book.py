"""Bring the book files of a package into a book: what each of them adds, and adding it.

A file of the same bench is the same book at another time, or a copy that went its own way. Of two files
of which one begins with the other the longer is the later state, and only its end is added. If they part,
the records that are not here yet go to a file of their own: their ids, times, names and bodies stay to the
byte; only the link to the line before is new, for they stand behind other lines there.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from io import BufferedReader
from pathlib import Path
from typing import Literal

import msgspec

from kb.book import disk
from kb.book.check import BookError
from kb.book.contested import content
from kb.book.files import files
from kb.book.line import encode_line, hash_of
from kb.book.pieces import bench_of, number_of
from kb.book.read import read_file
from kb.book.storage import sync, sync_folder
from kb.desk.errors import DeskError
from kb.model.question import Plain
from kb.model.record import Line

IMPORTED = "-imported"
_LONGEST_BENCH = 48
_BLOCK = 1 << 20

Action = Literal["new", "same", "longer here", "longer there", "parted"]
WORDS: dict[Action, str] = {
    "new": "a bench that is not here: its file comes in as it is",
    "same": "the same here",
    "longer here": "here it has all of this and more",
    "longer there": "here it ends earlier: the end is added",
    "parted": "both went on from the same beginning: records that are not here go to a file of their own",
}


class BookChange(Plain, frozen=True, kw_only=True):
    """What one book file of the package adds. ``records`` come in, into ``into`` (empty: nothing does)."""

    file: str
    action: Action
    records: int
    into: str
    text: str


class _Known:
    """Ids in the book here, each with a mark of what the record says."""

    def __init__(self, book: Path) -> None:
        self.said = {
            line.id: hash(content(line)) for path in files(book) for line in _lines(path) if line is not None
        }

    def check(self, line: Line, file: str) -> None:
        """Raises DeskError if another record has this id here."""
        there = self.said.get(line.id)
        if there is not None and there != hash(content(line)):
            raise DeskError(
                f"The record {line.id} in {file} of the package says something else than the one here: one "
                "of the two was altered. Nothing was brought in. Compare both with a copy: benchleaf verify."
            )


def plan_book(incoming: Path, book: Path) -> list[BookChange]:
    """What each file of a verified book in ``incoming`` would add to ``book``. Changes nothing.

    Raises DeskError if a record with the same id says something else here.
    """
    known = _Known(book)
    made: list[BookChange] = []
    parted: list[Path] = []
    pieces: dict[tuple[str, int], Action] = {}
    for theirs in sorted(files(incoming), key=lambda path: _piece(path.name)):
        ours, (bench, number) = book / theirs.name, _piece(theirs.name)
        action = _compare(theirs, ours) if os.path.lexists(ours) else "new"
        # A piece goes on from the last line of the one before it, and can stand behind no other.
        if action == "new" and pieces.get((bench, number - 1)) in {"parted", "longer here"}:
            action = "parted"
        pieces[bench, number] = action
        if action == "parted":
            parted.append(theirs)
            continue
        count = 0
        for line in _lines(theirs):
            if line is None:
                continue
            known.check(line, theirs.name)
            if line.id not in known.said:
                known.said[line.id] = hash(content(line))
                count += 1
        into = theirs.name if action in {"new", "longer there"} else ""
        made.append(_change(theirs.name, action, count if into else 0, into))
    # Last, so that what comes in with whole files need not come in twice.
    for theirs in parted:
        count = sum(1 for _ in _unknown(theirs, known))
        made.append(_change(theirs.name, "parted", count, imported_name(theirs.name) if count else ""))
    return sorted(made, key=lambda one: one.file)


def apply_book(incoming: Path, book: Path, changes: list[BookChange]) -> None:
    """Do what was planned. Raises DeskError or OSError; what was done before stays and does no harm."""
    for one in sorted(changes, key=lambda one: one.action == "parted"):
        theirs, ours = incoming / one.file, book / one.into
        if one.action == "new":
            put_new(theirs, ours)
        elif one.action == "longer there":
            _add_end(theirs, ours)
        elif one.action == "parted" and one.records:
            _add_unknown(theirs, ours, _Known(book))


def imported_name(file: str) -> str:
    """The file for records of a bench whose file here went its own way."""
    bench = bench_of(file).removesuffix(IMPORTED)
    return f"{bench[: _LONGEST_BENCH - len(IMPORTED)]}{IMPORTED}.jsonl"


def _piece(file: str) -> tuple[str, int]:
    return bench_of(file), number_of(file)


def put_new(source: Path, target: Path) -> None:
    """Give a finished file its place; one that stands there already is never replaced."""
    target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    try:
        os.link(source, target)
    except OSError:
        if os.path.lexists(target):
            raise DeskError(
                f"{target.name} was made by another program meanwhile and was left as it is; bring the "
                "package in again."
            ) from None
        # Some file systems have no second names; there the file is copied, and named once it is whole: half
        # of it would stay for a file of this studio.
        part = target.with_name(f".{target.name}.part")
        with source.open("rb") as stream, part.open("wb") as out:
            shutil.copyfileobj(stream, out, _BLOCK)
            out.flush()
            sync(out.fileno())
        part.rename(target)
    sync_folder(target.parent)


def _change(file: str, action: Action, records: int, into: str) -> BookChange:
    text = WORDS[action]
    if action == "parted" and not records:
        text = "it went its own way here, and all its records are here"
    return BookChange(file=file, action=action, records=records, into=into, text=text)


def _lines(path: Path) -> Iterator[Line | None]:
    return (one.line for one in read_file(path))


def _unknown(path: Path, known: _Known) -> Iterator[Line]:
    """Records whose id is not here, each once."""
    for one in read_file(path):
        if one.line is None:
            raise DeskError(
                f"{path.name} of the package went another way than the file here, and its line {one.number} "
                "is damaged; the two cannot be joined. Nothing was brought in."
            )
        known.check(one.line, path.name)
        if one.line.id not in known.said:
            known.said[one.line.id] = hash(content(one.line))
            yield one.line


def _compare(theirs: Path, ours: Path) -> Action:
    with theirs.open("rb") as there, ours.open("rb") as here:
        while True:
            one, other = there.read(_BLOCK), here.read(_BLOCK)
            if one == other:
                if not one:
                    return "same"
                continue
            if one.startswith(other) and _at_end(here, other):
                return "longer there"
            return "longer here" if other.startswith(one) and _at_end(there, one) else "parted"


def _at_end(stream: BufferedReader, block: bytes) -> bool:
    return len(block) < _BLOCK and not stream.read(1)


@contextmanager
def _adding_to(ours: Path) -> Iterator[tuple[int, int]]:
    """Our file with other writers kept out: its descriptor and size. Raises BookError."""
    fd = -1
    try:
        (fd, _), size = disk.open_locked(str(ours))
        yield fd, size
    except OSError as error:
        raise BookError(str(disk.refusal(error, str(ours)))) from error
    finally:
        if fd >= 0:
            os.close(fd)


def _add_end(theirs: Path, ours: Path) -> None:
    """Add what our file lacks of theirs."""
    with _adding_to(ours) as (fd, size), theirs.open("rb") as stream:
        if _compare(theirs, ours) != "longer there":
            raise DeskError(f"{ours.name} was written to meanwhile; bring the package in again.")
        stream.seek(size)
        disk.add(fd, str(ours), size, stream.read())


def _add_unknown(theirs: Path, ours: Path, known: _Known) -> None:
    """Add the records that are not here, each behind the one before it."""
    with _adding_to(ours) as (fd, size):
        tail = disk.read_tail(fd, size, str(ours))
        pieces, prev = [b"\n" if tail.torn else b""], tail.prev
        for line in _unknown(theirs, known):
            raw = encode_line(msgspec.structs.replace(line, prev=prev))
            pieces.append(raw + b"\n")
            prev = hash_of(raw)
        disk.add(fd, str(ours), size, b"".join(pieces))
