"""Records in words and back: what a filter line means, how a field is read, how columns share the width."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kb.book.kinds.spot_test import SpotTest
from kb.desk.amounts import seconds
from kb.desk.errors import DeskError
from kb.desk.materials.names import Names
from kb.desk.studio import Studio
from kb.model.record import Amend, Withdraw
from kb.science.numbers import dwell_words
from kb.tui.day import day_of
from kb.tui.screens.records.amend import Draft, fields, reading_of
from kb.tui.screens.records.book import TESTS
from kb.tui.screens.records.book_filter import Known, understand
from kb.tui.screens.records.record_words import Described, described, facts, moment_words
from kb.tui.widgets.columns import GAP, TableRow, widths
from tests.screens.screen_help import FULL, still_book, store


@pytest.fixture(scope="module")
def still(blank_index: Path, tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A book that nobody writes in."""
    return still_book(blank_index, tmp_path_factory.mktemp("still"))


@pytest.mark.parametrize(
    ("typed", "filters", "said"),
    [
        ("acetone", {"liquid": "acetone"}, "Only liquid Acetone"),
        ("IPA, letterpress", {"liquid": "propan-2-ol", "medium": "letterpress-oil"}, "medium Letterpress"),
        (
            "acetone letter 1 swab",
            {"liquid": "acetone", "sheet": "Letter 1", "method": "swab"},
            "sheet Letter 1",
        ),
        ("map, 1892", {"sheet": "Map, 1892"}, "sheet Map, 1892"),
        ("sheet map", {"sheet": "Map, 1892"}, "sheet Map, 1892"),
        ("1892", {"sheet": "Map, 1892"}, "sheet Map, 1892"),
        ("by CD acetone", {"who": "CD", "liquid": "acetone"}, "by CD"),
        ("by nobody", {"who": "nobody"}, "by nobody"),
        ("cd", {"who": "CD"}, "by CD"),
        ("acetone 50 + n-heptane 50", {"liquid": "acetone 50 + n-heptane 50"}, "acetone 50 + n-heptane 50"),
        ("acetone, ethanol", {"liquid": "ethanol"}, "Left out: liquid Acetone"),
        ("qqqq acetone", {"liquid": "acetone"}, 'Not understood: "qqqq"'),
        ("liquid acetone", {"liquid": "acetone"}, "Only liquid Acetone"),
        ("[/b] ' OR 1=1 --", {}, "Not understood"),
        ("", {}, ""),
    ],
)
def test_what_a_filter_line_means(still: Studio, typed: str, filters: dict[str, str], said: str) -> None:
    """Sheets by name, people by name or 'by', all else by the catalogue's own finding."""
    known = Known(("Letter 1", "Letter 2", "Map, 1892"), ("AB", "CD"))
    found = understand(still, typed, known)
    assert found.filters == filters
    assert said in found.words


def test_what_a_field_says_now_reads_back_as_no_change(still: Studio) -> None:
    """The value that the form starts from means what the record holds, for every field."""
    test = SpotTest(
        **{**FULL, "parts": {"acetone": 0.75, "water": 0.25}, "sheet": "Letter 1", "adhesive": "acrylic"}
    )
    test = SpotTest(
        **{
            **{name: getattr(test, name) for name in test.__struct_fields__},
            "stage": "aged",
            "carrier": "none-transfer",
            "medium": "letterpress-oil",
            "method": "gel",
            "paper": "paper-woodpulp",
            "carrier_present": False,
            "tested_at": "2026-01-05",
        }
    )
    found = tuple(fields(Names(still), test))
    draft = Draft("", "", "", test, found)
    told = {field.label: reading_of(still, draft, {field.label: field.now}) for field in found}
    assert [label for label, words in told.items() if words] == []
    assert len(told) == len(found) >= 30


@pytest.mark.parametrize(
    ("label", "typed", "said"),
    [
        ("bleeding", "", "bleeding: 1 trace on the blotter only -> not looked at"),
        ("tideline", "2", "tideline: not looked at -> 2 visible on careful look"),
        ("liquid", "acetone 1 + water 3", "liquid: Acetone -> Water 75 % + Acetone 25 %"),
        ("carrier on the spot", "no", "carrier on the spot: not noted -> no, residue only"),
        (
            "round 1, dwell",
            "1 min",
            "round 1: 2 min 30 s; one drop; wet: darkens; dry: pale -> 1 min; one drop",
        ),
        ("from top edge", "31,5 mm", "from top edge: 30 mm -> 31.5 mm"),
        ("remarks", "", "remarks: second try -> nothing"),
    ],
)
def test_a_corrected_field_leaves_its_neighbours(still: Studio, label: str, typed: str, said: str) -> None:
    """One kind of harm, one part of the place, one part of a round: the others stay."""
    test = SpotTest(**{**FULL, "parts": {"acetone": 1.0}})
    found = fields(Names(still), test)
    field = next(field for field in found if field.label == label)
    words = reading_of(still, Draft("", "", "", test, tuple(found)), {field.label: typed})
    assert words.startswith(said)
    assert words.count("->") == 1


@pytest.mark.parametrize(
    ("label", "typed", "why"),
    [
        ("sheet", "Leter 1", 'There is no sheet "Leter 1"; near in spelling: .*Letter 1'),
        ("tested at", "2999-01-01", "lies ahead of today"),
        ("tested at", "last week", "is not a date"),
    ],
)
def test_a_correction_takes_what_the_command_takes(still: Studio, label: str, typed: str, why: str) -> None:
    """A slip of the hand would move the test to a sheet that there is not, or to a day to come."""
    test = SpotTest(**{**FULL, "parts": {"acetone": 1.0}})
    draft = Draft("", "", "", test, tuple(fields(Names(still), test)))
    with pytest.raises(DeskError, match=why):
        reading_of(still, draft, {label: typed})


def test_a_corrected_sheet_takes_the_name_it_bears(still: Studio) -> None:
    """However its capitals were typed."""
    test = SpotTest(**{**FULL, "sheet": "Letter 1", "parts": {"acetone": 1.0}})
    draft = Draft("", "", "", test, tuple(fields(Names(still), test)))
    assert reading_of(still, draft, {"sheet": "map, 1892"}) == "sheet: Letter 1 -> Map, 1892"


def test_times_and_moments_in_words(in_zone: Callable[[str], None]) -> None:
    """Dwell both ways, and a time as people write it."""
    for dwell_s in (30.0, 60.0, 90.0, 150.0, 2.5):
        assert seconds(dwell_words(dwell_s)) == dwell_s
    assert moment_words("2026-01-05T10:00:00.000Z") == "5 Jan 2026 10:00"
    in_zone("UTC-9:30")
    assert moment_words("2026-01-05T20:00:00.000Z") == "6 Jan 2026 05:30"
    assert day_of("2026-01-05T20:00:00.000Z") == "2026-01-06"
    assert day_of("no time") == "no time"
    assert moment_words("last week") == "last week"


def test_columns_fit_any_width() -> None:
    """From 78 cells on the columns never need more than there is, however long the words of a row are."""
    longest = TableRow("a", ["w" * 60] * len(TESTS))
    dated = longest._replace(cells=["2026-01-05" if one.fixed else "w" * 60 for one in TESTS])
    for total in range(78, 240):
        found = widths(TESTS, [dated], total)
        assert sum(found.values()) + GAP * (len(found) - 1) <= total


def history(record: Described) -> list[tuple[str, str]]:
    """The lines under the last heading."""
    heading, lines = record.sections[-1]
    assert heading == "History"
    return list(lines)


def test_each_amendment_is_told_from_what_stood_before_it(studio: Studio) -> None:
    """Two corrections of one field: the second starts from the first."""
    record = store(studio, 1, release=0)
    for hours, grade in ((2, 1), (3, 4)):
        store(
            studio, hours, who="CD", kind="amend", body=Amend(of=record, set={"release": grade}, why="again")
        )
    told = history(described(studio, record))
    assert ("", "release: 0 no effect -> 1 softens slightly") in told
    assert ("", "release: 1 softens slightly -> 4 releases clean") in told
    assert ("amended", "5 Jan 2026 12:00, CD. Why: again") in told


def test_a_correction_that_was_itself_withdrawn_is_not_told_as_valid(studio: Studio) -> None:
    """The history keeps it and says that it no longer counts."""
    record = store(studio, 1, release=0)
    amended = store(studio, 2, kind="amend", body=Amend(of=record, set={"release": 4}, why="slip"))
    store(studio, 3, kind="withdraw", body=Withdraw(of=amended, why="no slip"))
    found = described(studio, record)
    told = history(found)
    assert told[1] == (
        "amended",
        "5 Jan 2026 11:00, AB. Why: slip - this no longer counts. Withdrawn: no slip",
    )
    assert told[-1] == (
        "withdrawn",
        "5 Jan 2026 12:00, AB, of the amendment of 5 Jan 2026 11:00. Why: no slip",
    )
    assert dict(dict(found.sections)["What was seen"])["release"] == "0 no effect"
    assert not found.withdrawn


def test_a_tape_that_was_not_known_says_what_it_may_be(still: Studio) -> None:
    """Its signs and chances are stored and count; "not noted" alone said that they were lost."""
    test = SpotTest(
        parts={"acetone": 1.0}, signs=("gloss=glossy",), may_be={"natural-rubber/oily/cellophane": 0.7}
    )
    said = facts(Names(still), test)
    assert said["may be"].startswith("natural-rubber, Oily")
    assert said["may be"].endswith("70 %")
    assert said["signs"] == "gloss=glossy"
