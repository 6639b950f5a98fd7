"""Sharing through git: every bench ends with the same book and the same answers, and nothing is ever lost."""

from __future__ import annotations

import os
import random
from collections.abc import Callable
from pathlib import Path

import pytest

from kb.book.files import files
from kb.desk.errors import DeskError
from kb.desk.records.book_list import amend_record
from kb.desk.records.record import list_tests, write
from kb.desk.sharing.share import join, share, state
from kb.desk.sharing.tree import is_shared
from kb.desk.studio import Studio
from kb.model.record import Amend, Withdraw
from tests.share_help import (
    LIQUIDS,
    SOURCE,
    Bench,
    answer,
    bench,
    by_hand,
    catalogue_file,
    hub,
    ids,
    paper,
    read_all,
    record,
    sound,
)

__all__ = ["bench", "hub"]


def test_three_benches_with_times_apart_end_with_the_same_answers(bench: Bench, hub: Path) -> None:
    """Tests, amendments and withdrawals of each other's tests, shared now and then, by one or the other."""
    chance = random.Random(5)
    studios = [bench(name) for name in ("north", "south", "west")]
    for studio in studios:
        join(studio, str(hub))
    for _ in range(14):
        studio = chance.choice(studios)
        for _ in range(chance.randrange(3)):
            record(
                studio, parts={chance.choice(LIQUIDS): 1.0}, release=chance.randrange(5), harm={"bleed": 1}
            )
        seen = [row.id for row in list_tests(studio, limit=0)]
        if seen and chance.random() < 0.5:
            said = {"release": chance.randrange(5)}
            write(studio, "amend", Amend(of=chance.choice(seen), set=said, why="read again"))
        if seen and chance.random() < 0.2:
            write(studio, "withdraw", Withdraw(of=chance.choice(seen), why="wrong bottle"))
        if chance.random() < 0.6:
            share(studio)
    for studio in studios * 2:
        assert share(studio).told == ()
    assert len({answer(studio) for studio in studios}) == 1
    assert len({tuple(ids(studio)) for studio in studios}) == 1
    assert len(ids(studios[0])) > 10
    assert all(sound(studio) for studio in studios)
    assert all(state(studio).unshared_records == 0 for studio in studios)


def test_joining_with_an_empty_folder_and_with_records_on_both_sides(
    bench: Bench, hub: Path, new_studio: Callable[[str], Studio]
) -> None:
    """The first gives, the second brings its own, the third begins with nothing."""
    first, second = bench("north"), bench("south")
    record(first)
    catalogue_file(first, "papers.yaml", SOURCE + "papers:\n" + paper("blotter-x", "Blotter X"))
    record(second)
    assert join(first, str(hub)).sent == 1
    done = join(second, str(hub))
    assert (done.sent, done.received, done.files_received) == (1, 1, ("catalogue/papers.yaml",))
    third = Studio(first.root.parent / "nothing-yet")
    os.environ["BENCHLEAF_BENCH"] = "third"
    (third.root).mkdir()
    new_studio("blank").root.joinpath("index.db").rename(third.root / "index.db")
    assert join(third, str(hub)).received == 2
    assert third.settings_file.exists()
    assert (third.catalogue_dir / "papers.yaml").exists()
    del os.environ["BENCHLEAF_BENCH"]
    assert share(first).received == 1
    assert answer(first) == answer(second) == answer(third)


def test_what_belongs_to_one_bench_stays_here(bench: Bench, hub: Path) -> None:
    """Settings, index, notes on work in hand, exports, half-written and hidden files are not shared."""
    first = bench("north")
    record(first)
    assert answer(first)
    for name in ("working/sheet-a.json", "exports/all.csv", "pool/other.json", "photos/p.jpg", "x.part"):
        path = first.root / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(name.encode() + b"\r\n\x00")
    (first.root / ".DS_Store").touch()
    (first.root / "shelf.yaml").write_text("holds: []\n")
    join(first, str(hub))
    shared = by_hand(hub, "ls-tree", "-r", "--name-only", "main").split()
    assert shared == [
        *(".gitattributes", ".gitignore", "benches/north.txt", "book/north.jsonl"),
        *("photos/p.jpg", "pool/other.json", "shelf.yaml"),
    ]
    second = bench("south")
    join(second, str(hub))
    assert (second.root / "pool/other.json").read_bytes() == b"pool/other.json\r\n\x00"
    assert second.settings_file.read_text().count("bench: south") == 1
    assert by_hand(first.root, "status", "--porcelain") == ""


def test_what_others_put_into_the_repository_reaches_only_where_it_may(bench: Bench, hub: Path) -> None:
    """Settings, an index, links and hidden files that arrive are left where they are, and stay there."""
    first = bench("north")
    record(first)
    join(first, str(hub))
    by_hand(hub.parent, "clone", "-q", "-b", "main", str(hub), "clone")
    clone = hub.parent / "clone"
    for name in ("studio.yaml", "index.db", ".evil/hook", "working/sheet-a.json", "README.md"):
        (clone / name).parent.mkdir(exist_ok=True)
        (clone / name).write_text("invented: true\n")
    (clone / "book" / "link.jsonl").symlink_to("/etc/hostname")
    (clone / "catalogue").symlink_to("/etc")
    by_hand(clone, "add", "-A", "-f")
    by_hand(clone, "commit", "-q", "-m", "all sorts")
    by_hand(clone, "push", "-q")
    record(first)
    assert share(first).files_received == ("README.md",)
    assert "bench: north" in first.settings_file.read_text()
    assert not any((first.root / name).exists() for name in (".evil", "working", "catalogue"))
    assert [path.name for path in files(first.book_dir)] == ["north.jsonl"]
    left = by_hand(hub, "ls-tree", "-r", "--name-only", "main").split()
    assert {"studio.yaml", ".evil/hook", "book/link.jsonl", "catalogue"} <= set(left)


@pytest.mark.parametrize(
    "path",
    [
        "../x",
        "a/../b",
        "/etc/x",
        ".git/config",
        "a/.git/x",
        "a//b",
        "Studio.yaml",
        "INDEX.DB-wal",
        "a\\b",
        "a\nb",
    ],
)
def test_paths_that_are_never_written(path: str) -> None:
    assert not is_shared(path)


def test_two_machines_with_one_bench_name_lose_no_line(bench: Bench, hub: Path) -> None:
    """The second one's records go to a file of their own, whole and readable, until it is renamed."""
    first, second = bench("north", "one"), bench("north", "two")
    mine, theirs = record(first, release=4), record(second, release=1)
    amend_record(second, theirs, {"release": 2}, "read again")
    join(first, str(hub))
    done = join(second, str(hub))
    assert "Another machine records as north too" in done.told[0]
    assert "2 other records went to the end of book/north-2.jsonl" in " ".join(done.told)
    for number in range(2):
        record(first, release=number)
        record(second, release=number)
        share(first)
        share(second)
    share(first)
    assert [path.name for path in files(first.book_dir)] == ["north-2.jsonl", "north.jsonl"]
    for studio in (first, second):
        assert sound(studio)
        assert len(ids(studio)) == 7
        assert {mine, theirs} <= set(ids(studio))
        assert b"<<<<" not in b"".join(path.read_bytes() for path in files(studio.book_dir))
    assert [one.release for one in list_tests(second, limit=0) if one.id == theirs] == [2]
    assert answer(first) == answer(second)
    assert [path.read_bytes() for path in files(first.book_dir)] == [
        path.read_bytes() for path in files(second.book_dir)
    ]
    second.settings_file.write_text("name: Paper room\nbench: south\nwho: S.\n")
    renamed = Studio(second.root)
    record(renamed)
    assert share(renamed).told == ()
    assert share(first).received == 1


def test_a_bench_name_is_taken_over_from_a_machine_that_is_gone(bench: Bench, hub: Path) -> None:
    """A studio put back from a backup on a new machine goes on in the same file."""
    old = bench("north", "old")
    record(old)
    join(old, str(hub))
    new = bench("north", "new")
    new.book_dir.mkdir()
    (new.book_dir / "north.jsonl").write_bytes((old.book_dir / "north.jsonl").read_bytes())
    assert "--same-bench" in join(new, str(hub)).told[0]
    assert not [text for text in join(new, str(hub), same_bench=True).told if "went to" in text]
    record(new)
    assert share(new).told == ()
    assert len(read_all(new.book_dir / "north.jsonl")) == 2


def test_the_demo_is_not_shared(hub: Path, bench: Bench) -> None:
    """Invented records never mix with real ones."""
    studio = bench("north")
    studio.settings_file.write_text("invented: true\nbench: north\n")
    with pytest.raises(DeskError, match="invented"):
        join(Studio(studio.root), str(hub))
