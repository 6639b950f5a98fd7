"""The program is killed while it makes, extends or rebuilds the index: the next start answers the same."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from kb.desk.choose.choose import choose
from kb.desk.keep import rebuild
from kb.desk.studio import Studio
from kb.index import index_file
from kb.model.question import Question
from tests.faults import figures
from tests.faults.tools import JOBS, Grown, answers, book_bytes, fork, fresh_answers, ready, small, start
from tests.test_index import fill

__all__ = ["small"]
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
