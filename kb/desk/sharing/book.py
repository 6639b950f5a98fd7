"""Two versions of one bench's file made into one, without losing a record.

Each bench writes only its own file, so one version is nearly always the beginning of the other. It is not
where two machines bear the same bench name, or where a file was altered. Then one version stays as it is
and the other's records move to a file of their own, where they count as before: the book is the union of
the records of all files, whichever file they stand in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import msgspec

from kb.book.contested import Content, content
from kb.book.line import FIRST_PREV, decode_line, encode_line, hash_of
from kb.book.pieces import number_of
from kb.book.verify import Problem, verify
from kb.desk.sharing.git import Git
from kb.desk.sharing.tree import Entry, begins_with, content_into, content_of, keep_bytes
from kb.model.record import Line

Records = dict[str, Content]
"""Readable records by id. Where a record stands is no part of it: the link to the line before is left out."""


class Settled(NamedTuple):
    """One file out of two: ``entry`` is what it is from now on.

    ``moved`` are readable records for another file, ``aside`` lines that fit into none. ``forked`` is True
    if neither version was the beginning of the other, ``ours`` whether the one that is here stays.
    """

    entry: Entry
    moved: tuple[Line, ...] = ()
    aside: bytes = b""
    forked: bool = False
    ours: bool = True


def settle(git: Git, name: str, ours: Entry, theirs: Entry, elsewhere: Callable[[], Records]) -> Settled:
    """One file out of the one here and the one that was shared. ``elsewhere`` gives all other files' records.

    The shared version stays, because others may have read it already; except if its chain is broken and
    the one here is whole, or if it says something else under an id that is known here.
    """
    if ours.blob == theirs.blob or begins_with(git, ours, theirs):
        return Settled(ours)
    if begins_with(git, theirs, ours):
        return Settled(theirs, ours=False)
    keep_ours = is_sound(git, name, ours) and (
        not is_sound(git, name, theirs) or _contradicts(content_of(git, theirs), content_of(git, ours))
    )
    winner, loser = (ours, theirs) if keep_ours else (theirs, ours)
    kept = content_of(git, winner)
    moved, aside = _left_over(content_of(git, loser), kept, elsewhere)
    return Settled(winner, tuple(moved), aside, True, keep_ours)


def _contradicts(data: bytes, known: bytes) -> bool:
    """Whether a record of one version says something else than that of the same id in the other."""
    there = records([known])
    return any(there.get(id, said) != said for id, said in records([data]).items())


def _left_over(loser: bytes, kept: bytes, elsewhere: Callable[[], Records]) -> tuple[list[Line], bytes]:
    """The records of one version that are not in the other, and the lines that can go nowhere."""
    there, raw_there = records([kept]), set(whole_lines(kept))
    there = {**elsewhere(), **there}
    moved: list[Line] = []
    aside: list[bytes] = []
    for raw in whole_lines(loser):
        if raw in raw_there:
            continue
        line = _decoded(raw)
        known = None if line is None else there.get(line.id)
        if line is not None and known is None:
            moved.append(line)
            there[line.id] = content(line)
        elif line is None or known != content(line):
            aside.append(raw + b"\n")
    return moved, b"".join(aside)


def relinked(git: Git, before: Entry, piece: Entry) -> Entry:
    """A piece that goes on from the one before it; as it is where it does, or where a line cannot be read."""
    earlier, own = (whole_lines(content_of(git, one)) for one in (before, piece))
    lines = [line for raw in own if (line := _decoded(raw)) is not None]
    if not earlier or not own or len(lines) < len(own) or lines[0].prev in map(hash_of, earlier):
        return piece
    return with_moved(git, None, lines, hash_of(earlier[-1]))


def with_moved(git: Git, existing: Entry | None, lines: Iterable[Line], prev: str = FIRST_PREV) -> Entry:
    """A file with records added at its end. Only their links to the line before them change.

    ``prev`` is what the first line of a new file goes on from.
    """
    kept = b"" if existing is None else content_of(git, existing)
    prev = hash_of(kept[:-1].rpartition(b"\n")[2]) if kept else prev
    parts = [kept]
    for line in lines:
        raw = encode_line(msgspec.structs.replace(line, prev=prev))
        parts.append(raw + b"\n")
        prev = hash_of(raw)
    return keep_bytes(git, b"".join(parts))


def whole_lines(data: bytes) -> list[bytes]:
    """The lines that have an end, without it."""
    return data.split(b"\n")[:-1]


def records(files: Iterable[bytes]) -> Records:
    found: Records = {}
    for data in files:
        for raw in whole_lines(data):
            line = _decoded(raw)
            if line is not None:
                found.setdefault(line.id, content(line))
    return found


def _decoded(raw: bytes) -> Line | None:
    try:
        return decode_line(raw)
    except ValueError:
        return None


def is_sound(git: Git, name: str, one: Entry) -> bool:
    """Whether a file by itself has nothing wrong with it but notes."""
    with TemporaryDirectory() as folder:
        with Path(folder, Path(name).name).open("wb") as target:
            content_into(git, one, target)
        # Of a later piece the lines before its first stand in another file; a gap further on is damage.
        later = number_of(Path(name).name) > 1
        faults = {(fault.kind, fault.line_number) for fault in errors(Path(folder))}
        return not faults or (later and faults == {("missing", 1)})


def errors(book_dir: Path) -> list[Problem]:
    """What is wrong with a book. A last line without an end is not: its writer may be at work."""
    return [one for one in verify(book_dir) if one.severity == "error" and one.kind != "torn"]
