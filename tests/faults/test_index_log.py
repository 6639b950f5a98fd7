"""The log and the seal beside the index: left, removed, damaged, or those of another day or file."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from kb.desk.records.record import add_test
from kb.desk.studio import Studio
from kb.index import index_file
from tests.conftest import spot
from tests.faults import figures
from tests.faults.tools import PAGE, Sound, answers, book_bytes, fork, fresh_answers, listed, small, sound
from tests.test_index import fill

__all__ = ["small", "sound"]


def left_by_a_crash(sound: Sound) -> None:
    """Another program took in more records and was killed: its log is left beside the index."""

    def work() -> None:
        studio = Studio(sound.root)
        fill(studio, 10, seed=9)

    assert fork(work) == 0
    assert (sound.root / "index.db-wal").stat().st_size > 0
    sound.book = book_bytes(Studio(sound.root))
    (sound.root / "index.db-shm").unlink()
    twin = Studio(sound.root.with_name("twin"))
    shutil.copytree(sound.root / "book", twin.book_dir, dirs_exist_ok=True)
    sound.truth = answers(twin.index.conn)
    twin.close()


def test_a_log_left_by_a_killed_program_is_used(sound: Sound) -> None:
    left_by_a_crash(sound)
    sound.check()


def test_a_log_that_was_removed_is_not_missed(sound: Sound) -> None:
    """Nor is the log when the index itself was altered by then, as by a checkpoint half done."""
    left_by_a_crash(sound)
    (sound.root / "index.db-wal").unlink()
    sound.check()
    left_by_a_crash(sound)
    raw = bytearray(sound.path.read_bytes())
    raw[PAGE * 3 + 100] ^= 1
    sound.path.write_bytes(raw)
    (sound.root / "index.db-wal").unlink()
    sound.check()


def test_a_log_may_be_damaged_cut_or_of_another_index(sound: Sound, small: Callable[[str], Studio]) -> None:
    other = small("other")
    fill(other, 12, seed=4)
    foreign = (other.root / "index.db-wal").read_bytes()
    assert len(foreign) > 0
    left_by_a_crash(sound)
    main, log = sound.path.read_bytes(), (sound.root / "index.db-wal").read_bytes()
    chance = random.Random(6)
    logs = [foreign, foreign[: len(foreign) // 2], b"rubbish" * 1000, bytes(9000)]
    logs += [log[: chance.randrange(len(log))] for _ in range(12)]
    for _ in range(25):
        spoilt = bytearray(log)
        spoilt[chance.randrange(len(log))] ^= 1 << chance.randrange(8)
        logs.append(bytes(spoilt))
    for one in logs:
        sound.reset()
        sound.path.write_bytes(main)
        (sound.root / "index.db-wal").write_bytes(one)
        sound.check()
    figures.add("log of the index damaged or of another", tried=len(logs), lost=0, crashes=0)


def grow_by(root: Path, count: int) -> bytes:
    """Record some tests, and close the index; its log as it was before that."""
    studio = Studio(root)
    for number in range(count):
        add_test(studio, spot(release=number % 5, sheet=f"Chart {number}"))
    studio.refresh()
    log = (root / "index.db-wal").read_bytes()
    studio.close()
    return log


@pytest.mark.parametrize("later", [1, 10, 15, 30])
def test_a_log_put_back_from_an_earlier_day_is_not_believed(sound: Sound, later: int) -> None:
    """It fits the file and its checksums are right, so the database would take its old pages for new."""
    log = grow_by(sound.root, 3)
    grow_by(sound.root, later)
    studio = Studio(sound.root)
    sound.book, sound.truth = book_bytes(studio), fresh_answers(studio)
    studio.close()
    assert log
    (sound.root / "index.db-wal").write_bytes(log)
    sound.check()


def test_a_seal_may_be_lost_or_damaged(sound: Sound) -> None:
    """Without it the index is used as before; with a damaged one it is derived anew."""
    rubbish = (b"rubbish", b"1 2 3 4 5\n", b"\0" * 300, b"9" * 4000, b"open ", b"open open 1")
    for text in (None, b"", sound.seal[:-4], *rubbish):
        sound.reset()
        if text is None:
            sound.seal_path.unlink()
        else:
            sound.seal_path.write_bytes(text)
        sound.check()


def test_a_closed_index_costs_no_second_look(sound: Sound, monkeypatch: pytest.MonkeyPatch) -> None:
    """The usual start neither reads the file through nor derives it anew."""
    sound.check()
    told: list[str] = []
    monkeypatch.setattr(index_file, "_crc_of", lambda path: told.append(str(path)))
    studio = Studio(sound.root, progress=told.append)
    assert listed(studio)
    studio.close()
    assert told == []
