"""Reading a book line by line, in constant memory, past any damage."""

import contextlib
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import BinaryIO, NamedTuple

from kb.book.files import TORN
from kb.book.line import MAX_LINE_BYTES, decode_line, hash_of
from kb.model.record import Line

Watch = Callable[[float], None]
"""Is given how much of long work is done, 0 to 1. What it raises ends the work, with nothing half done."""
OVERSIZE = f"longer than {MAX_LINE_BYTES:,} bytes"


def unwatched(_: float) -> None:
    """Nobody watches."""


class Way:
    """How much of all files is read; told in steps of one in a hundred."""

    def __init__(self, paths: Sequence[Path], watch: Watch) -> None:
        self.watch = watch
        self.whole = 1
        for path in paths:
            with contextlib.suppress(OSError):
                self.whole += path.stat().st_size
        self.done = self.next = 0

    def went(self, length: int) -> None:
        """So many bytes more are read."""
        self.done += length
        if self.done >= self.next:
            # Lines that come in meanwhile are read too.
            self.watch(min(self.done / self.whole, 1.0))
            self.next = self.done + self.whole // 100


class Read(NamedTuple):
    """One line as found. ``line`` is None if it is damaged; then ``problem`` says how."""

    line: Line | None
    offset: int
    """Bytes from the start of the file."""
    length: int
    """Bytes, with the newline if there is one."""
    number: int | None
    """Counted from 1; None if reading did not start at the top."""
    problem: str


class RawLine(NamedTuple):
    """One line as bytes without newline; ``data`` is empty and ``sha`` given if it is oversize."""

    offset: int
    length: int
    data: bytes
    ended: bool
    sha: str

    @property
    def digest(self) -> str:
        """SHA-256 of the line, lower-case hex."""
        return self.sha or hash_of(self.data)


def raw_lines(path: Path, start: int = 0) -> Iterator[RawLine]:
    """The lines of a file as bytes from byte ``start`` on. Raises OSError if it cannot be read."""
    with open(path, "rb") as file:
        file.seek(start)
        offset = start
        # One more than may be: so a line of just the limit is told from one that goes on.
        while chunk := file.readline(MAX_LINE_BYTES + 1):
            if chunk.endswith(b"\n"):
                # Hashed only when asked for: reading records needs no hash.
                found = RawLine(offset, len(chunk), chunk[:-1], True, "")
            elif len(chunk) <= MAX_LINE_BYTES:
                found = RawLine(offset, len(chunk), chunk, False, "")
            else:
                found = _oversize(file, offset, chunk)
            yield found
            offset += found.length


def _oversize(file: BinaryIO, offset: int, chunk: bytes) -> RawLine:
    """Pass over a line that is too long, hashing it piece by piece. ``chunk`` is its beginning."""
    # Loaded late: lines too long are damage, and most programs never meet one.
    from hashlib import sha256

    digest, length = sha256(), 0
    while chunk and not chunk.endswith(b"\n"):
        digest.update(chunk)
        length += len(chunk)
        chunk = file.readline(MAX_LINE_BYTES)
    digest.update(chunk[:-1])
    return RawLine(offset, length + len(chunk), b"", bool(chunk), digest.hexdigest())


def read_file(path: Path, start: int = 0) -> Iterator[Read]:
    """The records of one file, in file order, from byte ``start`` (the start of a line) on.

    Damaged lines come with ``line=None`` and the problem in words; they never stop the reading.
    Raises OSError if the file itself cannot be read.
    """
    # Numbers count from the top; from the middle of a file nobody knows them.
    for number, raw in enumerate(raw_lines(path, start), 1):
        yield read_of(raw, None if start else number)


def read_of(raw: RawLine, number: int | None = None) -> Read:
    """The record in one line of a file, or what is wrong with it."""
    line: Line | None = None
    problem = ""
    if not raw.ended:
        problem = TORN
    elif raw.sha:
        problem = OVERSIZE
    else:
        try:
            line = decode_line(raw.data)
        except ValueError as error:
            problem = str(error)
    return Read(line, raw.offset, raw.length, number, problem)
