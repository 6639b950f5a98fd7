"""Mends, toning tests and housing, for any figures and in any order: words in, the same out."""

from __future__ import annotations

import random
import shutil
import tempfile
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.book.append import append
from kb.book.check import make_kept
from kb.book.kinds.field import Field, fields
from kb.book.kinds.housing import Housing
from kb.book.kinds.mend import TEAR_WORDS, Mend
from kb.book.kinds.table import KEPT
from kb.book.kinds.toning import Toning, difference
from kb.book.ulid import new_ulid
from kb.desk.errors import DeskError
from kb.desk.keep import rebuild
from kb.desk.records.book_list import (
    RecordDetail,
    RecordSummary,
    changes_from_words,
    list_records,
    show_record,
)
from kb.desk.records.typed_fields import whole_changes
from kb.desk.studio import Studio
from kb.model.record import Amend, Withdraw
from kb.science.sheet.colour import Lab, delta_e_2000
from tests.work_help import housing_from_words, mend_from_words, toning_from_words

TENTHS = st.integers(0, 9_999).map(lambda number: number / 10)
WORDS = st.text(st.characters(codec="ascii", categories=["L", "N"]), min_size=1, max_size=12)
COUNTS = st.integers(0, 40)
UNITS = st.sampled_from([("mm", 1.0), ("cm", 10.0), ("", 1.0), ("m", 1000.0)])


@pytest.fixture(scope="module")
def quiet(blank_index: Path, tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A studio that nothing is written to."""
    root = tmp_path_factory.mktemp("quiet")
    shutil.copy(blank_index, root / "index.db")
    return Studio(root)


def lengths(figure: float, unit: tuple[str, float]) -> tuple[str, float]:
    """A length as typed, and in mm."""
    return f"{figure} {unit[0]}", pytest.approx(figure * unit[1], rel=1e-12, abs=1e-9)


@given(data=st.data())
@settings(max_examples=60)
def test_a_mend_says_what_was_typed(quiet: Studio, data: st.DataObject) -> None:
    """Whatever is said or left out, in whatever unit of length."""
    length, length_mm = lengths(
        data.draw(TENTHS.filter(bool)), data.draw(UNITS.filter(lambda unit: unit[0] != "m"))
    )
    minutes = data.draw(TENTHS)
    tear, sheet, site = (
        data.draw(st.sampled_from([tear for tear in TEAR_WORDS if tear])),
        data.draw(WORDS),
        data.draw(WORDS),
    )
    said = {
        "tear": (tear, tear),
        "length": (length, length_mm),
        "strips": (strips := data.draw(COUNTS), strips),
        "pressed": (f"{minutes} min", pytest.approx(minutes)),
        "site": (site, site),
    }
    chosen = data.draw(st.sets(st.sampled_from(sorted(said))))
    mend = mend_from_words(quiet, {"sheet": sheet, **{key: str(said[key][0]) for key in chosen}})
    usual = {"tear": "", "length": None, "strips": None, "pressed": None, "site": ""}
    found = {
        "tear": mend.tear,
        "length": mend.length_mm,
        "strips": mend.strips,
        "pressed": mend.pressed_minutes,
        "site": mend.site.words,
    }
    assert mend.sheet == sheet
    assert found == {key: said[key][1] if key in chosen else usual[key] for key in said}


@given(st.tuples(TENTHS, TENTHS), st.tuples(TENTHS, TENTHS), st.integers(0, 50), st.integers(50, 100), COUNTS)
@settings(max_examples=40)
def test_a_housing_says_what_was_typed(
    quiet: Studio, size: tuple[float, float], gap: tuple[float, float], low: int, high: int, hinges: int
) -> None:
    """Pairs of lengths and a range of humidity. A gap may be 0, a side of a sheet may not."""
    words = {
        "sheet": "S",
        "size": f"{size[0]} x {size[1]} mm",
        "gap": f"{gap[0]} x {gap[1]} mm",
        "humidity": f"{low}-{high} %",
        "hinges": str(hinges),
    }
    if 0 in size:
        with pytest.raises(DeskError, match=r"Size: .* is not a sheet"):
            housing_from_words(quiet, words)
        return
    one = housing_from_words(quiet, words)
    assert one == Housing(
        sheet="S",
        sheet_width_mm=size[0],
        sheet_height_mm=size[1],
        gap_width_mm=gap[0],
        gap_height_mm=gap[1],
        humidity_low=low,
        humidity_high=high,
        hinges=hinges,
    )


LAB = st.tuples(st.integers(0, 1000), st.integers(-900, 900), st.integers(-900, 900)).map(
    lambda three: tuple(one / 10 for one in three)
)


@given(LAB, LAB)
@settings(max_examples=60)
def test_a_toning_test_lies_as_far_off_as_the_formula_says(
    quiet: Studio, aim: Sequence[float], dry: Sequence[float]
) -> None:
    """From the typed readings, both ways round the same."""

    def typed(first: Sequence[float], second: Sequence[float]) -> Toning:
        words = {"tissue": "x", "aim": "{} {} {}".format(*first), "dry": "{} {} {}".format(*second)}
        return toning_from_words(quiet, words)

    found = difference(typed(aim, dry))
    assert found == delta_e_2000(Lab(*aim), Lab(*dry))
    assert difference(typed(dry, aim)) == pytest.approx(found, abs=1e-9)


FIGURES = [
    (kind, field) for kind, known in KEPT.items() for field in fields(known.type) if field.type is float
]


@given(st.sampled_from(FIGURES), st.integers(1, 140).map(lambda number: number / 10))
@settings(max_examples=80)
def test_any_figure_of_any_kind_is_amended_by_words(
    quiet: Studio, one: tuple[str, Field], drawn: float
) -> None:
    """A bare number is in the unit of the field and within its bounds; an empty value takes it out."""
    kind, name = one[0], one[1].name
    # Less than 1 % RH is asked back, for a share may be meant.
    least = 1.0 if one[1].says.unit == "% RH" else one[1].says.low
    figure = min(max(drawn, least), one[1].says.high)
    body: dict[str, Any] = {**KEPT[kind].least}
    current = make_kept(kind, body)
    changes = changes_from_words(quiet, kind, [f"{name.replace('_', '-')}={figure}".replace(".", ",")])
    assert changes == {name: pytest.approx(figure)}
    extra = {"made_unit": "g"} if name == "made_amount" else {}
    after = make_kept(kind, {**body, **whole_changes(kind, current, {**changes, **extra})})
    assert getattr(after, name) == pytest.approx(figure)
    assert changes_from_words(quiet, kind, [f"{name}="]) == {name: None}


# -- the order of reading ------------------------------------------------------------------------------------

RECORDS = st.one_of(
    st.builds(lambda n, s: ("mend", Mend(sheet=f"S{s}", strips=n)), COUNTS, st.integers(0, 2)),
    st.builds(lambda n, s: ("toning", Toning(sheet=f"S{s}", tissue="t", coats=n)), COUNTS, st.integers(0, 2)),
    st.builds(lambda n, s: ("housing", Housing(sheet=f"S{s}", hinges=n)), COUNTS, st.integers(0, 2)),
)
FIELDS = {"mend": "strips", "toning": "coats", "housing": "hinges"}
Told = tuple[str, str, Any]


def told(data: st.DataObject) -> list[Told]:
    """Records and changes of them, each with its id: amends, withdrawals, and withdrawals of changes."""
    found: list[Told] = [
        (new_ulid(), kind, body) for kind, body in data.draw(st.lists(RECORDS, min_size=1, max_size=4))
    ]
    roots = {key: kind for key, kind, _ in found}
    for number in range(data.draw(st.integers(0, 6))):
        key = new_ulid()
        of = data.draw(st.sampled_from([one[0] for one in found]))
        if of in roots and data.draw(st.booleans()):
            change = Amend(of=of, set={FIELDS[roots[of]]: number}, why="counted again")
            found.append((key, "amend", change))
        else:
            found.append((key, "withdraw", Withdraw(of=of, why="a mistake")))
    return found


def book_of(blank: Path, root: Path, lines: Sequence[Told], benches: Sequence[str]) -> Studio:
    """A studio whose book holds these lines, each on the bench named beside it, in the order given."""
    root.mkdir()
    shutil.copy(blank, root / "index.db")
    for (key, kind, body), bench in zip(lines, benches, strict=True):
        moment = datetime(2026, 1, 5, 12, tzinfo=UTC)
        append(root / "book", bench=bench, who="A", kind=kind, body=body, at=moment, record_id=key)
    return Studio(root)


def all_of(studio: Studio) -> tuple[list[RecordSummary], list[RecordDetail]]:
    """The list and every record, without the bench that each line stands on."""
    listed = list_records(studio, limit=0)
    shown = [show_record(studio, one.id) for one in listed]
    return (
        [msgspec.structs.replace(one, bench="") for one in listed],
        [msgspec.structs.replace(one, bench="") for one in shown],
    )


@given(data=st.data())
@settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow], deadline=None)
def test_the_book_says_the_same_in_any_order(blank_index: Path, data: st.DataObject) -> None:
    """In one file, backwards over as many files, and step by step while the index is open; and rebuilt."""
    lines = told(data)
    with tempfile.TemporaryDirectory() as folder:
        whole = book_of(blank_index, Path(folder) / "one", lines, ["b"] * len(lines))
        first = all_of(whole)
        rebuild(whole)
        assert all_of(whole) == first
        whole.close()
        # The index reads files by name, so the last change is met first.
        names = [f"b{len(lines) - number:02d}" for number in range(len(lines))]
        apart = book_of(blank_index, Path(folder) / "two", lines, names)
        assert all_of(apart) == first
        apart.close()
        mixed = list(lines)
        random.Random(len(lines)).shuffle(mixed)
        slow = book_of(blank_index, Path(folder) / "three", [], [])
        for key, kind, body in mixed:
            moment = datetime(2026, 1, 5, 12, tzinfo=UTC)
            bench = f"b{key[-4:].lower()}"
            append(slow.book_dir, bench=bench, who="A", kind=kind, body=body, at=moment, record_id=key)
            slow.refresh()
        assert all_of(slow) == first
        slow.close()
