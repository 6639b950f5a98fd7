"""A book in pieces: closed at a size, chained on, read as one, and found out if a piece is hurt."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from kb.book import pieces
from kb.book.append import append, bench_path
from kb.book.files import files
from kb.book.line import FIRST_PREV, hash_of
from kb.book.read import read_file
from kb.book.verify import verify
from kb.desk.backup.backup import back_up
from kb.desk.package.bring_in import bring_in
from kb.desk.package.write import export
from kb.desk.records.record import list_tests
from kb.desk.sharing import own
from kb.desk.sharing.share import join, share, state
from kb.desk.studio import Studio
from kb.index.open import Progress
from tests.book.test_book_append import BODY
from tests.share_help import Bench, bench, hub, ids, record, sound

__all__ = ["bench", "hub"]

NAMES = ("north.jsonl", "north.0002.jsonl", "north.0003.jsonl")


@pytest.fixture(autouse=True)
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two records fill a piece."""
    monkeypatch.setattr(pieces, "CLOSED_AT_BYTES", 700)


def put(book: Path, count: int) -> list[str]:
    """Records of one bench; their ids."""
    return [append(book, bench="north", who="AB", kind="test", body=BODY).id for _ in range(count)]


def lines(path: Path) -> list[bytes]:
    """The lines of a file without newlines."""
    return path.read_bytes().split(b"\n")[:-1]


def test_the_chain_goes_on_from_piece_to_piece(tmp_path: Path) -> None:
    made = put(tmp_path, 6)
    book = [tmp_path / name for name in NAMES]
    assert sorted(files(tmp_path)) == sorted(book)
    assert [read.line.id for path in book for read in read_file(path) if read.line] == made == sorted(made)
    before = FIRST_PREV
    for path in book:
        for raw in lines(path):
            assert f'"prev":"{before}"'.encode() in raw
            before = hash_of(raw)
    assert verify(tmp_path) == []
    assert bench_path(tmp_path, "north") == tmp_path / NAMES[2]
    assert {pieces.bench_of(name) for name in NAMES} == {"north"}


def test_a_piece_that_comes_by_another_hand_is_gone_on_from(tmp_path: Path) -> None:
    """A file left open is gone on from only while none follows it, whatever the folder's time says."""
    put(tmp_path / "one", 3)
    put(tmp_path / "other", 5)
    before = (tmp_path / "one").stat()
    for name in NAMES:
        (tmp_path / "other" / name).replace(tmp_path / "one" / name)
    os.utime(tmp_path / "one", ns=(before.st_atime_ns, before.st_mtime_ns))
    put(tmp_path / "one", 1)
    assert len(lines(tmp_path / "one" / NAMES[2])) == 2


def test_a_long_book_of_before_there_were_pieces_is_closed_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as before:
        before.setattr(pieces, "CLOSED_AT_BYTES", 1 << 30)
        put(tmp_path, 9)
    old = (tmp_path / NAMES[0]).read_bytes()
    put(tmp_path, 1)
    assert (tmp_path / NAMES[0]).read_bytes() == old
    assert len(lines(tmp_path / NAMES[1])) == 1
    # An older program writes on in the first file: a line more there, and nothing is wrong with either.
    with monkeypatch.context() as before:
        before.setattr(pieces, "last_piece", lambda first: first)
        before.setattr(pieces, "CLOSED_AT_BYTES", 1 << 30)
        put(tmp_path, 1)
    assert len(lines(tmp_path / NAMES[0])) == 10
    put(tmp_path, 3)
    assert verify(tmp_path) == []


@pytest.mark.parametrize("hurt", ["a line lost from the end", "a last line changed", "a piece gone"])
def test_a_piece_that_was_hurt_is_found(tmp_path: Path, hurt: str) -> None:
    put(tmp_path, 6)
    path = tmp_path / NAMES[1]
    whole = path.read_bytes()
    if hurt == "a piece gone":
        path.unlink()
    elif hurt == "a last line changed":
        path.write_bytes(whole.replace(b'"remarks":"Rolled off', b'"remarks":"Rolled on.', 2))
    else:
        path.write_bytes(lines(path)[0] + b"\n")
    found = [one for one in verify(tmp_path) if one.file == NAMES[2]]
    assert [(one.line_number, one.severity) for one in found] == [(1, "error")]
    assert "lines before it are lost" in found[0].sentence


def test_a_line_cut_short_is_sealed_in_its_own_piece(tmp_path: Path) -> None:
    put(tmp_path, 2)
    with (tmp_path / NAMES[0]).open("ab") as file:
        file.write(b'{"id":"01')
    put(tmp_path, 2)
    assert len(lines(tmp_path / NAMES[0])) == 4
    assert len(lines(tmp_path / NAMES[1])) == 1
    assert [one.severity for one in verify(tmp_path)] == ["note"]


def test_a_piece_begun_by_a_writer_that_was_killed_goes_on_all_the_same(tmp_path: Path) -> None:
    put(tmp_path, 2)
    (tmp_path / NAMES[1]).touch()
    put(tmp_path, 1)
    assert verify(tmp_path) == []


def test_writers_at_once_leave_one_whole_chain(tmp_path: Path) -> None:
    with ThreadPoolExecutor(6) as pool:
        made = [one for some in pool.map(lambda _: put(tmp_path, 4), range(6)) for one in some]
    stored = [read.line.id for path in files(tmp_path) for read in read_file(path) if read.line]
    assert sorted(stored) == sorted(made)
    assert [one for one in verify(tmp_path) if one.severity == "error"] == []


@pytest.mark.slow
def test_pieces_are_shared_indexed_and_looked_at_as_one_book(
    bench: Bench, hub: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    north, south = bench("north"), bench("south")
    join(north, str(hub))
    join(south, str(hub))
    for _ in range(5):
        record(north)
        record(south)
        assert share(north).told == ()
        assert share(south).told == ()
    share(north)
    assert len(files(north.book_dir)) == 6
    assert len({tuple(ids(one)) for one in (north, south)}) == 1
    assert [(one.bench, one.records) for one in state(north).benches] == [("north", 5), ("south", 5)]
    record(north)
    assert state(north).unshared_records == 1
    # One more record: of all pieces only the one that it stands in is read.
    read: list[str] = []
    keep = own.keep_file
    monkeypatch.setattr(
        own, "keep_file", lambda git, path, size: read.append(path.name) or keep(git, path, size)
    )
    assert share(north).sent == 1
    assert read == [bench_path(north.book_dir, "north").name]
    grown = [one.id for one in list_tests(north, limit=0)]
    next(north.root.glob("index.db")).unlink()
    assert [one.id for one in list_tests(north, limit=0)] == grown
    assert len(grown) == 11


def test_two_machines_of_one_bench_lose_nothing_in_pieces(bench: Bench, hub: Path) -> None:
    first, second = bench("north"), bench("north", "copy")
    for studio in (first, second):
        for _ in range(5):
            record(studio)
    join(first, str(hub))
    join(second, str(hub))
    for _ in range(2):
        share(first)
        share(second)
    share(first)
    assert len({tuple(ids(one)) for one in (first, second)}) == 1
    assert len(ids(first)) == 10
    assert [one for one in verify(first.book_dir) if one.severity == "error"] == []


@pytest.mark.parametrize(("here", "there"), [(1, 9), (3, 6), (9, 1)])
def test_pieces_that_went_on_elsewhere_stand_behind_no_piece_of_here(
    bench: Bench, tmp_path: Path, here: int, there: int
) -> None:
    """A copy that went its own way for longer: its later pieces would else accuse the book of lost lines."""
    first = bench("north")
    record(first)
    first.close()
    shutil.copytree(first.root, tmp_path / "copy")
    second = Studio(tmp_path / "copy")
    for studio, count in ((first, here), (second, there)):
        for _ in range(count):
            record(studio)
    export(second, tmp_path / "package")
    known = {*ids(first), *ids(second)}
    bring_in(first, tmp_path / "package")
    assert set(ids(first)) == known
    assert verify(first.book_dir) == []
    assert bring_in(Studio(first.root), tmp_path / "package").records == 0


@pytest.mark.parametrize(("here", "there"), [(1, 9), (9, 1), (4, 7)])
@pytest.mark.parametrize("copied", [True, False])
def test_shared_pieces_that_went_on_elsewhere_go_on_from_those_of_here(
    bench: Bench, hub: Path, tmp_path: Path, here: int, there: int, copied: bool
) -> None:
    """A copy of a shared studio, and two machines that took one name: no bench accuses its book after it."""
    first, second = bench("north"), Studio(tmp_path / "copy")
    record(first)
    join(first, str(hub))
    if copied:
        first.close()
        shutil.copytree(first.root, second.root)
    else:
        second = bench("north", "other")
        join(second, str(hub))
    for studio, count in ((first, here), (second, there)):
        for _ in range(count):
            record(studio)
    known = {*ids(first), *ids(second)}
    for studio in (first, second, first, second):
        share(studio)
    assert {*ids(first)} == {*ids(second)} == known
    assert sound(first)
    assert sound(second)
    record(first)
    share(first)
    assert sound(first)


def test_the_walk_says_how_far_it_is_and_can_be_stopped(tmp_path: Path) -> None:
    put(tmp_path, 6)
    shares: list[float] = []
    assert verify(tmp_path, watch=shares.append) == []
    assert shares == sorted(shares)
    assert shares[0] < 0.2
    assert shares[-1] == pytest.approx(1.0, abs=1e-3)

    def enough(share: float) -> None:
        if share > 0.5:
            raise KeyboardInterrupt

    before = {path: path.read_bytes() for path in files(tmp_path)}
    with pytest.raises(KeyboardInterrupt):
        verify(tmp_path, watch=enough)
    assert {path: path.read_bytes() for path in files(tmp_path)} == before


def test_a_rebuild_says_how_far_it_is_and_stopped_leaves_the_index(bench: Bench) -> None:
    north = bench("north")
    for _ in range(6):
        record(north)
    before = [one.id for one in list_tests(north, limit=0)]
    north.close()
    there = sorted(path.name for path in north.root.iterdir())
    said: list[str] = []
    with closing(Studio(north.root, progress=said.append)) as watched:
        watched.derive_anew()
    shares = [int(text.split()[-2]) for text in said if text.startswith("Reading the bench book, ")]
    assert shares == sorted(shares)
    assert shares[-1] >= 99

    def enough(text: str) -> None:
        if text.startswith("Reading the bench book, 5"):
            raise KeyboardInterrupt

    with closing(Studio(north.root, progress=enough)) as stopped, pytest.raises(KeyboardInterrupt):
        stopped.derive_anew()
    assert sorted(path.name for path in north.root.iterdir()) == there
    assert [one.id for one in list_tests(Studio(north.root), limit=0)] == before


def steps_of(work: Callable[[Progress], object]) -> Iterator[Progress]:
    """For each step that the work says, a listener that stops it there."""
    said: list[str] = []
    work(said.append)
    assert said
    for last in dict.fromkeys(text.partition(",")[0] for text in said):

        def stop(text: str, last: str = last) -> None:
            if text.startswith(last):
                raise KeyboardInterrupt

        yield stop


def test_export_import_and_backup_stopped_anywhere_leave_nothing(bench: Bench, tmp_path: Path) -> None:
    north = bench("north")
    for _ in range(6):
        record(north)
    (out := tmp_path / "out").mkdir()

    def exported(progress: Progress) -> None:
        export(north, out / "package", progress=progress)
        shutil.rmtree(out / "package")

    def backed_up(progress: Progress) -> None:
        shutil.rmtree(back_up(north.root, out, progress=progress).folder)

    export(north, tmp_path / "package")
    south = bench("south")
    there = {path.name for path in south.root.parent.iterdir()}

    def brought(progress: Progress) -> None:
        bring_in(south, tmp_path / "package", dry_run=True, progress=progress)

    for work in (exported, backed_up, brought):
        for stop in steps_of(work):
            with pytest.raises(KeyboardInterrupt):
                work(stop)
            assert list(out.iterdir()) == []
            assert {path.name for path in south.root.parent.iterdir()} == there
    assert ids(south) == []


def test_a_share_stopped_anywhere_is_taken_up_by_the_next(bench: Bench, hub: Path) -> None:
    north, south = bench("north"), bench("south")
    for studio in (north, south):
        record(studio)
        join(studio, str(hub))

    def shared(progress: Progress) -> None:
        for studio in (north, south):
            record(studio)
            share(studio)
        share(north, progress=progress)

    for stop in steps_of(shared):
        with pytest.raises(KeyboardInterrupt):
            shared(stop)
        assert sound(north)
    for studio in (north, south, north):
        assert share(studio).told == ()
    assert sorted(ids(north)) == sorted(ids(south))
    assert len(ids(north)) == len(list_tests(north, limit=0))
