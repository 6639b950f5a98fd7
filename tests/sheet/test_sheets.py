"""Sheets as records: made once, found by any part, renamed and merged without losing a line."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.book.verify import verify
from kb.cli.main import main
from kb.desk.errors import DeskError, Unclear
from kb.desk.keep import rebuild
from kb.desk.records.book_list import list_records, restore_record, show_record, withdraw_record
from kb.desk.records.record import add_test, list_tests
from kb.desk.sheet import tape
from kb.desk.sheet.facts import SheetFacts, plain_name, sheet_facts
from kb.desk.sheet.names import NoSheet, found_sheet, sheet_for_record, sheet_named, sheet_record
from kb.desk.sheet.sheets import (
    add_condition,
    add_sheet,
    amend_sheet,
    condition_list,
    keep_facts,
    merge,
    settle,
    sheet_lines,
)
from kb.desk.studio import Studio
from kb.index.kept_rows import kept
from tests.conftest import spot

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
SHEETS = (TIDE["sheet"], CHART["sheet"])


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


def test_two_letters_of_an_id_name_no_sheet(two: Studio) -> None:
    """They stand in it by chance; the beginning of an id, of eight letters or more, does name it."""
    row = next(iter(kept(two.index.conn, "sheet")))
    said = str([one.body for one in kept(two.index.conn, "sheet")]).casefold()
    # Ids are drawn by lot, and one in a thousand has two letters of a name.
    pairs = (row.id[at : at + 2] for at in range(10, 25))
    with pytest.raises(NoSheet):
        sheet_named(two, next(pair for pair in pairs if pair.casefold() not in said))
    assert sheet_named(two, row.id[:-1]) == row.body.sheet


def test_what_may_be_either_asks_and_names_both(two: Studio) -> None:
    with pytest.raises(Unclear) as asked:
        sheet_named(two, "invented")
    assert {choice.id for choice in asked.value.choices} == {TIDE["sheet"], CHART["sheet"]}


def test_what_is_no_sheet_asks_and_founds_none(two: Studio) -> None:
    with pytest.raises(Unclear):
        sheet_named(two, "zzzzqqq")
    assert len(sheet_lines(two)) == 2


def test_a_slip_of_the_hand_founds_no_second_sheet(two: Studio) -> None:
    with pytest.raises(NoSheet, match="near in spelling: Tide table"):
        sheet_for_record(two, "Tide table for the habour office")
    assert sheet_for_record(two, "tide table for the HARBOUR office") == TIDE["sheet"]


def test_nothing_is_written_for_a_name_that_is_only_near(two: Studio) -> None:
    """A part of the name will do; a slip of the hand is asked about, whatever was to be written."""
    slip, before = "Chart of the nothern shaols", len(list_records(two, limit=0))
    for write in (
        lambda: add_condition(two, {"sheet": slip, "damage": "tear"}),
        lambda: amend_sheet(two, slip, {"owner": "Another"}, "slip"),
        lambda: merge(two, "TT-04", slip, "slip"),
        lambda: tape.add_strip(two, {"sheet": slip, "face": "front", "at": "1, 1", "size": "60 x 25 mm"}),
        lambda: tape.start(two, slip, {"liquid": "n-heptane"}),
        lambda: tape.decide(two, slip, "less liquid"),
    ):
        with pytest.raises(NoSheet, match="near in spelling: Chart of the northern shoals"):
            write()
    assert len(list_records(two, limit=0)) == before
    add_condition(two, {"sheet": "northern shoals", "damage": "tear"})
    assert len(list_records(two, limit=0)) == before + 1


def test_a_name_that_is_not_known_founds_none_unless_it_is_said_to_be_new(studio: Studio) -> None:
    add_sheet(studio, {"sheet": "Ledger leaf 12"})
    with pytest.raises(NoSheet, match="Ledger leaf 12"):
        sheet_for_record(studio, "Ledger leaf 13")
    assert sheet_for_record(studio, "Ledger leaf 13", new=True) == "Ledger leaf 13"
    found_sheet(studio, "Ledger leaf 13")
    found_sheet(studio, "LEDGER leaf 13")
    assert [line.sheet for line in sheet_lines(studio)] == ["Ledger leaf 13", "Ledger leaf 12"]


@pytest.mark.parametrize(
    "command",
    [
        ["test", "add", "--liquid", "acetone", "--release", "1", "--sheet", "NAME"],
        ["wash", "read", "NAME", "--ph", "7"],
        ["mend", "add", "NAME", "--tear", "plain"],
        ["tone", "add", "tengujo", "--sheet", "NAME"],
        ["frame", "add", "NAME", "--gap", "5 mm"],
    ],
    ids=lambda command: command[0],
)
def test_every_command_refuses_a_sheet_that_is_not_known_and_founds_one_when_told(
    two: Studio, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    def run(name: str, *more: str) -> int:
        words = [name if word == "NAME" else word for word in command]
        return main(["--studio", str(two.root), *words, *more])

    assert run("Tide tabel") == 1
    assert "near in spelling: Tide table" in capsys.readouterr().err
    assert len(list_records(two)) == 2
    assert run("TT-04") == 0
    assert run("Bill of lading, invented", "--new-sheet") == 0
    two.refresh()
    assert {one.sheet for one in list_records(two)} == {*SHEETS, "Bill of lading, invented"}


def test_a_withdrawn_record_moves_with_its_sheet(two: Studio, record: Callable[..., str]) -> None:
    test = record(two, sheet="Tidetable", release=2)
    withdraw_record(two, test, "wrong sheet")
    merge(two, "Tidetable", "TT-04", "entered twice")
    restore_record(two, test, "it was right")
    assert show_record(two, test).sheet == TIDE["sheet"]
    assert len(sheet_lines(two)) == 2


def test_facts_live_in_the_record_and_an_older_note_is_taken_over(two: Studio) -> None:
    name = TIDE["sheet"]
    assert sheet_facts(two, name).size == "410 x 560 mm"
    noted = SheetFacts(mass="25 g", tear="scarfed", tear_length="45 mm", media=("iron-gall",))
    path = two.root / "working" / f"sheet-{plain_name(name)}.json"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(msgspec.json.encode({"sheet": name, "facts": noted}))
    known = sheet_facts(two, name)
    assert (known.size, known.mass, known.tear) == ("410 x 560 mm", "25 g", "scarfed")
    keep_facts(two, name, known)
    assert not path.exists()
    assert sheet_facts(two, name) == known
    assert sheet_record(two, name).mass_g == 25.0
    assert [line.words for line in condition_list(two, name)] == ["scarfed tear 45 mm"]
    keep_facts(two, name, msgspec.structs.replace(known, mass=""))
    assert sheet_record(two, name).mass_g is None


@pytest.mark.slow
@given(st.lists(st.tuples(st.sampled_from("rmt"), st.integers(0, 3), st.integers(0, 3)), max_size=6))
@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_however_sheets_are_renamed_and_merged_no_record_is_lost(
    tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[str, int, int]]
) -> None:
    """Every test is found through some sheet, and every name a sheet ever had leads to its records."""
    studio = Studio(tmp_path_factory.mktemp("s"))
    names = [f"{word} {word}" for word in ("alpha", "bravo", "charlie", "delta")]
    for name in names:
        add_sheet(studio, {"sheet": name})
    made: dict[str, str] = {}
    for number, (what, one, other) in enumerate(steps):
        a, b = sheet_named(studio, names[one]), sheet_named(studio, names[other])
        if what == "t":
            made[add_test(studio, spot(sheet=a)).id] = names[one]
        elif what == "m" and a != b:
            merge(studio, a, b, "one sheet")
        elif what == "r":
            amend_sheet(studio, a, {"sheet": f"new {number} {a}"}, "read again")
    studio.refresh()
    for test, name in made.items():
        assert show_record(studio, test).sheet == sheet_named(studio, name)
    assert len(list_tests(studio)) == len(made)
    assert not verify(studio.book_dir)
    studio.close()


def test_facts_are_read_with_their_units(two: Studio) -> None:
    sheet = sheet_record(two, TIDE["sheet"])
    assert (sheet.width_mm, sheet.height_mm, sheet.grammage_g_m2) == (410.0, 560.0, 90.0)
    assert (sheet.humidity_low, sheet.humidity_high) == (40.0, 60.0)
    assert sheet.media_front == ("letterpress", "iron gall ink")


def test_media_are_known_as_the_answer_reads_them(two: Studio) -> None:
    """With their place, of a shared name each, and none of a face that bears nothing; written down once."""
    add_sheet(two, {"sheet": "leaf", "media_front": "pencil, lower left, felt tip", "media_back": "none"})
    known = sheet_facts(two, "leaf")
    assert known.media == ("graphite", "felt-tip-water", "felt-tip-solvent")
    assert (known.media_back, known.unknown) == ((), ())
    keep_facts(two, "leaf", msgspec.structs.replace(known, mass="12 g"))
    assert sheet_record(two, "leaf").media_front == ("pencil", "lower left", "felt tip")


def test_a_medium_under_marks_or_remarks_is_told_when_it_is_stored(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """Stamp and felt-tip stood there for the reader alone: what they bar was proposed all the same."""
    root = ["--studio", str(studio.root)]
    marks = ["--marks", "library stamp, purple; a stamp", "--media-front", "iron gall ink"]
    assert (
        main(["sheet", "add", "Map 1", *marks, "--remarks", "ballpoint in the margin, kept dry", *root]) == 0
    )
    said = capsys.readouterr().err
    assert "Under marks stands what no answer looks at there: Stamp-pad ink" in said
    assert "Under remarks stands what no answer looks at there: Ballpoint pen ink" in said
    assert "Bare paper" not in said
    # What lies on a face already, or is no medium, needs no word.
    stamped = ["--marks", "stamp of the library", "--media-front", "stamp-pad ink"]
    assert main(["sheet", "add", "Map 2", *stamped, "--remarks", "no pencil; kept in a box", *root]) == 0
    assert main(["sheet", "amend", "Map 2", "--why", "x", "--remarks", "library stamp", *root]) == 0
    assert capsys.readouterr().err == ""
    # What was done with the sheet, or is wanted of it, does not lie on it.
    for told in (
        "photographs taken before treatment",
        "see photograph 3",
        "owner wants toner copy",
        "pencil notes of 1990 erased",
    ):
        assert main(["sheet", "amend", "Map 2", "--why", "x", "--remarks", told, *root]) == 0
    assert main(["sheet", "amend", "Map 2", "--why", "x", "--marks", "stamp, see photograph 3", *root]) == 0
    assert capsys.readouterr().err == ""
    assert main(["sheet", "amend", "Map 2", "--why", "x", "--marks", "ballpoint", "--json", *root]) == 0
    assert "Under marks" in capsys.readouterr().out


def test_a_control_is_listed_as_one(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """One on the ink beside a tape stood in the list with the adhesive of that tape."""
    root = ["--studio", str(studio.root)]
    spots = ["--tape", "masking tape", "--medium", "iron gall", "--liquid", "n-heptane", "--method", "swab"]
    assert main(["test", "add", *spots, "--control", "--harm", "bleed=0", *root]) == 0
    capsys.readouterr()
    assert main(["test", "list", *root]) == 0
    listed = capsys.readouterr().out
    assert "  control  " in listed
    assert "masking" not in listed


def test_the_same_name_twice_is_refused(two: Studio) -> None:
    with pytest.raises(DeskError, match="already"):
        add_sheet(two, {"sheet": "tide table for the harbour OFFICE"})


def test_a_new_name_reaches_every_record_and_the_old_one_still_finds_it(
    two: Studio, record: Callable[..., str]
) -> None:
    test = record(two, sheet=TIDE["sheet"], release=3)
    add_condition(two, {"sheet": "tide", "damage": "tear", "width_mm": "4.5 cm"})
    before = {one.id for one in list_records(two, sheet=TIDE["sheet"])}
    # What was refused had renamed all of them before.
    with pytest.raises(DeskError, match="thickness"):
        amend_sheet(two, "tide", {"sheet": "Tidal predictions", "thickness": "300 mm"}, "title and measure")
    assert list_records(two, sheet=TIDE["sheet"])
    # A correction of nothing was said to be stored.
    with pytest.raises(DeskError, match="Nothing is to be changed"):
        amend_sheet(two, "tide", {"sheet": TIDE["sheet"], "media-front": ""}, "title")
    given = ("--studio", str(two.root), "sheet", "amend", "tide", "--why", "title", "--media-front")
    assert [main([*given, typed]) for typed in ("", "-")] == [2, 0]
    two.refresh()
    assert not sheet_record(two, TIDE["sheet"]).media_front
    amend_sheet(two, "tide", {"sheet": "Tidal predictions"}, "title read under the lamp")
    assert {one.id for one in list_records(two, sheet="Tidal predictions")} == before
    assert not list_records(two, sheet=TIDE["sheet"])
    assert sheet_named(two, "tide table for the harbour office") == "Tidal predictions"
    first = dict(show_record(two, test).first_fields)
    assert first["sheet"] == TIDE["sheet"]
    # What cannot be shown is left out of the name: the record was looked for by what was typed.
    amend_sheet(two, "CH-11", {"sheet": "\x1b[2Jshoals", "owner": "Another"}, "copied from a mail")
    assert sheet_record(two, sheet_named(two, "shoals")).owner == "Another"
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
        ({"sheet": "x", "thickness": "0 mm"}, "not a thickness"),
        ({"sheet": "x", "size": "0 x 100 mm"}, "not a width"),
        ({"sheet": "x", "humidity": "0,4-0,6"}, "less than 1 % RH"),
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
    # A second time it took the place of what stood there without a word.
    with pytest.raises(DeskError, match=r"checked off: mended with tissue. Nothing was recorded"):
        settle(two, record_id, "left as it is")
    assert condition_list(two, "tide")[0].treated == "mended with tissue"


def test_damage_without_a_word_of_the_trade_is_refused_with_the_words_there_are(two: Studio) -> None:
    with pytest.raises(DeskError, match="tideline"):
        add_condition(two, {"sheet": "tide", "damage": "broken"})


def test_a_medium_that_the_catalogue_does_not_know_is_named_when_it_is_stored(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """No answer about the sheet reckoned with the ink, and storing said nothing."""
    words = ["sheet", "add", "Map 8", "--media-front", "irongall, printing ink", "--media-back", "none"]
    assert main([*words, "--studio", str(studio.root)]) == 0
    told = capsys.readouterr().err
    assert " ".join(told.split()) == (
        'No medium of the catalogue is called "irongall", so no answer can reckon with it.'
    )
    # What it stands in place of is not typed, and "-" empties a face.
    words = [
        "sheet",
        "amend",
        "Map 8",
        "--media-front",
        "iron gall",
        "--media-back",
        "-",
        "--why",
        "its name",
    ]
    assert main([*words, "--studio", str(studio.root)]) == 0
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    ("words", "typed", "told"),
    [
        (["sheet", "add", "Map 8"], "41 x 56", True),
        (["sheet", "add", "Map 8"], "41 x 56 cm", False),
        (["sheet", "amend", "Map 7", "--why", "measured"], "41 x 56", True),
        (["strip", "add", "Map 7", "front", "--at", "4, 4"], "20,5 × 10", True),
        (["strip", "add", "Map 7", "front", "--at", "4, 4"], '1 x 1.5"', False),
    ],
)
def test_a_size_without_a_unit_is_said_to_count_as_mm(
    studio: Studio, capsys: pytest.CaptureFixture[str], words: list[str], typed: str, told: bool
) -> None:
    """A sheet measured in cm was stored a tenth as large, and nothing was said."""
    add_sheet(studio, {"sheet": "Map 7", "size": "410 x 560 mm"})
    assert main([*words, "--size", typed, "--studio", str(studio.root)]) == 0
    assert ("bears no unit, so it counts as mm" in " ".join(capsys.readouterr().err.split())) is told
