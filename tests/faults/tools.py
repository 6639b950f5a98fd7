"""What the fault tests share: children, small studios, answers to compare, calls that fail."""

from __future__ import annotations

import errno
import fcntl
import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import kb.index.catalogue_rows
import kb.index.open
from kb.book.read import read_file
from kb.catalogue.load import Catalogue
from kb.desk.keep import rebuild
from kb.desk.records.record import list_tests
from kb.desk.studio import Studio
from kb.index.open import Origins, open_index
from tests.test_index import content, fill

PAGE = 4096
"""Bytes in a page of the index."""
READ_ONLY_USER = 65534
"""A user without rights, for tests that run as root, whom no right keeps out."""


CHILD_S = 200
"""Seconds after which a child is ended: one forked while another thread held a lock waits for ever."""


def start(work: Callable[[], object]) -> int:
    """Do the work in a child process; its process id. It ends without any clearing up."""
    child = os.fork()
    if child == 0:
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(CHILD_S)
        try:
            work()
        except BaseException:
            traceback.print_exc(file=sys.stderr)
            os._exit(1)
        os._exit(0)
    return child


def fork(work: Callable[[], object]) -> int:
    """Do the work in a child process; the wait status of its end (0 if all went well)."""
    return os.waitpid(start(work), 0)[1]


def alone(work: Callable[[Path], None], folder: Path) -> None:
    """Do work that forks hundreds of times in a new process: copies of one grown by tests cost far more."""
    code = "import importlib, pathlib, sys; _, module, name, folder = sys.argv"
    code += "; getattr(importlib.import_module(module), name)(pathlib.Path(folder))"
    done = subprocess.run(
        [sys.executable, "-c", code, work.__module__, work.__name__, str(folder)],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def acknowledged_in(book: Path) -> list[str]:
    """The ids of all readable records of all benches."""
    return [read.line.id for path in sorted(book.glob("*.jsonl")) for read in read_file(path) if read.line]


def book_bytes(studio: Studio) -> dict[str, bytes]:
    """Every file of the book as it stands."""
    return {path.name: path.read_bytes() for path in sorted(studio.book_dir.glob("*"))}


def answers(conn: sqlite3.Connection) -> dict[str, object]:
    """All derived rows, with files by name, so that the order in which they were met does not count."""
    found: dict[str, object] = dict(content(conn))
    names = {
        row[0]: Path(os.fsdecode(row[1])).name for row in conn.execute("SELECT rowid, path FROM book_file")
    }
    for table in ("test", "change", "kept"):
        columns = [row[1] for row in conn.execute(f"PRAGMA table_info({table})")]
        at = columns.index("file")
        rows = conn.execute(f"SELECT * FROM {table}")
        found[table] = sorted(((*row[:at], names[row[at]], *row[at + 1 :]) for row in rows), key=repr)
    found["problem"] = sorted(conn.execute("SELECT * FROM problem"))
    return found


def fresh_answers(studio: Studio) -> dict[str, object]:
    """What an index derived at this moment, in memory, says."""
    origins = studio.index.origins
    conn = open_index(None, Origins(*origins)).conn
    found = answers(conn)
    conn.close()
    return found


def listed(studio: Studio) -> list[str]:
    """The ids of all tests that the desk lists, oldest first."""
    return sorted(row.id for row in list_tests(studio, limit=0))


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Studio]:
    """Makes studios whose catalogue is empty: an index of one is derived in milliseconds."""
    from kb.catalogue import paths

    empty = tmp_path / "empty-catalogue"
    empty.mkdir()
    monkeypatch.setattr(paths, "shipped_data", lambda: empty)

    def make(name: str = "small") -> Studio:
        root = tmp_path / name
        root.mkdir(parents=True, exist_ok=True)
        return Studio(root)

    return make


@pytest.fixture
def without_names(monkeypatch: pytest.MonkeyPatch) -> None:
    """Indexes in which no entry of the catalogue can be looked up: that is most of what a rebuild takes.

    What the rows of the book follow from, the compiled catalogue, is whole.
    """
    whole, none = kb.index.catalogue_rows.write_catalogue, Catalogue({}, {}, {})
    monkeypatch.setattr(
        kb.index.catalogue_rows, "write_catalogue", lambda conn, _, *rest: whole(conn, none, *rest)
    )


class Grown:
    """A studio that can be set back to before its book grew: index and book of 20 tests, then 40 more."""

    def __init__(self, studio: Studio, first: int = 20, more: int = 40) -> None:
        self.root = studio.root
        self._before = studio.root.with_name(f"{studio.root.name}-before")
        fill(studio, first)
        studio.close()
        shutil.copytree(self.root, self._before)
        (file,) = studio.book_dir.glob("*.jsonl")
        size = file.stat().st_size
        fill(studio, more, seed=2)
        studio.close()
        self._file = file
        self._more = file.read_bytes()[size:]
        self.book = book_bytes(studio)
        self.truth = fresh_answers(studio)
        studio.close()

    def reset(self) -> Studio:
        """Everything as it was before the book grew; a studio that is not open yet."""
        shutil.rmtree(self.root)
        shutil.copytree(self._before, self.root)
        return Studio(self.root)

    def grow(self) -> None:
        """Let the book grow, as another program would."""
        with self._file.open("ab") as file:
            file.write(self._more)


JOBS = ("made fresh", "brought up to date", "brought up to date while open", "rebuilt")
"""Ways to come to an index of a book that has grown."""


class Ready(NamedTuple):
    """A studio, open or not, just before a job, and the job itself, which leaves it open."""

    studio: Studio
    do: Callable[[], Studio]


def ready(grown: Grown, job: str) -> Ready:
    """Everything as it is just before the job."""
    studio = grown.reset()
    if job == "made fresh":
        for path in grown.root.glob("index.db*"):
            path.unlink()
    elif job == "brought up to date while open":
        assert studio.index
    grown.grow()
    if job == "rebuilt":
        assert studio.index

    def work() -> Studio:
        if job == "rebuilt":
            rebuild(studio)
        else:
            studio.refresh()
        return studio

    return Ready(studio, work)


@contextmanager
def file_limit(size: int) -> Iterator[None]:
    """No file may grow beyond ``size`` bytes: how a full disk looks to a writer. For a child process."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))


class Failing:
    """Lets the n-th call among some functions of the system fail, and counts them."""

    CALLS = ("open", "mkdir", "write", "fsync", "fstat", "pread", "lstat")

    def __init__(self, patch: pytest.MonkeyPatch, nth: int, number: int, *, part: int = 0) -> None:
        self.nth = nth
        self.error = OSError(number, os.strerror(number))
        self.part = part
        self.calls: list[str] = []
        for name in self.CALLS:
            patch.setattr(os, name, self._wrapped(name, getattr(os, name)))
        patch.setattr(fcntl, "flock", self._wrapped("flock", fcntl.flock))

    @property
    def struck(self) -> bool:
        """Whether the call that fails was reached."""
        return len(self.calls) >= self.nth

    def _wrapped(self, name: str, really: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **more: Any) -> Any:
            if name == "open" and self._is_probe(args):
                return really(*args, **more)
            self.calls.append(name)
            if len(self.calls) != self.nth:
                return really(*args, **more)
            if name == "write" and self.part:
                really(args[0], args[1][: self.part])
            raise self.error

        return call

    @staticmethod
    def _is_probe(args: tuple[Any, ...]) -> bool:
        """Opening what is not there yet fails by itself, and leads on to making it."""
        return not args[1] & os.O_CREAT and not os.path.lexists(args[0])


NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EIO)


class Sound:
    """A studio with a sound, closed index, which each test damages and sets back."""

    def __init__(self, studio: Studio) -> None:
        fill(studio, 30)
        self.truth = answers(studio.index.conn)
        studio.close()
        self.root = studio.root
        self.book = book_bytes(studio)
        self.path = studio.root / "index.db"
        self.raw = self.path.read_bytes()
        self.seal = self.seal_path.read_bytes()
        assert sorted(path.name for path in self.root.glob("index.db*")) == ["index.db", "index.db-seal"]

    @property
    def seal_path(self) -> Path:
        """The seal beside the index."""
        return self.root / "index.db-seal"

    def reset(self) -> None:
        """The index as it was, with its seal."""
        for path in self.root.glob("index.db*"):
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        self.path.write_bytes(self.raw)
        self.seal_path.write_bytes(self.seal)

    def check(self) -> None:
        """Open it: the answers are right, now and again, and the book is as it was."""
        for _ in range(2):
            studio = Studio(self.root)
            assert answers(studio.index.conn) == self.truth
            studio.close()
        assert book_bytes(studio) == self.book


@pytest.fixture
def sound(small: Callable[[str], Studio]) -> Sound:
    """A sound index of a small studio."""
    return Sound(small("studio"))
