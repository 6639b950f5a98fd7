"""How far each file of the book once reached, kept apart from all that is derived or shared.

Without it a file that a sync tool put back to an older state is a whole book: its chain ends earlier. What
was seen is forgotten only when what is there goes on from it, or when a person says so (`accept`).
"""

import contextlib
import os
from pathlib import Path
from typing import NamedTuple

from kb.book.files import SUFFIX, files
from kb.book.storage import line_start, pread
from kb.science.numbers import counted

FOLDER = os.path.join("working", "seen")
"""Below the studio folder, in the part that belongs to one bench and is not shared."""
MOST = 20
"""Marks kept of one file: after so many losses the oldest still stand."""


class Mark(NamedTuple):
    """Where a whole line of a file ended: bytes and lines up to there, and the SHA-256 of that line."""

    end: int
    lines: int
    sha: str


class _Known(NamedTuple):
    """The marks of a file, and its size and time of change when all of them held; -1 if one did not."""

    marks: tuple[Mark, ...] = ()
    size: int = -1
    mtime_ns: int = -1

    def untouched(self, path: Path) -> bool:
        """Whether the file is as it was when all marks held; to hash its end costs more than an answer."""
        try:
            found = os.stat(path)
        except OSError:
            return False
        return (found.st_size, found.st_mtime_ns) == (self.size, self.mtime_ns)


def tip_of(path: Path, end: int) -> str:
    """SHA-256 of the line whose newline is the last byte before ``end``; empty if there is none."""
    # Loaded only where a file changed: most answers need no hash.
    from kb.book.line import hash_of

    with path.open("rb") as handle:
        fd, last = handle.fileno(), end - 1
        # The file ended earlier, or no line ends there: it is not what was seen.
        if last < 0 or pread(fd, 1, last) != b"\n":
            return ""
        start = line_start(fd, last)
        return hash_of(pread(fd, last - start, start))


def marks_of(root: Path) -> dict[str, tuple[Mark, ...]]:
    """All marks of a studio, by name of the book file; files that are gone are among them."""
    return {name: known.marks for name, known in _all(root).items()}


def _all(root: Path) -> dict[str, _Known]:
    try:
        # By name, so that what is reported comes in the same order everywhere.
        names = sorted(name for name in os.listdir(root / FOLDER) if name.endswith(SUFFIX))
    except OSError:
        return {}
    return {name: known for name in names if (known := _read(root / FOLDER / name)).marks}


def holds(path: Path, mark: Mark) -> bool:
    """Whether the file still has that line at that place, which stands for all before it."""
    try:
        return tip_of(path, mark.end) == mark.sha
    except OSError:
        return False


def losses(root: Path, book_dir: Path) -> list[str]:
    """What was once seen in the book and is there no longer, a sentence for each file."""
    return [
        f"{name} no longer holds what it once held ({counted(lost[-1].lines, 'line')}): records were lost or "
        "changed. See: benchleaf verify"
        for name, known in _all(root).items()
        # By size and time first: this is asked at every start.
        if not known.untouched(book_dir / name)
        and (lost := [mark for mark in known.marks if not holds(book_dir / name, mark)])
    ]


def note(root: Path, path: Path) -> None:
    """Remember how far a book file reaches now, beside what it lost since. Never raises OSError.

    A studio that cannot be written has no records of its own to lose.
    """
    with contextlib.suppress(OSError):
        place = root / FOLDER / path.name
        known = _read(place)
        if known.untouched(path):
            return
        found = path.stat()
        lost = [mark for mark in known.marks if not holds(path, mark)]
        # Marks that still hold are passed by the new one, which stands for all before it.
        going_on = [mark for mark in known.marks if mark not in lost]
        # Counted on from the last mark that holds, so that noting costs only what is new.
        now = _reach(path, going_on[-1] if going_on else Mark(0, 0, ""))
        marks = (*lost[: MOST - 1], now) if now.end else tuple(lost)
        # With something lost the shortcut must not be taken: the loss has to be told each time.
        whole = (found.st_size, found.st_mtime_ns) if not lost else (-1, -1)
        if marks and (marks, *whole) != tuple(known):
            _write(place, _Known(marks, *whole))


def accept(root: Path, book_dir: Path) -> list[str]:
    """Take the book as it stands for all there was; the names of files of which something is forgotten."""
    forgotten = []
    for name, marks in marks_of(root).items():
        if not all(holds(book_dir / name, mark) for mark in marks):
            forgotten.append(name)
            # Missing is as good: two programs may accept at once.
            (root / FOLDER / name).unlink(missing_ok=True)
    for path in files(book_dir):
        note(root, path)
    return forgotten


def forget(root: Path, name: str) -> None:
    """Take off the marks of one file, whose records were moved to another one on purpose."""
    (root / FOLDER / name).unlink(missing_ok=True)


def _reach(path: Path, last: Mark) -> Mark:
    """Where the last whole line of a file ends; ``last`` is a place up to which it was counted before."""
    size = path.stat().st_size
    end, lines = last.end, last.lines
    with path.open("rb") as handle:
        handle.seek(end)
        at = end
        while at < size and (chunk := handle.read(min(1 << 20, size - at))):
            lines += chunk.count(b"\n")
            cut = chunk.rfind(b"\n")
            end = at + cut + 1 if cut >= 0 else end
            at += len(chunk)
    return last if end == last.end else Mark(end, lines, tip_of(path, end))


def _read(place: Path) -> _Known:
    try:
        # Decoded apart: to open a text as ASCII loads a codec for it.
        head, *rows = (line.split() for line in place.read_bytes().decode("ascii").splitlines())
        marks = tuple(Mark(int(end), int(lines), sha) for end, lines, sha in rows)
        return _Known(marks, int(head[0]), int(head[1]))
    except (OSError, ValueError, IndexError):
        # A file that a power cut left half written says nothing.
        return _Known()


def _write(place: Path, known: _Known) -> None:
    text = f"{known.size} {known.mtime_ns}\n"
    # Plain rows of text: this file has to be readable when everything else is in doubt.
    text += "".join(f"{mark.end} {mark.lines} {mark.sha}\n" for mark in known.marks)
    part = place.with_name(f".{place.name}.{os.getpid()}.part")
    try:
        handle = part.open("xb")
    except FileNotFoundError:
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = part.open("xb")
    # Not synced: what is remembered may lag behind by a moment, and each record would wait for it.
    with handle:
        handle.write(text.encode("ascii"))
    part.replace(place)
