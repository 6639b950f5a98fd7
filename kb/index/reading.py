"""The lines of the book as rows of the index, read here or, of a long book, by a second process.

That process reads and checks the lines while this one reads the catalogue and stores the rows; then it adds
up harm while this one adds up release. It opens no index and writes no file: killed at any moment it leaves
nothing, and this process then does all of it itself. It ends when this one ends, because its pipes do.
"""

from __future__ import annotations

import contextlib
import marshal
import os
import sys
from collections import deque
from collections.abc import Callable, Collection, Iterator, Sequence
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, NamedTuple

from kb.book.check import decode_test
from kb.book.line import decode_line
from kb.book.read import RawLine, raw_lines
from kb.index.rows import Row, plain_parts, row_of

if TYPE_CHECKING:
    import subprocess

    from kb.index.tally import HarmGiven

AT_ONCE, AT_ONCE_BYTES = 2_000, 2 << 20
"""Lines that are handed on together; fewer where they are long."""
LONG_BYTES = 12 << 20
"""A book of fewer bytes, some 20,000 tests, is read sooner than a second process pays for its start."""
MOST_WAITING = 16 << 20
"""So many bytes the second process reads ahead while this one is busy; then it waits."""
_HEAD, _MOST_AT_ONCE = 8, 1 << 28
"""Bytes that say how many follow, and how many these may be: sums of a million tests take a tenth of it."""
Parts = dict[str, float]


class Apart(NamedTuple):
    """A line that is no plain test: whoever has the index must look at it."""

    after: int
    """How many rows of its batch stand before it."""
    number: int
    """Counted from where reading began; 1 is the first line."""
    raw: RawLine


class Batch(NamedTuple):
    """Some lines in their order: rows of tests, without what a tape fills in, and all other lines."""

    rows: list[Row]
    blends: list[tuple[int, Parts]]
    """Which rows are of a blend, and of what it was made; a pure liquid stands in the catalogue."""
    apart: list[Apart]
    end: int
    """Where to read on, in bytes from the start of the file."""
    lines: int
    """Whole lines up to there, counted from where reading began."""


def batches(
    path: Path,
    file: int,
    start: int = 0,
    apart: Collection[int] = (),
    went: Callable[[int], None] | None = None,
) -> Iterator[Batch]:
    """The lines of one file from byte ``start`` on. ``file`` is its number in the index.

    ``apart``: where lines begin that are not to be made rows; ``went`` is told the bytes of each line.
    Raises OSError if it cannot be read.
    """
    end, lines = start, 0
    batch = Batch([], [], [], end, lines)
    for number, raw in enumerate(raw_lines(path, start), 1):
        if went is not None:
            went(raw.length)
        found = None if raw.offset in apart else _usual(raw, file)
        if found is None:
            batch.apart.append(Apart(len(batch.rows), number, raw))
        else:
            row, parts = found
            if len(parts) > 1:
                batch.blends.append((len(batch.rows), parts))
            batch.rows.append(row)
        # A line without an end is read again: the writer may be in the middle of it.
        if raw.ended:
            end, lines = raw.offset + raw.length, number
        if number - batch.lines >= AT_ONCE or end - batch.end >= AT_ONCE_BYTES:
            yield batch._replace(end=end, lines=lines)
            batch = Batch([], [], [], end, lines)
    if batch.rows or batch.apart:
        yield batch._replace(end=end, lines=lines)


def _usual(raw: RawLine, file: int) -> tuple[Row, Parts] | None:
    """The row of a sound test and the parts of its liquid; None for all else."""
    if not raw.ended or raw.sha:
        return None
    # Whatever one line holds, it must not keep the others from being read.
    try:
        line = decode_line(raw.data, numbers=False)
        if line.kind != "test":
            return None
        test = decode_test(line)
        # What such a tape may be depends on what the catalogue says of it.
        if test.tape and test.may_be:
            return None
        parts = plain_parts(test.parts)
        return row_of(line, test, parts, (file, raw.offset, raw.length), {}), parts
    except Exception:
        return None


class Lost(Exception):
    """The second process ended, or does not do what it was asked: this one has to do all itself."""


Stood = tuple[int, int, int]
"""Size and times of change, in ns, of a file before it was read."""


def stood(path: Path) -> Stood:
    found = path.stat()
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns


class SecondProcess:
    """A second process that reads the book from its beginning and counts harm."""

    def __init__(self, process: subprocess.Popen[bytes], paths: Sequence[Path]) -> None:
        self._process = process
        self._paths = deque(paths)
        self._number = 0

    @classmethod
    def of_long(cls, book: Sequence[Path]) -> SecondProcess | None:
        """One that reads these files; None if it would not pay or cannot be had."""
        if _size_of(book) < LONG_BYTES or _processors() < 2 or not sys.executable or hasattr(sys, "frozen"):
            return None
        import subprocess

        from kb.index.schema import VERSION

        # The same program, wherever this one was found.
        start = "import sys; sys.argv[1] in sys.path or sys.path.insert(0, sys.argv[1]); "
        start += f"from {__name__} import main; main()"
        try:
            # A new interpreter and no fork: a child of threads would inherit locks that nobody opens.
            process = subprocess.Popen(
                [sys.executable, "-P", "-c", start, str(Path(__file__).parents[2])],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except OSError:
            return None
        second = cls(process, book)
        try:
            second._tell((VERSION, [os.fsencode(path) for path in book]))
        except Lost:
            second.close()
            return None
        return second

    def close(self) -> None:
        """End it, whatever it does."""
        self._process.kill()
        for pipe in (self._process.stdin, self._process.stdout):
            # What was not written yet nobody will read.
            with contextlib.suppress(OSError):
                _there(pipe).close()
        self._process.wait()

    def file(self, path: Path, number: int, went: Callable[[int], None]) -> tuple[Stood, Iterator[Batch]]:
        """How the next file stood, and its lines. Raises Lost, also if it reads another one next."""
        self._number += 1
        # A file that came meanwhile has moved the others on.
        if number != self._number or not self._paths or self._paths.popleft() != path:
            raise Lost
        return self._told(), self._batches(went)

    def _batches(self, went: Callable[[int], None]) -> Iterator[Batch]:
        before = 0
        while told := self._told():
            rows, blends, apart, end, lines = told
            went(end - before)
            before = end
            lone = [Apart(after, at, RawLine(*raw)) for after, at, raw in apart]
            yield Batch(list(map(Row._make, rows)), blends, lone, end, lines)

    def liquids_harming(self) -> list[str]:
        """The liquids of which it has counted harm. Asked when all files are read. Raises Lost."""
        if self._paths:
            raise Lost
        return list(self._told())

    def sums_of_harm(self, given: HarmGiven) -> Iterator[tuple[str, list[tuple[Any, ...]]]]:
        """Rows of the tables of harm, by table, while this process goes on. Raises Lost."""
        self._tell(given)
        return iter(self._told, None)

    def _tell(self, what: Any) -> None:
        try:
            pipe = _there(self._process.stdin)
            pipe.write(_framed(what))
            pipe.flush()
        except OSError as error:
            raise Lost from error

    def _told(self) -> Any:
        try:
            return _read(_there(self._process.stdout))
        except (OSError, EOFError, ValueError, TypeError) as error:
            raise Lost from error


def _there(pipe: IO[bytes] | None) -> IO[bytes]:
    assert pipe is not None
    return pipe


def _size_of(paths: Sequence[Path]) -> int:
    size = 0
    for path in paths:
        # A file that is gone by now is seen when it is read.
        with contextlib.suppress(OSError):
            size += path.stat().st_size
    return size


def _processors() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _framed(what: Any) -> bytes:
    # Both ends are this program and nobody else's words pass here, so the quickest form will do. It also
    # says equal texts once, and the names of materials stay one text each in memory.
    raw = marshal.dumps(what)
    return len(raw).to_bytes(_HEAD, "little") + raw


def _read(pipe: IO[bytes]) -> Any:
    """What was told next. Raises EOFError if the other end has gone."""
    size = int.from_bytes(pipe.read(_HEAD), "little")
    if size > _MOST_AT_ONCE:
        raise ValueError("not what is said here")
    return marshal.loads(pipe.read(size))


class _Telling:
    """Hands on what is told without waiting for the other process, unless too much waits already."""

    def __init__(self, fd: int) -> None:
        self._fd = fd
        self._waiting = deque[memoryview]()
        self._size = 0
        # Where pipes cannot do it, each piece waits until the one before is taken.
        self._ahead = MOST_WAITING if sys.platform != "win32" else 0
        if self._ahead:
            os.set_blocking(fd, False)

    def tell(self, what: Any) -> None:
        raw = _framed(what)
        self._waiting.append(memoryview(raw))
        self._size += len(raw)
        self._hand_on(self._ahead)

    def all_told(self) -> None:
        """Wait until everything is taken."""
        self._hand_on(0)

    def _hand_on(self, may_wait: int) -> None:
        # Only the second process gets here, and a command that writes one line need not load it.
        import select

        while self._waiting:
            try:
                done = os.write(self._fd, self._waiting[0])
            except BlockingIOError:
                if self._size <= may_wait:
                    return
                select.select([], [self._fd], [])
                continue
            self._size -= done
            self._waiting[0] = self._waiting[0][done:]
            if not self._waiting[0]:
                self._waiting.popleft()


def main() -> None:
    """The second process: it is told of files on its standard input and tells of their lines on the other."""
    import gc

    gc.disable()
    # Whoever asked has gone, or wants no more: there is nobody left to tell, and nothing to put in order.
    with contextlib.suppress(BrokenPipeError, EOFError, KeyboardInterrupt):
        _work(sys.stdin.buffer, _Telling(sys.stdout.fileno()))
    os._exit(0)


def _work(source: IO[bytes], telling: _Telling) -> None:
    from kb.index.schema import VERSION

    version, paths = _read(source)
    # A program that was replaced by a newer one while it ran: its rows are not ours.
    if version != VERSION:
        return
    harm: dict[tuple[Any, ...], int] = {}
    for number, raw_path in enumerate(paths, 1):
        path = Path(os.fsdecode(raw_path))
        # Before reading: what is appended meanwhile makes the size differ, and is read later.
        telling.tell(stood(path))
        for batch in batches(path, number):
            for row in batch.rows:
                for medium, grade in row.harm_looks:
                    key = (medium, row.paper, row.method, row.liquid, grade)
                    harm[key] = harm.get(key, 0) + 1
            rows = list(map(tuple, batch.rows))
            apart = [(one.after, one.number, tuple(one.raw)) for one in batch.apart]
            telling.tell((rows, batch.blends, apart, batch.end, batch.lines))
        telling.tell(None)
    telling.tell(sorted({key[3] for key in harm}))
    telling.all_told()
    # Loaded only now: the lines were waited for.
    from kb.index.tally import harm_anew

    # Nothing is kept that is told: two processes must not need twice the memory.
    for piece in harm_anew(harm, _read(source)):
        telling.tell(piece)
        del piece
    telling.tell(None)
    telling.all_told()
