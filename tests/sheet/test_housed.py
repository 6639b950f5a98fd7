"""Housing: from typed words to the book and back, and the gap held against the one the sheet needs."""

from __future__ import annotations

import json
from typing import Any

import msgspec
import pytest

from kb.book.kinds.housing import Housing
from kb.book.kinds.table import KINDS
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.keep import rebuild
from kb.desk.records.book_list import amend_record, changes_from_words, withdraw_record
from kb.desk.records.fill import _tissues
from kb.desk.sheet.facts import SheetFacts
from kb.desk.sheet.housing import Framed, house, notes
from kb.desk.sheet.plan import sections, sheet_plan
from kb.desk.sheet.sheets import keep_facts
from kb.desk.studio import Studio
from tests.work_help import add_housing, housing_from_words, housings

FULL: dict[str, Any] = {
    "sheet": "S1",
    "into": "",
    "size": "42 x 59.4 cm",
    "gap": "5 x 6 mm",
    "hinges": "2",
    "hinge_tissue": "Medium kozo",
    "glazing": "glass",
    "board": "cotton board",
    "spacer": "3",
    "depth": "1.8 cm",
    "humidity": "45-55 %",
    "light": "50 lx",
    "place": "north wall",
    "at": "2026-05-31",
    "remarks": "hung low",
}


@pytest.mark.slow
def test_words_to_book_to_index_to_view(studio: Studio) -> None:
    """What was typed is what is stored and listed, also after the index was derived anew."""
    housing = housing_from_words(studio, FULL)
    assert housing == Housing(
        sheet="S1",
        into="frame",
        sheet_width_mm=420.0,
        sheet_height_mm=594.0,
        gap_width_mm=5.0,
        gap_height_mm=6.0,
        hinges=2,
        hinge_tissue="kozo-17-20",
        glazing="glass",
        board="cotton board",
        spacer_mm=3.0,
        depth_mm=18.0,
        humidity_low=45.0,
        humidity_high=55.0,
        light_lux=50.0,
        place="north wall",
        housed_at="2026-05-31",
        remarks="hung low",
    )
    written = add_housing(studio, housing)
    found = housings(studio, "S1")
    assert [(one.id, one.at, one.housing, one.hinge_tissue) for one in found] == [
        (written.id, "2026-05-31", housing, "Medium kozo")
    ]
    rebuild(studio)
    assert housings(studio, "S1") == found
    assert housings(studio, "S2") == []


def test_one_figure_is_the_gap_of_both_directions(studio: Studio) -> None:
    """As people say it."""
    one = housing_from_words(studio, {"sheet": "S1", "gap": "5 mm"})
    assert (one.gap_width_mm, one.gap_height_mm) == (5.0, 5.0)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"size": "large"}, "width x height"),
        ({"gap": "5 x 3 kg"}, "mm"),
        ({"hinges": "two"}, "whole number"),
        ({"humidity": "dry"}, "%"),
        ({"light": "dim"}, "50 lux"),
        ({"batch": "01ZZZZZZZZ"}, "No batch"),
    ],
)
def test_what_cannot_be_is_refused(studio: Studio, typed: dict[str, Any], said: str) -> None:
    """A sentence that makes sense on a screen, and no record."""
    with pytest.raises(DeskError, match=said) as caught:
        housing_from_words(studio, {**FULL, **typed})
    assert "--" not in str(caught.value)
    assert housings(studio) == []


def test_the_book_refuses_what_its_check_refuses(studio: Studio) -> None:
    """No sheet, and a humidity that runs backwards."""
    with pytest.raises(DeskError, match="names no sheet"):
        add_housing(studio, Housing(sheet=" "))
    with pytest.raises(DeskError, match="the first is the lower"):
        add_housing(studio, Housing(sheet="S", humidity_low=60.0, humidity_high=40.0))


def needed(studio: Studio, grain: Any = "unknown") -> list[tuple[float, float]]:
    """The gap that kb.desk.sheet.housing gives for 420 x 594 mm at 45 to 55 %, low and high, by direction."""
    found = house(studio, Framed(420.0, 594.0, rh_from=45.0, rh_to=55.0, grain=grain))
    return [(one.gap.low or 0.0, one.gap.high or 0.0) for one in found.gaps]


def framed(width: float | None, height: float | None, **fields: Any) -> Housing:
    """That sheet in a frame with such a gap."""
    usual: dict[str, Any] = {
        "sheet": "S1",
        "sheet_width_mm": 420.0,
        "sheet_height_mm": 594.0,
        "humidity_low": 45.0,
        "humidity_high": 55.0,
    }
    return Housing(**{**usual, **fields}, gap_width_mm=width, gap_height_mm=height)


def test_gap_is_held_against_the_computed_one(studio: Studio) -> None:
    """Below its low end too small, below its high end it may be; the words say which and what is needed."""
    (low_w, high_w), (low_h, high_h) = needed(studio)
    across, down = notes(studio, framed(low_w - 0.01, (low_h + high_h) / 2.0))
    assert across.startswith("Gap left and right")
    assert "TOO SMALL" in across
    assert "MAY BE" not in across
    assert f"{high_w:.3g} mm each side" in across
    assert down.startswith("Gap top and bottom")
    assert "MAY BE TOO SMALL" in down
    assert all("SMALL" not in one for one in notes(studio, framed(high_w, high_h)))
    enough = notes(studio, framed(50.0, 50.0))
    assert all("is enough" in one for one in enough)
    assert all("from memory" in one for one in enough), "what rests on memory says so"


def test_one_direction_is_checked_alone(studio: Studio) -> None:
    """What was not measured is not judged."""
    (only,) = notes(studio, framed(None, 50.0))
    assert only.startswith("Gap top and bottom")
    assert notes(studio, framed(None, None)) == ()


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"sheet_width_mm": None}, "width and height"),
        ({"humidity_low": None}, "range of humidity"),
        ({"humidity_low": 50.0, "humidity_high": 50.0}, "no range"),
    ],
)
def test_where_too_little_is_known_it_says_what_is_missing(
    studio: Studio, fields: dict[str, Any], said: str
) -> None:
    """No silence that reads as consent."""
    (text,) = notes(studio, framed(5.0, 5.0, **fields))
    assert "not checked" in text
    assert said in text


def test_notes_of_the_sheet_fill_in(studio: Studio) -> None:
    """Size, humidity and grain that were noted for the sheet serve where the record does not say."""
    keep_facts(studio, "S1", SheetFacts(size="420 x 594 mm", humidity="45-55 %", grain="width"))
    (low, _), _ = needed(studio, "width")
    (low_unknown, _), _ = needed(studio)
    assert low != low_unknown, "the grain must matter for this test to say anything"
    bare = Housing(sheet="S1", gap_width_mm=low - 0.005, gap_height_mm=50.0)
    assert "TOO SMALL" in notes(studio, bare)[0]
    above = notes(studio, Housing(sheet="S1", gap_width_mm=low + 0.005, gap_height_mm=50.0))[0]
    assert "is TOO SMALL" not in above
    with pytest.raises(DeskError, match="not a size"):
        keep_facts(studio, "S1", SheetFacts(size="big"))
    assert "TOO SMALL" in notes(studio, bare)[0]


def test_the_sheets_page_lists_it(studio: Studio) -> None:
    """Under Housing, with what is said of the gap."""
    add_housing(studio, framed(0.1, 50.0, place="north wall"))
    lines = dict(sections(studio, sheet_plan(studio, "S1", SheetFacts())))["Housing"]
    text = "\n".join(lines)
    assert "Housed so far:" in text
    assert "north wall" in text
    assert "TOO SMALL" in text


def test_amended_by_words_and_withdrawn(studio: Studio) -> None:
    """Figures with units; an empty value takes one out."""
    one = add_housing(studio, housing_from_words(studio, FULL)).id
    changes = changes_from_words(
        studio, "housing", ["gap-width_mm=0.4 cm", "light_lux=40 lux", "humidity_high=60 %", "hinges="]
    )
    assert changes == {"gap_width_mm": 4.0, "light_lux": 40.0, "humidity_high": 60.0, "hinges": None}
    amend_record(studio, one, changes, "measured again")
    (view,) = housings(studio)
    assert view.housing.gap_width_mm == 4.0
    assert (view.housing.hinges, view.state) == (None, "amended")
    with pytest.raises(DeskError, match="the first is the lower"):
        amend_record(studio, one, {"humidity_low": 70.0}, "misread")
    withdraw_record(studio, one, "another sheet")
    assert housings(studio) == []


def test_by_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """The gap is judged at once; JSON holds the same words."""
    where = ("--studio", str(studio.root))
    studio.close()
    words = ("--size", "420 x 594 mm", "--gap", "0.2 x 9 mm", "--humidity", "45-55 %")
    assert main(["frame", "add", "S1", "--new-sheet", *words, *where]) == 0
    assert "TOO SMALL" in capsys.readouterr().out
    assert main(["frame", "list", "S1", "--json", *where]) == 0
    (one,) = json.loads(capsys.readouterr().out)
    assert "TOO SMALL" in one["gap"][0]
    assert main(["frame", "list", "S2", *where]) == 1
    assert 'There is no sheet "S2"' in capsys.readouterr().err
    assert main(["frame", "add", "S1", "--light", "dim", *where]) == 3


def test_a_weight_that_is_open_or_single_still_offers_tissue_for_hinges(studio: Studio) -> None:
    """What was missing was taken for nought, and then no tissue was offered."""
    known = SheetFacts(size="420 x 594 mm", grammage="100 g/m2", humidity="40-60 %")
    plan = sheet_plan(studio, "S1", known)
    assert plan.housing is not None

    def offered(value: float | None, low: float | None, high: float | None) -> set[str]:
        tissue = msgspec.structs.replace(plan.housing.hinges.tissue, value=value, low=low, high=high)
        hinges = msgspec.structs.replace(plan.housing.hinges, tissue=tissue)
        housing = msgspec.structs.replace(plan.housing, hinges=hinges)
        about = msgspec.structs.replace(plan, housing=housing)
        return {name for name, _ in _tissues(studio, KINDS["housing"], about)}

    every, heavy, light = offered(None, 0.0, 1000.0), offered(None, 20.0, None), offered(None, None, 20.0)
    assert heavy
    assert light
    assert heavy | light == every
    assert offered(20.0, None, None) == heavy & light != set()
    assert offered(None, 0.0, 0.0) == set()
