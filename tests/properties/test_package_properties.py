"""Whatever is in a book, it goes out, comes back, and is the same; and a second time to the same bytes."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.book.fold import fold
from kb.book.kinds.spot_test import HARM_KINDS
from kb.book.line import FIRST_PREV, encode_line, hash_of
from kb.book.text import clean_text
from kb.book.ulid import new_ulid
from kb.desk.package.bring_in import bring_in
from kb.desk.package.tables import SAFE, cell_text
from kb.desk.package.write import export
from kb.desk.studio import Studio
from kb.model.record import Line
from tests.package_help import load_sqlite, rows
from tests.whole_book import all_lines

TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=30) | st.text(
    st.sampled_from("=+-@'\t\r\n\x00\x1b\u202e\"; ,a\U0001f600"), max_size=12
)
GRADES = st.integers(0, 4)
NUMBERS = st.floats(-1e6, 1e6, allow_nan=False)
TESTS = st.fixed_dictionaries(
    {"parts": st.sampled_from([{"acetone": 1.0}, {"acetone": 0.5, "=x": 0.5}])},
    optional={
        "sheet": TEXT,
        "remarks": TEXT,
        "release": GRADES,
        "control": st.booleans(),
        "harm": st.dictionaries(st.sampled_from(HARM_KINDS), GRADES, max_size=3),
        "site": st.fixed_dictionaries({}, optional={"words": TEXT, "x_mm": NUMBERS}),
        "rounds": st.lists(st.fixed_dictionaries({"dwell_s": st.floats(0, 1e5), "wet": TEXT}), max_size=2),
    },
)
RECORDS = st.one_of(
    st.tuples(st.just("test"), TESTS),
    st.tuples(st.just("bottle"), st.fixed_dictionaries({"liquid": TEXT, "remarks": TEXT})),
    st.tuples(st.just("unheard-of"), st.dictionaries(TEXT, TEXT | NUMBERS, max_size=3)),
    st.tuples(
        st.just("amend"),
        st.fixed_dictionaries({"of": st.integers(0, 14), "set": st.just({"release": 3}), "why": TEXT}),
    ),
    st.tuples(st.just("withdraw"), st.fixed_dictionaries({"of": st.integers(0, 14), "why": TEXT})),
    st.tuples(st.just("damage"), st.binary(max_size=20).filter(lambda raw: b"\n" not in raw)),
)
BOOKS = st.lists(st.tuples(st.sampled_from(["bench-a", "bench-b"]), RECORDS), max_size=14)


def write(root: Path, book: list[tuple[str, tuple[str, Any]]]) -> None:
    """Write a book line by line; pointers are numbers of lines, perhaps of lines that never come."""
    (root / "book").mkdir()
    ids = [new_ulid(1_730_000_000_000 + number) for number in range(15)]
    prev: dict[str, str] = {}
    for number, (bench, (kind, body)) in enumerate(book):
        if kind == "damage":
            raw = bytes(body)
        else:
            plain = {**body, "of": ids[body["of"]]} if kind in {"amend", "withdraw"} else body
            line = Line(
                id=ids[number],
                at=f"2024-11-01T10:00:{number:02d}.000Z",
                who="A",
                bench=bench,
                kind=kind,
                body=msgspec.Raw(msgspec.json.encode(plain)),
                prev=prev.get(bench, FIRST_PREV),
            )
            raw = encode_line(line)
        prev[bench] = hash_of(raw)
        with (root / "book" / f"{bench}.jsonl").open("ab") as out:
            out.write(raw + b"\n")


@pytest.fixture(scope="module")
def index(blank_index: Path) -> Path:
    """An index of the shipped catalogue, to be copied."""
    return blank_index


@settings(max_examples=20, deadline=None)
@given(BOOKS)
def test_out_and_back_is_the_same(index: Path, book: list[tuple[str, tuple[str, Any]]]) -> None:
    """Files to the byte, the folded book, the second package; and the tables hold their keys."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        for name in ("one", "two"):
            (place / name).mkdir()
            shutil.copy(index, place / name / "index.db")
        write(place / "one", book)
        studio, back = Studio(place / "one"), Studio(place / "two")
        export(studio, place / "out")
        export(studio, place / "a.zip", zipped=True)
        export(studio, place / "b.zip", zipped=True)
        assert (place / "a.zip").read_bytes() == (place / "b.zip").read_bytes()
        bring_in(back, place / "a.zip", damaged=True)
        files = {path.name: path.read_bytes() for path in (place / "one" / "book").iterdir()}
        assert {path.name: path.read_bytes() for path in (place / "two").glob("book/*")} == files
        assert fold(all_lines(place / "two" / "book")) == fold(all_lines(place / "one" / "book"))
        export(back, place / "c.zip", zipped=True)
        assert (place / "c.zip").read_bytes() == (place / "a.zip").read_bytes()
        check_tables(place / "out", place / "one" / "book")
        studio.close()
        back.close()


def check_tables(folder: Path, book: Path) -> None:
    """Each record is in exactly one table, and what the rows say is what the folded book says."""
    now = fold(all_lines(book))
    conn = load_sqlite(folder)
    assert conn.execute("PRAGMA foreign_key_check").fetchall() == []
    assert [row["id"] for row in rows(folder, "records")] == [line.id for line in all_lines(book)]
    held = [
        row["id"]
        for table in ("spot_tests", "bottles", "changes", "other_records")
        for row in rows(folder, table)
    ]
    assert sorted(held) == [line.id for line in all_lines(book)]
    for row in rows(folder, "spot_tests"):
        one = now.tests[row["id"]]
        assert (row["state"] == "withdrawn") == one.withdrawn
        assert row["release"] == ("" if one.body.release is None else str(one.body.release))
        # The mark stands before what begins with it, too; so it cannot be taken off without looking.
        assert row["remarks"] in (said := cell_text(one.body.remarks), SAFE + said)
        assert (float(row["site_x_mm"]) if row["site_x_mm"] else None) == one.body.site.x_mm
    in_force = {
        change.line.id: change.in_force
        for one in (*now.tests.values(), *now.kept["bottle"].values())
        for change in one.history
    }
    for row in rows(folder, "changes"):
        if row["id"] in in_force:
            assert (row["in_force"] == "true") == in_force[row["id"]]
        else:
            assert row["note"] or row["in_force"] == "true"


@given(TEXT)
def test_a_cell_is_clean_and_cleaning_it_again_changes_nothing(text: str) -> None:
    assert cell_text(cell_text(text)) == cell_text(text) == clean_text(text)
