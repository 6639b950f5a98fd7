"""The program is killed while it makes, extends or rebuilds the index: the next start answers the same."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from kb.desk.choose.choose import choose
from kb.desk.keep import rebuild
from kb.desk.records.record import add_test
from kb.desk.studio import Studio
from kb.index import index_file, reading
from kb.index.book_rows import BOOK_TABLES
from kb.index.reading import SecondProcess
from kb.model.question import Question
from scripts.bench_parts.books import write_book
from tests.conftest import spot
from tests.faults import figures
from tests.faults.tools import (
    JOBS,
    Grown,
    answers,
    book_bytes,
    fork,
    fresh_answers,
    ready,
    small,
    start,
    without_names,
)
from tests.test_index import content, fill

__all__ = ["small", "without_names"]
EACH = 10
"""Kills of each job, spread over the steps of the database."""
STEP = 40
"""Instructions of the database between two places where it may be killed."""


class Killer:
    """Counts the steps that a database takes, and kills this program at one of them."""

    def __init__(self, last: int) -> None:
        self.steps = 0
        self._last = last

    def watch(self, conn: sqlite3.Connection) -> None:
        """Count the steps of this connection too."""
        conn.set_progress_handler(self._step, STEP)

    def watch_new(self, patch: pytest.MonkeyPatch) -> None:
        """Count the steps of every connection to come."""
        killer = self

        class Watched(index_file.SealedConnection):
            def __init__(self, *args: object, **more: object) -> None:
                super().__init__(*args, **more)  # type: ignore[arg-type]
                killer.watch(self)

        patch.setattr(index_file, "SealedConnection", Watched)

    def _step(self) -> int:
        self.steps += 1
        if self.steps == self._last:
            os.kill(os.getpid(), signal.SIGKILL)
        return 0


@pytest.mark.parametrize("job", JOBS)
def test_killed_at_any_step_of_the_work(
    small: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, job: str
) -> None:
    """Spread over the whole of each job. The next start gives the answers, and the one after it too."""
    grown = Grown(small("studio"), first=10, more=20)
    told = tmp_path / "steps"

    def work(last: int) -> None:
        studio, do = ready(grown, job)
        killer = Killer(last)
        killer.watch_new(monkeypatch)
        if job == "brought up to date while open":
            killer.watch(studio._index.conn)  # type: ignore[union-attr]
        do().close()
        told.write_text(str(killer.steps))

    assert fork(lambda: work(0)) == 0
    whole = int(told.read_text())
    assert whole > EACH
    for part in range(EACH):
        last = max(1, whole * part // EACH)
        assert os.WTERMSIG(fork(lambda last=last: work(last))) == signal.SIGKILL  # type: ignore[misc]
        for _ in range(2):
            studio = Studio(grown.root)
            assert answers(studio.index.conn) == grown.truth
            studio.close()
        assert book_bytes(studio) == grown.book
    figures.add(f"index {job}, killed at a step", tried=EACH, lost=0, crashes=EACH)


def kill_soon(work: Callable[[], object], delay_s: float) -> bool:
    """Do the work in a child and kill it after a while; whether it was still at work."""
    child = start(work)
    timer = threading.Timer(delay_s, lambda: os.kill(child, signal.SIGKILL))
    timer.start()
    os.waitid(os.P_PID, child, os.WEXITED | os.WNOWAIT)
    # The process id stays its own until it is waited for, so the timer cannot hit another.
    timer.cancel()
    timer.join()
    status = os.waitpid(child, 0)[1]
    assert status == 0 or os.WTERMSIG(status) == signal.SIGKILL
    return status != 0


def test_killed_20_times_at_random_moments(small: Callable[[str], Studio]) -> None:
    """One index, killed over and over with nothing mended in between, while its book grows."""
    studio = small("studio")
    fill(studio, 100)
    chance = random.Random(9)

    def work() -> None:
        own = Studio(studio.root)
        if chance.random() < 0.6:
            rebuild(own)
        own.refresh()
        own.close()

    began = time.perf_counter()
    assert fork(work) == 0
    long_s = time.perf_counter() - began
    kills = tries = 0
    while kills < 20 and tries < 200:
        chance.seed(tries)
        tries += 1
        kills += kill_soon(work, chance.uniform(0, long_s))
        if tries % 5 == 0:
            studio.close()
            fill(studio, 2, seed=tries)
            assert answers(studio.index.conn) == fresh_answers(studio)
    before = book_bytes(studio)
    again = Studio(studio.root)
    assert answers(again.index.conn) == fresh_answers(again)
    assert book_bytes(again) == before
    assert kills == 20
    figures.add("index killed at random moments", tried=tries, lost=0, crashes=kills)


def test_killed_while_the_whole_catalogue_is_read(studio: Studio) -> None:
    """The real catalogue: killed early, half way and late, then asked which liquid to test next."""
    fill(studio, 15)
    asked = Question(adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil")
    found = choose(studio, asked)
    began = time.process_time()
    rebuild(studio)
    long_s = time.process_time() - began
    studio.close()
    kills = [kill_soon(lambda: rebuild(Studio(studio.root)), long_s * part) for part in (0.1, 0.5, 0.9)]
    assert any(kills)
    assert choose(Studio(studio.root), asked) == found
    figures.add("index of the whole catalogue killed", tried=3, lost=0, crashes=sum(kills))


class Started:
    """Lets every rebuild have a second process, and holds those that were started."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.all: list[SecondProcess] = []
        of_long = SecondProcess.of_long

        def started(book: list[Path]) -> SecondProcess | None:
            second = of_long(book)
            assert second is not None
            self.all.append(second)
            return second

        patch.setattr(reading, "LONG_BYTES", 0)
        patch.setattr(reading, "_processors", lambda: 2)
        patch.setattr(SecondProcess, "of_long", started)

    def ended(self) -> int:
        """How many were started; all of them have ended."""
        assert all(second._process.poll() is not None for second in self.all)
        return len(self.all)


def stored(studio: Studio) -> dict[str, list[tuple[object, ...]]]:
    """The rows of the book to the last byte, in the order of their tables."""
    return {table: studio.index.conn.execute(f"SELECT * FROM {table}").fetchall() for table in BOOK_TABLES}


def mixed(studio: Studio, count: int) -> None:
    """Tests, corrections, blends, tapes known and unknown; repeats, damage, and a line without an end."""
    fill(studio, 20)
    may_be = {"natural-rubber-resin/oily/cloth": 0.4, "acrylic//": 0.6}
    for more in (
        {"tape": "masking-rubber", "carrier": ""},
        {"may_be": may_be, "harm": {"bleed": 3}},
        {"tape": "masking-rubber", "may_be": may_be, "parts": {"acetone": 0.5, "ethanol": 0.5}},
        {"medium": "of no catalogue", "parts": {"of none": 1.0}, "harm": {"gloss": 4}},
    ):
        for adhesive in ("", "acrylic"):
            add_test(studio, spot(adhesive=adhesive, **more))
    (own,) = studio.book_dir.glob("*.jsonl")
    lines = own.read_bytes().splitlines(keepends=True)
    write_book(studio.root, studio.compiled, count)
    own.write_bytes(b"".join((*lines[:9], b"no record\n", *lines[9:], lines[3][:50])))
    (studio.book_dir / "copied.jsonl").write_bytes(b"".join(lines[5:]))


def test_two_processes_derive_what_one_does(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every row of the book, to the byte, whatever its lines hold."""
    mixed(studio, 2 * reading.AT_ONCE + 100)
    rebuild(studio)
    alone, told = stored(studio), studio.index.conn.execute("SELECT * FROM problem").fetchall()
    assert len(told) == 2
    started = Started(monkeypatch)
    rebuild(studio)
    assert started.ended() == 1
    assert stored(studio) == alone
    # What came in line by line is the same as well, whoever read the lines before.
    add_test(studio, spot(harm={"bleed": 2}))
    studio.refresh()
    grown = content(studio.index.conn)
    rebuild(studio)
    assert content(studio.index.conn) == grown
    assert started.ended() == 2


@pytest.mark.usefixtures("without_names")
def test_the_second_process_killed_at_any_word(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """This one then does all itself: the rows are the same, and nothing of the other is left."""
    mixed(studio, 300)
    rebuild(studio)
    alone = stored(studio)
    started, words, last = Started(monkeypatch), 0, 0
    told = SecondProcess._told

    def heard(second: SecondProcess) -> object:
        nonlocal words
        words += 1
        if words == last:
            second._process.kill()
            second._process.wait()
            # What it had said before may still lie in the pipe.
            while reading._there(second._process.stdout).read(1 << 16):
                pass
        return told(second)

    monkeypatch.setattr(SecondProcess, "_told", heard)
    rebuild(studio)
    whole = words
    assert whole > 10
    for last in range(1, whole + 1):
        words = 0
        rebuild(studio)
        assert words >= last
        assert stored(studio) == alone, last
    assert started.ended() == whole + 1
    figures.add("second process of a rebuild killed", tried=whole, lost=0, crashes=whole)


@pytest.mark.usefixtures("without_names")
@pytest.mark.parametrize("fault", ["no such program", "ends at once", "speaks otherwise", "another version"])
def test_a_second_process_that_cannot_be_had(
    studio: Studio, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, fault: str
) -> None:
    """The index is derived all the same."""
    mixed(studio, 100)
    rebuild(studio)
    alone = stored(studio)
    monkeypatch.setattr(reading, "LONG_BYTES", 0)
    monkeypatch.setattr(reading, "_processors", lambda: 2)
    program = tmp_path / "program"
    program.write_text(f"#!/bin/sh\n{'exit 0' if fault == 'ends at once' else 'echo what comes instead'}\n")
    program.chmod(0o700)
    if fault == "another version":
        monkeypatch.setattr("kb.index.schema.VERSION", -1)
    else:
        monkeypatch.setattr("sys.executable", str(tmp_path / "none" if "no such" in fault else program))
    rebuild(studio)
    assert stored(studio) == alone


@pytest.mark.usefixtures("without_names")
def test_killed_while_a_second_process_reads(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second one ends by itself, whatever it was at, and the old index answers."""
    mixed(studio, 300)
    rebuild(studio)
    alone = stored(studio)
    studio.close()
    pipe, told = os.pipe(), SecondProcess._told

    def work(last: int) -> None:
        words = 0

        def heard(second: SecondProcess) -> object:
            nonlocal words
            words += 1
            if words == last:
                os.write(pipe[1], b"at work")
                os.kill(os.getpid(), signal.SIGKILL)
            return told(second)

        monkeypatch.setattr(SecondProcess, "_told", heard)
        popen = subprocess.Popen

        def inheriting(*args: Any, **more: Any) -> object:
            # The second process holds the pipe too: it is at its end only when that one has gone as well.
            return popen(*args, **more, pass_fds=(pipe[1],))

        monkeypatch.setattr(subprocess, "Popen", inheriting)
        Started(monkeypatch)
        rebuild(Studio(studio.root))

    lasts = (1, 2, 5, 9)
    for last in lasts:
        assert os.WTERMSIG(fork(lambda last=last: work(last))) == signal.SIGKILL  # type: ignore[misc]
    os.close(pipe[1])
    # Reading ends when nobody is left who could write.
    said = b""
    while piece := os.read(pipe[0], 100):
        said += piece
    os.close(pipe[0])
    assert said == b"at work" * len(lasts)
    assert stored(Studio(studio.root)) == alone
    figures.add("rebuild with a second process killed", tried=len(lasts), lost=0, crashes=len(lasts))


@pytest.mark.usefixtures("without_names")
def test_stopped_while_a_second_process_reads(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """A rebuild that the user stops ends the second process, and the old index stays."""
    mixed(studio, 300)
    rebuild(studio)
    alone = stored(studio)
    started = Started(monkeypatch)

    def stop(text: str) -> None:
        if text.startswith("Reading the bench book"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        rebuild(studio, stop)
    assert started.ended() == 1
    assert stored(studio) == alone
