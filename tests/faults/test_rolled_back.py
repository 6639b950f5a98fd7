"""A book that a sync tool put back to an older state is never called whole, whatever was asked since."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from kb.cli.main import main
from kb.desk.keep import accept, rebuild, verify
from kb.desk.records.record import add_test, list_tests
from kb.desk.studio import Studio
from tests.conftest import spot

STORED = 4


def _older(path: Path, states: list[bytes]) -> None:
    path.write_bytes(states[1])


def _empty(path: Path, states: list[bytes]) -> None:
    path.write_bytes(b"")


def _gone(path: Path, states: list[bytes]) -> None:
    path.unlink()


def _folder_gone(path: Path, states: list[bytes]) -> None:
    shutil.rmtree(path.parent)


def _older_by_one(path: Path, states: list[bytes]) -> None:
    path.write_bytes(states[STORED - 1])


def _cut_line(path: Path, states: list[bytes]) -> None:
    path.write_bytes(path.read_bytes()[:-40])


def _zero_tail(path: Path, states: list[bytes]) -> None:
    path.write_bytes(states[1] + bytes(len(states[STORED]) - len(states[1])))


def _renamed(path: Path, states: list[bytes]) -> None:
    path.rename(path.with_name("bench-a (copy).txt"))


WAYS: dict[str, Callable[[Path, list[bytes]], None]] = {
    "an older file": _older,
    "the file of before the last record": _older_by_one,
    "an empty file": _empty,
    "no file": _gone,
    "no folder": _folder_gone,
    "a cut line": _cut_line,
    "zeros at the end": _zero_tail,
    "another name": _renamed,
}


def _list(studio: Studio) -> None:
    list_tests(studio)


def _choose(studio: Studio) -> None:
    words = ["choose", "--adhesive", "natural-rubber-resin", "--stage", "oily"]
    assert main([*words, "--studio", str(studio.root)]) == 0


def _add(studio: Studio) -> None:
    add_test(studio, spot(sheet="B"))


def _add_two_and_list(studio: Studio) -> None:
    add_test(studio, spot(sheet="B"))
    list_tests(studio)
    add_test(studio, spot(sheet="B"))
    list_tests(studio)


def _rebuild(studio: Studio) -> None:
    rebuild(studio)


def _nothing(studio: Studio) -> None:
    pass


AFTER = {
    "list": _list,
    "choose": _choose,
    "add": _add,
    "add two and list": _add_two_and_list,
    "rebuild": _rebuild,
    "nothing": _nothing,
}


@pytest.mark.parametrize("after", AFTER)
@pytest.mark.parametrize("way", WAYS)
def test_what_was_acknowledged_and_is_gone_is_told(way: str, after: str, studio: Studio) -> None:
    path = studio.root / "book" / "bench-a.jsonl"
    states = [b""]
    for _ in range(STORED):
        # As the command does it: nothing looks at the book behind the last record.
        add_test(studio, spot(sheet="A"))
        states.append(path.read_bytes())
    studio.close()
    assert verify(studio) == []
    WAYS[way](path, states)
    later = Studio(studio.root)
    AFTER[after](later)
    later.close()
    told = [one for one in verify(later) if one.severity == "error"]
    assert told, "the book is called whole"
    assert not any("never recorded" in one.text for one in told + verify(later))
    # Only an explicit word forgets it.
    AFTER["list"](later)
    assert [one for one in verify(later) if one.severity == "error"]


def test_whoever_asks_anything_hears_of_it_and_a_word_ends_that(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    path = studio.root / "book" / "bench-a.jsonl"
    add_test(studio, spot(sheet="A"))
    before = path.read_bytes()
    add_test(studio, spot(sheet="A"))
    studio.close()
    path.write_bytes(before)
    root = ["--studio", str(studio.root)]
    for _ in range(2):
        assert main(["test", "list", *root]) == 0
        assert "bench-a.jsonl no longer holds what it once held (2 lines)" in capsys.readouterr().err
    assert main(["verify", *root]) == 1
    capsys.readouterr()
    assert main(["verify", "--accept", *root]) == 0
    assert "forgotten" in capsys.readouterr().err
    assert main(["test", "list", *root]) == 0
    assert capsys.readouterr().err == ""


def test_a_file_put_back_from_a_copy_is_whole_again(studio: Studio) -> None:
    path = studio.root / "book" / "bench-a.jsonl"
    add_test(studio, spot(sheet="A"))
    before = path.read_bytes()
    add_test(studio, spot(sheet="A"))
    whole = path.read_bytes()
    path.write_bytes(before)
    list_tests(studio)
    studio.close()
    assert verify(studio)
    path.write_bytes(whole)
    assert verify(studio) == []
    list_tests(Studio(studio.root))
    assert accept(studio) == []
