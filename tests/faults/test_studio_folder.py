"""The studio's folder: read-only, gone, back again, in odd places, or not what it should be."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from kb.catalogue import paths
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.keep import check, rebuild, verify
from kb.desk.records.record import add_test, show_test
from kb.desk.shelf.shelf_text import rewrite
from kb.desk.studio import MOST_CACHED, Studio, cache_root, with_book
from tests.conftest import spot
from tests.faults import figures
from tests.faults.tools import (
    READ_ONLY_USER,
    acknowledged_in,
    answers,
    book_bytes,
    fork,
    fresh_answers,
    listed,
    small,
)
from tests.test_index import fill

__all__ = ["small"]


@pytest.fixture
def reachable(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder that any user can reach, with an empty catalogue and a place for caches."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    (folder / "empty-catalogue").mkdir()
    (folder / "cache").mkdir(mode=0o777)
    (folder / "cache").chmod(0o777)
    monkeypatch.setattr(paths, "shipped_data", lambda: folder / "empty-catalogue")
    monkeypatch.setenv("XDG_CACHE_HOME", str(folder / "cache"))
    # The interpreter itself may lie where only its owner can read: all that is needed is loaded by now.
    warm = Studio(folder / "warm")
    fill(warm, 1)
    assert rebuild(warm) == 1
    assert verify(warm) == []
    assert cache_root() == folder / "cache" / "benchleaf"
    warm.close()
    yield folder
    for path in [folder, *folder.rglob("*")]:
        if path.is_dir():
            path.chmod(0o755)
    shutil.rmtree(folder)


def as_plain_user(work: Callable[[], object]) -> bool:
    """Do the work in a child whom rights keep out (root passes all of them); whether it went well."""

    def lowered() -> None:
        if os.geteuid() == 0:
            os.setgid(READ_ONLY_USER)
            os.setuid(READ_ONLY_USER)
        work()

    return fork(lowered) == 0


def everyone_may(root: Path, *, write: bool) -> None:
    """Set the rights of a folder and of all in it."""
    for path in [root, *root.rglob("*")]:
        path.chmod((0o777 if write else 0o555) if path.is_dir() else (0o666 if write else 0o444))


@pytest.mark.parametrize("cache", ["a cache", "no cache"])
@pytest.mark.parametrize("index", ["with its index", "with an old index", "without an index"])
def test_a_read_only_studio_answers_and_refuses_records_in_words(
    reachable: Path, index: str, cache: str
) -> None:
    """From the index kept elsewhere, or from memory if there is no place for that either."""
    studio = Studio(reachable / "studio")
    fill(studio, 8)
    truth = answers(studio.index.conn)
    if index == "with an old index":
        studio.index.conn.execute("PRAGMA user_version=1")
    studio.close()
    if index == "without an index":
        (studio.root / "index.db").unlink()
    everyone_may(studio.root, write=False)
    if cache == "no cache":
        (reachable / "cache").chmod(0o555)
    before = {path: path.read_bytes() for path in studio.root.rglob("*") if path.is_file()}

    def work() -> None:
        for _ in range(2):
            reader = Studio(studio.root)
            assert answers(reader.index.conn) == truth
            with pytest.raises(
                DeskError, match=r"may not write .*Nothing was recorded\. Change the rights"
            ) as said:
                add_test(reader, spot())
            assert str(said.value).isprintable()
            assert len(listed(reader)) == 8
            reader.close()

    assert as_plain_user(work)
    assert {path: path.read_bytes() for path in studio.root.rglob("*") if path.is_file()} == before


def test_a_folder_that_cannot_be_made_is_told(reachable: Path) -> None:
    reachable.chmod(0o555)

    def work() -> None:
        studio = Studio(reachable / "new" / "studio")
        assert listed(studio) == []
        with pytest.raises(DeskError, match=r"cannot be written .*Nothing was recorded\."):
            add_test(studio, spot())

    assert as_plain_user(work)


@pytest.mark.parametrize("what", ["book folder", "book file", "studio folder"])
def test_what_may_not_be_read_is_told_in_a_sentence(reachable: Path, what: str) -> None:
    """And is served again once the rights are in order."""
    studio = Studio(reachable / "studio")
    fill(studio, 4)
    studio.close()
    everyone_may(studio.root, write=True)
    (file,) = studio.book_dir.iterdir()
    closed = {"book folder": studio.book_dir, "book file": file, "studio folder": studio.root}[what]
    before = file.read_bytes()

    def work() -> None:
        closed.chmod(0)
        if os.geteuid() == 0:
            os.setgid(READ_ONLY_USER)
            os.setuid(READ_ONLY_USER)
        reader = Studio(studio.root)
        # What the index remembers needs no look into the book, unless the book is to be read anew.
        with pytest.raises(DeskError, match=r"cannot be|may not") as said:
            rebuild(reader)
        assert str(said.value).isprintable()
        with pytest.raises(DeskError, match=r"Nothing was (recorded|changed)"):
            add_test(reader, spot())
        if what != "studio folder":
            assert [one.severity for one in verify(reader)] == ["error"]

    assert fork(work) == 0
    closed.chmod(0o777)
    assert file.read_bytes() == before
    assert len(listed(Studio(studio.root))) == 4


def test_a_folder_that_vanishes_while_open_and_comes_back(small: Callable[[str], Studio]) -> None:
    """A drive that is taken off: nothing is recorded where it would be out of sight later."""
    studio = small("studio")
    kept = fill(studio, 6)
    away = studio.root.with_name("away")
    for _ in range(2):
        studio.root.rename(away)
        with pytest.raises(DeskError, match=r"no longer there\. Nothing was recorded\. Bring it back"):
            add_test(studio, spot())
        with pytest.raises(DeskError, match=r"no longer there\. Nothing was changed\. Bring it back"):
            studio.refresh()
        assert not studio.root.exists(), "no second studio was made in its place"
        away.rename(studio.root)
        kept.append(add_test(studio, spot(release=2)).id)
        assert set(listed(studio)) == set(kept)
    assert answers(studio.index.conn) == fresh_answers(studio)
    figures.add("studio folder away and back", tried=4, acknowledged=len(kept), lost=0, crashes=0)


@pytest.mark.parametrize("mended", ["from a copy", "empty", "without its index"])
def test_a_folder_that_was_removed_while_open_and_put_back(
    small: Callable[[str], Studio], mended: str
) -> None:
    """The open studio goes over to what stands there now, and other programs see what it writes."""
    studio = small("studio")
    fill(studio, 6)
    copy = studio.root.with_name("copy")
    shutil.copytree(studio.root, copy)
    shutil.rmtree(studio.root)
    with pytest.raises(DeskError, match="no longer there"):
        studio.refresh()
    if mended == "empty":
        studio.root.mkdir()
    else:
        shutil.copytree(copy, studio.root)
        if mended == "without its index":
            for path in studio.root.glob("index.db*"):
                path.unlink()
    studio.refresh()
    before = listed(studio)
    assert len(before) == (0 if mended == "empty" else 6)
    added = add_test(studio, spot(release=1)).id
    assert added in listed(studio)
    assert listed(Studio(studio.root)) == [*before, added]
    assert answers(studio.index.conn) == fresh_answers(studio)


def test_a_named_book_file_that_vanishes_is_told(small: Callable[[str], Studio]) -> None:
    studio = small("studio")
    fill(studio, 3)
    (file,) = studio.book_dir.iterdir()
    one = with_book(studio, file)
    assert len(listed(one)) == 3
    file.rename(file.with_name("away.jsonl"))
    with pytest.raises(DeskError, match="is no longer there"):
        one.refresh()
    file.with_name("away.jsonl").rename(file)
    one.refresh()
    assert len(listed(one)) == 3


def test_a_file_in_place_of_the_book_folder(
    small: Callable[[str], Studio], capsys: pytest.CaptureFixture[str]
) -> None:
    """It is named, left as it is, and no record is taken as written."""
    studio = small("studio")
    studio.make()
    studio.book_dir.write_bytes(b"precious\n")
    assert listed(studio) == []
    with pytest.raises(DeskError, match=r"its folder is none\. Nothing was recorded\. Move it away"):
        add_test(studio, spot())
    assert main(["verify", "--studio", str(studio.root)]) == 1
    assert "The folder book cannot be read (it is a file and not a folder)" in capsys.readouterr().out
    assert studio.book_dir.read_bytes() == b"precious\n"
    studio.book_dir.rename(studio.root / "aside")
    studio.refresh()
    added = add_test(studio, spot()).id
    assert listed(studio) == [added]


def test_a_file_in_place_of_the_studio_folder(small: Callable[[str], Studio], tmp_path: Path) -> None:
    (tmp_path / "studio").write_bytes(b"precious\n")
    studio = Studio(tmp_path / "studio")
    assert small
    assert listed(studio) == []
    with pytest.raises(DeskError, match=r"cannot be written .*Nothing was recorded\."):
        add_test(studio, spot())
    assert (tmp_path / "studio").read_bytes() == b"precious\n"


ODD_NAMES = {
    "spaces": " my studio  (2) ",
    "other scripts": "Atelier_é_\u7d19_\u05e0\u05d9\u05d9\u05e8_\U0001f4dc",
    "decomposed": "Cafe\u0301",
    "a line break": "two\nlines",
    "a tab and a quote": "a\t'b\" ; --",
    "a percent and a query": "100%25?mode=ro#x",
    "an escape": "a\x1b[2Jb",
    "200 characters": "x" * 200,
    "a deep path": "/".join(["d" * 100] * 8),
    "a leading hyphen": "-rf",
    "all digits": "0",
}


@pytest.mark.parametrize("name", ODD_NAMES)
def test_a_studio_may_lie_anywhere(
    small: Callable[[str], Studio], capsys: pytest.CaptureFixture[str], name: str
) -> None:
    """Records are kept and found, the index is kept on disk, and no raw character of the name is printed."""
    studio = small(ODD_NAMES[name])
    added = [add_test(studio, spot(release=number)).id for number in range(3)]
    assert listed(studio) == added
    assert show_test(studio, added[0]).test.release == 0
    studio.close()
    again = Studio(studio.root)
    assert listed(again) == added
    # The database opens no very long path; then the index is kept among the caches.
    there = studio.root / "index.db"
    assert again.index_file is not None
    assert again.index_file == there or len(str(there)) > 480
    assert again.index_file.is_file()
    again.close()
    assert main(["verify", f"--studio={studio.root}"]) == 0
    (studio.book_dir / "bench-a.jsonl").write_bytes(b"{}\n" + book_bytes(studio)["bench-a.jsonl"])
    assert main(["verify", f"--studio={studio.root}"]) == 1
    shutil.rmtree(studio.book_dir)
    studio.book_dir.write_bytes(b"")
    with pytest.raises(DeskError):
        add_test(again, spot())
    assert main(["verify", f"--studio={studio.root}"]) == 1
    printed = capsys.readouterr()
    for text in (printed.out, printed.err):
        assert all(sign.isprintable() or sign == "\n" for sign in text)


@pytest.mark.parametrize("machine", ["Büro_PC", "con", "x" * 80, "-", "", "LAB.example", "\u7d19"])
def test_any_name_of_a_machine_gives_a_bench_that_can_be_written(
    small: Callable[[str], Studio], monkeypatch: pytest.MonkeyPatch, machine: str
) -> None:
    """Without a name in the settings the machine's stands in; it must never keep a record out."""
    from kb.desk import studio as desk_studio

    monkeypatch.delenv("BENCHLEAF_BENCH")
    monkeypatch.setattr(desk_studio, "_machine", lambda: machine)
    studio = small("studio")
    added = add_test(studio, spot()).id
    assert acknowledged_in(studio.book_dir) == [added]


def test_the_cache_of_indexes_is_pruned(tmp_path: Path, blank_index: Path) -> None:
    """Each studio folder that cannot hold its own index left one there for good: 32 were found."""
    for number in range(MOST_CACHED + 4):
        # A folder that does not exist yet holds no index; asking makes none.
        cached = Studio(tmp_path / f"none-{number}").index_file
        assert cached is not None
        cached.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(blank_index, cached)
        os.utime(cached, (number, number))
    studio = Studio(tmp_path / "none-0")
    assert studio.index.compiled
    left = {path.name for path in cache_root().glob("index-*.db")}
    assert len(left) == MOST_CACHED
    assert Studio(tmp_path / "none-0").index_file in set(cache_root().glob("index-*.db"))
    studio.close()


def test_a_settings_file_that_leads_to_nothing_is_not_replaced(
    small: Callable[[str], Studio], tmp_path: Path
) -> None:
    """A file of defaults took the place of the link, and the settings kept elsewhere were no longer read."""
    studio = small("linked")
    for file in (studio.settings_file, studio.shelf_file):
        file.unlink(missing_ok=True)
        file.symlink_to(tmp_path / "elsewhere" / file.name)
    again = Studio(studio.root)
    for write in (again.make, lambda: rewrite(again, lambda shelf: shelf)):
        with pytest.raises(DeskError, match=r"is a link to .*elsewhere.* where nothing is. Bring that back"):
            write()
    assert studio.settings_file.is_symlink()
    problems = " ".join(check(again).problems)
    for file in (studio.settings_file, studio.shelf_file):
        assert f"{file.name} is a link to" in problems
