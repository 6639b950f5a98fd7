"""No room on the disk, at every call and every size: old or nothing, in words, and whole again later."""

from __future__ import annotations

import errno
import os
import sqlite3
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from kb.book.append import BookError
from kb.book.verify import verify
from kb.desk.errors import DeskError, save_as
from kb.desk.making.batches import Label, save_svg
from kb.desk.records.record import add_test
from kb.desk.sheet.plan import save_text
from kb.desk.studio import Studio
from kb.index import open as opening
from kb.tui.exports import write_new
from tests.book.test_book_append import put, raws
from tests.conftest import spot
from tests.faults import figures
from tests.faults.tools import (
    JOBS,
    NO_ROOM,
    PAGE,
    Failing,
    Grown,
    acknowledged_in,
    answers,
    book_bytes,
    file_limit,
    fork,
    fresh_answers,
    listed,
    ready,
    small,
)
from tests.test_index import fill

__all__ = ["small"]
MOST_CALLS = 40


def torn_file(book: Path) -> None:
    """A bench file with one record, and half a line of a writer that was stopped."""
    put(book)
    with (book / "bench-1.jsonl").open("ab") as file:
        file.write(b'{"id":"torn')


STARTS: dict[str, Callable[[Path], object]] = {
    "no folder yet": lambda book: None,
    "a record": put,
    "a torn line": torn_file,
}


@pytest.mark.parametrize("begin", STARTS)
def test_an_append_may_fail_at_any_call_of_the_system(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, begin: str
) -> None:
    """Every open, mkdir, read, write, lock and sync in turn, with each way to say that there is no room."""
    tried = acknowledged = lost = 0
    for number in NO_ROOM:
        for part in (0, 1, 300):
            for nth in range(1, MOST_CALLS):
                book = tmp_path / f"{number}-{part}-{nth}" / "book"
                STARTS[begin](book)
                kept = acknowledged_in(book)
                before = len(kept)
                with monkeypatch.context() as patch:
                    failing = Failing(patch, nth, number, part=part)
                    said = ""
                    try:
                        kept.append(put(book).id)
                    except BookError as error:
                        said = str(error)
                assert not said or _is_clear(said)
                if not failing.struck:
                    break
                tried += before + 2
                # With room again the next one is recorded, and what was acknowledged is all there.
                kept.append(put(book).id)
                acknowledged += len(kept)
                lost += len(set(kept) - set(acknowledged_in(book)))
                assert {item.kind for item in verify(book) if item.severity == "error"} == set()
            else:
                pytest.fail("an append makes more calls than this test tries")
    figures.add(
        f"append, each call failing ({begin})", tried=tried, acknowledged=acknowledged, lost=lost, crashes=0
    )
    assert lost == 0
    assert tried > 3 * 3 * 2 * 4


def _is_clear(text: str) -> bool:
    """Says that nothing was recorded, or that the entry does not count, and what to do."""
    kept = "Nothing was recorded" in text or "does not count as recorded" in text
    return text.isprintable() and kept and "record it again" in text and "Traceback" not in text


def test_an_append_may_find_room_for_any_part_of_its_line(tmp_path: Path) -> None:
    """Every few bytes of the line, the system allows no more growth of the file."""
    put(tmp_path)
    path = tmp_path / "bench-1.jsonl"
    before = path.read_bytes()
    sizes = range(0, len(before), 11)

    def work() -> None:
        for room in sizes:
            with file_limit(len(before) + room), pytest.raises(BookError, match="no more growth") as caught:
                put(tmp_path)
            assert _is_clear(str(caught.value))
            assert path.read_bytes() == before
        put(tmp_path)

    assert fork(work) == 0
    assert len(raws(tmp_path)) == 2
    assert verify(tmp_path) == []
    figures.add("append, no room for a part", tried=len(sizes) + 1, acknowledged=2, lost=0, crashes=0)


def test_a_failed_append_that_the_index_read_meanwhile_leaves_no_trace(
    small: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The index may read a whole line whose sync then fails: it is gone again, and so is its row."""
    studio = small("studio")
    fill(studio, 3)
    really = os.fsync
    for late in ("the whole line", "a part of it"):

        def no_room(fd: int, late: str = late) -> None:
            if os.fstat(fd).st_size and not os.path.isdir(f"/proc/self/fd/{fd}"):
                if late == "a part of it":
                    os.ftruncate(fd, os.fstat(fd).st_size - 20)
                reader = Studio(studio.root)
                reader.refresh()
                reader.close()
                monkeypatch.setattr(os, "fsync", really)
                raise OSError(errno.ENOSPC, "No space left on device")

        before = book_bytes(studio)
        monkeypatch.setattr(os, "fsync", no_room)
        with pytest.raises(DeskError, match="no room on the disk"):
            add_test(studio, spot(release=4))
        assert book_bytes(studio) == before
        assert answers(Studio(studio.root).index.conn) == fresh_answers(studio)


@pytest.mark.parametrize("job", JOBS)
def test_the_index_may_run_out_of_room_at_any_size(small: Callable[[str], Studio], job: str) -> None:
    """At steps from nothing to beyond its full size, and at odd sizes. The answers stay right, from memory
    if need be, and once there is room they are as good as those of a fresh index."""
    grown = Grown(small("studio"))
    ready(grown, job).do().close()
    full = sum(path.stat().st_size for path in grown.root.glob("index.db*"))
    sizes = [*range(0, full + 2 * PAGE, full // 20), 1, 513, PAGE, 2 * PAGE + 24]

    for size in sizes:

        def work(size: int = size) -> None:
            do = ready(grown, job).do
            with file_limit(size):
                studio = do()
                assert answers(studio.index.conn) == grown.truth
            studio.refresh()
            assert answers(studio.index.conn) == grown.truth

        assert fork(work) == 0, f"with {size} bytes of room"
        assert book_bytes(Studio(grown.root)) == grown.book
        again = Studio(grown.root)
        assert answers(again.index.conn) == grown.truth
        again.close()
    figures.add(f"index {job}, no room", tried=len(sizes), lost=0, crashes=0)


@pytest.mark.parametrize("job", JOBS)
def test_the_database_may_say_that_the_disk_is_full(
    small: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch, job: str
) -> None:
    """Its own error for a full disk, at any number of pages, leads to the same."""
    grown = Grown(small("studio"))
    really = opening.connect
    full = 0
    for pages in (0, 1, 2, 10, 25, 40, *range(-6, 3)):
        limit = pages if pages > 0 else full + pages

        def connect(path: Path | None, limit: int = limit) -> sqlite3.Connection:
            conn = really(path)
            if path is not None and limit:
                conn.execute(f"PRAGMA max_page_count={limit}")
            return conn

        with monkeypatch.context() as patch:
            patch.setattr(opening, "connect", connect)
            studio = ready(grown, job).do()
            assert answers(studio.index.conn) == grown.truth
        full = full or studio.index.conn.execute("PRAGMA page_count").fetchone()[0]
        studio.close()
        again = Studio(grown.root)
        assert answers(again.index.conn) == grown.truth
        again.close()
    assert full > 40


def test_an_index_without_room_says_so_while_it_works(
    small: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is told while waiting names the reason, so that a slow start is no riddle."""
    told: list[str] = []
    studio = Studio(small("studio").root, progress=told.append)
    monkeypatch.setattr(opening.Path, "mkdir", _refuse)
    assert listed(studio) == []
    assert any("cannot be kept on the disk" in text for text in told)


def _refuse(*_: object, **__: object) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def test_the_first_record_of_a_studio_needs_room_for_its_settings(
    tmp_path: Path, small: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without it nothing is recorded, in words, and no half of a settings file is taken for one."""
    studio = small("studio")

    def work() -> None:
        assert listed(studio) == []
        for size in (0, 1, 100):
            with (
                file_limit(size),
                pytest.raises(DeskError, match=r"cannot be written .*Nothing was recorded"),
            ):
                add_test(studio, spot())
            assert not studio.settings_file.exists()
            assert not studio.book_dir.exists()
        add_test(studio, spot())
        assert len(listed(studio)) == 1

    assert fork(work) == 0
    assert studio.settings_file.read_text().startswith("# Settings")


EXPORTS: dict[str, Callable[[Studio, str], object]] = {
    "a page of the app": lambda studio, text: write_new(studio, "page", ".txt", text),
    "a plan, to a named file": lambda studio, text: save_as(studio.root / "plan.txt", text),
    "a plan, to the studio": lambda studio, text: save_text(studio, "Chart", text),
    "a label": lambda studio, text: save_svg(
        Label(**{name: "" for name in Label.__struct_fields__ if name != "svg"}, svg=text),
        studio.root / "label.svg",
    ),
}


@pytest.mark.parametrize("what", EXPORTS)
def test_a_file_for_use_elsewhere_is_whole_or_not_there(small: Callable[[str], Studio], what: str) -> None:
    """With room for any part of it nothing is left, the name stays free, and later all of it is written."""
    studio, text = small("studio"), "A line of the page.\n" * 2_000
    studio.make()
    sizes = (0, 1, 8_191, 8_192, 20_000, len(text) - 1)

    def work() -> None:
        before = sorted(path for path in studio.root.rglob("*") if path.is_file())
        for size in sizes:
            with file_limit(size), pytest.raises((DeskError, OSError)) as caught:
                EXPORTS[what](studio, text)
            # The app turns an error of the system into its plain words.
            assert isinstance(caught.value, DeskError) or caught.value.strerror
            assert sorted(path for path in studio.root.rglob("*") if path.is_file()) == before
        EXPORTS[what](studio, text)

    assert fork(work) == 0
    assert text in [path.read_text() for path in studio.root.rglob("*") if path.suffix in {".txt", ".svg"}]
    figures.add(f"export without room ({what})", tried=len(sizes), lost=0, crashes=0)


@pytest.fixture
def tight_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 1 MiB of its own."""
    place = tmp_path / "tight"
    place.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)], capture_output=True, check=False
    )
    if made.returncode:
        pytest.skip("a small disk cannot be mounted here; the other tests stand in for it")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_disk_that_is_really_full(
    tight_disk: Path, small: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Record until nothing fits any more: what was acknowledged is there, and answers go on."""
    small("elsewhere")
    studio = Studio(tight_disk / "studio")
    kept: list[str] = []
    refused: list[str] = []

    def fill_up() -> None:
        for number in range(400):
            try:
                kept.append(add_test(studio, spot(release=number % 5, remarks="x" * 500)).id)
                if number % 5 == 0:
                    studio.refresh()
            except DeskError as error:
                refused.append(str(error))

    def work() -> None:
        fill_up()
        assert len(refused) > 3
        assert all("Nothing was recorded" in said for said in refused)
        assert listed(studio) == sorted(kept)
        assert set(kept) == set(acknowledged_in(studio.book_dir))
        assert answers(studio.index.conn) == fresh_answers(studio)
        other = Studio(studio.root)
        assert answers(other.index.conn) == fresh_answers(studio)
        other.close()
        studio.close()
        subprocess.run(["mount", "-o", "remount,size=4m", str(tight_disk)], check=True)
        added = add_test(studio, spot(release=3)).id
        assert set(listed(studio)) == {*kept, added}
        assert answers(studio.index.conn) == fresh_answers(studio)
        assert verify(studio.book_dir) == []
        figures.add(
            "a full disk", tried=len(kept) + len(refused) + 1, acknowledged=len(kept) + 1, lost=0, crashes=0
        )

    assert fork(work) == 0
