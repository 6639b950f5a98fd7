"""Patches one by one: the plan goes on from what was really done, and stops where it must."""

from __future__ import annotations

import json
import re
from typing import Any

import msgspec
import pytest

from kb.book.kinds.housing import Housing
from kb.book.kinds.patch import outcome
from kb.cli.main import main
from kb.desk.choose.after import harm_against
from kb.desk.choose.choose import choose
from kb.desk.choose.weigh import ALREADY, DID_HARM, HARMED_HERE
from kb.desk.errors import DeskError, Unclear
from kb.desk.records.book_list import amend_record
from kb.desk.records.record import add_test, write
from kb.desk.sheet import tape
from kb.desk.sheet.report import html, report
from kb.desk.sheet.sheets import add_sheet
from kb.desk.sheet.tape import TapeView, add_strip, tape_view
from kb.desk.shelf.shelf import forbid
from kb.desk.studio import Studio
from kb.model.question import Question
from kb.science.liquids.blends import parse_blend
from kb.tui.screens.sheet.face_grid import now_lines
from tests.conftest import spot

SHEET = "Tide table, invented"


@pytest.fixture
def taped(studio: Studio) -> Studio:
    """A sheet with the same strip of five patches on both faces."""
    add_sheet(studio, {"sheet": SHEET, "size": "410 x 560 mm"})
    add_strip(studio, {"sheet": SHEET, "face": "front", "at": "10, 20", "size": "100 x 25 mm"})
    add_strip(studio, {"sheet": SHEET, "face": "back", "at": "300 x 20", "size": "100 x 25 mm"})
    return studio


def lift(studio: Studio, **words: Any) -> TapeView:
    """Begin the next patch and end it."""
    tape.start(studio, SHEET, {"liquid": "n-heptane", "method": "swab"})
    tape.done(studio, SHEET, {"colour": "none", "release": "3", **words})
    return tape_view(studio, SHEET)


@pytest.mark.slow
def test_front_and_back_alternate_and_are_counted(taped: Studio) -> None:
    assert tape_view(taped, SHEET).next == "F1"
    lifted = []
    while view := tape_view(taped, SHEET):
        if not view.next:
            break
        lifted.append(view.next)
        assert abs(view.freed_front_mm2 - view.freed_back_mm2) <= 500
        lift(taped)
    assert lifted == ["F1", "B1", "B2", "F2", "F3", "B3", "B4", "F4", "F5", "B5"]
    assert (view.done, view.minutes_left, view.decide) == (10, 0, "")


def test_a_size_that_only_a_housing_states_is_used_and_said(studio: Studio) -> None:
    add_sheet(studio, {"sheet": SHEET})
    strip = {"sheet": SHEET, "face": "front", "at": "10, 20", "size": "100 x 25 mm"}
    with pytest.raises(DeskError, match="size of"):
        add_strip(studio, strip)
    write(studio, "housing", Housing(sheet=SHEET, sheet_width_mm=410, sheet_height_mm=560))
    with pytest.raises(DeskError, match="not known here"):
        add_strip(studio, {**strip, "at": "12,5,30"})
    add_strip(studio, strip)
    view = tape_view(studio, SHEET)
    assert view.next == "F1"
    assert "Size 410 x 560 mm: from how it was put away" in view.warnings[0]


def test_a_patch_under_way_is_next_and_no_second_begins(taped: Studio) -> None:
    tape.start(taped, SHEET, {})
    assert tape_view(taped, SHEET).next == "F1"
    with pytest.raises(DeskError, match="under way"):
        tape.start(taped, SHEET, {})


def test_another_patch_than_the_next_may_be_taken_and_the_plan_follows(taped: Studio) -> None:
    tape.start(taped, SHEET, {"patch": "f4"})
    tape.done(taped, SHEET, {"colour": "none"})
    assert tape_view(taped, SHEET).next == "B4"


@pytest.mark.parametrize("seen", [{"colour": "pink"}, {"ink": "possible-change"}])
def test_colour_or_a_possible_change_stops_the_plan_until_it_is_decided(
    taped: Studio, seen: dict[str, str]
) -> None:
    view = lift(taped, **seen)
    assert not view.next
    assert "F1" in view.decide
    assert [patch.state for patch in view.patches if patch.id == "F1"] == ["look"]
    with pytest.raises(DeskError, match="stops until"):
        tape.start(taped, SHEET, {})
    tape.decide(taped, SHEET, "go on with less liquid; decided by the head of the studio")
    view = tape_view(taped, SHEET)
    assert (view.next, view.decide) == ("B1", "")


def test_what_is_left_out_says_why_and_does_not_come_again(taped: Studio) -> None:
    with pytest.raises(DeskError, match="Say why"):
        tape.skip(taped, SHEET, {})
    tape.skip(taped, SHEET, {"why": "over the seal"})
    view = tape_view(taped, SHEET)
    assert [patch.state for patch in view.patches if patch.id == "F1"] == ["skipped"]
    assert view.freed_front_mm2 == 0
    assert view.next != "F1"


@pytest.mark.slow
def test_a_patch_that_is_half_free_comes_again_with_what_is_left(taped: Studio) -> None:
    view = lift(taped, share_percent="40")
    again = [patch for patch in view.patches if patch.id == "F1"]
    assert [(patch.area_mm2, patch.state) for patch in again] == [(300.0, "now")]
    assert view.freed_front_mm2 == pytest.approx(200.0)
    lifted = 0
    while tape_view(taped, SHEET).next:
        lift(taped)
        lifted += 1
    assert lifted == 10


def test_a_patch_of_which_nothing_came_off_is_not_lifted(taped: Studio) -> None:
    """Release 0 counted as lifted, and freed area that still bears its tape; a word by hand holds."""
    view = lift(taped, release="0")
    assert (view.done, view.freed_front_mm2, view.next) == (0, 0, "F1")
    (shown,) = [line for line in html(report(taped, SHEET)).splitlines() if "patch F1 was left" in line]
    assert "nothing was released" in shown
    view = lift(taped, release="0", share_percent="100")
    assert (view.done, view.freed_front_mm2) == (1, 500.0)
    view = lift(taped, release="0", progress="done")
    assert view.done == 2


def test_a_guess_of_the_time_left_is_told_to_the_hour(taped: Studio) -> None:
    """To go 3 h 38 min looked as if it had been measured."""
    text = " ".join(now_lines(tape_view(taped, SHEET), sized=True))
    assert re.search(r"Left: some \d+ h of work, a guess until five patches were timed", text)


def test_a_strip_found_later_is_planned_in_and_what_was_done_stays_done(taped: Studio) -> None:
    lift(taped)
    lift(taped)
    add_strip(taped, {"sheet": SHEET, "face": "front", "at": "10, 200", "size": "60 x 25 mm"})
    view = tape_view(taped, SHEET)
    assert view.done == 2
    assert len(view.patches) == 13
    ids = [patch.id for patch in view.patches]
    assert len(set(ids)) == len(ids)


def test_own_rates_after_five_patches(taped: Studio) -> None:
    for _ in range(5):
        view = lift(taped, volume="1 ml", swabs="2")
    assert {"ml_per_cm2", "swabs_per_cm2", "minutes_per_cm2"} == set(view.own_rates)
    assert (view.ml_left, view.swabs_left) == (5.0, 10.0)
    assert not any("placeholders" in text for text in view.warnings)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"outline": "0,0 10,10 10,0 0,10"}, "crosses itself"),
        ({"at": "400, 20", "size": "100 x 25 mm"}, "outside the sheet"),
        ({"outline": "0,0 10"}, "no corner"),
        ({"outline": "0,0 10,0"}, "corners"),
        ({"at": "0, 0", "size": "0 x 25 mm"}, "."),
    ],
)
def test_a_strip_that_cannot_be_is_refused_and_nothing_is_kept(
    taped: Studio, words: dict[str, str], says: str
) -> None:
    with pytest.raises(DeskError, match=says):
        add_strip(taped, {"sheet": SHEET, "face": "front", **words})
    assert len(tape.strips(taped, SHEET)) == 2


def test_strips_that_overlap_count_their_area_once(taped: Studio) -> None:
    add_strip(taped, {"sheet": SHEET, "face": "front", "at": "60, 20", "size": "80 x 25 mm"})
    front = [patch.area_mm2 for patch in tape_view(taped, SHEET).patches if patch.face == "front"]
    assert sum(front) == pytest.approx(130 * 25)


def test_tape_without_a_size_asks_for_it(studio: Studio) -> None:
    add_sheet(studio, {"sheet": "No size"})
    with pytest.raises(DeskError, match="size of"):
        add_strip(studio, {"sheet": "No size", "face": "front", "at": "1, 1", "size": "10 x 10"})


def test_the_command_leads_through_a_patch(taped: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    root = ["--studio", str(taped.root)]
    assert main([*root, "patch", "start", "tide", "--liquid", "n-heptane", "--json"]) == 0
    assert main([*root, "patch", "done", "tide", "--colour", "pink", "--volume", "0.8 ml", "--json"]) == 0
    last = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert last["next"] == ""
    assert "pink" in last["decide"]
    assert main([*root, "patch", "start", "tide"]) == 3
    assert main([*root, "patch", "decide", "tide", "--decision", "go on"]) == 0
    assert main([*root, "patch", "skip", "tide", "--why", "seal"]) == 0
    assert main([*root, "patch", "next", "tide", "--json"]) == 0
    found = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert {patch["state"] for patch in found["patches"]} == {"done", "skipped", "now", "todo"}
    done = next(patch["done"] for patch in found["patches"] if patch["state"] == "done")
    assert (done["liquid"], done["volume_ml"], done["colour"]) == ("n-heptane", 0.8, "pink")


def test_what_the_studio_or_an_ink_forbids_is_not_begun_without_a_reason(taped: Studio) -> None:
    """A patch is lifted without looking at the list again that left the liquid out."""
    add_sheet(taped, {"sheet": "Ink, invented", "size": "210 x 297 mm", "media-front": "iron gall ink"})
    add_strip(taped, {"sheet": "Ink, invented", "face": "front", "at": "10, 20", "size": "60 x 25 mm"})
    with pytest.raises(DeskError, match=r"STOP: .*brown halos.*Nothing was begun"):
        tape.start(taped, "Ink, invented", {"liquid": "water"})
    # A remark on something else is no answer to it.
    with pytest.raises(DeskError, match="Nothing was begun"):
        tape.start(taped, "Ink, invented", {"liquid": "water", "remarks": "second strip"})
    assert all(patch.done is None for patch in tape_view(taped, "Ink, invented").patches)
    tape.start(taped, "Ink, invented", {"liquid": "water", "all_the_same": "decided with the owner"})
    (begun,) = [one.done for one in tape_view(taped, "Ink, invented").patches if one.done]
    assert begun.remarks.startswith("Begun against caution ")
    assert begun.remarks.endswith(": decided with the owner.")
    forbid(taped, liquids=["n-hexane"], why="harms nerves")
    with pytest.raises(DeskError, match=r"This studio forbids it: .*harms nerves"):
        tape.start(taped, SHEET, {"liquid": "n-hexane"})


def test_what_did_harm_on_the_sheet_is_not_begun_on_its_tape_without_a_reason(taped: Studio) -> None:
    """A spot beside the strip made the ink bleed, and the patch after it was begun with not a word."""

    def tried(**said: Any) -> None:
        first = {"sheet": SHEET, "medium": "iron-gall", "parts": {"acetone": 1.0}, "method": "swab"}
        add_test(taped, spot(**{**first, **said}))

    tried(release=3, harm={"bleed": 2, "tideline": 0})
    with pytest.raises(DeskError) as refused:
        tape.start(taped, SHEET, {"liquid": "acetone"})
    said = "On this sheet Acetone (swab) did harm on Iron gall ink: bleed 2 visible on careful look."
    assert str(refused.value) == f"{said} {tape.ALL_THE_SAME}"
    # The same in a blend; another liquid, and another sheet, are free.
    with pytest.raises(DeskError, match="On this sheet Acetone"):
        tape.start(taped, SHEET, {"liquid": "acetone 20, n-heptane 80"})
    assert not tape.speaks_against(taped, SHEET, {"n-heptane": 1.0}, "swab")
    # One clean spot more does not undo what bled, in no way of work: nor does it on the list.
    for method in ("poultice", "swab"):
        tried(method=method, harm={"bleed": 0, "offset": 0})
        assert tape.speaks_against(taped, SHEET, {"acetone": 1.0}, method)
    # Of which ink it was clean nobody knows.
    tried(medium="", parts={"ethanol": 1.0}, harm={"bleed": 3})
    tried(medium="", parts={"ethanol": 1.0}, harm={"bleed": 0})
    assert tape.speaks_against(taped, SHEET, {"ethanol": 1.0}, "swab")
    tape.start(taped, SHEET, {"liquid": "acetone", "all_the_same": "beside no ink"})
    (begun,) = [one.done for one in tape_view(taped, SHEET).patches if one.done]
    assert re.fullmatch(
        r"Begun against the test of Acetone on \d{4}-\d\d-\d\d: beside no ink\.", begun.remarks
    )


def test_a_patch_that_did_harm_speaks_against_the_next(taped: Studio) -> None:
    """It was graded 4, and the next was begun with the same liquid and not a word."""
    lift(taped, harm="4")
    with pytest.raises(DeskError, match=r"On this sheet n-Heptane \(swab\) did harm: 4 loss\. Nothing"):
        tape.start(taped, SHEET, {"liquid": "n-heptane", "method": "swab"})
    tape.start(taped, SHEET, {"liquid": "n-heptane", "all_the_same": "the owner agreed"})
    begun = [one.done for one in tape_view(taped, SHEET).patches if one.done]
    assert begun[-1].remarks == "Begun against patches lifted with n-Heptane: the owner agreed."


@pytest.mark.parametrize(
    ("bled", "then"),
    [
        ({"toluene": 1.0}, {}),
        ({"acetone": 0.5, "n-heptane": 0.5}, {}),
        ({"acetone": 1.0}, {"parts": {"acetone": 1.0}}),
        ({"toluene": 1.0}, {"parts": {"n-heptane": 0.5, "toluene": 0.5}}),
    ],
)
def test_the_patch_and_the_list_are_barred_by_one_rule(
    taped: Studio, bled: dict[str, float], then: dict[str, Any]
) -> None:
    """Toluene bled: the list barred xylene, and a patch was begun with it; so with a part of what bled."""
    on = {"sheet": SHEET, "medium": "letterpress-oil"}
    add_test(taped, spot(**on, parts=bled, release=2, harm={"bleed": 4}))
    if then:
        add_test(taped, spot(**on, release=None, harm={"bleed": 0}, **then))
    answer = choose(taped, Question(adhesive="natural-rubber-resin", sheet=SHEET), limit=500)
    listed = {one.liquid: one for one in (*answer.suggestions, *answer.refused)}
    against = harm_against(taped, answer.question, [one.parts for one in listed.values()])
    barred = {id for id, rows in zip(listed, against, strict=True) if rows}
    tried = {id for id, one in listed.items() if one.refused.startswith(ALREADY)}
    said = (HARMED_HERE, DID_HARM)
    assert barred - tried == {id for id, one in listed.items() if one.refused.startswith(said)}
    assert barred - tried
    like = sorted(barred - tried)[0]
    with pytest.raises(DeskError, match=r"On this sheet .* is like it, a part of it or harsher\."):
        tape.start(taped, SHEET, {"liquid": listed[like].name if "+" not in listed[like].name else like})


def test_chemistry_is_no_rule_of_the_studio(taped: Studio) -> None:
    """ "This studio forbids it: Acetone and n-Heptane and Trichloromethane must not meet"."""
    with pytest.raises(DeskError) as refused:
        tape.start(taped, SHEET, {"liquid": "acetone 40, n-heptane 30, chloroform 30"})
    said = str(refused.value)
    assert "STOP: Acetone and Trichloromethane must not meet: Chloroform and acetone" in said
    assert "This studio" not in said
    assert "n-Heptane" not in said
    why = {"liquid": "acetone 50, chloroform 50", "all_the_same": "in the hood, at once used up"}
    tape.start(taped, SHEET, why)
    (begun,) = [
        one.done for one in tape_view(taped, SHEET).patches if one.done and one.done.liquid.count(" ")
    ]
    assert begun.remarks == "Begun against what must not meet: in the hood, at once used up."


@pytest.mark.parametrize("method", ["heated-spatula", "heated spatula", "Heated spatula"])
def test_a_stop_for_the_way_of_work_knows_it_in_any_spelling(taped: Studio, method: str) -> None:
    with pytest.raises(DeskError, match=r"STOP: .*must never be heated"):
        tape.start(taped, SHEET, {"liquid": "n-heptane", "method": method})


def test_a_stop_for_the_carrier_knows_the_tape_of_the_strip(studio: Studio) -> None:
    """What the list that left a liquid out knows of the tape, whoever lifts a patch of it knows too."""
    question = Question(paper="paper-rag", method="swab")
    assert sum(weight for weight, _ in tape._of_its_tapes(studio, question)) == pytest.approx(1)
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    strip = {"sheet": SHEET, "face": "front", "at": "10, 20", "size": "60 x 25 mm", "tape": "masking tape"}
    add_strip(studio, strip)
    ((weight, known),) = tape._of_its_tapes(studio, msgspec.structs.replace(question, sheet=SHEET))
    assert weight == 1
    assert known.adhesive
    assert known.carrier


def test_a_medium_that_is_not_known_says_so_before_a_patch(studio: Studio) -> None:
    """A misspelt ink would else pass for none."""
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm", "media-front": "iron gal inkk"})
    add_strip(studio, {"sheet": SHEET, "face": "front", "at": "10, 20", "size": "60 x 25 mm"})
    with pytest.raises(DeskError, match='no medium "iron gal inkk"'):
        tape.start(studio, SHEET, {"liquid": "water"})


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("heptane", "n-heptane"),
        ("acetone 50, n-heptane 50", "acetone 50 + n-heptane 50"),
        ("n-heptane 80, ethyl acetate 30", "n-heptane 72.7 + ethyl-acetate 27.3"),
    ],
)
def test_the_liquid_of_a_patch_is_one_of_the_catalogue(taped: Studio, typed: str, kept: str) -> None:
    tape.start(taped, SHEET, {"liquid": typed})
    (patch,) = [one.done for one in tape_view(taped, SHEET).patches if one.done]
    assert parse_blend(patch.liquid) == pytest.approx(parse_blend(kept), abs=1e-4)


@pytest.mark.parametrize("typed", ["propanol", "goop", "acetone 50, goop 50"])
def test_a_word_that_names_no_one_liquid_is_asked_back(taped: Studio, typed: str) -> None:
    with pytest.raises(Unclear):
        tape.start(taped, SHEET, {"liquid": typed})


@pytest.mark.parametrize("typed", ["no colour", "None", "nothing", "clean", "no"])
def test_no_colour_in_any_words_is_no_stop(taped: Studio, typed: str) -> None:
    assert not lift(taped, colour=typed).decide
    (patch,) = [one.done for one in tape_view(taped, SHEET).patches if one.done]
    assert patch.colour == "none"


@pytest.mark.parametrize("outline", ["0,0 0,0 0,0", "10,20 30,45 30,20 10,45"])
def test_a_patch_whose_outline_was_corrected_to_none_hides_no_other(taped: Studio, outline: str) -> None:
    """Nobody knows any more which piece it was, so its piece is planned again, and the sheet can be seen."""
    (patch,) = [one for one in lift(taped).patches if one.done]
    amend_record(taped, patch.record, {"outline": outline}, "drawn again")
    view = tape_view(taped, SHEET)
    assert len(view.patches) == 11
    assert view.next
    assert html(report(taped, SHEET))


@pytest.mark.parametrize("typed", ["no", "Clean."])
def test_a_correction_that_says_no_colour_is_no_stop_either(taped: Studio, typed: str) -> None:
    """It is stored as typed; plan and list read it as the form does."""
    (patch,) = [one for one in lift(taped).patches if one.done]
    amend_record(taped, patch.record, {"colour": typed}, "looked at again")
    after = tape_view(taped, SHEET)
    (done,) = [one.done for one in after.patches if one.done]
    assert not after.decide
    assert "no colour on the swab" in outcome(done)


def test_a_sheet_with_tape_is_offered_before_those_that_only_bear_a_name(taped: Studio) -> None:
    """Work to be done comes first; the others follow in the order they had."""
    from kb.tui.screens.choose.find import ONE_SHEET, offers

    for name in ("A mock-up, invented", "Another, invented"):
        add_sheet(taped, {"sheet": name})
    assert offers(taped, ONE_SHEET, "")[0].name == SHEET
