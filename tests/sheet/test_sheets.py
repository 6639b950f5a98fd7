"""Sheets as records: made once, found by any part, renamed and merged without losing a line."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from kb.book.verify import verify
from kb.desk.errors import DeskError, Unclear
from kb.desk.keep import rebuild
from kb.desk.records.book_list import list_records, show_record
from kb.desk.sheet.conditions import add_condition, condition_list, settle
from kb.desk.sheet.sheets import (
    add_sheet,
    amend_sheet,
    merge,
    sheet_for_record,
    sheet_lines,
    sheet_named,
    sheet_record,
)
from kb.desk.studio import Studio

TIDE = {
    "sheet": "Tide table for the harbour office",
    "number": "TT-04",
    "owner": "Invented museum of tides",
    "size": "410 x 560 mm",
    "grammage": "90 g/m2",
    "humidity": "40-60 %",
    "media-front": "letterpress, iron gall ink",
}
CHART = {"sheet": "Chart of the northern shoals", "number": "CH-11", "owner": "Invented library"}


@pytest.fixture
def two(studio: Studio) -> Studio:
    """A studio with two invented sheets."""
    add_sheet(studio, TIDE)
    add_sheet(studio, CHART)
    return studio


@pytest.mark.parametrize(
    "typed",
    ["Tide table", "harbour", "harbor office", "tt-04", "TT-04", "museum of tides", "tide tabel", "tides"],
)
def test_any_half_remembered_part_of_a_name_finds_the_sheet(two: Studio, typed: str) -> None:
    assert sheet_named(two, typed) == TIDE["sheet"]


def test_what_may_be_either_asks_and_names_both(two: Studio) -> None:
    with pytest.raises(Unclear) as asked:
        sheet_named(two, "invented")
    assert {choice.id for choice in asked.value.choices} == {TIDE["sheet"], CHART["sheet"]}


def test_what_is_no_sheet_asks_and_founds_none(two: Studio) -> None:
    with pytest.raises(Unclear):
        sheet_named(two, "zzzzqqq")
    assert len(sheet_lines(two)) == 2


def test_a_slip_of_the_hand_founds_no_second_sheet(two: Studio) -> None:
    with pytest.raises(Unclear, match="Tide table"):
        sheet_for_record(two, "Tide table for the habour office")
    assert sheet_for_record(two, "tide table for the HARBOUR office") == TIDE["sheet"]


def test_sheets_that_differ_by_a_figure_are_no_slips(studio: Studio) -> None:
    add_sheet(studio, {"sheet": "Ledger leaf 12"})
    assert sheet_for_record(studio, "Ledger leaf 13") == "Ledger leaf 13"


def test_facts_are_read_with_their_units(two: Studio) -> None:
    sheet = sheet_record(two, TIDE["sheet"])
    assert (sheet.width_mm, sheet.height_mm, sheet.grammage_g_m2) == (410.0, 560.0, 90.0)
    assert (sheet.humidity_low, sheet.humidity_high) == (40.0, 60.0)
    assert sheet.media_front == ("letterpress", "iron gall ink")


def test_the_same_name_twice_is_refused(two: Studio) -> None:
    with pytest.raises(DeskError, match="already"):
        add_sheet(two, {"sheet": "tide table for the harbour OFFICE"})


def test_a_new_name_reaches_every_record_and_the_old_one_still_finds_it(
    two: Studio, record: Callable[..., str]
) -> None:
    test = record(two, sheet=TIDE["sheet"], release=3)
    add_condition(two, {"sheet": "tide", "damage": "tear", "width_mm": "4.5 cm"})
    before = {one.id for one in list_records(two, sheet=TIDE["sheet"])}
    amend_sheet(two, "tide", {"sheet": "Tidal predictions"}, "title read under the lamp")
    assert {one.id for one in list_records(two, sheet="Tidal predictions")} == before
    assert not list_records(two, sheet=TIDE["sheet"])
    assert sheet_named(two, "tide table for the harbour office") == "Tidal predictions"
    first = dict(show_record(two, test).first_fields)
    assert first["sheet"] == TIDE["sheet"]
    assert not verify(two.book_dir)
    listed = list_records(two)
    rebuild(two)
    assert list_records(two) == listed


def test_two_that_are_one_are_merged_and_no_record_is_lost(two: Studio, record: Callable[..., str]) -> None:
    ids = {record(two, sheet=name, release=2) for name in (TIDE["sheet"], "Tidetable", "Tidetable")}
    assert merge(two, "Tidetable", "TT-04", "entered twice") == 2
    assert {one.id for one in list_records(two, kinds=("test",), sheet=TIDE["sheet"])} == ids
    assert sheet_named(two, "Tidetable") == TIDE["sheet"]


def test_a_merged_sheet_leaves_what_only_it_knew(two: Studio) -> None:
    add_sheet(two, {"sheet": "Shoals, second entry", "maker": "An invented surveyor", "number": "X"})
    merge(two, "Shoals, second entry", "CH-11", "the same chart")
    sheet = sheet_record(two, CHART["sheet"])
    assert (sheet.maker, sheet.number) == ("An invented surveyor", "CH-11")
    assert [line.sheet for line in sheet_lines(two)] == [CHART["sheet"], TIDE["sheet"]]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"sheet": ""}, "names no sheet|required"),
        ({"sheet": "x", "size": "410"}, "not a size"),
        ({"sheet": "x", "size": "-410 x 560 mm"}, "."),
        ({"sheet": "x", "grain": "sideways"}, "not one of"),
        ({"sheet": "x", "colour": "red"}, "no field"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(studio: Studio, words: dict[str, Any], says: str) -> None:
    with pytest.raises(DeskError, match=says):
        add_sheet(studio, words)
    assert not list_records(studio)


def test_damage_is_checked_off_by_what_was_done(two: Studio) -> None:
    record_id = add_condition(
        two, {"sheet": "tide", "damage": "tear", "face": "front", "place": "lower edge", "width-mm": "45"}
    ).id
    assert [(line.words, line.treated) for line in condition_list(two, "tide")] == [
        ("tear 45 mm, lower edge (front)", "")
    ]
    settle(two, record_id[:12], "mended with tissue")
    assert condition_list(two, "tide")[0].treated == "mended with tissue"


def test_damage_without_a_word_of_the_trade_is_refused_with_the_words_there_are(two: Studio) -> None:
    with pytest.raises(DeskError, match="tideline"):
        add_condition(two, {"sheet": "tide", "damage": "broken"})
