"""All records by one way: listed newest first, shown, corrected by words, taken out and brought back."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from kb.book.append import append
from kb.book.check import make_kept
from kb.book.kinds.field import ENDINGS, leaves
from kb.book.kinds.spot_test import SpotTest
from kb.book.kinds.table import KEPT, KINDS
from kb.book.verify import verify
from kb.cli.main import main
from kb.desk.errors import DeskError, Unclear
from kb.desk.keep import rebuild
from kb.desk.records.book_list import (
    amend_record,
    changes_from_words,
    list_records,
    record_id,
    restore_record,
    show_record,
    withdraw_record,
)
from kb.desk.records.record import list_tests, show_test, write
from kb.desk.studio import Studio
from kb.index.rows import Row

BODIES: dict[str, dict[str, Any]] = {
    "bottle": {"liquid": "acetone", "label": "flammable", "opened": "2026-01", "expires": "2027-01"},
    "reading": {
        "sheet": "S1",
        "bath": 2,
        "minutes": 20.0,
        "ph": 7.4,
        "conductivity_us_cm": 60.0,
        "colour": "pale straw",
    },
    "batch": {"name": "wheat starch paste", "made_amount": 120.0, "made_unit": "ml", "made_at": "2026-01-05"},
    "mend": {
        "sheet": "S1",
        "tear": "plain",
        "length_mm": 45.0,
        "tissue": "tengujo-5",
        "site": {"words": "edge"},
    },
    "toning": {
        "sheet": "S2",
        "tissue": "kozo-9",
        "colourants": [{"name": "raw umber", "amount": 0.4, "unit": "g"}],
        "aim": {"lightness": 88.0, "a": 1.0, "b": 12.0},
        "dry": {"lightness": 87.0, "a": 1.5, "b": 14.0},
    },
    "housing": {"sheet": "S1", "gap_width_mm": 5.0, "gap_height_mm": 6.0, "humidity_low": 45.0},
    "pressing": {"sheet": "S1", "after": "mend", "steps": 3, "blotters": 3, "minutes": 1500.0},
    "sheet": {"sheet": "S1", "number": "TT-04", "width_mm": 410.0, "height_mm": 560.0},
    "condition": {"sheet": "S1", "damage": "stain", "face": "front", "width_mm": 30.0},
    "strip": {"sheet": "S1", "face": "back", "outline": "10,20 110,20 110,45 10,45", "tape": "clear film"},
    "patch": {
        "sheet": "S1",
        "patch": "B1",
        "face": "back",
        "outline": "10,20 30,20 30,45 10,45",
        "area_mm2": 500.0,
        "progress": "done",
        "release": 3,
        "colour": "none",
    },
    "stock": {"material": "kozo-9", "sort": "tissue", "amount": "3 sheets of 60 x 90 cm", "lot": "L7"},
    "swelling": {"material": "natural-rubber", "liquid": "n-heptane", "grade": 3, "dwell_s": 600.0},
    "photograph": {"sheet": "S1", "face": "back", "area": "B1", "light": "raking", "px_per_mm": 40.0},
    "photo-pair": {"sheet": "S1", "before": "A" * 26, "after": "B" * 26, "area": "B1"},
}
WORDS = {
    "bottle": ("label=opened twice", {"label": "opened twice"}, "label", "opened twice"),
    "reading": ("ph=6,9", {"ph": 6.9}, "pH", "6.9"),
    "batch": ("ph=7.2", {"ph": 7.2}, "pH", "7.2"),
    "mend": ("length_mm=5.4 cm", {"length_mm": 54.0}, "length (mm)", "54"),
    "toning": ("coats=2", {"coats": 2}, "coats", "2"),
    "housing": ("place=north wall", {"place": "north wall"}, "place", "north wall"),
    "pressing": ("blotters=4", {"blotters": 4}, "fresh blotters", "4"),
    "sheet": ("grammage_g_m2=90", {"grammage_g_m2": 90.0}, "grammage (g/m²)", "90"),
    "condition": ("width_mm=3.5 cm", {"width_mm": 35.0}, "width (mm)", "35"),
    "strip": ("weak=fold", {"weak": "fold"}, "weak zone", "fold"),
    "patch": ("swabs=4", {"swabs": 4}, "swabs", "4"),
    "stock": ("amount=2 sheets", {"amount": "2 sheets"}, "amount", "2 sheets"),
    "swelling": ("grade=2", {"grade": 2}, "grade", "swells"),
    "photograph": ("px_per_mm=20", {"px_per_mm": 20.0}, "scale (px/mm)", "20"),
    "photo-pair": ("said=nothing seen", {"said": "nothing seen"}, "said", "nothing seen"),
    "test": ("release=2", {"release": 2}, "release", "2 swells, can be rolled off in part"),
}
"""A change of each kind in words: its fields, and the label and text by which it is shown."""


@pytest.fixture
def book(studio: Studio, record: Callable[..., str]) -> dict[str, str]:
    """A record of each kind, of one that is not known here too; their ids by kind, the oldest first."""
    ids = {kind: write(studio, kind, make_kept(kind, body)).id for kind, body in BODIES.items()}
    ids["test"] = record(studio, sheet="S1", medium="iron-gall", release=3, harm={"bleed": 1})
    body = {"sheet": "S2", "tea": "green", "cups": [1, 2]}
    ids["tea"] = append(studio.book_dir, bench="bench-b", who="guest", kind="tea", body=body).id
    studio.mark_stale()
    return ids


def ids(studio: Studio, **asked: Any) -> list[str]:
    return [one.id for one in list_records(studio, **asked)]


# The list


@pytest.mark.slow
def test_every_kind_in_one_list_newest_first(studio: Studio, book: dict[str, str]) -> None:
    """Kept kinds, tests and what is not known here, by id; the kinds of BODIES are all there are."""
    assert set(BODIES) == set(KEPT)
    assert set(WORDS) == set(KINDS)
    found = list_records(studio)
    assert [one.id for one in found] == sorted(book.values(), reverse=True)
    assert {one.kind: one.id for one in found} == book
    assert {one.state for one in found} == {""}
    assert {one.kind: one.sheet for one in found} == {
        "bottle": "",
        "batch": "",
        "reading": "S1",
        "mend": "S1",
        "housing": "S1",
        "pressing": "S1",
        "sheet": "S1",
        "condition": "S1",
        "strip": "S1",
        "patch": "S1",
        "stock": "",
        "swelling": "",
        "photograph": "S1",
        "photo-pair": "S1",
        "test": "S1",
        "toning": "S2",
        "tea": "S2",
    }
    assert {one.bench for one in found} == {"bench-a", "bench-b"}
    rebuild(studio)
    assert list_records(studio) == found


def test_each_says_in_one_line_what_it_holds(studio: Studio, book: dict[str, str]) -> None:
    """In words and with names, fit for a list."""
    what = {one.kind: one.what for one in list_records(studio)}
    assert what["bottle"] == "Bottle: Acetone, flammable, opened 2026-01, use by 2027-01"
    assert what["reading"] == "Bath 2 at 20 min: pH 7.4, 60 µS/cm, pale straw"
    assert what["batch"] == "Batch: wheat starch paste, 120 ml"
    assert what["mend"] == "Mend: plain tear 45 mm, edge, Tengujo"
    assert what["toning"] == "Toning test: Light kozo mending paper with raw umber 0.4 g: difference 1.5"
    assert what["housing"] == "Framed, gap 5 x 6 mm, 45 % humidity"
    assert what["pressing"] == "Pressing: after a mend, 3 steps, fresh blotters 3 times, 25 h"
    assert what["sheet"] == "Sheet: S1, TT-04, 410 x 560 mm"
    assert what["condition"] == "Condition: stain 30 mm, (front)"
    assert what["strip"] == "Strip of tape on the back, 100 x 25 mm at 10, 20: clear film"
    assert what["patch"] == "Patch B1 (back) lifted: release 3; no colour on the swab"
    assert what["test"].startswith("Spot test: ")
    assert what["test"].endswith("Iron gall ink, release 3, worst harm 1")
    assert "which this version does not know" in what["tea"]
    assert not any("\n" in text for text in what.values())


def test_narrowed_by_sheet_kind_and_person(studio: Studio, book: dict[str, str]) -> None:
    """Each alone and together."""
    on_s1 = (
        "test",
        "photo-pair",
        "photograph",
        "patch",
        "strip",
        "condition",
        "sheet",
        "pressing",
        "housing",
        "mend",
        "reading",
    )
    assert ids(studio, sheet="S1") == [book[kind] for kind in on_s1]
    assert ids(studio, sheet=" S2 ") == [book["tea"], book["toning"]]
    assert ids(studio, kinds=("mend", "test")) == [book["test"], book["mend"]]
    assert ids(studio, kinds=("tea",)) == [book["tea"]]
    assert ids(studio, who="guest") == [book["tea"]]
    assert ids(studio, sheet="S1", who="guest") == []
    assert ids(studio, kinds=("mend",), sheet="S2") == []
    with pytest.raises(DeskError, match="no kind of record"):
        list_records(studio, kinds=("mends",))


@pytest.mark.slow
def test_pages_put_together_are_the_list(studio: Studio, record: Callable[..., str]) -> None:
    """Whatever the length of a page and however kinds are mixed."""
    for number in range(4):
        for kind, body in BODIES.items():
            if (number + len(kind)) % 3:
                write(studio, kind, make_kept(kind, body))
        record(studio, sheet=f"S{number % 3}")
        append(studio.book_dir, bench="b", who="g", kind="tea", body={"sheet": "S1", "n": number})
        studio.mark_stale()
    for asked in ({}, {"sheet": "S1"}, {"kinds": ("test", "mend", "tea")}):
        whole = ids(studio, limit=0, **asked)
        assert whole == sorted(whole, reverse=True)
        assert len(set(whole)) == len(whole)
        for length in (1, 2, 7, 1000):
            pages: list[str] = []
            while page := ids(studio, limit=length, before=pages[-1] if pages else "", **asked):
                assert len(page) <= length
                assert page[0] not in pages
                pages += page
            assert pages == whole


@pytest.mark.slow
def test_a_page_costs_the_same_in_a_long_book(studio: Studio) -> None:
    """Counted in steps of the database and not in time: 20,000 tests against 400, whole and an old sheet."""

    def fill(low: int, high: int) -> None:
        rows = (
            Row(
                *(
                    f"{number:026d}",
                    0,
                    0,
                    0,
                    "2026-01-01",
                    "A",
                    "old" if number < 400 else "new",
                    "",
                    "",
                    "",
                    "",
                    "",
                ),
                *("", "acetone", "swab", 1, 0, 0, 0, ""),
            )
            for number in range(low, high)
        )
        marks = ", ".join("?" * len(Row._fields))
        columns = ", ".join(Row._fields)
        conn.executemany(f"INSERT INTO test ({columns}) VALUES ({marks})", rows)

    def steps(**asked: Any) -> int:
        counted = [0]

        def count() -> int:
            counted[0] += 1
            return 0

        conn.set_progress_handler(count, 10)
        try:
            assert len(list_records(studio, limit=20, **asked)) == 20
        finally:
            conn.set_progress_handler(None, 0)
        return counted[0]

    conn = studio.index.conn
    middle = {"before": f"{300:026d}"}
    fill(0, 400)
    list_records(studio, limit=1)
    short = [steps(**asked) for asked in ({}, {"sheet": "old"}, middle)]
    fill(400, 20_000)
    long = [steps(**asked) for asked in ({}, {"sheet": "old"}, middle)]
    assert all(after <= before * 1.2 + 5 for before, after in zip(short, long, strict=True)), (short, long)


# One record


def test_every_kind_is_shown_field_by_field(studio: Studio, book: dict[str, str]) -> None:
    """By the beginning of its id, with labels, units and names; nothing that says nothing."""
    for kind, one in book.items():
        found = show_record(studio, one[:24].lower())
        assert (found.id, found.kind, found.state) == (one, kind, "")
        assert found.fields == found.first_fields
        assert [(step.id, step.kind, step.in_force) for step in found.history] == [(one, kind, True)]
        assert all(text.strip() for _, text in found.fields)
    assert dict(show_record(studio, book["mend"]).fields) == {
        "sheet": "S1",
        "kind of tear": "plain",
        "place": "edge",
        "length (mm)": "45",
        "tissue": "Tengujo",
    }
    toned = dict(show_record(studio, book["toning"]).fields)
    assert toned["put on"] == "raw umber 0.4 g"
    assert toned["difference from the sheet (CIEDE2000, computed)"] == "1.5"
    assert dict(show_record(studio, book["tea"]).fields) == {"sheet": "S2", "tea": "green", "cups": "[1,2]"}
    assert show_record(studio, book["tea"]).sheet == "S2"
    tested = dict(show_record(studio, book["test"]).fields)
    assert tested["harm, bleed"].startswith("1 ")
    assert "tideline" in tested["harm not looked at"]


def test_nought_is_a_figure(studio: Studio) -> None:
    """A grade, a count or a time of nought is shown; it is not the same as nothing."""
    # A length of nought is not taken any more, but books hold it, and their records are amended.
    body = {"sheet": "S", "strips": 0, "pressed_minutes": 0.0, "length_mm": 0.0}
    mend = write(studio, "mend", make_kept("mend", body)).id
    amend_record(studio, mend, changes_from_words(studio, "mend", ["remarks=x"]), "seen")
    shown = dict(show_record(studio, mend).fields)
    assert (shown["strips"], shown["pressed (min)"], shown["length (mm)"]) == ("0", "0", "0")
    graded = SpotTest(parts={"acetone": 1.0}, release=0, harm={"bleed": 0}, control=True)
    test = write(studio, "test", graded).id
    # So with a control of which release was graded; only what is typed now must agree.
    amend_record(studio, test, {"remarks": "x"}, "seen")
    for changes in ({"release": 2}, {"control": True}):
        with pytest.raises(DeskError, match="not graded on a control"):
            amend_record(studio, test, changes, "seen again")
    amend_record(studio, test, {"control": False}, "on the tape")
    shown = dict(show_record(studio, test).fields)
    assert (shown["release"], shown["harm, bleed"]) == ("0 no effect", "0 none seen")


def test_the_id_must_be_one(studio: Studio, book: dict[str, str]) -> None:
    """Nothing, too little and too much are told apart."""
    with pytest.raises(DeskError, match="the book lists them"):
        show_record(studio, "7ZZZ")
    with pytest.raises(DeskError, match="the book lists them"):
        show_record(studio, "  ")
    with pytest.raises(Unclear) as caught:
        record_id(studio, book["mend"][:4])
    assert len(caught.value.choices) >= 2


# Changes


@pytest.mark.slow
@pytest.mark.parametrize("kind", sorted(WORDS))
def test_amended_undone_withdrawn_and_restored(studio: Studio, book: dict[str, str], kind: str) -> None:
    """For every kind the same: what holds changes, every line stays, and the index agrees when rebuilt."""
    words, fields, label, text = WORDS[kind]
    one = book[kind]
    before = show_record(studio, one)
    changes = changes_from_words(studio, kind, [words])
    assert changes == fields
    amend = amend_record(studio, one, changes, "read again").id
    now = show_record(studio, amend)
    assert (now.id, now.state, dict(now.fields)[label]) == (one, "amended", text)
    assert now.first_fields == before.fields
    assert now.history[-1].changed == fields
    withdraw_record(studio, amend, "it was right at first")
    undone = show_record(studio, one)
    assert undone.fields == before.fields
    assert [step.in_force for step in undone.history] == [True, False, True]
    withdraw_record(studio, one, "another sheet")
    assert show_record(studio, one).state == "withdrawn"
    assert next(row.state for row in list_records(studio) if row.id == one) == "withdrawn"
    with pytest.raises(DeskError, match="withdrawn already"):
        withdraw_record(studio, one, "again")
    with pytest.raises(DeskError, match="bring it back first"):
        amend_record(studio, one, fields, "too late")
    restore_record(studio, one, "it was this sheet")
    back = show_record(studio, one)
    assert (back.state, back.fields) == ("amended", before.fields)
    with pytest.raises(DeskError, match="not withdrawn"):
        restore_record(studio, one, "again")
    listed = list_records(studio)
    rebuild(studio)
    assert (list_records(studio), show_record(studio, one)) == (listed, back)
    assert verify(studio.book_dir) == []


def test_withdrawing_a_withdrawal_by_its_id(studio: Studio, book: dict[str, str]) -> None:
    """What restore_record does can be done by hand, and undone again."""
    out = withdraw_record(studio, book["mend"], "another sheet").id
    undo = withdraw_record(studio, out, "no, this one").id
    assert show_record(studio, book["mend"]).state == "amended"
    withdraw_record(studio, undo, "another sheet after all")
    assert show_record(studio, book["mend"]).state == "withdrawn"
    with pytest.raises(DeskError, match="withdrawn already"):
        withdraw_record(studio, undo, "twice")


def test_tests_are_changed_as_by_their_own_verbs(studio: Studio, book: dict[str, str]) -> None:
    """The list of tests and the test itself agree with what is shown here."""
    changes = changes_from_words(
        studio, "test", ["harm=tideline=2", "harm=bleed=0", "liquid=ethanol", "site.x_mm=1.2 cm"]
    )
    kinds = {"harm.tideline": 2, "harm.bleed": 0}
    assert changes == {**kinds, "parts": {"ethanol": 1.0}, "site.x_mm": 12.0}
    amend_record(studio, book["test"], changes, "read again")
    test = show_test(studio, book["test"]).test
    assert (test.parts, test.site.x_mm, test.harm) == ({"ethanol": 1.0}, 12.0, {"tideline": 2, "bleed": 0})
    assert show_record(studio, book["test"]).history == show_test(studio, book["test"]).history
    withdraw_record(studio, book["test"], "wrong bottle")
    assert [one.state for one in list_tests(studio)] == ["withdrawn"]


def test_part_of_a_field_leaves_the_rest(studio: Studio, book: dict[str, str]) -> None:
    """Two parts in one amendment, then one in another; the whole field is what the book keeps."""
    changes = changes_from_words(studio, "mend", ["site.face=Back", "site.y_mm=30"])
    assert changes == {"site.face": "back", "site.y_mm": 30.0}
    amend_record(studio, book["mend"], changes, "turned over")
    amend_record(studio, book["mend"], {"site.words": "lower edge"}, "said better")
    last = show_record(studio, book["mend"])
    assert last.history[-1].changed == {"site": {"words": "lower edge", "face": "back", "y_mm": 30.0}}
    assert dict(last.fields)["place"] == "lower edge"


def test_ids_are_found_as_when_first_written(studio: Studio, book: dict[str, str]) -> None:
    """A batch by the beginning of its id, a tissue by its name, a toning test by its id."""
    changes = changes_from_words(
        studio,
        "mend",
        [f"batch={book['batch'][:20]}", "tissue=light kozo mending paper", f"toning={book['toning']}"],
    )
    assert changes == {"batch": book["batch"], "tissue": "kozo-9", "toning": book["toning"]}
    with pytest.raises(DeskError, match="No batch"):
        changes_from_words(studio, "mend", ["batch=01ZZZZZZZZ"])
    assert changes_from_words(studio, "reading", ["batch=the old bath"]) == {"batch": "the old bath"}


@pytest.mark.parametrize(
    ("kind", "words", "said"),
    [
        ("mend", "length_mm", "not FIELD=VALUE"),
        ("mend", "lenght_mm=4", "no field 'lenght_mm'"),
        ("mend", "length_mm=long", "cm, mm"),
        ("mend", "length=0 mm", "not a length"),
        ("condition", "width_mm=0", "not a width"),
        ("housing", "size=0 x 594 mm", "not a sheet width"),
        ("sheet", "mass=0 g", "not a mass"),
        ("sheet", "thickness=1e-9 mm", "not a thickness; the least is 0.001 mm"),
        ("mend", "strips=2.5", "whole number"),
        ("mend", "tear=rip", "plain, scarfed"),
        ("mend", "site=edge", "which part of site"),
        ("mend", "site.colour=red", "no part 'colour'"),
        ("mend", "length_mm.x=1", "no part 'x'"),
        ("mend", "photos=a.jpg", "not amended this way"),
        ("toning", "aim=88 1", "L a b"),
        ("toning", "bleeds=perhaps", "no, slightly, yes"),
        ("batch", "weights=a pinch", "not an ingredient"),
        ("test", "rounds=30s", "not amended this way"),
        ("test", "release=9", "0, 1, 2, 3, 4"),
        ("tea", "tea=black", "cannot be amended by this version"),
    ],
)
def test_words_that_are_no_change(studio: Studio, kind: str, words: str, said: str) -> None:
    """One sentence, and nothing was written."""
    with pytest.raises(DeskError, match=said):
        changes_from_words(studio, kind, [words])


def test_a_place_and_a_gap_may_be_nought(studio: Studio) -> None:
    assert changes_from_words(studio, "condition", ["x_mm=0", "y_mm=0 mm"]) == {"x_mm": 0, "y_mm": 0}
    assert changes_from_words(studio, "housing", ["gap=0 x 5 mm", "spacer=0"])["gap_width_mm"] == 0


def test_changes_that_cannot_be(studio: Studio, book: dict[str, str]) -> None:
    """Checked for the kind that the record is of, before anything is written."""
    before = (studio.book_dir / "bench-a.jsonl").read_bytes()
    for kind, changes, said in (
        ("mend", {"release": 3}, "no field 'release'"),
        ("mend", {"length_mm": -4.0}, "not a length"),
        ("mend", {"sheet": ""}, "names no sheet"),
        ("mend", {}, "what is changed"),
        ("housing", {"humidity_high": 20.0}, "the first is the lower"),
        ("reading", {"ph": 27.0}, "pH"),
        ("bottle", {"opened": "last year"}, "not a date"),
        ("tea", {"tea": "black"}, "cannot be amended by this version"),
    ):
        with pytest.raises(DeskError, match=said):
            amend_record(studio, book[kind], changes, "read again")
    with pytest.raises(DeskError, match="Say why"):
        amend_record(studio, book["mend"], {"strips": 2}, " ")
    with pytest.raises(DeskError, match="Say why"):
        withdraw_record(studio, book["mend"], "")
    assert (studio.book_dir / "bench-a.jsonl").read_bytes() == before
    amend = amend_record(studio, book["mend"], {"strips": 2}, "counted").id
    with pytest.raises(DeskError, match="change of a record"):
        amend_record(studio, amend, {"strips": 3}, "counted again")


@pytest.mark.slow
def test_a_record_of_an_unknown_kind_can_be_taken_out_and_brought_back(
    studio: Studio, book: dict[str, str]
) -> None:
    """What it says is not understood; that it does not count any more is."""

    def state() -> str:
        return next(one.state for one in list_records(studio) if one.kind == "tea")

    withdraw_record(studio, book["tea"], "poured away")
    assert (state(), show_record(studio, book["tea"]).state) == ("withdrawn", "withdrawn")
    restore_record(studio, book["tea"], "it was not")
    assert (state(), show_record(studio, book["tea"]).state) == ("", "")
    assert [step.in_force for step in show_record(studio, book["tea"]).history] == [True, False, True]
    rebuild(studio)
    assert state() == ""


def test_labels_name_every_unit(studio: Studio) -> None:
    """A field whose name bears a unit is labelled with it, for every kind."""
    for kind in KEPT.values():
        for field in leaves(kind.type):
            assert "_" not in field.label
            if any(field.name.endswith(ending) for ending in ENDINGS):
                assert field.says.unit, field.name
                assert field.label.endswith(f"({field.says.unit})"), field.name


# By command


@pytest.fixture
def run(studio: Studio, capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    def command(*words: str) -> tuple[int, str, str]:
        code = main([*words, "--studio", str(studio.root)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return command


def test_list_by_command(
    studio: Studio, book: dict[str, str], run: Callable[..., tuple[int, str, str]]
) -> None:
    """One line a record; the options narrow; JSON is the desk's own."""
    listed = list_records(studio)
    studio.close()
    code, out, _ = run("book", "list")
    assert code == 0
    assert [line[:26] for line in out.splitlines()] == [one.id for one in listed]
    code, out, _ = run("book", "list", "--kind", "mend", "--kind", "test", "--sheet", "S1", "--json")
    assert [one["id"] for one in json.loads(out)] == [book["test"], book["mend"]]
    code, out, _ = run("book", "list", "--limit", "1", "--before", book["mend"])
    assert out[:26] == book["batch"]
    assert run("book", "list", "--who", "nobody")[1] == "No record of that sort is in the book.\n"
    assert run("book", "list", "--kind", "mends")[0] == 3


def test_change_and_show_by_command(
    studio: Studio, book: dict[str, str], run: Callable[..., tuple[int, str, str]]
) -> None:
    """Amend, undo, withdraw, restore; each step is shown with whether it is in force."""
    mend = book["mend"]
    studio.close()
    assert run("book", "amend", mend, "--set", "length_mm=54", "--set", "strips=2", "--why", "again")[0] == 0
    _, out, _ = run("book", "show", mend)
    assert "  length (mm): 54" in out
    assert "    length (mm): 45" in out
    assert "    strips: not written down" in out
    amend = json.loads(run("book", "show", mend, "--json")[1])["history"][1]["id"]
    assert run("book", "withdraw", amend, "--why", "right at first")[0] == 0
    out = " ".join(run("book", "show", mend)[1].split())
    assert f"amend {amend} length_mm=54.0 strips=2: again [not in force]" in out
    assert run("book", "withdraw", mend, "--why", "other sheet")[0] == 0
    assert "[withdrawn]" in run("book", "list", "--kind", "mend")[1]
    assert run("book", "restore", mend, "--why", "this sheet")[0] == 0
    assert "[withdrawn]" not in run("book", "list", "--kind", "mend")[1]
    code, out, err = run("book", "amend", amend, "--set", "strips=3", "--why", "again")
    assert (code, out) == (3, "")
    assert "Traceback" not in err


def test_test_show_says_what_is_in_force(
    studio: Studio, book: dict[str, str], run: Callable[..., tuple[int, str, str]]
) -> None:
    """An amendment that was taken back is marked so."""
    amend = amend_record(studio, book["test"], {"release": 1}, "typed wrongly").id
    withdraw_record(studio, amend, "it was right")
    looked = write(studio, "test", SpotTest(parts={"acetone": 1.0})).id
    studio.close()
    said = run("test", "show", looked)[1]
    assert "  liquid: Acetone" in said, "in words, as the book shows it, and not as it is stored"
    assert "  release: not graded" in said
    out = " ".join(run("test", "show", book["test"])[1].split())
    assert out.count("[in force]") == 2
    assert out.count("[not in force]") == 1
    assert f"amend {amend} release=1: typed wrongly [not in force]" in out


def test_record_as_text_by_command(
    studio: Studio, book: dict[str, str], run: Callable[..., tuple[int, str, str]]
) -> None:
    """The page for a paper file, by the beginning of an id."""
    studio.close()
    code, out, _ = run("book", "show", book["mend"][:24], "--text")
    assert code == 0
    assert book["mend"] in out
    assert json.loads(run("book", "show", book["mend"], "--text", "--json")[1])["text"].splitlines()[0] in out


def test_stored_text_cannot_steer_the_terminal(
    studio: Studio, run: Callable[..., tuple[int, str, str]]
) -> None:
    """Whatever a record of whatever kind holds."""
    line = {"sheet": "S\x1b[2J", "remarks": "a\u202eb"}
    write(studio, "mend", make_kept("mend", line))
    append(studio.book_dir, bench="b", who="g", kind="tea", body={"sheet": "\x07", "n": {"x": "[bold]"}})
    studio.mark_stale()
    found = list_records(studio)
    studio.close()
    for words in (("list",), *(("show", one.id) for one in found)):
        code, out, _ = run("book", *words)
        assert code == 0
        assert not {"\x1b", "\x07", "\u202e"} & set(out)
    assert msgspec.json.decode(run("book", "list", "--json")[1])
