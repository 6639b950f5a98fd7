"""The measuring of budgets runs, and what it measures on is a valid book. No figure is judged here."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from kb.book.read import decode_test, read_file
from kb.book.verify import verify
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from scripts.bench_parts.books import BLENDS, write_book
from scripts.bench_parts.measure import Spread, ratio, side_by_side, spread
from scripts.bench_parts.names import some_names

ROOT = Path(__file__).resolve().parent.parent
BOOK_LENGTH = 3_000


@pytest.fixture
def compiled(studio: Studio) -> Compiled:
    """The shipped catalogue."""
    return studio.compiled


def test_invented_book_is_whole(compiled: Compiled, tmp_path: Path) -> None:
    """Every line is chained, dated, decodable, and points only at what is there."""
    written = write_book(tmp_path, compiled, BOOK_LENGTH)
    assert verify(written.parent) == []
    lines = [read.line for read in read_file(written)]
    assert len(lines) == BOOK_LENGTH
    assert {line.kind for line in lines if line} == {"test", "amend", "withdraw"}


def test_invented_book_is_spread_over_the_whole_catalogue(compiled: Compiled, tmp_path: Path) -> None:
    """Everything that a test can name occurs, and books of any length hold the same blends."""
    tests = [
        decode_test(read.line)
        for read in read_file(write_book(tmp_path, compiled, BOOK_LENGTH))
        if read.line and read.line.kind == "test"
    ]
    for field, known in (
        ("adhesive", compiled.adhesives),
        ("stage", compiled.stages),
        ("carrier", compiled.carriers),
        ("medium", compiled.media),
        ("paper", compiled.papers),
        ("method", compiled.methods),
    ):
        assert {getattr(test, field) for test in tests} - {""} == set(known)
    liquids = {tuple(test.parts) for test in tests}
    assert {(one.id,) for one in compiled.liquids} <= liquids
    assert all(len(test.parts) == 2 for test in tests[:BLENDS])
    assert {tuple(t.parts.items()) for t in tests if len(t.parts) == 2} == {
        tuple(t.parts.items()) for t in tests[:BLENDS]
    }


def test_invented_book_is_the_same_every_time(compiled: Compiled, tmp_path: Path) -> None:
    """Runs on different days measure the same book; a longer one begins like a shorter one."""
    short = write_book(tmp_path / "a", compiled, 200).read_bytes()
    assert write_book(tmp_path / "b", compiled, 200).read_bytes() == short
    assert write_book(tmp_path / "c", compiled, 300).read_bytes().startswith(short)


def test_invented_names_differ() -> None:
    """As many different names as asked for, the same every time."""
    names = some_names(5_000)
    assert len(set(names)) == 5_000
    assert names == some_names(5_000)


def test_cases_take_turns_and_every_round_starts_with_another() -> None:
    """What else the machine does falls on all cases."""
    order: list[str] = []

    def case(name: str, cost: float) -> float:
        order.append(name)
        return cost

    found = side_by_side({"a": lambda: case("a", 2.0), "b": lambda: case("b", 1.0)}, 3)
    assert order == ["a", "b", "b", "a", "a", "b"]
    assert found == {"a": [2.0] * 3, "b": [1.0] * 3}
    assert ratio(found["a"], found["b"]) == Spread(2.0, 2.0, 2.0)


def test_spread_is_median_and_quartiles() -> None:
    """One slow run does not move the figure that is shown."""
    assert spread([5.0, 1.0, 3.0, 2.0, 100.0]) == Spread(3.0, 2.0, 5.0)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="first paint is measured through a pseudo terminal")
def test_quick_run_measures_every_budget(tmp_path: Path) -> None:
    """scripts/bench runs from end to end, prints a line for each budget and writes the figures."""
    figures = tmp_path / "figures.json"
    done = subprocess.run(
        [sys.executable, ROOT / "scripts" / "bench_parts", "--quick", "--json", figures],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    written = json.loads(figures.read_text(encoding="utf-8"))
    names = [one["name"] for one in written["results"]]
    for words in (
        "first paint",
        "choose, warm",
        "find, warm",
        "test list, warm",
        "append",
        "fuzzy",
        "rebuild",
        "memory",
    ):
        assert any(words in name for name in names), words
    assert all(name in done.stdout for name in names)
    assert all(one["value"]["middle"] > 0 for one in written["results"])
    assert "Traceback" not in done.stderr
