"""The measuring of budgets runs, and what it measures on is a valid book. No figure is judged here."""

from __future__ import annotations

import itertools
import json
import os
import platform
import subprocess
import sys
from collections import Counter
from functools import partial
from pathlib import Path
from xml.etree import ElementTree

import pytest

from kb.book.check import decode_test
from kb.book.pieces import CLOSED_AT_BYTES, last_piece
from kb.book.read import read_file
from kb.book.verify import verify
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from scripts.bench_parts.books import BLENDS, write_book
from scripts.bench_parts.chart import LINE_H, chart, spaced, tick
from scripts.bench_parts.imports import middle_us, self_times_us
from scripts.bench_parts.machine import disk, surroundings
from scripts.bench_parts.measure import Curve, Result, Spread, ratio, side_by_side, spread, warmed
from scripts.bench_parts.names import some_names
from scripts.bench_parts.page import KNOWN, UNKNOWN, as_page
from scripts.bench_parts.report import as_text, growth_rows
from scripts.bench_parts.sizes import QUICK
from scripts.bench_parts.stage import Stage

ROOT = Path(__file__).resolve().parent.parent
BOOK_LENGTH = 4_000
ABOUT = {"when": "2026-01-02 03:04 UTC", "machine": "a machine"}


def point(value: float) -> Spread:
    """A figure without a spread."""
    return Spread(value, value, value)


def result(key: str, value: float, budget: float | None) -> Result:
    """A ratio beside its budget."""
    return Result(key, f"the {key} one", point(value), budget, "", {"part": (point(0.25), "s")})


CURVES = [
    Curve("Answers", "steady", "s", {100: point(0.01), 1_000: point(0.01), 10_000: point(0.01)}),
    Curve("Answers", "rising & <so on>", "s", {100: point(0.01), 1_000: point(0.1), 10_000: point(1.0)}),
    Curve("Room", "file", "B", {100: Spread(2e6, 1e6, 4e6), 10_000: point(3e9)}),
]


@pytest.fixture
def compiled(studio: Studio) -> Compiled:
    """The shipped catalogue."""
    return studio.compiled


def test_invented_book_is_whole(compiled: Compiled, tmp_path: Path) -> None:
    """Every line is chained, dated, decodable, and points only at what is there."""
    written = write_book(tmp_path, compiled, BOOK_LENGTH)
    assert verify(written[0].parent) == []
    lines = [read.line for path in written for read in read_file(path)]
    assert len(lines) == BOOK_LENGTH
    assert {line.kind for line in lines if line} == {"test", "amend", "withdraw"}


def test_invented_book_is_spread_over_the_whole_catalogue(compiled: Compiled, tmp_path: Path) -> None:
    """Everything that a test can name occurs, and books of any length hold the same blends."""
    tests = [
        decode_test(read.line)
        for path in write_book(tmp_path, compiled, BOOK_LENGTH)
        for read in read_file(path)
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
    short = write_book(tmp_path / "a", compiled, 200)[0].read_bytes()
    assert write_book(tmp_path / "b", compiled, 200)[0].read_bytes() == short
    assert write_book(tmp_path / "c", compiled, 300)[0].read_bytes().startswith(short)


def test_invented_book_is_in_pieces_as_the_program_writes_it(compiled: Compiled, tmp_path: Path) -> None:
    """Where the bench closes a piece the program does too; its next record goes to the same last piece."""
    written = write_book(tmp_path, compiled, 6_000)
    assert len(written) > 1
    assert verify(written[0].parent) == []
    assert str(written[-1]) == last_piece(str(written[0]))
    for closed in written[:-1]:
        size = closed.stat().st_size
        last = closed.read_bytes()[:-1].rpartition(b"\n")[2]
        assert size - len(last) - 1 < CLOSED_AT_BYTES <= size


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


def test_no_case_always_follows_the_same_other() -> None:
    """What the one before drove out of the caches falls on all alike."""
    order: list[str] = []

    def case(name: str) -> float:
        order.append(name)
        return 1.0

    side_by_side({name: partial(case, name) for name in "abcd"}, 40)
    after = Counter(pair for pair in itertools.pairwise(order) if pair[0] != pair[1])
    assert Counter(order) == dict.fromkeys("abcd", 40)
    assert set(after) == set(itertools.permutations("abcd", 2))
    assert max(after.values()) <= 2 * min(after.values())


def test_a_ratio_is_taken_round_by_round() -> None:
    """A round that was slow for both sides leaves the ratio as it is."""
    assert ratio([2.0, 20.0, 4.0], [1.0, 10.0, 2.0]) == Spread(2.0, 2.0, 2.0)
    assert ratio([3.0, 2.0, 40.0], [1.0, 1.0, 10.0]).middle == 3.0


def test_the_first_of_several_rounds_does_not_count() -> None:
    """It meets cold caches; a single round is all there is."""
    costs = iter([9.0, 1.0, 2.0, 7.0])
    assert warmed({"a": lambda: next(costs)}, 2) == {"a": [1.0, 2.0]}
    assert warmed({"a": lambda: next(costs)}, 1) == {"a": [7.0]}


def test_spread_is_median_and_quartiles() -> None:
    """One slow run does not move the figure that is shown."""
    assert spread([5.0, 1.0, 3.0, 2.0, 100.0]) == Spread(3.0, 2.0, 5.0)


def test_reasons_are_shown_for_missed_budgets_only() -> None:
    """What is known of a miss stands on the page while the budget is missed, and not a word of it else."""
    kept = as_page(ABOUT, [result("append", 1.0, 1.5), result("pool", 9.0, None)], [], "text", 60.0)
    assert "| the append one | 1.00 x (1.00 x to 1.00 x) | at most 1.50 x | kept |" in kept
    assert "| the pool one | 9.00 x (9.00 x to 9.00 x) | no budget |  |" in kept
    assert "Missed" not in kept
    assert KNOWN["append"].reason not in kept
    missed = as_page(ABOUT, [result("append", 2.0, 1.5), result("odd", 2.0, 1.0)], [], "text", 60.0)
    assert f"**the append one**: {KNOWN['append'].reason}. Plan: {KNOWN['append'].plan}." in missed
    assert f"**the odd one**: {UNKNOWN.reason}." in missed
    assert "| the append one | 2.00 x (2.00 x to 2.00 x) | at most 1.50 x | **missed** |" in missed


def test_page_is_dated_and_shows_the_growth() -> None:
    """Date, machine, picture and table."""
    page = as_page(ABOUT, [], CURVES, "the text", 120.0)
    assert "on 2026-01-02 03:04 UTC, 2 minutes" in page
    assert "| machine | a machine |" in page
    assert "](bench.svg)" in page
    assert "| rising & <so on> | 10 ms | 100 ms | 1 s | 100 |" in page
    assert "the text" in page


def test_growth_table_leaves_a_gap_where_nothing_was_measured() -> None:
    """Columns are all lengths that any curve has."""
    assert growth_rows(CURVES)[0] == ["", "100", "1,000", "10,000", "last : first"]
    assert growth_rows(CURVES)[3] == ["file", "2 MB", "-", "3 GB", "1.5e+03"]
    text = as_text(ABOUT, [result("append", 2.0, 1.5), result("pool", 9.0, None)], CURVES, quick=False)
    assert "MISSED  the append one" in text
    assert "0 of 1 budgets kept" in text


def test_chart_tells_lines_apart_without_colour() -> None:
    """Each line has its own dashes and marker and its name at its end; both themes have their colours."""
    root = ElementTree.fromstring(chart(CURVES))
    lines = [one for one in root.iter() if one.tag.endswith("polyline")]
    first, second, other = lines
    assert first.get("stroke-dasharray") != second.get("stroke-dasharray")
    shapes = [one.get("d") for one in root.iter() if str(one.get("class", "")).startswith("marker ")]
    assert len(shapes) == 8
    assert len({*shapes[:3]}) == 1
    assert shapes[0] != shapes[3]
    texts = [one.text for one in root.iter() if one.tag.endswith("}text")]
    assert {"steady", "rising & <so on>", "file"} <= set(texts)
    assert {"Answers (time)", "Room (bytes)", "own tests in the book", "10 ms", "1 s", "1 MB"} <= set(texts)
    assert "prefers-color-scheme: dark" in chart(CURVES)
    heights = [
        [float(point.split(",")[1]) for point in str(one.get("points")).split()] for one in (first, second)
    ]
    assert heights[0][0] == heights[0][1] == heights[0][2]
    # On log-log axes a power of the length is a straight line.
    assert heights[1][0] - heights[1][1] == pytest.approx(heights[1][1] - heights[1][2], abs=0.2)
    assert other.get("points")


def test_labels_keep_their_distance_and_stay_within() -> None:
    """Names of lines that end at the same height do not lie on each other."""
    places = spaced([10.0, 10.0, 11.0, 90.0, 99.0], 4.0, 100.0)
    assert places == sorted(places)
    assert all(b - a >= LINE_H for a, b in itertools.pairwise(places))
    assert places[-1] <= 100.0
    assert spaced([50.0], 4.0, 100.0) == [50.0]


@pytest.mark.parametrize(
    ("power", "unit", "words"),
    [
        (-4, "s", "100 µs"),
        (-3, "s", "1 ms"),
        (1, "s", "10 s"),
        (3, "s", "1,000 s"),
        (4, "B", "10 kB"),
        (9, "B", "1 GB"),
    ],
)
def test_axes_bear_units(power: int, unit: str, words: str) -> None:
    """Powers of ten are written as people say them."""
    assert tick(power, unit) == words


def test_surroundings_name_no_person_machine_or_folder(tmp_path: Path) -> None:
    """A page that is shown to all says on what was measured, and not where or by whom."""
    told = " ".join(surroundings(tmp_path).values())
    assert str(os.cpu_count()) in told
    assert "SQLite" in told
    for name in (platform.node(), str(tmp_path), str(Path.home())):
        assert len(name) < 3 or name not in told


def test_kind_of_disk_is_told_where_the_system_tells(tmp_path: Path) -> None:
    """The file system by the device's number, nothing where it is not listed or cannot be read."""
    device = os.stat(tmp_path).st_dev
    mounts = tmp_path / "mounts"
    mounts.write_text(
        f"22 1 {os.major(device)}:{os.minor(device)} / / rw shared:1 - odd4 /dev/x rw\n23 1 broken\n",
        encoding="utf-8",
    )
    assert disk(tmp_path, mounts).startswith("odd4")
    assert "odd4" not in disk(tmp_path, tmp_path / "none")


def test_a_command_that_found_near_names_only_is_no_failure(tmp_path: Path) -> None:
    """Neither where its answer is read nor where its import times are, which stand on standard error."""
    stage = Stage(tmp_path, QUICK, print)
    words = [sys.executable, "-m", "kb", "--demo", "find", "celofane tap yelow"]
    assert "tape" in stage.run(words)
    assert stage.told([words[0], "-v", *words[1:]])


def test_import_times_are_read_from_what_python_tells() -> None:
    """Also where a terminal mixes them with other text; the median is taken module by module."""
    told = (
        "import time: self [us] | cumulative | imported package\r\n"
        "import time:       120 |        300 |   kb.cli\r\n"
        "noise\x1b[0mimport time:        30 |         30 | json\r\n"
    )
    assert self_times_us(told) == {"kb.cli": 120, "json": 30}
    assert middle_us([{"a": 1, "b": 2}, {"a": 3}, {"a": 9}]) == {"a": 3, "b": 2}


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="first paint is measured through a pseudo terminal")
def test_quick_run_measures_every_budget(tmp_path: Path) -> None:
    """scripts/bench runs from end to end, prints a line for each budget and writes the figures."""
    figures, kept = tmp_path / "figures.json", tmp_path / "kept"
    done = subprocess.run(
        [sys.executable, ROOT / "scripts" / "bench_parts", "--quick", "--json", figures, "--save", kept],
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
        "the slowest of",
        "pooled tests",
    ):
        assert any(words in name for name in names), words
    assert all(name in done.stdout for name in names)
    assert all(one["value"]["middle"] > 0 for one in written["results"])
    assert "Traceback" not in done.stderr
    curves = {one["name"]: one["points"] for one in written["curves"]}
    assert set(curves) >= {"choose", "find", "append", "refresh of the index", "verify", "index file"}
    assert all(len(points) == 2 for points in curves.values())
    assert curves["book file"]["1000"]["middle"] > curves["book file"]["100"]["middle"]
    page = (kept / "bench.md").read_text(encoding="utf-8")
    assert all(one in page for one in names)
    ElementTree.parse(kept / "bench.svg")
