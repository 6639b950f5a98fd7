"""Whether the book is whole: every line against the one after it, and records against each other."""

from __future__ import annotations

import contextlib
import re
from array import array
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Literal, NamedTuple

from kb.book.check import decode_amend, decode_record, decode_withdraw
from kb.book.contested import Content, Contested, content, contested, is_contested
from kb.book.files import files
from kb.book.fold import say
from kb.book.kinds.table import KINDS
from kb.book.line import FIRST_PREV, decode_line
from kb.book.pieces import end_of, piece_before
from kb.book.read import OVERSIZE, RawLine, Watch, Way, raw_lines, read_file, unwatched
from kb.book.ulid import ulid_time_ms
from kb.model.record import Line
from kb.science.numbers import counted

CLOCK_SLACK_S = 5.0
"""A clock may be corrected by this many seconds without a note."""

ProblemKind = Literal["torn", "altered", "missing", "undecodable", "duplicate id", "clock", "dangling"]
Tip = tuple[int, str]
"""How many whole lines a file had when last seen, and the SHA-256 of the last of them."""

# How every whole line ends. A line that was cut short while it was written cannot end so.
_WHOLE_END = re.compile(rb'"prev":"[0-9a-f]{64}"\}$')


class Problem(NamedTuple):
    """One finding. ``line_number`` counts from 1; 0 stands for the file as a whole."""

    file: str
    line_number: int
    kind: ProblemKind
    sentence: str
    severity: Literal["error", "note"]


class _Seen:
    """What was found in all files so far: ids, and what points where.

    Of an id only 64 bits are kept, so that a book of a million records needs eight megabytes for them. Two
    that agree in those are looked at again, in the files.
    """

    def __init__(self) -> None:
        self.ids = array("Q")
        self.pointers: list[tuple[str, str, str, int]] = []
        """What a change points at, with which verb, and the file and number of its line."""

    def twice(self) -> set[int]:
        """The ids that were met more than once; puts all in order, for `has`."""
        self.ids = array("Q", sorted(self.ids))
        return {a for a, b in pairwise(self.ids) if a == b}

    def has(self, record_id: str) -> bool:
        """Whether an id was met, after `twice`."""
        at = bisect_left(self.ids, _short(record_id))
        return at < len(self.ids) and self.ids[at] == _short(record_id)


def _short(record_id: str) -> int:
    # The hash of this process: ids are compared only within one run.
    return hash(record_id) & 0xFFFF_FFFF_FFFF_FFFF


def verify(
    book_dir: Path, *, tips: Mapping[str, Sequence[Tip]] | None = None, watch: Watch = unwatched
) -> list[Problem]:
    """All problems of the book, by file and line; an empty list means that it is whole.

    ``tips`` maps file names to what was seen of them at one time or another (see `tips_of`); only with it
    can lines that were lost from the end of a file, or a change of the very last line, be noticed. ``watch``
    is given how much of the book is read, 0 to 1; what it raises ends the walk. Never raises for what is in
    a file.
    """
    tips = tips or {}
    found: list[Problem] = []
    seen = _Seen()
    paths: list[Path] = []
    readable = True
    try:
        # Findings and no error: a book that cannot be read is what verify is there to say.
        paths = files(book_dir)
        if book_dir.exists() and not book_dir.is_dir():
            raise NotADirectoryError(0, "it is a file and not a folder")
    except OSError as error:
        text = f"The folder {book_dir.name} cannot be read ({error.strerror}); no record was checked."
        found.append(Problem(book_dir.name, 0, "missing", text, "error"))
        readable = False
    way = Way(paths, watch)
    for path in paths:
        try:
            found.extend(_File(path.name, seen, way).check(path, tips.get(path.name, ())))
        except OSError as error:
            text = f"{path.name} cannot be read ({error.strerror}); none of its records were checked."
            found.append(Problem(path.name, 0, "missing", text, "error"))
    # A second walk only if something repeats, which in a sound book means merged files.
    if twice := seen.twice():
        found.extend(_repeats(paths, twice, contested(book_dir)))
    there = {path.name for path in paths}
    for name, seen_of in tips.items():
        # What was never seen to hold a line is no loss.
        lines = max((lines for lines, _ in seen_of), default=0)
        # Of a folder that cannot be read nobody knows what is gone from it.
        if readable and name not in there and lines:
            text = f"{name} is gone; it had {counted(lines, 'line')}. Put it back from a copy."
            found.append(Problem(name, 0, "missing", text, "error"))
    found.extend(_dangling(seen))
    # By file and line, as one goes through the files with a copy beside them.
    return sorted(found)


def tips_of(book_dir: Path) -> dict[str, tuple[Tip, ...]]:
    """What to remember of each file, so that a later `verify` notices what is lost from its end."""
    made: dict[str, tuple[Tip, ...]] = {}
    for path in files(book_dir):
        count, last = 0, FIRST_PREV
        for raw in raw_lines(path):
            if raw.ended:
                count, last = count + 1, raw.digest
        made[path.name] = ((count, last),)
    return made


class _File:
    """The walk through one file."""

    def __init__(self, name: str, seen: _Seen, way: Way) -> None:
        self.name = name
        self.way = way
        self.seen = seen
        self.found: list[Problem] = []
        self.broken: dict[int, str] = {}
        """By number the lines that do not carry the hash of the line before them, and what they carry."""
        self.clock: Line | None = None
        self.unread: list[tuple[int, bool, str]] = []
        """Damaged lines (number, cut short, reason) until the line after them tells when it happened."""
        self.was_whole = 0
        """Lines up to here were whole when they were seen."""

    def check(self, path: Path, tips: Sequence[Tip]) -> list[Problem]:
        piece = piece_before(path)
        count, before = 0, FIRST_PREV if piece is None else end_of(piece).prev
        self.was_whole = max((lines for lines, _ in tips), default=0)
        tip_sha = {lines: "" for lines, _ in tips}
        for number, raw in enumerate(raw_lines(path), 1):
            if not raw.ended:
                # A last line without its end was hashed by no later one; it seals what stands before it.
                self._settle(sealed=True)
                self._torn_tail(number, raw)
                break
            count = number
            self.way.went(raw.length)
            self._line(number, raw, before)
            before = raw.digest
            if number in tip_sha:
                tip_sha[number] = before
        self._settle(sealed=False)
        self._links(path)
        for tip in tips:
            self._against(tip, count, tip_sha[tip[0]])
        return self.found

    def _line(self, number: int, raw: RawLine, before: str) -> None:
        try:
            if raw.sha:
                raise ValueError(OVERSIZE)
            line = decode_line(raw.data)
        except ValueError as error:
            # A line cut short lacks its end; one that was altered usually still has it.
            cut_short = not raw.sha and not _WHOLE_END.search(raw.data)
            self.unread.append((number, cut_short, say(error)))
            return
        after_damage = bool(self.unread)
        # A line that carries the hash of the damaged one shows that the damage was there when it was written.
        self._settle(sealed=line.prev == before)
        # Behind damage a broken link says nothing more: the damage is told already.
        if line.prev != before and not after_damage:
            self.broken[number] = line.prev
        self._record(number, line)
        self._clock(number, line)

    def _settle(self, *, sealed: bool) -> None:
        """Name damaged lines. ``sealed``: what follows was written after them as they stand now."""
        # All of them: one altered line among the torn ones puts the rest in doubt.
        torn = sealed and all(cut_short for _, cut_short, _ in self.unread)
        for number, _, reason in self.unread:
            # A line that was once seen whole cannot have been torn from the start.
            if torn and number > self.was_whole:
                text = (
                    f"Line {number} of {self.name} is what was left when a writer was stopped; "
                    "it was never recorded, and the lines around it are sound."
                )
                self._add(number, "torn", text, "note")
            else:
                text = f"Line {number} of {self.name} cannot be read ({reason}). Put it back from a copy."
                self._add(number, "undecodable", text)
        self.unread.clear()

    def _torn_tail(self, number: int, raw: RawLine) -> None:
        text = (
            f"Line {number} of {self.name}, the last, breaks off after {counted(raw.length, 'byte')}: "
            "the writer was stopped before it was recorded, or the file was cut. "
            "It stays, and the next entry goes on a line of its own."
        )
        self._add(number, "torn", text)

    def _links(self, path: Path) -> None:
        """Say which lines the broken links accuse.

        A broken link between two lines accuses the first: its bytes are not those that were hashed. But
        a change to the hash that a line carries breaks the links on both its sides; so in a run of broken
        links the lines between two of them are accused, and not the one before the run.
        """
        if not self.broken:
            return
        wanted = set(self.broken.values())
        piece = piece_before(path)
        # A program from before there were pieces may have written on in one that was closed.
        before = {} if piece is None else _lines_with(piece, wanted)
        # A hash that another line of the file has tells of lines moved; none tells of lines changed.
        elsewhere = _lines_with(path, wanted)
        numbers = {number for number, prev in self.broken.items() if prev not in elsewhere}
        for number, prev in self.broken.items():
            last = number - 1
            if last == 0 and prev in before and prev != FIRST_PREV:
                continue
            if prev in elsewhere:
                self._moved(number, elsewhere[prev])
            # The middle of a run: the line that was changed is between two broken links and is told there.
            elif number + 1 in numbers and last not in numbers:
                continue
            elif last == 0:
                self._headless()
            else:
                text = (
                    f"Line {last} of {self.name} was changed after it was written, or lines after it "
                    f"are lost: line {number} does not follow from it. Compare it with a copy."
                )
                self._add(last, "altered", text)

    def _moved(self, number: int, follows: int) -> None:
        where = f"after line {follows}" if follows else "as the first of a file"
        text = (
            f"Line {number} of {self.name} was written {where}, not after line {number - 1}: "
            "lines were put in or put in another order, as when two copies of a file are joined."
        )
        self._add(number, "altered", text)

    def _headless(self) -> None:
        text = (
            f"The first line of {self.name} was not the first when it was written: lines before it are lost."
        )
        self._add(1, "missing", text)

    def _record(self, number: int, line: Line) -> None:
        # Numbers of 64 bits in an array: a set of texts would take ten times the room.
        self.seen.ids.append(_short(line.id))
        try:
            if line.kind in KINDS:
                decode_record(line)
            elif line.kind == "amend":
                self.seen.pointers.append((decode_amend(line).of, "amends", self.name, number))
            elif line.kind == "withdraw":
                self.seen.pointers.append((decode_withdraw(line).of, "withdraws", self.name, number))
        except ValueError as error:
            text = f"Line {number} of {self.name} is no sound {line.kind} record. {say(error)}"
            self._add(number, "undecodable", text)

    def _clock(self, number: int, line: Line) -> None:
        before, self.clock = self.clock, line
        # Time and id both: an id alone may follow one that was made ahead of the clock.
        if before is None or (line.at >= before.at and line.id >= before.id):
            return
        back_s = max(
            (datetime.fromisoformat(before.at) - datetime.fromisoformat(line.at)).total_seconds(),
            (ulid_time_ms(before.id) - ulid_time_ms(line.id)) / 1000,
        )
        if back_s > CLOCK_SLACK_S:
            text = (
                f"Line {number} of {self.name} is dated {_span(back_s)} before the line it follows: "
                "the clock of the machine was set back, or the entry was dated by hand."
            )
            self._add(number, "clock", text, "note")

    def _against(self, tip: Tip, count: int, sha: str) -> None:
        lines, last = tip
        if count < lines:
            text = f"{self.name} had {counted(lines, 'line')} and now has {count}: the last ones are lost."
            self._add(count + 1, "missing", text)
        elif lines and sha != last:
            text = f"Line {lines} of {self.name} is not what it was when it was last seen."
            self._add(lines, "altered", text)

    def _add(
        self, number: int, kind: ProblemKind, text: str, severity: Literal["error", "note"] = "error"
    ) -> None:
        # Collected and not raised: one fault must not hide the next.
        self.found.append(Problem(self.name, number, kind, text, severity))


def _lines_with(path: Path, wanted: set[str]) -> dict[str, int]:
    """The numbers of the lines that have one of these hashes; a second walk, for broken books only."""
    found = {FIRST_PREV: 0}
    for number, raw in enumerate(raw_lines(path), 1):
        if (digest := raw.digest) in wanted:
            found.setdefault(digest, number)
    return found


def _repeats(paths: Sequence[Path], twice: set[int], against: Contested) -> Iterator[Problem]:
    """What is wrong with records whose id stands in several places; a second walk, for few books only."""
    met: dict[str, list[tuple[bool, str, int, Content]]] = {}
    for path in paths:
        # A file that cannot be read was told above.
        with contextlib.suppress(OSError):
            for read in read_file(path):
                line = read.line
                if line is not None and _short(line.id) in twice:
                    found = (is_contested(line, against), path.name, read.number or 0, content(line))
                    met.setdefault(line.id, []).append(found)
    for places in met.values():
        # What was taken note of as coming late with an id that was known is blamed, wherever it stands.
        # Sorting is stable: of equals the first file and line counts as the first.
        (_, first_file, first, said), *others = sorted(places, key=lambda one: one[0])
        for late, file, number, says in others:
            what = f"Line {number} of {file}"
            where = f"line {first} of {first_file}"
            if says == said:
                text = f"{what} is the same record as {where}; it counts once."
                yield Problem(file, number, "duplicate id", text, "note")
            else:
                text = f"{what} has the id of {where} but says something else. "
                text += (
                    "It came later and does not count."
                    if late
                    else "One of the two was altered or forged; the one dated first counts."
                )
                yield Problem(file, number, "duplicate id", text, "error")


def _dangling(seen: _Seen) -> Iterator[Problem]:
    for of, verb, file, number in seen.pointers:
        # Only after all files: what it points at may stand in a later one.
        if not seen.has(of):
            text = (
                f"Line {number} of {file} {verb} {of}, which is not here; "
                "it takes effect when that record arrives."
            )
            yield Problem(file, number, "dangling", text, "note")


def _span(seconds: float) -> str:
    # In the largest unit that fits: "three days" is what a person looks for in the diary.
    for size_s, word in ((86400, "day"), (3600, "hour"), (60, "minute")):
        if seconds >= size_s:
            return counted(int(seconds // size_s), word)
    return counted(int(seconds), "second")
