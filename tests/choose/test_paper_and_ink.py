"""What one look says of the ink and of the paper beside it: neither is lost, nor speaks for the other."""

from __future__ import annotations

import msgspec
import pytest

from kb.book.kinds.spot_test import HARM_KINDS
from kb.desk.choose.weigh import HARMED_HERE
from kb.desk.records.book_list import amend_record, withdraw_record
from kb.desk.records.record import looks_missed
from kb.desk.sheet import tape
from kb.desk.sheet.sheets import add_sheet
from kb.desk.sheet.tape import add_strip
from kb.desk.studio import Studio
from kb.index.rows import DISSOLVED, SHOWN_BY_PAPER
from kb.model.question import Answer, Question, Suggestion
from tests.choose.test_lines import RUBBER, Record, ask

SHEET = "Tide table, invented"
HERE = msgspec.structs.replace(RUBBER, sheet=SHEET)
STAMP = msgspec.structs.replace(HERE, medium="stamp-pad", paper="paper-rag")
ELSEWHERE = msgspec.structs.replace(STAMP, sheet="")


def of(answer: Answer, liquid: str) -> Suggestion:
    """What is said of one liquid."""
    return next(one for one in (*answer.suggestions, *answer.refused) if one.liquid == liquid)


def test_a_ring_stays_the_papers_once_the_ink_is_looked_at_too(studio: Studio, record: Record) -> None:
    """A grade of bleeding that was added took three rings of four off the paper and off every other ink."""
    asked = [msgspec.structs.replace(RUBBER, medium=one) for one in ("bare-paper", "letterpress-oil")]
    made = [record(studio, medium="iron-gall", release=3, harm={"tideline": 4}) for _ in range(3)]
    before = [of(ask(studio, one), "n-heptane").harm.p for one in asked]
    for one in made:
        amend_record(studio, one, {"harm": {"tideline": 4, "bleed": 0}}, "looked at the ink the next day")
    studio.refresh()
    after = [of(ask(studio, one), "n-heptane").harm.p for one in asked]
    assert after == pytest.approx(before)


def test_rings_beside_an_ink_are_held_against_the_papers_that_took_none(
    studio: Studio, record: Record
) -> None:
    """Whoever looks at both says of both: two rings of twenty-two are not two of two."""
    asked = msgspec.structs.replace(RUBBER, medium="bare-paper")
    for _ in range(2):
        record(studio, medium="iron-gall", release=3, harm={"tideline": 3, "bleed": 0})
    alone = of(ask(studio, asked), "n-heptane").harm.p
    for _ in range(20):
        record(studio, medium="iron-gall", release=3, harm={"tideline": 0, "bleed": 0})
    assert of(ask(studio, asked), "n-heptane").harm.p < alone
    # Bleeding is no news of paper, and a look that asked for nothing else is none at it.
    clean = of(ask(studio, asked), "n-heptane").harm.p
    record(studio, medium="iron-gall", release=3, harm={"bleed": 4})
    assert of(ask(studio, asked), "n-heptane").harm.p == clean


def test_what_tore_the_paper_beside_one_ink_is_barred_beside_another(studio: Studio, record: Record) -> None:
    """Cyclohexane led over print where heptane had lifted fibres beside iron gall ink on the same sheet."""
    record(studio, sheet=SHEET, medium="iron-gall", release=4, harm={"surface": 4})
    answer = ask(studio, HERE)
    assert of(answer, "cyclohexane").refused == HARMED_HERE
    assert not answer.worked_here


@pytest.mark.parametrize("medium", ["letterpress-oil", "bare-paper"])
def test_who_did_not_look_for_what_was_harmed_clears_nothing(
    studio: Studio, record: Record, medium: str
) -> None:
    """A gloss that stayed lifted the bar of a ring, and of a paper that changed its colour."""
    asked = msgspec.structs.replace(HERE, medium=medium)
    for harmed, looked in (({"tideline": 3}, {"gloss": 0}), ({"tideline": 3}, {"bleed": 0})):
        record(studio, sheet=SHEET, medium=medium, release=1, harm=harmed)
        assert of(ask(studio, asked), "cyclohexane").refused == HARMED_HERE
        parts = {"cyclohexane": 1.0}
        record(studio, sheet=SHEET, medium=medium, parts=parts, release=None, harm=looked)
        assert of(ask(studio, asked), "cyclohexane").refused == HARMED_HERE
    record(studio, sheet=SHEET, medium=medium, parts=parts, release=None, harm={"tideline": 0, "bleed": 0})
    assert of(ask(studio, asked), "cyclohexane").refused != HARMED_HERE


def test_an_ink_that_bore_it_is_no_news_of_another_on_the_sheet(studio: Studio, record: Record) -> None:
    """One clean look at pencil put acetone first for stamp pad ink."""
    before = of(ask(studio, STAMP), "acetone")
    assert before.refused
    # Made here and counted in the book as well: there it says the same as from another sheet.
    record(
        studio, sheet="Elsewhere", medium="graphite", parts={"acetone": 1.0}, release=None, harm={"bleed": 0}
    )
    there = of(ask(studio, STAMP), "acetone")
    record(studio, sheet=SHEET, medium="graphite", parts={"acetone": 1.0}, release=None, harm={"bleed": 0})
    here = of(ask(studio, STAMP), "acetone")
    assert here.harm.p >= there.harm.p - 0.02
    # What harmed another ink is bad news all the same.
    record(studio, sheet=SHEET, medium="graphite", parts={"acetone": 1.0}, release=None, harm={"bleed": 4})
    assert of(ask(studio, STAMP), "acetone").harm.p > here.harm.p


def test_a_control_without_a_medium_lay_on_none(studio: Studio, record: Record) -> None:
    """It freed acetone for stamp pad ink on every sheet."""
    before = of(ask(studio, ELSEWHERE), "acetone").harm.p
    clean = {"bleed": 0, "offset": 0}
    record(studio, medium="", control=True, release=None, parts={"acetone": 1.0}, harm=clean)
    assert of(ask(studio, ELSEWHERE), "acetone").harm.p >= before - 1e-12


def test_a_clean_patch_over_one_of_several_media_frees_none_of_them(studio: Studio) -> None:
    """Nobody noted whether it lay on the iron gall ink or on the stamp; acetone was free for both."""
    media = "iron gall ink; stamp pad ink"
    add_sheet(studio, {"sheet": SHEET, "size": "200 x 300 mm", "media_front": media, "paper": "paper-rag"})
    at = {"sheet": SHEET, "face": "front", "at": "10, 20", "size": "100 x 25 mm"}
    add_strip(studio, {**at, "tape": "masking-rubber", "stage": "oily"})
    before = of(ask(studio, STAMP), "acetone")
    tape.start(studio, SHEET, {"liquid": "acetone", "method": "swab"})
    tape.done(studio, SHEET, {"colour": "none", "release": "4", "harm": "0"})
    studio.refresh()
    after = ask(studio, STAMP)
    assert of(after, "acetone").harm.p >= before.harm.p - 0.02
    assert "was not looked at" in after.worked_here[0].text


def test_a_blend_that_was_never_tested_after_all_is_proposed_by_nothing(
    studio: Studio, record: Record
) -> None:
    """The wrong bottle: its only test was withdrawn, and it stayed among the candidates."""
    plain = {one.liquid for one in (*ask(studio, RUBBER).suggestions, *ask(studio, RUBBER).refused)}
    made = record(studio, parts={"acetone": 0.5, "n-heptane": 0.5}, release=3, harm={"bleed": 0})
    withdraw_record(studio, made, "the wrong bottle")
    studio.refresh()
    answer = ask(studio, RUBBER)
    assert {one.liquid for one in (*answer.suggestions, *answer.refused)} == plain


def test_the_record_of_a_sheet_names_its_inks_in_one_order(studio: Studio, record: Record) -> None:
    """Two benches that wrote the same tests in another order read the same sentence."""
    said = []
    for sheet, inks in (("A", ("iron-gall", "ballpoint")), ("B", ("ballpoint", "iron-gall"))):
        for ink in inks:
            record(studio, sheet=sheet, medium=ink, release=None, harm={"bleed": 0})
        said.append(ask(studio, Question(adhesive=RUBBER.adhesive, sheet=sheet)).rests_on)
    assert said[0] == said[1]


def test_a_control_is_no_look_at_the_ink_that_is_asked_about(studio: Studio, record: Record) -> None:
    """With it acetone that had released over print was said to have worked over stamp pad ink."""
    clean = dict.fromkeys(HARM_KINDS, 0)
    acetone = {"sheet": SHEET, "parts": {"acetone": 1.0}, "harm": clean}
    record(studio, **acetone, release=4)
    record(studio, **acetone, medium="", release=None, control=True)
    answer = ask(studio, msgspec.structs.replace(HERE, medium="stamp-pad"))
    assert not answer.worked_here
    # And it bars the same whatever is known of other sheets.
    record(studio, sheet="Other", medium="", control=True, release=None, harm={"tideline": 3, "bleed": 2})
    before = {one.liquid for one in answer.refused if one.refused == HARMED_HERE}
    record(studio, sheet="Elsewhere", medium="bare-paper", release=None, harm=clean)
    again = ask(studio, msgspec.structs.replace(HERE, medium="stamp-pad"))
    assert {one.liquid for one in again.refused if one.refused == HARMED_HERE} == before


def test_clean_looks_at_one_ink_are_no_news_of_another_that_is_asked_about_too(
    studio: Studio, record: Record
) -> None:
    """Three looks at print freed acetone where print and stamp pad ink lay within reach."""
    both = msgspec.structs.replace(STAMP, medium="letterpress-oil", also_media=("stamp-pad",))
    look = {"parts": {"acetone": 1.0}, "paper": "paper-rag", "release": None, "harm": {"bleed": 0}}
    for _ in range(3):
        record(studio, sheet=SHEET, **look)
    alone, together = of(ask(studio, STAMP), "acetone"), of(ask(studio, both), "acetone")
    assert together.harm.p >= alone.harm.p - 1e-9
    assert together.refused == alone.refused


def test_a_harm_more_lifts_no_bar(studio: Studio, record: Record) -> None:
    """Acetone left a ring, and cyclohexane was free: nobody had looked whether it lifts fibres as heptane."""
    record(studio, sheet=SHEET, release=3, harm={"surface": 3})
    parts = {"cyclohexane": 1.0}
    record(studio, sheet=SHEET, parts=parts, release=None, harm={"tideline": 0, "bleed": 0})
    assert of(ask(studio, HERE), "cyclohexane").refused == HARMED_HERE
    record(studio, sheet=SHEET, parts={"acetone": 1.0}, release=1, harm={"tideline": 3})
    assert of(ask(studio, HERE), "cyclohexane").refused == HARMED_HERE


def test_a_ring_beside_another_ink_leaves_another_way(studio: Studio, record: Record) -> None:
    """The answer was a bare stop; over the ink where the ring lay it had said less of it, or by gel."""
    ring = {**dict.fromkeys(HARM_KINDS, 0), "tideline": 2}
    record(studio, sheet=SHEET, medium="stamp-pad", release=4, harm=ring)
    answer = ask(studio, HERE)
    assert any("n-Heptane released, but left tideline" in one for one in answer.other_ways)
    # What ran of the other ink takes no way of it from this one.
    bled = {**ring, "bleed": 3}
    record(studio, sheet="Other", medium="stamp-pad", release=3, harm=bled)
    record(studio, sheet="Other", release=4, harm=dict.fromkeys(HARM_KINDS, 0), method="gel")
    by_gel = ask(studio, msgspec.structs.replace(RUBBER, sheet="Other", method="gel"))
    assert "n-Heptane by gel" in by_gel.worked_here[0].text


def test_a_ring_on_the_spot_takes_no_clean_look_at_the_ink_away(studio: Studio, record: Record) -> None:
    """What bled bars its like; cyclohexane that did not is free of that, ring or no ring, by gel."""
    gel = msgspec.structs.replace(HERE, method="gel")
    record(studio, sheet=SHEET, release=1, harm={"bleed": 3, "tideline": 0})
    clean = {"bleed": 0, "offset": 0, "colour": 0, "tideline": 3}
    record(studio, sheet=SHEET, parts={"cyclohexane": 1.0}, release=None, harm=clean)
    assert of(ask(studio, gel), "cyclohexane").refused != HARMED_HERE


def test_what_a_gel_wets_too_much_a_swab_does_as_well(studio: Studio, record: Record) -> None:
    """A gel is the gentler way: torn fibres under it barred nothing for free liquid."""
    record(studio, sheet=SHEET, method="gel", release=3, harm={"tideline": 4, "surface": 4, "bleed": 0})
    swab = ask(studio, msgspec.structs.replace(HERE, method="swab"))
    assert of(swab, "cyclohexane").refused == HARMED_HERE


def test_a_strip_that_was_harmed_is_news_of_the_paper(studio: Studio, record: Record) -> None:
    """Nobody said what was harmed: it may have been the paper, which lies under every ink."""
    add_sheet(studio, {"sheet": SHEET, "size": "200 x 300 mm", "media_front": "letterpress-oil"})
    at = {"sheet": SHEET, "face": "front", "at": "10, 20", "size": "100 x 25 mm"}
    add_strip(studio, {**at, "tape": "masking-rubber", "stage": "oily"})
    tape.start(studio, SHEET, {"liquid": "n-heptane", "method": "swab"})
    tape.done(studio, SHEET, {"colour": "none", "release": "1", "harm": "4"})
    studio.refresh()
    for medium in ("bare-paper", "stamp-pad"):
        answer = ask(studio, msgspec.structs.replace(HERE, medium=medium))
        assert of(answer, "cyclohexane").refused == HARMED_HERE
    # Of the paper: who saw that of another liquid, and nothing of it, clears that.
    clean = dict.fromkeys(HARM_KINDS, 0)
    record(studio, sheet=SHEET, medium="stamp-pad", parts={"cyclohexane": 1.0}, release=None, harm=clean)
    stamped = ask(studio, msgspec.structs.replace(HERE, medium="stamp-pad"))
    assert of(stamped, "cyclohexane").refused != HARMED_HERE


def test_every_kind_of_harm_is_shown_by_ink_or_by_paper() -> None:
    assert sorted(HARM_KINDS) == sorted([*DISSOLVED, *SHOWN_BY_PAPER])


def test_who_names_no_medium_is_told_of_every_clean_look(studio: Studio, record: Record) -> None:
    """To name the ink of a look made it worth nothing where none was asked about."""
    bare = msgspec.structs.replace(HERE, medium="")
    before = of(ask(studio, bare), "acetone").harm.p
    for _ in range(3):
        record(studio, sheet=SHEET, parts={"acetone": 1.0}, release=None, harm=dict.fromkeys(HARM_KINDS, 0))
    assert of(ask(studio, bare), "acetone").harm.p < before - 0.05


def test_the_paper_beside_one_ink_is_that_under_another_asked_about_too(
    studio: Studio, record: Record
) -> None:
    """Two looks at print freed acetone for the stamp alone, and for both inks they were worth nothing."""
    both = msgspec.structs.replace(STAMP, medium="letterpress-oil", also_media=("stamp-pad",))
    look = {"parts": {"acetone": 1.0}, "paper": "paper-rag", "release": None}
    for _ in range(2):
        record(studio, sheet=SHEET, **look, harm=dict.fromkeys(HARM_KINDS, 0))
    alone, together = of(ask(studio, STAMP), "acetone"), of(ask(studio, both), "acetone")
    assert together.harm.p == pytest.approx(alone.harm.p, abs=0.01)


def test_a_ring_takes_no_other_way_from_what_spared_the_ink(studio: Studio, record: Record) -> None:
    """Heptane bled and cyclohexane did not, but left a ring: less of it, or by gel; it was a bare stop."""
    record(studio, sheet=SHEET, release=1, harm={"bleed": 3})
    ring = {**dict.fromkeys(HARM_KINDS, 0), "tideline": 3}
    record(studio, sheet=SHEET, parts={"cyclohexane": 1.0}, release=4, harm=ring)
    ways = ask(studio, msgspec.structs.replace(HERE, method="swab")).other_ways
    assert any("Cyclohexane released, but left tideline" in one for one in ways)


def test_the_look_that_would_change_a_stop_does(studio: Studio, record: Record) -> None:
    """Recorded as the sentence asks, for what the ink shows and for a ring."""
    asked = Question(
        adhesive=RUBBER.adhesive,
        stage="oily",
        medium="iron-gall",
        paper="paper-rag",
        sheet=SHEET,
        method="gel",
    )
    record(studio, sheet=SHEET, medium="stamp-pad", paper="paper-rag", release=1, harm={"offset": 3})
    stop = ask(studio, asked).stop
    if stop is None or "What would change that" not in stop.text:
        return
    name = stop.text.split(" with ")[1].split(" on ")[0]
    liquid = next(one.id for one in studio.compiled.by_id.values() if one.name == name)
    clean = {"bleed": 0, "offset": 0, "tideline": 0}
    parts = {liquid: 1.0}
    record(studio, sheet=SHEET, medium="iron-gall", paper="paper-rag", parts=parts, release=None, harm=clean)
    assert not of(ask(studio, asked), liquid).refused


TRACING = msgspec.structs.replace(HERE, medium="letterpress-oil", paper="paper-tracing-prepared")
TOLUENE = {"parts": {"toluene": 1.0}, "paper": "paper-tracing-prepared", "sheet": SHEET, "release": None}


@pytest.mark.parametrize("medium", ["letterpress-oil", "bare-paper", ""])
def test_looks_for_bleeding_free_nothing_for_a_paper_that_may_be_harmed(
    studio: Studio, record: Record, medium: str
) -> None:
    """Two of them freed toluene for prepared tracing paper, which nobody had looked at."""
    asked = TRACING if medium != "bare-paper" else msgspec.structs.replace(TRACING, medium=medium)
    before = of(ask(studio, msgspec.structs.replace(TRACING, medium="bare-paper")), "toluene").harm.p
    for _ in range(3):
        record(studio, medium=medium, control=medium == "", harm={"bleed": 0}, **TOLUENE)
        assert of(ask(studio, asked), "toluene").harm.p >= before - 1e-12
        assert of(ask(studio, asked), "toluene").refused
    # Looked at as well it may be free.
    for _ in range(3):
        record(studio, medium=medium, control=medium == "", harm={"bleed": 0, "surface": 0}, **TOLUENE)
    assert of(ask(studio, asked), "toluene").harm.p < before


def test_a_medium_more_lowers_no_harm_whatever_was_seen_here(studio: Studio, record: Record) -> None:
    """Rings on another sheet, clean looks at print here: heptane was barred for pencil, and free for both."""
    alone = msgspec.structs.replace(HERE, medium="graphite")
    both = msgspec.structs.replace(alone, also_media=("letterpress-oil",))
    for _ in range(3):
        record(studio, sheet="Other", medium="bare-paper", control=True, release=None, harm={"tideline": 3})
    for _ in range(2):
        harm = dict.fromkeys(HARM_KINDS, 0)
        record(studio, sheet=SHEET, medium="letterpress-oil", control=True, release=None, harm=harm)
    assert of(ask(studio, both), "n-heptane").harm.p >= of(ask(studio, alone), "n-heptane").harm.p - 1e-12


def test_a_look_that_names_no_medium_clears_no_ink(studio: Studio, record: Record) -> None:
    """It freed toluene for the iron gall ink and the typescript beside it."""
    asked = msgspec.structs.replace(STAMP, medium="iron-gall", also_media=("typewriter",))
    for _ in range(3):
        record(studio, sheet=SHEET, medium="", parts={"toluene": 1.0}, release=None, harm={"bleed": 0})
    answer = ask(studio, asked)
    assert of(answer, "toluene").refused
    assert "On 3 clean spots here no medium is named" in answer.rests_on


def test_harm_that_names_no_medium_may_be_to_any_of_them(studio: Studio, record: Record) -> None:
    """Asked about print it was barred; with the stamp beside it, which toluene harms more, it was free."""
    record(
        studio,
        sheet=SHEET,
        medium="",
        parts={"propan-2-ol": 1.0},
        release=3,
        harm={"bleed": 2, "tideline": 0},
    )
    alone = of(ask(studio, HERE), "toluene")
    both = of(ask(studio, msgspec.structs.replace(HERE, also_media=("stamp-pad",))), "toluene")
    assert alone.refused == both.refused == HARMED_HERE
    # What spared each of them lifts it.
    for medium in ("letterpress-oil", "stamp-pad"):
        harm = dict.fromkeys(HARM_KINDS, 0)
        record(studio, sheet=SHEET, medium=medium, parts={"toluene": 1.0}, release=None, harm=harm)
    both = of(ask(studio, msgspec.structs.replace(HERE, also_media=("stamp-pad",))), "toluene")
    assert both.refused != HARMED_HERE


def test_a_ring_elsewhere_lifts_no_bar_of_a_bleed(studio: Studio, record: Record) -> None:
    """Where no medium was asked about, what paper bears stood for what the ink does once rings were seen."""
    asked = msgspec.structs.replace(STAMP, medium="")
    record(
        studio, sheet=SHEET, medium="stamp-pad", parts={"ethyl-acetate": 1.0}, release=3, harm={"bleed": 3}
    )
    assert of(ask(studio, asked), "toluene").refused == HARMED_HERE
    for _ in range(4):
        ring = {"tideline": 3}
        record(studio, sheet="T", medium="bare-paper", parts={"toluene": 1.0}, release=4, harm=ring)
    assert of(ask(studio, asked), "toluene").refused == HARMED_HERE


@pytest.mark.parametrize("front", ["stamp-pad", "stamp pad ink", "iron gall ink; stamp pad ink"])
def test_a_strip_that_was_harmed_is_cleared_by_no_look_at_ink_alone(
    studio: Studio, record: Record, front: str
) -> None:
    """Whoever writes down a sheet has no ids at hand; and of several inks nobody noted which it lay on."""
    add_sheet(studio, {"sheet": SHEET, "size": "200 x 300 mm", "media_front": front, "paper": "paper-rag"})
    at = {"sheet": SHEET, "face": "front", "at": "10, 20", "size": "100 x 25 mm"}
    add_strip(studio, {**at, "tape": "masking-rubber", "stage": "oily"})
    tape.start(studio, SHEET, {"liquid": "n-heptane", "method": "swab"})
    tape.done(studio, SHEET, {"colour": "none", "release": "4", "harm": "4"})
    studio.refresh()
    asked = [msgspec.structs.replace(STAMP, medium=one) for one in ("letterpress-oil", "bare-paper")]
    harm = dict.fromkeys(DISSOLVED, 0)
    record(studio, sheet=SHEET, medium="", parts={"cyclohexane": 1.0}, release=None, harm=harm)
    assert [of(ask(studio, one), "cyclohexane").refused for one in asked] == [HARMED_HERE] * 2
    # The ink that the strip lay on is known by its name.
    (row,) = studio.index.conn.execute("SELECT medium FROM patch_evidence").fetchall()
    assert row[0] == ("" if ";" in front else "stamp-pad")


@pytest.mark.parametrize(
    ("asked", "medium", "harm", "unlooked"),
    [
        ("bare-paper", "bare-paper", {}, "the paper"),
        ("letterpress-oil", "letterpress-oil", {"bleed": 0}, "the paper"),
        ("", "", {}, "what lies there and the paper"),
        ("letterpress-oil", "letterpress-oil", {"bleed": 0, "tideline": 0}, ""),
    ],
)
def test_a_success_says_where_nobody_looked(
    studio: Studio, record: Record, asked: str, medium: str, harm: dict[str, int], unlooked: str
) -> None:
    """ "A larger area" stood there where the paper, or nothing at all, had been looked at."""
    record(studio, sheet=SHEET, medium=medium, release=4, harm=harm)
    (worked,) = ask(studio, msgspec.structs.replace(HERE, medium=asked)).worked_here
    if unlooked:
        assert f"Its harm to {unlooked} was not looked at" in worked.text
    else:
        assert "was not looked at" not in worked.text


def test_clean_looks_that_name_no_medium_move_no_ink_through_the_book(studio: Studio, record: Record) -> None:
    """Two of them freed acetone for stamp pad ink on every sheet; to name their ink raised the harm again."""
    before = of(ask(studio, ELSEWHERE), "acetone")
    for sheet in (SHEET, "Another", "A third"):
        record(studio, sheet=sheet, medium="", parts={"acetone": 1.0}, release=None, harm={"bleed": 0})
    for asked in (ELSEWHERE, STAMP):
        after = of(ask(studio, asked), "acetone")
        assert after.refused
        assert after.harm.p >= before.harm.p - 0.02
    assert of(ask(studio, ELSEWHERE), "acetone").harm.p == pytest.approx(before.harm.p)


def test_what_swelled_is_tried_on_where_the_paper_bears_it(studio: Studio, record: Record) -> None:
    """Toluene had "harmed nothing" on a paper that nobody looked at, and was to stay on for longer."""
    here = msgspec.structs.replace(TRACING, medium="graphite", paper="paper-rag")
    record(studio, sheet=SHEET, medium="graphite", paper="paper-rag", release=2, harm={"bleed": 0})
    (text,) = ask(studio, here).other_ways
    assert "harmed nothing that was looked at" in text
    assert "Its harm to the paper was not looked at: before that a spot there." in text
    record(
        studio, sheet=SHEET, medium="graphite", paper="paper-rag", release=2, harm={"bleed": 0, "gloss": 0}
    )
    (text,) = ask(studio, here).other_ways
    assert "harmed nothing: the same liquid again" in text


def test_a_look_for_bleeding_on_bare_paper_is_no_step_done(studio: Studio, record: Record) -> None:
    """ "What it must spare was clean: now the adhesive", where nothing that paper shows was looked at."""
    asked = msgspec.structs.replace(HERE, medium="bare-paper", paper="paper-rag")
    first = ask(studio, asked).series[0].liquid
    look = {"sheet": SHEET, "medium": "bare-paper", "parts": {first: 1.0}, "control": True, "release": None}
    record(studio, **look, paper="paper-rag", harm={"bleed": 0})
    assert "Paper alone at a margin" in ask(studio, asked).next_step
    record(studio, **look, paper="paper-rag", harm={"bleed": 0, "tideline": 0})
    assert "Paper alone at a margin" not in ask(studio, asked).next_step


def test_bare_paper_is_not_what_lies_there(studio: Studio, record: Record) -> None:
    """A control on bare paper stood for a look at the ink that nobody had named."""
    record(studio, sheet=SHEET, medium="", release=4, harm={})
    harm = dict.fromkeys(HARM_KINDS, 0)
    record(studio, sheet=SHEET, medium="bare-paper", control=True, release=None, harm=harm)
    (worked,) = ask(studio, msgspec.structs.replace(HERE, medium="")).worked_here
    assert "Its harm to what lies there was not looked at" in worked.text


def test_looks_that_name_no_medium_are_no_news_of_an_ink_good_or_bad(studio: Studio, record: Record) -> None:
    """Left out where they were clean and kept where not, two of twenty that harmed were two of two."""
    asked = [ELSEWHERE, msgspec.structs.replace(ELSEWHERE, medium="")]
    before = [of(ask(studio, one), "n-heptane").harm.p for one in asked]
    for number in range(10):
        harm = {"bleed": 3 if number == 0 else 0, "tideline": 0}
        record(studio, sheet=f"Sheet {number}", medium="", release=4, harm=harm)
    named, open_ = (of(ask(studio, one), "n-heptane") for one in asked)
    assert named.harm.p == pytest.approx(before[0], abs=0.03)
    assert open_.harm.p <= before[1]


def test_looks_at_the_ink_are_told_where_the_paper_is_worse(studio: Studio, record: Record) -> None:
    """Ten looks of which two bled stood there as "harmed 0 of 1", and six clean ones as no test at all."""
    asked = msgspec.structs.replace(TRACING, sheet="")
    made = {"parts": {"toluene": 1.0}, "paper": "paper-tracing-prepared", "release": None}
    for number in range(6):
        record(studio, sheet=f"Sheet {number}", medium="letterpress-oil", harm={"bleed": 0}, **made)
    answer = ask(studio, asked)
    assert of(answer, "toluene").worst_medium == "bare-paper"
    assert "harmed 0 of 6" in of(answer, "toluene").reason
    assert "own tests of the same class" in answer.rests_on
    for number in range(2):
        record(studio, sheet=f"Other {number}", medium="letterpress-oil", harm={"bleed": 3}, **made)
    record(studio, sheet="Other", medium="bare-paper", harm={"tideline": 0}, **made)
    assert "harmed 2 of 8" in of(ask(studio, asked), "toluene").reason


@pytest.mark.parametrize(
    ("medium", "harm", "missed"),
    [
        ("bare-paper", {"bleed": 0}, "no look at the paper"),
        ("bare-paper", {"bleed": 0, "tideline": 0}, ""),
        ("bare-paper", {"bleed": 3}, ""),
        ("", {"bleed": 0}, "no clean look at any ink"),
        ("", {"tideline": 0}, ""),
        ("iron-gall", {"tideline": 0}, "no clean look at the ink"),
        ("iron-gall", {"bleed": 0}, ""),
    ],
)
def test_what_is_no_look_is_said_when_it_is_stored(medium: str, harm: dict[str, int], missed: str) -> None:
    """Before anybody counts on it: nothing was said of bare paper and of no medium."""
    (text,) = looks_missed(medium, harm, control=False) or ("",)
    assert (missed in text) if missed else not text


@pytest.mark.parametrize("sheet", ["", "Tide table"])
def test_harm_to_the_paper_is_told_beside_clean_looks_at_the_ink(
    studio: Studio, record: Record, sheet: str
) -> None:
    """Two rings of two were told as "harmed 0 of 3", with a chance of harm of three fifths beside it."""
    for _ in range(3):
        record(studio, sheet=sheet, medium="stamp-pad", release=None, harm={"bleed": 0})
    for _ in range(2):
        record(studio, sheet=sheet, medium="iron-gall", release=None, harm={"tideline": 4})
    answer = ask(studio, msgspec.structs.replace(RUBBER, sheet=sheet, medium="stamp-pad"))
    told = of(answer, "n-heptane")
    assert "harm to bare paper seen in 2 of 2, harm to stamp-pad ink" in told.reason
    assert any("2 looks for harm to bare paper, 2 harmed" in one for one in told.details)


def test_no_look_is_told_of_an_ink_that_nobody_looked_at(studio: Studio, record: Record) -> None:
    """Four looks at iron gall stood there as "letterpress, 4 of which 0 harmed"."""
    for _ in range(4):
        record(studio, sheet="", medium="iron-gall", release=None, harm={"bleed": 0, "offset": 0})
    for _ in range(3):
        record(studio, sheet="", medium="bare-paper", release=None, harm={"tideline": 4})
    told = of(ask(studio, msgspec.structs.replace(RUBBER, medium="letterpress-oil")), "n-heptane")
    assert "harm to bare paper seen in 3 of 3;" in told.reason
    assert "letterpress" not in "".join(one for one in told.details if "ooks for harm" in one)
    # What was seen on its like is said to be that.
    record(studio, sheet="", medium="iron-gall", release=None, harm={"bleed": 4})
    told = of(ask(studio, msgspec.structs.replace(RUBBER, medium="letterpress-oil")), "n-heptane")
    assert "letterpress and relief printing ink or its like seen in 1 of 5" in told.reason or (
        "harmed 1 of 5, harm to bare paper seen in 3 of 3" in told.reason
    )


def test_clean_looks_with_a_like_liquid_are_told(studio: Studio, record: Record) -> None:
    """Ten on bare paper with isooctane were "no tests near it yet" for heptane."""
    for _ in range(10):
        record(
            studio, sheet="", medium="bare-paper", parts={"isooctane": 1.0}, release=None, harm={"gloss": 0}
        )
    told = of(ask(studio, msgspec.structs.replace(RUBBER, medium="letterpress-oil")), "n-heptane")
    assert "harm to bare paper seen in 0 of 10" in told.reason
