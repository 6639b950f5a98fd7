"""Killed writers, full disks, flipped bits, several writers at once: nothing acknowledged is lost."""

import errno
import fcntl
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import pytest

from kb.book import disk, pieces, storage
from kb.book.append import BookError
from kb.book.fold import fold
from kb.book.read import read_file
from kb.book.verify import Problem, tips_of, verify
from tests.book.test_book_append import put, raws
from tests.faults.tools import alone, fork, start
from tests.whole_book import all_lines

ROOT = Path(__file__).parents[2]
WRITER = """
import sys
from pathlib import Path
from kb.book.append import append
while True:
    line = append(Path(sys.argv[1]), bench="bench-1", who="reader", kind="test",
                  body={"parts": {"water": 1.0}, "remarks": "x" * 3000})
    sys.stdout.write(line.id + "\\n")
    sys.stdout.flush()
"""


def ids(book: Path) -> list[str]:
    """The ids of all readable records of the bench."""
    return [read.line.id for read in read_file(book / "bench-1.jsonl") if read.line]


def errors(found: list[Problem]) -> list[tuple[int, str]]:
    """Line and kind of what is not a mere note."""
    return [(item.line_number, item.kind) for item in found if item.severity == "error"]


def test_killed_at_random_moments_no_acknowledged_record_is_lost(tmp_path: Path) -> None:
    chance = random.Random(1)
    acknowledged: list[str] = []
    for _ in range(40):
        child = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        assert child.stdout is not None
        acknowledged += [child.stdout.readline().strip() for _ in range(chance.randint(10, 40))]
        for _ in range(chance.randint(0, 3000)):
            pass
        child.send_signal(signal.SIGKILL)
        rest, _ = child.communicate()
        acknowledged += [text for text in rest.split("\n")[:-1] if text]
        lines = len(raws(tmp_path))
        assert errors(verify(tmp_path)) in ([], [(lines + 1, "torn")])
        acknowledged.append(put(tmp_path).id)
        assert errors(verify(tmp_path)) == []
        if len(acknowledged) >= 220:
            break
    assert len(acknowledged) >= 200
    assert set(acknowledged) <= set(ids(tmp_path))


def test_killed_within_the_write_no_acknowledged_record_is_lost(tmp_path: Path) -> None:
    alone(killed_within_the_write, tmp_path)


def killed_within_the_write(tmp_path: Path) -> None:
    """200 writers die after a random number of bytes, or after all of them but before the sync."""
    chance = random.Random(2)
    acknowledged = [put(tmp_path).id]

    def die_after(size: int) -> None:
        really = os.write

        def write(fd: int, data: bytes) -> int:
            really(fd, data[:size])
            os.kill(os.getpid(), signal.SIGKILL)
            return 0

        os.write = write
        put(tmp_path)

    for number in range(200):
        assert os.WTERMSIG(fork(lambda: die_after(chance.randint(0, 620)))) == signal.SIGKILL
        if number % 10 == 0:
            lines = len(raws(tmp_path))
            assert errors(verify(tmp_path)) in ([], [(lines + 1, "torn")])
        if number % 3:
            acknowledged.append(put(tmp_path).id)
    acknowledged.append(put(tmp_path).id)
    assert set(acknowledged) <= set(ids(tmp_path))
    found = verify(tmp_path)
    assert errors(found) == []
    assert {item.kind for item in found} == {"torn"}
    assert len(found) > 100


def test_a_torn_line_at_every_length_spoils_nothing(tmp_path: Path) -> None:
    first, second = put(tmp_path), put(tmp_path)
    path = tmp_path / "bench-1.jsonl"
    whole = path.read_bytes()
    start = whole.index(b"\n") + 1
    for size in range(start, len(whole), 7):
        path.write_bytes(whole[:size])
        third = put(tmp_path)
        kept = [first.id, second.id, third.id] if size == len(whole) - 1 else [first.id, third.id]
        assert ids(tmp_path) == kept
        assert path.read_bytes()[:size] == whole[:size], "what is there is never changed"
        assert errors(verify(tmp_path)) == []


def test_a_flipped_bit_is_named_by_line(tmp_path: Path) -> None:
    chance = random.Random(3)
    first = put(tmp_path)
    for _ in range(3):
        put(tmp_path)
    put(tmp_path, "amend", {"of": first.id, "set": {"release": 1}, "why": "misread"})
    put(tmp_path, "withdraw", {"of": first.id, "why": "wrong sheet"})
    path, tips = tmp_path / "bench-1.jsonl", tips_of(tmp_path)
    whole = path.read_bytes()
    ends = [at for at, byte in enumerate(whole) if byte == 10]
    for at in [*ends, *(chance.randrange(len(whole)) for _ in range(400))]:
        spoilt = bytearray(whole)
        spoilt[at] ^= 1 << chance.randrange(8)
        path.write_bytes(spoilt)
        number = whole[:at].count(b"\n") + 1
        assert number in {item.line_number for item in verify(tmp_path, tips=tips)}
        last = number == len(ends)
        assert last or number in {item.line_number for item in verify(tmp_path)}
        fold(all_lines(tmp_path))


def test_any_garbage_is_read_and_appended_to_without_a_crash(tmp_path: Path) -> None:
    chance = random.Random(4)
    for _ in range(60):
        data = chance.randbytes(chance.randrange(1, 400)) + b"\n" * chance.randrange(3)
        (tmp_path / "bench-1.jsonl").write_bytes(data)
        verify(tmp_path)
        line = put(tmp_path)
        assert all_lines(tmp_path) == [line]
        assert (tmp_path / "bench-1.jsonl").read_bytes().startswith(data)


@pytest.mark.parametrize("torn", [b"", b'{"id":"torn'])
def test_when_the_disk_is_full_nothing_changes_and_later_appends_work(tmp_path: Path, torn: bytes) -> None:
    put(tmp_path)
    path = tmp_path / "bench-1.jsonl"
    with open(path, "ab") as file:
        file.write(torn)
    before = path.read_bytes()

    def work() -> None:
        for room in (0, 1, 100, 500):
            resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) + room, resource.RLIM_INFINITY))
            with pytest.raises(
                BookError, match=r"no more growth .*Nothing was recorded\. Make room"
            ) as caught:
                put(tmp_path)
            assert str(caught.value).isprintable()
            assert path.read_bytes() == before
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        put(tmp_path)

    assert fork(work) == 0
    assert errors(verify(tmp_path)) == []
    assert len(ids(tmp_path)) == 2


def failing(monkeypatch: pytest.MonkeyPatch, name: str, number: int, *, part: int = 0) -> None:
    """Let a call of ``os`` fail, ``write`` after a part of its bytes."""
    really = os.write

    def fail(fd: int, *args: bytes) -> int:
        if part:
            really(fd, args[0][:part])
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, name, fail)


@pytest.mark.parametrize(
    ("name", "number", "words"),
    [
        ("write", errno.ENOSPC, "no room on the disk"),
        ("write", errno.EIO, "could not write"),
        ("fsync", errno.EIO, "could not write"),
        ("fsync", errno.EDQUOT, "no room on the disk"),
    ],
)
def test_a_failing_disk_takes_the_half_written_line_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, number: int, words: str
) -> None:
    put(tmp_path)
    before = (tmp_path / "bench-1.jsonl").read_bytes()
    with monkeypatch.context() as patch:
        failing(patch, name, number, part=50 if name == "write" else 0)
        with pytest.raises(BookError, match=f"{words}.*Nothing was recorded"):
            put(tmp_path)
    assert (tmp_path / "bench-1.jsonl").read_bytes() == before
    put(tmp_path)
    assert verify(tmp_path) == []


def test_if_it_cannot_be_taken_back_the_message_says_so_and_later_entries_are_safe(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path)
    with monkeypatch.context() as patch:
        failing(patch, "write", errno.ENOSPC, part=50)
        failing(patch, "ftruncate", errno.EIO)
        with pytest.raises(BookError, match="does not count as recorded, though part of it may stand"):
            put(tmp_path)
    put(tmp_path)
    assert len(ids(tmp_path)) == 2
    assert [(item.line_number, item.kind, item.severity) for item in verify(tmp_path)] == [
        (2, "torn", "note")
    ]


def test_short_writes_are_carried_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    really = os.write
    monkeypatch.setattr(os, "write", lambda fd, data: really(fd, data[:7]))
    put(tmp_path)
    put(tmp_path)
    assert verify(tmp_path) == []
    assert len(ids(tmp_path)) == 2


@pytest.mark.parametrize("advise", [None, mock.Mock(side_effect=OSError(errno.ENOSYS, "not here"))])
def test_a_system_that_takes_no_advice_keeps_records_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, advise: mock.Mock | None
) -> None:
    monkeypatch.setattr(storage, "_ADVISE", advise)
    made = [put(tmp_path).id, put(tmp_path).id]
    assert ids(tmp_path) == made
    assert advise is None or advise.called


def test_an_interrupt_before_the_sync_takes_the_line_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path)
    before = (tmp_path / "bench-1.jsonl").read_bytes()
    calls = iter([KeyboardInterrupt()])

    def interrupted(fd: int) -> None:
        for error in calls:
            raise error

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        put(tmp_path)
    assert (tmp_path / "bench-1.jsonl").read_bytes() == before


def test_an_interrupt_while_the_file_is_looked_at_again_lets_the_next_writer_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path)
    put(tmp_path)
    monkeypatch.setattr(disk, "LOCK_WAIT_S", 0.0)
    with monkeypatch.context() as patch:
        patch.setattr(pieces, "pread", mock.Mock(side_effect=KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            put(tmp_path)
    put(tmp_path)
    assert len(ids(tmp_path)) == 3


def test_four_writers_at_once_lose_nothing(tmp_path: Path) -> None:
    def work() -> None:
        for _ in range(50):
            put(tmp_path)

    children = [start(work) for _ in range(4)]
    assert [os.waitpid(child, 0)[1] for child in children] == [0] * 4
    assert len(set(ids(tmp_path))) == 200
    assert verify(tmp_path) == []
    assert ids(tmp_path) == sorted(ids(tmp_path))


def test_threads_of_one_program_lose_nothing(tmp_path: Path) -> None:
    threads = [threading.Thread(target=lambda: [put(tmp_path) for _ in range(20)]) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(ids(tmp_path))) == 80
    assert verify(tmp_path) == []


def test_a_file_that_stays_open_holds_up_nobody_and_is_looked_for_again(tmp_path: Path) -> None:
    """Between two records the file stays open: others lock it, move it away, and write in it from a fork."""
    put(tmp_path)
    path = tmp_path / "bench-1.jsonl"
    with open(path, "rb") as other:
        fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)
    away = path.rename(tmp_path / "away")
    before = away.read_bytes()
    put(tmp_path)
    assert away.read_bytes() == before
    path.unlink()
    put(tmp_path)
    assert len(ids(tmp_path)) == 1
    for _ in range(3):
        child = start(lambda: put(tmp_path))
        put(tmp_path)
        assert os.waitpid(child, 0)[1] == 0
    assert len(set(ids(tmp_path))) == 7
    assert verify(tmp_path) == []


def test_a_writer_that_never_lets_go_is_reported(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path)
    monkeypatch.setattr(disk, "LOCK_WAIT_S", 0.0)
    with open(tmp_path / "bench-1.jsonl", "rb") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        with pytest.raises(BookError, match=r"Another program has held .*Nothing was recorded"):
            put(tmp_path)
    put(tmp_path)
    assert verify(tmp_path) == []


@pytest.mark.parametrize("left_open", [True, False])
def test_a_file_that_was_replaced_while_we_waited_gets_the_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, left_open: bool
) -> None:
    """Whether this program still had it open or opens it anew."""
    put(tmp_path)
    if not left_open:
        put(tmp_path / "elsewhere")
    path, other = tmp_path / "bench-1.jsonl", tmp_path / "other"
    shutil.copy(path, other)
    really = fcntl.flock

    def replaced(fd: int, how: int) -> None:
        if other.exists():
            os.replace(other, path)
        really(fd, how)

    monkeypatch.setattr(fcntl, "flock", replaced)
    line = put(tmp_path)
    assert not other.exists()
    assert line.id in ids(tmp_path)
    assert verify(tmp_path) == []


def test_a_file_that_is_replaced_for_ever_is_reported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(disk, "_is_still", lambda path, opened: False)
    with pytest.raises(BookError, match=r"keeps replacing it\)\. Nothing was recorded"):
        put(tmp_path)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that any user can reach."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


@pytest.mark.parametrize("what", ["folder", "file", "parent"])
def test_without_the_right_to_write_the_message_says_so(open_folder: Path, what: str) -> None:
    book = open_folder / "book" if what == "parent" else open_folder
    if what == "file":
        put(book)
        (book / "bench-1.jsonl").chmod(0o444)
    else:
        open_folder.chmod(0o555)

    def work() -> None:
        if os.geteuid() == 0:
            os.setuid(65534)
        with pytest.raises(BookError, match=r"You may not write .*Nothing was recorded\. Change the rights"):
            put(book)

    assert fork(work) == 0


@pytest.mark.parametrize("what", ["link", "folder", "pipe", "file in place of the folder"])
def test_what_is_not_an_ordinary_file_is_refused_and_left(tmp_path: Path, what: str) -> None:
    book = tmp_path / "book"
    book.mkdir()
    path, victim = book / "bench-1.jsonl", tmp_path / "victim"
    victim.write_bytes(b"precious")
    if what == "link":
        path.symlink_to(victim)
    elif what == "folder":
        path.mkdir()
    elif what == "pipe":
        os.mkfifo(path)
    else:
        book = victim
    with pytest.raises(BookError, match=r"not a file.*Nothing was recorded"):
        put(book)
    assert victim.read_bytes() == b"precious"


def test_the_cost_of_an_append_does_not_grow_with_the_book(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path)
    path = tmp_path / "bench-1.jsonl"
    path.write_bytes(path.read_bytes() * 5_000)
    read: list[int] = []
    really = os.pread
    monkeypatch.setattr(os, "pread", lambda fd, size, at: (read.append(size), really(fd, size, at))[1])
    put(tmp_path)
    assert sum(read) <= 1 << 16
