"""What an answer says that it rests on is what it rests on, whatever the book holds."""

from __future__ import annotations

import tempfile
from pathlib import Path
from shutil import copy
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.desk.choose.choose import choose
from kb.desk.choose.recorded import recorded
from kb.desk.choose.spots import BARE
from kb.desk.records.book_list import withdraw_record
from kb.desk.records.record import add_test
from kb.desk.sheet.facts import sheet_facts
from kb.desk.sheet.names import sheet_record
from kb.desk.sheet.sheets import add_sheet, amend_sheet, keep_facts
from kb.desk.studio import Studio
from kb.index.rows import HARM_FROM
from kb.model.question import Answer, Question
from tests.conftest import spot

HERE = "Chart"
NONE_YET = "No test of yours bears on it yet."


@st.composite
def made(draw: st.DrawFn) -> dict[str, Any]:
    """A test that may or may not bear on the question, with or without grades."""
    harm = draw(st.none() | st.integers(0, 4))
    return {
        "sheet": draw(st.sampled_from(["", HERE, "Another"])),
        "adhesive": draw(st.sampled_from(["natural-rubber-resin", "starch-paste", ""])),
        "medium": draw(st.sampled_from(["letterpress-oil", "iron-gall-ink", "bare-paper"])),
        "parts": {draw(st.sampled_from(["n-heptane", "acetone", "water"])): 1.0},
        "release": draw(st.none() | st.integers(0, 4)),
        "harm": {} if harm is None else {draw(st.sampled_from(["bleed", "tideline"])): harm},
        "control": draw(st.integers(0, 5)) == 0,
        "gone": draw(st.integers(0, 4)) == 0,
    }


def chances(answer: Answer) -> set[tuple[str, str, float]]:
    """What is said of each liquid."""
    shown = [*answer.suggestions, *answer.refused, *(one.lead for one in answer.groups if one.lead)]
    harms = [(one.liquid, *harm) for one in shown for harm in one.harm_by_medium.items()]
    found = [*harms, *((one.liquid, "", one.release) for one in shown)]
    return {(liquid, of, round(chance.p, 12)) for liquid, of, chance in found}


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(book=st.lists(made(), max_size=4), sheet=st.sampled_from(["", HERE]))
def test_the_summary_says_what_the_lines_say(
    blank_index: Path, untouched: Studio, book: list[dict[str, Any]], sheet: str
) -> None:
    """Spots on this sheet, own tests and similar ones are named if and only if a line counts one.

    That no test bears on it is said if and only if all chances are those of an empty book.
    """
    with tempfile.TemporaryDirectory() as folder:
        copy(blank_index, Path(folder, "index.db"))
        studio = Studio(Path(folder))
        on_sheet = 0
        for one in book:
            written = add_test(studio, spot(**{name: value for name, value in one.items() if name != "gone"}))
            if one["gone"]:
                withdraw_record(studio, written.id, "wrong bottle")
            # Of a control harm is told, for paper and ink are the same there; of the adhesive nothing.
            released, harm = one["release"] is not None and not one["control"], one["harm"]
            # Nor does another ink that bore it, nor a ring that stayed away beside an ink; of bare paper, or
            # where no medium is named, a clean look is one at the paper alone.
            clean = "bleed" in harm if one["medium"] == "letterpress-oil" else one["medium"] in BARE
            clean = clean and (one["medium"] == "letterpress-oil" or "tideline" in harm)
            graded = released or (harm and (clean or max(harm.values()) >= HARM_FROM))
            on_sheet += one["sheet"] == HERE and bool(graded) and not one["gone"]
        said = choose(
            studio, Question(adhesive="natural-rubber-resin", medium="letterpress-oil", sheet=sheet)
        )
        studio.close()
    text = said.rests_on
    assert ("spots on this sheet" in text) == bool(sheet and on_sheet), text
    shown = [*said.suggestions, *said.refused, *(one.lead for one in said.groups if one.lead)]
    own = any("Same class here: no test yet." not in one.details for one in shown)
    similar = any("Similar tapes, media and liquids: no test yet." not in one.details for one in shown)
    assert ("own tests of the same class" in text) == own, text
    assert ("own tests on similar tapes" in text) == similar, text
    assert not (NONE_YET in text and (own or similar or (sheet and on_sheet))), text
    moved = not chances(said) <= chances(choose(untouched, said.question, limit=500))
    assert moved == (NONE_YET not in text) or (sheet and on_sheet), text


def test_a_look_for_harm_is_a_test(studio: Studio) -> None:
    """It said 'no test of yours bears on it' beside 'harmed 0 of 1'."""
    add_test(studio, spot(adhesive="", release=None, harm={"bleed": 0}))
    said = choose(studio, Question(adhesive="natural-rubber-resin", medium="letterpress-oil"))
    assert any("harmed 0 of 1" in one.reason for one in said.suggestions)
    assert NONE_YET not in said.rests_on


def test_a_look_at_bare_paper_is_told_where_it_moved_the_chance(studio: Studio) -> None:
    """The paper was the likeliest to be harmed; two rings less likely, and "no test of yours bears on it"."""
    asked = Question(adhesive="natural-rubber-resin", medium="letterpress-oil", paper="paper-woodpulp")
    before = choose(studio, asked, limit=500)
    for _ in range(2):
        clean = {"tideline": 0, "gloss": 0, "surface": 0}
        look = spot(adhesive="", carrier="", medium="bare-paper", release=None, harm=clean)
        add_test(studio, look)
    said = choose(studio, asked, limit=500)
    assert NONE_YET not in said.rests_on
    assert "own looks at bare paper" in said.rests_on or "own tests on similar" in said.rests_on
    moved = {one.liquid: one for one in (*said.suggestions, *said.refused)}
    for one in (*before.suggestions, *before.refused):
        now = moved[one.liquid]
        if now.harm_by_medium != one.harm_by_medium:
            assert "chemistry only" not in now.reason
    heptane = moved["n-heptane"]
    ink = "letterpress and relief printing ink"
    told = f"harm to {ink} never looked at with its like, harm to bare paper seen in 0 of 2"
    assert told in heptane.reason
    assert "Looks for harm to what else lies there: bare paper, 2 of which 0 harmed." in heptane.details
    # A spot that tells nothing is taken in nowhere; it said so of a sheet without any.
    here = replace(asked, sheet=HERE)
    assert "no spot here tells anything yet." in choose(studio, here).suggestions[0].details[0]
    add_test(studio, spot(sheet=HERE, harm={"bleed": 0}))
    lines = choose(studio, here).suggestions[0].details
    assert "spots already made here are taken in." in lines[0]
    assert any(f"the worst counts: {ink} " in line or ", bare paper " in line for line in lines)


def test_a_spot_without_a_grade_is_no_evidence(studio: Studio) -> None:
    """A stored spot of which nothing was graded is named nowhere as what an answer rests on."""
    add_test(studio, spot(sheet=HERE, release=None, harm={}))
    said = choose(studio, Question(adhesive="natural-rubber-resin", medium="letterpress-oil", sheet=HERE))
    assert "spots on this sheet" not in said.rests_on
    assert NONE_YET in said.rests_on


def test_what_the_record_of_the_sheet_says_is_not_asked_for_again(studio: Studio) -> None:
    """Its media and paper count, with their rules, where the question leaves them open."""
    add_sheet(studio, {"sheet": HERE, "media_front": "iron gall ink", "media_back": "graphite pencil"})
    amend_sheet(studio, HERE, {"paper": "rag paper"}, why="looked at")
    asked = Question(adhesive="starch-paste", sheet=HERE)
    said = choose(studio, asked)
    assert "water" in {one.liquid for one in said.vetoed if one.here}
    assert set(said.refused[0].harm_by_medium) == {"iron-gall", "graphite", "bare-paper"}
    assert "the record of the sheet: Iron gall ink; on the back Graphite pencil; Rag paper" in said.rests_on
    assert "averaged over: medium" not in said.rests_on
    # A test is written down from it, and nobody said where the drop lay.
    assert (said.question.reach, said.question.paper) == (("",), "")
    typed = choose(studio, replace(asked, medium="graphite"))
    assert "water" not in {one.liquid for one in typed.vetoed}
    assert "From the record of the sheet: on the back Graphite pencil; Rag paper" in typed.rests_on
    assert "water" in {one.liquid for one in choose(studio, replace(asked, back_media=("graphite",))).vetoed}
    assert "From the record" not in choose(studio, replace(asked, sheet="Another")).rests_on


def test_what_was_tested_on_a_sheet_lies_on_it(studio: Studio) -> None:
    """Its record named another ink alone, and the bath was planned as if none had bled."""
    add_sheet(studio, {"sheet": HERE, "media_front": "pencil", "paper": "rag paper"})
    add_test(studio, spot(sheet=HERE, medium="ballpoint", parts={"water": 1.0}, harm={"bleed": 4}))
    # Written down for the wrong sheet and withdrawn, it put its ink on this one for good.
    withdraw_record(studio, add_test(studio, spot(sheet=HERE, medium="iron-gall")).id, "another sheet")
    answer = choose(studio, Question(adhesive="animal-glue", sheet=HERE))
    assert "Graphite pencil; by its tests Ballpoint pen ink" in answer.rests_on
    assert "water" not in {one.liquid for one in answer.suggestions}
    known = sheet_facts(studio, HERE)
    assert known.media == ("graphite", "ballpoint")
    # Its record is what was seen of it, and grows by no test.
    keep_facts(studio, HERE, replace(known, mass="12 g"))
    assert sheet_record(studio, HERE).media_front == ("pencil",)
    add_sheet(studio, {"sheet": "denied", "media_front": "no ink or pencil on the back"})
    assert "Bare paper" not in choose(studio, Question(sheet="denied")).rests_on


@pytest.mark.parametrize(
    ("kind", "words", "ids", "missed"),
    [
        ("medium", "pencil; not identified", ["graphite"], ["not identified"]),
        ("medium", "not examined", [], ["not examined"]),
        ("medium", "iron gall ink, no pencil", ["iron-gall"], []),
        ("medium", "without media except a stamp", ["bare-paper"], ["except a stamp"]),
        ("medium", "-", [], []),
        ("medium", "none", ["bare-paper"], []),
        ("medium", "ballpoint, masking tape, animal glue", ["ballpoint"], ["animal glue"]),
        ("paper", "none", [], ["none"]),
        ("paper", "coated paper, 115 g/m2, from 1950", ["paper-coated"], []),
        ("paper", "rag or coated", ["paper-rag"], ["rag or coated"]),
        ("paper", "wood pulp; coated", ["paper-woodpulp"], ["coated"]),
    ],
)
def test_what_a_record_does_not_name_is_not_passed_over(
    kind: str, words: str, ids: list[str], missed: list[str], studio: Studio
) -> None:
    """ "Not identified" was read as a denial of nothing, and the first of two papers was bathed."""
    assert recorded(studio, kind, [words]) == (ids, missed)


def test_less_than_all_media_of_the_record_promise_nothing(studio: Studio) -> None:
    """A name that several entries bear is each of them; beside one that none bears no medium counts."""
    add_sheet(studio, {"sheet": "shared", "media_front": "red ink, pencil"})
    add_sheet(
        studio, {"sheet": "unknown", "media_front": "a red of roots, thermal paper", "paper": "wove paper"}
    )
    shared, unknown = (
        choose(studio, Question(adhesive="animal-glue", sheet=x)) for x in ("shared", "unknown")
    )
    # With its place, and what joins two media, a name is still that name; what is not understood is said.
    add_sheet(
        studio,
        {
            "sheet": "placed",
            "media_front": "pencil, 20 mm from the left edge, perhaps stamp in red ink (recto), no colour",
            "media_back": "iron gall ink; typescript in the upper right corner",
            "paper": "rag paper (laid)",
        },
    )
    placed = choose(studio, Question(adhesive="animal-glue", sheet="placed"))
    media = {"graphite", "dye-writing", "stamp-pad", "iron-gall", "typewriter", "bare-paper"}
    assert set(placed.refused[0].harm_by_medium) == media
    assert "no medium of the catalogue" not in placed.rests_on
    assert "Typewriter ribbon ink; Rag paper" in placed.rests_on
    assert 'taken as if it were sure, in spite of "perhaps"' in placed.rests_on
    add_sheet(studio, {"sheet": "bare", "media_front": "none", "paper": "none"})
    assert "record of the sheet: Bare paper" in choose(studio, Question(sheet="bare")).rests_on
    add_sheet(studio, {"sheet": "glazed", "media_front": "watercolour glazed with gum arabic, iron gall"})
    glazed = choose(studio, Question(adhesive="animal-glue", sheet="glazed"))
    assert "Watercolour, Iron gall ink; no medium of the catalogue is called glazed or gum arabic" in (
        glazed.rests_on
    )
    assert set(glazed.refused[0].harm_by_medium) == {"", "bare-paper"}
    assert not shared.suggestions
    assert len(shared.refused[0].harm_by_medium) > 3
    assert "no medium of the catalogue is called a red of roots: name what lies there" in unknown.rests_on
    assert "which paper wove paper is stays open" in unknown.rests_on
    assert set(unknown.refused[0].harm_by_medium) == {"", "bare-paper"}
    # What is known of it has its rules all the same: thermal paper turns black in the warm.
    assert any("Copy it before anything else" in text for text in unknown.cautions)
    taped = choose(studio, Question(adhesive="natural-rubber-resin", stage="oily", sheet="unknown"))
    assert taped.stop is not None
    assert "warmth," not in taped.stop.text
