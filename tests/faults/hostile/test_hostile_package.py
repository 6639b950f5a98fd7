"""Hostile text out through the data package and the paper text, and back in."""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from kb.desk.package.bring_in import bring_in
from kb.desk.package.write import export
from kb.desk.records.book_list import list_records
from kb.desk.records.record_text import record_text
from kb.desk.studio import Studio
from tests.faults import figures
from tests.faults.hostile.checks import unclean
from tests.faults.hostile.corpus import SHORT
from tests.faults.hostile.foreign import TYPES, write_lines
from tests.faults.hostile.stage import Stage, staged

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\x00")
"""What a spreadsheet would take a cell for a formula by."""


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory, blank_index: Path) -> Iterator[Stage]:
    """A studio whose book holds records of every kind with every string, as if from another program."""
    with staged(tmp_path_factory.mktemp("package"), blank_index) as made:
        bodies = ((kind, make(one.text), one.text[:100]) for one in SHORT for kind, make in TYPES.items())
        write_lines(made.studio.book_dir / "foreign.jsonl", bodies)
        made.studio.refresh()
        yield made


def cells(folder: Path) -> Iterator[tuple[str, bool, str]]:
    """Every cell of every table: where it stands, whether it is a number, what is in it."""
    described: dict[str, Any] = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    for table in described["resources"]:
        if "schema" not in table:
            continue
        types = {field["name"]: field["type"] for field in table["schema"]["fields"]}
        with (folder / table["path"]).open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                for name, text in row.items():
                    yield f"{table['name']}.{name}", types[name] in {"number", "integer"}, text


def test_tables_hold_no_formula_and_nothing_that_steers_a_terminal(stage: Stage, tmp_path: Path) -> None:
    """Each cell of each table, whatever text a record held; and the book itself is there byte for byte."""
    export(stage.studio, tmp_path / "out")
    count = 0
    for place, is_number, text in cells(tmp_path / "out"):
        assert not unclean(text.replace("\r\n", "\n")), place
        assert is_number or not text.lstrip(" ").startswith(FORMULA), (place, text[:40])
        count += 1
    for name in ("README.txt", "datapackage.json"):
        assert not unclean((tmp_path / "out" / name).read_text(encoding="utf-8")), name
    book = (stage.studio.book_dir / "foreign.jsonl").read_bytes()
    assert (tmp_path / "out" / "book" / "foreign.jsonl").read_bytes() == book
    figures.add("hostile text in tables", strings=len(SHORT), surfaces=len(TYPES), tried=count, crashes=0)


@pytest.mark.parametrize("zipped", [False, True])
def test_a_package_of_hostile_text_comes_back_identical(
    stage: Stage, blank_index: Path, tmp_path: Path, zipped: bool
) -> None:
    """Into an empty studio: the same bytes in the book and the same records in the same words."""
    target = tmp_path / ("out.zip" if zipped else "out")
    export(stage.studio, target, zipped=zipped)
    (tmp_path / "other").mkdir()
    shutil.copy(blank_index, tmp_path / "other" / "index.db")
    other = Studio(tmp_path / "other")
    # Some strings make a record unsound, such as a liquid without a name: they come back as they stand.
    bring_in(other, target, damaged=True)
    for path in stage.studio.book_dir.iterdir():
        assert (other.book_dir / path.name).read_bytes() == path.read_bytes()
    assert list_records(other, limit=0) == list_records(stage.studio, limit=0)
    other.close()
    figures.add("hostile package brought back", strings=len(SHORT), tried=len(SHORT) * len(TYPES), crashes=0)


def test_records_of_hostile_text_print_on_paper(stage: Stage) -> None:
    """Seventy-two columns of plain text for a record of each kind, and nothing else."""
    records = list_records(stage.studio, limit=0)
    chosen = records[:: max(1, len(records) // 400)]
    for one in chosen:
        text = record_text(stage.studio, one.id)
        assert not unclean(text), one.id
        assert one.id in text
    assert {one.kind for one in chosen} >= set(TYPES)
    figures.add("hostile records on paper", tried=len(chosen), crashes=0)
