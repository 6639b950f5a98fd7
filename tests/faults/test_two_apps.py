"""Two programs with one studio, each writing and each looking: neither loses, doubles or misses a record."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from kb.book.verify import verify
from kb.desk.keep import rebuild
from kb.desk.records.book_list import amend_record
from kb.desk.records.record import add_test, show_test
from kb.desk.studio import Studio
from kb.index.schema import VERSION
from tests.conftest import spot
from tests.faults import figures
from tests.faults.tools import acknowledged_in, answers, fork, fresh_answers, listed, small, start
from tests.test_index import fill

__all__ = ["small"]
EACH = 60
"""Records that each of two programs writes; scripts/writers.py writes thousands."""
AMENDED_EACH = 20


class Turns:
    """A turn that goes back and forth between two programs through two pipes."""

    def __init__(self) -> None:
        self._ends = (os.pipe(), os.pipe())

    def take(self, me: int) -> None:
        """Wait for the turn."""
        assert os.read(self._ends[me][0], 1) == b"x", "the other program ended early"

    def give(self, me: int) -> None:
        """Hand the turn to the other; also how the first one gets it."""
        os.write(self._ends[1 - me][1], b"x")

    def keep_own_ends(self, me: int) -> None:
        """Close what the other uses, so that its end is noticed."""
        os.close(self._ends[me][1])
        os.close(self._ends[1 - me][0])

    def close(self) -> None:
        """For whoever only started the two."""
        for end in (end for pipe in self._ends for end in pipe):
            os.close(end)


def one_app(root: Path, me: int, turns: Turns, told: Path) -> None:
    """Write a record, look, and give the turn; then everything was seen by both."""
    turns.keep_own_ends(me)
    studio = Studio(root)
    ids = []
    for number in range(EACH):
        turns.take(me)
        ids.append(add_test(studio, spot(release=number % 5, remarks=f"app {me}, {number}")).id)
        studio.refresh()
        # What the other one acknowledged before it gave the turn is here, and nothing twice.
        assert len(listed(studio)) == 2 * number + 1 + me
        if number % AMENDED_EACH == AMENDED_EACH - 1:
            amend_record(studio, ids[-1], {"release": 4}, f"seen by app {me}")
        if me == 0 or number + 1 < EACH:
            turns.give(me)
    told.write_text("\n".join(ids))


def ended_well(*children: int) -> bool:
    """Whether the child processes ended without an error."""
    return [os.waitpid(child, 0)[1] for child in children] == [0] * len(children)


@pytest.mark.parametrize("benches", ["one bench", "two benches"])
def test_two_apps_in_turns_see_all_records_of_each_other(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, benches: str
) -> None:
    """Each has the studio open all the while, and writes many records."""
    turns = Turns()
    told = [tmp_path / "told-0", tmp_path / "told-1"]

    def app(me: int) -> None:
        if benches == "two benches":
            os.environ["BENCHLEAF_BENCH"] = f"bench-{me}"
        one_app(studio.root, me, turns, told[me])

    turns.give(1)
    children = [start(lambda: app(0)), start(lambda: app(1))]
    turns.close()
    assert ended_well(*children)
    ids = [one for path in told for one in path.read_text().split("\n")]
    assert sorted(ids) == listed(studio)
    assert len(set(ids)) == 2 * EACH
    stored = acknowledged_in(studio.book_dir)
    lost = set(ids) - set(stored)
    assert len(stored) == len(set(stored)) == 2 * EACH + 2 * (EACH // AMENDED_EACH)
    assert [one for one in verify(studio.book_dir) if one.severity == "error"] == []
    assert answers(studio.index.conn) == fresh_answers(studio)
    assert show_test(studio, ids[19]).test.release == 4
    figures.add(
        f"two apps in turns, {benches}",
        tried=len(stored),
        acknowledged=len(stored),
        lost=len(lost),
        crashes=0,
    )


def test_two_apps_at_once_without_turns(small: Callable[[str], Studio]) -> None:
    """The same pell-mell: each writes and looks as fast as it can."""
    root = small("studio").root

    def app(me: int) -> None:
        studio = Studio(root)
        seen: set[str] = set()
        for number in range(60):
            written = add_test(studio, spot(release=number % 5, remarks=f"app {me}")).id
            studio.refresh()
            now = set(listed(studio))
            assert written in now
            assert seen <= now, "what was seen once is seen again"
            seen = now

    assert ended_well(start(lambda: app(0)), start(lambda: app(1)))
    studio = Studio(root)
    assert len(listed(studio)) == len(set(acknowledged_in(studio.book_dir))) == 120
    assert answers(studio.index.conn) == fresh_answers(studio)


def test_many_programs_may_make_the_studio_and_its_index_at_once(small: Callable[[str], Studio]) -> None:
    """The first record and the first index, eight times at the same moment, six times over."""
    made = 0
    for attempt in range(6):
        root = small(f"studio-{attempt}").root
        gate_read, gate_write = os.pipe()

        def app(root: Path = root, gate: tuple[int, int] = (gate_read, gate_write)) -> None:
            os.close(gate[1])
            os.read(gate[0], 1)
            studio = Studio(root)
            written = add_test(studio, spot()).id
            assert written in listed(studio)
            studio.close()

        children = [start(app) for _ in range(8)]
        os.close(gate_read)
        os.close(gate_write)
        assert ended_well(*children)
        studio = Studio(root)
        assert len(listed(studio)) == 8
        assert answers(studio.index.conn) == fresh_answers(studio)
        assert list(root.glob("*.part")) == []
        made += 8
    figures.add("first records at once", tried=made, acknowledged=made, lost=0, crashes=0)


def test_one_app_may_rebuild_the_index_while_the_other_writes(small: Callable[[str], Studio]) -> None:
    """The other goes over to the new index when it next looks, and both give the same answers."""
    from kb.desk.keep import rebuild

    first = small("studio")
    add_test(first, spot(release=1))
    first.refresh()
    second = Studio(first.root)
    for number in range(5):
        assert rebuild(second) == 2 * number + 1
        add_test(first, spot(release=2))
        assert len(listed(first)) == 2 * number + 2
        add_test(second, spot(release=3))
        first.refresh()
        assert listed(first) == listed(second)
        assert not first.index.replaced(), "it stands in the file that the next start will find"
    assert answers(first.index.conn) == answers(second.index.conn) == fresh_answers(first)
    first.close()
    second.close()
    assert fork(lambda: Studio(first.root).index) == 0


def test_questions_are_answered_while_the_index_is_made_anew(small: Callable[[str], Studio]) -> None:
    """They read the last good one. Before, it was thrown away first, and everybody waited for the new one."""
    studio = small("studio")
    ids = fill(studio, 8)
    studio.refresh()
    assert len(listed(studio)) == 8
    inode = (studio.root / "index.db").stat().st_ino
    answered: list[int] = []

    def asked_meanwhile(_: str) -> None:
        other = Studio(studio.root)
        answered.append(len(listed(other)))
        assert (studio.root / "index.db").stat().st_ino == inode
        other.close()

    open_elsewhere = Studio(studio.root)
    assert len(listed(open_elsewhere)) == 8
    studio._progress = asked_meanwhile
    assert rebuild(studio) == len(ids) == 8
    assert answered
    assert set(answered) == {8}
    assert (studio.root / "index.db").stat().st_ino != inode
    assert open_elsewhere.index.replaced()
    assert open_elsewhere.refresh()
    assert len(listed(open_elsewhere)) == 8
    open_elsewhere.close()
    studio.close()
    assert answers(Studio(studio.root).index.conn) == fresh_answers(studio)
    assert [path.name for path in studio.root.glob(".index.db*")] == []


def test_an_index_of_another_version_is_not_emptied_under_who_reads_it(
    small: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two versions of the program on one studio: "no such table", or a book without a record."""
    reader = small("studio")
    fill(reader, 8)
    reader.refresh()
    answered = [len(listed(reader))]
    monkeypatch.setattr("kb.index.open.VERSION", VERSION + 1)
    newer = Studio(reader.root)
    newer._progress = lambda _: answered.append(
        len(reader.index.conn.execute("SELECT id FROM test").fetchall())
    )
    assert len(listed(newer)) == 8
    monkeypatch.undo()
    # In turn: each finds the other's, and derives its own.
    assert (len(listed(reader)), reader.refresh(), len(listed(reader))) == (8, True, 8)
    assert newer.index.replaced()
    assert len(answered) > 2
    assert set(answered) == {8}
