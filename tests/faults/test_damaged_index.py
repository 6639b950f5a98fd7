"""Whatever happens to the index file, the answers are those of a fresh one, or a sentence says what to do.

The book is never touched, and neither is a database of another program.
"""

from __future__ import annotations

import os
import random
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest

from kb.desk.choose.choose import choose
from kb.desk.errors import DeskError
from kb.desk.keep import rebuild
from kb.desk.records.record import add_test, list_tests
from kb.desk.studio import Studio
from kb.index import index_file
from kb.index.schema import VERSION
from kb.model.question import Question
from tests.conftest import spot
from tests.faults import figures
from tests.faults.tools import (
    PAGE,
    Sound,
    answers,
    book_bytes,
    fork,
    fresh_answers,
    listed,
    small,
    sound,
    start,
)
from tests.test_index import fill

__all__ = ["small", "sound"]
ASKED = Question(adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil")


def make_seal_fit(sound: Sound) -> None:
    """As when the disk itself decayed: the system saw no change of the file. The seal is some days old."""
    found = sound.path.stat()
    crc = sound.seal.split()[3].decode()
    days_ago = int(time.time()) - 3 * index_file.CHECK_EVERY_S
    sound.seal_path.write_text(f"{found.st_size} {found.st_mtime_ns} {found.st_ctime_ns} {crc} {days_ago}\n")


def test_an_index_may_be_cut_at_any_length(sound: Sound) -> None:
    """At every page boundary, beside it, and in the head."""
    sizes = sorted(
        {*range(0, len(sound.raw), PAGE), *range(PAGE - 7, len(sound.raw), 9 * PAGE), 1, 15, 99, 512}
    )
    for size in sizes:
        sound.reset()
        sound.path.write_bytes(sound.raw[:size])
        sound.check()
    figures.add("index cut short", tried=len(sizes), lost=0, crashes=0)


@pytest.mark.parametrize("noticed_by", ["time of the file", "reading it through"])
def test_any_byte_of_the_index_may_be_flipped(sound: Sound, noticed_by: str) -> None:
    """Anywhere, also within a number, where the database itself notices nothing."""
    chance = random.Random(5)
    flips = 80
    for _ in range(flips):
        sound.reset()
        at = chance.randrange(len(sound.raw))
        spoilt = bytearray(sound.raw)
        spoilt[at] ^= 1 << chance.randrange(8)
        sound.path.write_bytes(spoilt)
        if noticed_by == "reading it through":
            make_seal_fit(sound)
        if at in range(68, 72):
            # A flip within the mark of whose file it is leaves it untouched, and says so.
            with pytest.raises(DeskError, match="Move it out"):
                sound.check()
            assert sound.path.read_bytes() == spoilt
        else:
            sound.check()
    figures.add(f"index with a flipped byte, noticed by {noticed_by}", tried=flips, lost=0, crashes=0)


def flip_where(path: Path, wanted: str) -> None:
    """Change one bit in the middle of the value that a statement gives."""
    raw = bytearray(path.read_bytes())
    with closing(sqlite3.connect(path)) as conn:
        (value,) = conn.execute(wanted).fetchone()
    value = value.encode() if isinstance(value, str) else bytes(value)
    raw[raw.rindex(value) + len(value) // 2] ^= 4
    path.write_bytes(raw)


def test_without_the_seal_a_flip_would_go_unnoticed(sound: Sound) -> None:
    """Why there is a seal: the database alone finds the file in order, and a wrong answer passes."""
    flip_where(sound.path, "SELECT at FROM test LIMIT 1")
    with closing(sqlite3.connect(sound.path)) as conn:
        assert conn.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert answers(conn) != sound.truth
    sound.check()


@pytest.mark.parametrize("noticed_by", ["its time", "reading it through when due"])
def test_a_large_index_is_guarded_without_reading_it_each_time(
    sound: Sound, noticed_by: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sealed without its sum, it is trusted while its times stand; the sum is taken when it is due."""
    monkeypatch.setattr(index_file, "READ_AT_ONCE", 0)
    crc = sound.seal.split()[3]
    then = int(time.time()) - (3 * index_file.CHECK_EVERY_S if noticed_by != "its time" else 0)
    found = sound.path.stat()
    sound.seal_path.write_text(f"{found.st_size} {found.st_mtime_ns} {found.st_ctime_ns} -1 {then}\n")
    if noticed_by == "its time":
        flip_where(sound.path, "SELECT at FROM test LIMIT 1")
        sound.check()
        return
    sound.check()
    assert sound.seal_path.read_text().split()[3] == crc.decode(), "the sum is known from now on"
    flip_where(sound.path, "SELECT at FROM test LIMIT 1")
    make_seal_fit(sound)
    sound.check()


RUBBISH = {
    "nothing": b"",
    "rubbish": bytes(random.Random(3).randbytes(3 * PAGE)),
    "text": b"To do: buy blotting paper.\n" * 40,
    "zeros": bytes(5 * PAGE),
    "a head and rubbish": b"SQLite format 3\0" + random.Random(4).randbytes(2 * PAGE),
}


@pytest.mark.parametrize("what", RUBBISH)
def test_an_index_may_be_replaced_by_rubbish(sound: Sound, what: str) -> None:
    sound.path.write_bytes(RUBBISH[what])
    sound.check()
    sound.path.write_bytes(RUBBISH[what])
    sound.seal_path.unlink()
    sound.check()


@pytest.mark.parametrize(
    "where", ["index.db", "index.db-seal", "index.db-wal", "index.db-shm", "index.db-journal"]
)
@pytest.mark.parametrize("what", ["folder", "pipe", "link to nowhere", "link to a file"])
def test_something_else_may_stand_in_place_of_the_index_and_its_side_files(
    sound: Sound, where: str, what: str
) -> None:
    """Answers come all the same; what a link points at is not changed through the seal."""
    path, victim = sound.root / where, sound.root.parent / "victim"
    victim.write_bytes(b"precious")
    path.unlink(missing_ok=True)
    if what == "folder":
        path.mkdir()
        (path / "keep").write_text("mine")
    elif what == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to(victim if what == "link to a file" else sound.root / "nowhere")
    assert fork(sound.check) == 0
    if what == "folder":
        assert (path / "keep").read_text() == "mine"
    if where == "index.db-seal":
        assert victim.read_bytes() == b"precious"


@pytest.mark.parametrize("version", [0, 1, VERSION - 1, VERSION + 1, 2**31 - 1])
def test_an_index_of_an_older_or_newer_version_is_derived_anew(sound: Sound, version: int) -> None:
    """Also with tables that this version does not know, and without tables that it needs."""
    with closing(sqlite3.connect(sound.path)) as conn:
        conn.execute(f"PRAGMA user_version={version}")
        conn.execute("CREATE TABLE of_another_version (x)")
        conn.execute("DROP TABLE kept")
        conn.commit()
    sound.check()
    sound.reset()
    with closing(sqlite3.connect(sound.path)) as conn:
        conn.execute(f"PRAGMA user_version={version}")
        conn.execute('CREATE TABLE "of ""another" (x)')
    sound.seal_path.unlink()
    sound.check()


@pytest.mark.parametrize("mark", [0, 252006674, -5])
@pytest.mark.parametrize("sealed_before", [True, False])
def test_a_database_of_another_program_is_left_as_it_is(sound: Sound, mark: int, sealed_before: bool) -> None:
    sound.path.unlink()
    if not sealed_before:
        sound.seal_path.unlink()
    with closing(sqlite3.connect(sound.path)) as conn:
        conn.execute(f"PRAGMA application_id={mark}")
        conn.execute("CREATE TABLE letters (text)")
        conn.execute("INSERT INTO letters VALUES ('precious')")
        conn.commit()
    before = sound.path.read_bytes()
    studio = Studio(sound.root)
    for _ in range(2):
        with pytest.raises(DeskError, match=r"another program and was left as it is\. Move it out") as caught:
            list_tests(studio)
        assert str(caught.value).isprintable()
    with pytest.raises(DeskError, match="left as it is"):
        add_test(studio, spot())
    assert sound.path.read_bytes() == before
    sound.path.rename(sound.root.parent / "moved.db")
    sound.check()


def hold(path: Path, statements: tuple[str, ...]) -> tuple[int, int]:
    """Another program that has the index locked; its process id, and what to close to end it."""
    ready_read, ready_write = os.pipe()
    end_read, end_write = os.pipe()

    def work() -> None:
        os.close(end_write)
        conn = sqlite3.connect(path, isolation_level=None)
        for statement in statements:
            conn.execute(statement)
        os.write(ready_write, b"x")
        os.read(end_read, 1)

    child = start(work)
    os.close(ready_write)
    os.close(end_read)
    assert os.read(ready_read, 1) == b"x"
    os.close(ready_read)
    return child, end_write


LOCKS = {
    "a write lock": ("BEGIN EXCLUSIVE", "CREATE TABLE x (y)"),
    "the whole file": ("PRAGMA locking_mode=EXCLUSIVE", "BEGIN EXCLUSIVE", "CREATE TABLE x (y)"),
}


@pytest.mark.parametrize("open_before", [True, False])
@pytest.mark.parametrize("lock", LOCKS)
def test_an_index_that_another_program_holds_is_told_in_a_sentence(
    sound: Sound, monkeypatch: pytest.MonkeyPatch, lock: str, open_before: bool
) -> None:
    """What is recorded meanwhile is kept, and seen once the other lets go."""
    monkeypatch.setattr(index_file, "BUSY_MS", 20)
    studio = Studio(sound.root)
    if open_before:
        assert studio.index
        if lock == "the whole file":
            studio.close()
    child, end = hold(sound.path, LOCKS[lock])
    writer = Studio(sound.root.with_name("writer"))
    written = add_test(writer, spot(release=3))
    # The record comes through the shared folder, not through the index that is held.
    (sound.root / "book" / "bench-z.jsonl").write_bytes(next(writer.book_dir.iterdir()).read_bytes())
    for _ in range(2):
        with pytest.raises(
            DeskError, match=r"held by another program\. The records .* safe; close"
        ) as caught:
            studio.refresh()
        assert str(caught.value).isprintable()
    os.close(end)
    assert os.waitpid(child, 0)[1] == 0
    assert written.id in listed(studio)
    assert answers(studio.index.conn) == fresh_answers(studio)


def test_damage_while_the_index_is_open_is_mended_at_the_next_look(sound: Sound) -> None:
    """A program writes into the file, or empties it, under an open studio."""
    for damage in (b"", b"x" * 9000, sound.raw[: len(sound.raw) // 2], sound.raw[:PAGE] + bytes(30 * PAGE)):
        sound.reset()
        studio = Studio(sound.root)
        assert listed(studio)
        with sound.path.open("r+b") as file:
            file.write(damage or b"\0" * PAGE)
            file.truncate(len(damage))
        (sound.root / "book" / "bench-y.jsonl").write_bytes(b"{}\n")
        studio.refresh()
        assert answers(studio.index.conn) == fresh_answers(studio)
        (sound.root / "book" / "bench-y.jsonl").unlink()
        studio.refresh()
        assert answers(studio.index.conn) == sound.truth
        studio.close()
        sound.check()


def test_rebuild_always_gives_the_same(sound: Sound) -> None:
    """From a sound index, a damaged one, and none."""
    for raw in (sound.raw, b"rubbish", sound.raw[: PAGE * 5], None):
        sound.reset()
        if raw is None:
            sound.path.unlink()
        else:
            sound.path.write_bytes(raw)
        studio = Studio(sound.root)
        assert rebuild(studio) == 30
        assert answers(studio.index.conn) == sound.truth
        studio.close()
    assert book_bytes(studio) == sound.book


def test_choose_answers_the_same_from_a_damaged_index(studio: Studio) -> None:
    """With the whole catalogue: a flip in the middle of the numbers, a cut, and another program's text."""
    fill(studio, 15)
    found = choose(studio, ASKED)
    studio.close()
    path = studio.root / "index.db"
    raw = path.read_bytes()
    flip_where(path, "SELECT vector FROM release_sum LIMIT 1")
    assert choose(studio, ASKED) == found
    studio.close()
    path.write_bytes(raw[: len(raw) // 2])
    assert choose(studio, ASKED) == found
