"""A tape that is not known: its signs are kept, its tests count in proportion, and amending moves them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from kb.book.kinds.spot_test import SpotTest
from kb.desk.choose.choose import choose
from kb.desk.choose.may_be import components, for_record, from_record, with_signs
from kb.desk.choose.rule import bearing, perhaps
from kb.desk.choose.spoken import spoken
from kb.desk.identify.keep import keep_with_sheet
from kb.desk.records.book_list import amend_record, withdraw_record
from kb.desk.records.record import add_test, show_test
from kb.desk.sheet.names import sheet_record
from kb.desk.sheet.sheets import add_sheet
from kb.desk.studio import Studio
from kb.index.rows import WHOLE
from kb.model.guidance import When
from kb.model.question import Question, Suggestion
from kb.tui.screens.choose.ranking import evidence
from kb.tui.screens.choose.ranking import tests as counted
from tests.conftest import spot

SIGNS = {"made-of": "film", "gloss": "glossy", "colour": "clear", "adhesive-colour": "amber"}
AGED = Question(adhesive="natural-rubber-resin", medium="graphite", paper="paper-rag")


def unknown(studio: Studio, **fields: object) -> SpotTest:
    """A release on a tape that only its signs tell of."""
    asked = with_signs(studio, Question(), SIGNS)
    usual = {"adhesive": "", "stage": "", "carrier": "", "medium": "graphite", "paper": "paper-rag"}
    return spot(**{**usual, "signs": asked.signs, "may_be": for_record(asked), **fields})


def of(studio: Studio, question: Question, liquid: str = "n-heptane") -> Suggestion:
    """What is said of one liquid."""
    answer = choose(studio, question, limit=10_000)
    return next(one for one in (*answer.suggestions, *answer.refused) if one.liquid == liquid)


def cells(studio: Studio) -> dict[str, int]:
    """Parts of tests by adhesive."""
    sql = "SELECT adhesive, sum(g0 + g1 + g2 + g3 + g4) FROM part_cell GROUP BY 1"
    return dict(studio.index.conn.execute(sql).fetchall())


def test_a_test_on_an_unknown_tape_moves_the_next_ranking_in_proportion(studio: Studio) -> None:
    """Less than a test on a tape that is known, more than none; and it is told, not counted as a test."""
    before = of(studio, AGED).release.p
    id = add_test(studio, unknown(studio, release=4)).id
    in_part = of(studio, AGED)
    may_be = show_test(studio, id).test.may_be
    rubber = sum(chance for what, chance in may_be.items() if what.startswith("natural-rubber-resin/"))
    assert 0.1 < rubber < 0.95
    assert cells(studio)["natural-rubber-resin"] == pytest.approx(rubber * WHOLE, abs=len(may_be))
    assert in_part.evidence.in_part == pytest.approx(rubber, abs=0.01)
    assert in_part.evidence.own == in_part.evidence.similar == 0
    assert "surely this" in in_part.reason
    assert f"own on tapes not known for sure counted as {in_part.evidence.in_part:.1f}" in counted(in_part)
    assert evidence(in_part) == "own? <1"
    amend_record(studio, id, {"adhesive": "natural-rubber-resin"}, "infrared says so")
    whole = of(studio, AGED)
    assert before < in_part.release.p < whole.release.p
    assert (whole.evidence.own + whole.evidence.similar, whole.evidence.in_part) == (1, 0.0)


def test_parts_make_a_liquid_known_in_proportion(studio: Studio) -> None:
    """The chances of what the tape may be sum to one test, and another glue hears of it too."""
    liquid = "cyclopentanone"
    assert of(studio, AGED, liquid).familiarity == 0.0
    add_test(studio, unknown(studio, release=1, parts={liquid: 1.0}))
    studio.refresh()
    once = of(studio, AGED, liquid).familiarity
    assert 0.9 < once < 1.1
    add_test(studio, unknown(studio, release=1, parts={liquid: 1.0}, adhesive="acrylic", may_be={}))
    studio.refresh()
    assert 0.9 < of(studio, AGED, liquid).familiarity - once < 1.1


def test_amending_the_tape_moves_the_counts(studio: Studio) -> None:
    """From what it might be to what it is; another glue gains, rubber keeps nothing."""
    id = add_test(studio, unknown(studio, release=4)).id
    assert cells(studio)
    amend_record(studio, id, {"tape": "masking-rubber"}, "seen on the roll")
    assert not cells(studio)
    adhesive = studio.compiled.tapes["masking-rubber"][1]
    sql = "SELECT adhesive, g4 FROM release_cell"
    assert studio.index.conn.execute(sql).fetchall() == [(adhesive, 1)]


def test_withdrawing_takes_the_parts_out(studio: Studio) -> None:
    """As if it had never been."""
    before = of(studio, AGED)
    id = add_test(studio, unknown(studio, release=0)).id
    assert of(studio, AGED).release.p < before.release.p
    withdraw_record(studio, id, "wrong bottle")
    assert not cells(studio)
    assert of(studio, AGED) == before


@pytest.mark.slow
def test_parts_add_up_the_same_when_the_index_is_derived_anew(studio: Studio, tmp_path: Path) -> None:
    """One by one or all at once."""
    for release in (0, 3, 4):
        add_test(studio, unknown(studio, release=release))
        studio.refresh()
    grown = studio.index.conn.execute("SELECT * FROM release_sum ORDER BY 1, 2, 3, 4").fetchall()
    shutil.copytree(studio.book_dir, tmp_path / "anew" / "book")
    assert (
        Studio(tmp_path / "anew")
        .index.conn.execute("SELECT * FROM release_sum ORDER BY 1, 2, 3, 4")
        .fetchall()
        == grown
    )


def test_a_stage_seen_on_the_spot_holds(studio: Studio) -> None:
    """The signs say what the tape may be; what the record says itself comes first."""
    add_test(studio, unknown(studio, release=4, stage="oily"))
    stages = {row[0] for row in studio.index.conn.execute("SELECT DISTINCT stage FROM part_cell")}
    assert stages == {"oily"}


def test_the_identification_is_kept_with_the_sheet_and_serves_its_question(studio: Studio) -> None:
    """Signs and chances; the next question about the sheet is averaged over them."""
    keep_with_sheet(studio, "Plan 1", SIGNS, new=True)
    sheet = sheet_record(studio, "Plan 1")
    assert sheet.signs == tuple(f"{look}={found}" for look, found in SIGNS.items())
    assert sum(sheet.may_be.values()) == pytest.approx(1)
    assert "Rests on" in sheet.identified
    answer = choose(studio, Question(sheet="Plan 1", medium="graphite", paper="paper-rag"))
    assert {(p.adhesive, p.stage) for p in answer.question.may_be} == {
        (p.adhesive, p.stage) for p in from_record(sheet.may_be)
    }
    keep_with_sheet(studio, "Plan 1", {**SIGNS, "tack": "none", "hardness": "brittle"})
    later = sheet_record(studio, "Plan 1")
    assert len(later.signs) == 6
    assert later.may_be != sheet.may_be


@pytest.mark.parametrize("may_be", [{"a/b": 1.0}, {"a/b/c": 0.4}, {"a/b/c": 1.4, "d/e/f": -0.4}])
def test_chances_that_cannot_be_are_refused(studio: Studio, may_be: dict[str, float]) -> None:
    """Nothing is written."""
    from kb.desk.errors import DeskError

    with pytest.raises(DeskError, match="may be"):
        add_test(studio, spot(adhesive="", may_be=may_be))


@pytest.mark.parametrize("signs", [{"stretch": "not-at-all"}, {"gloss": "glossy"}, SIGNS, {}])
def test_what_lies_within_reach_is_minded_whatever_the_tape_may_be(
    studio: Studio, signs: dict[str, str]
) -> None:
    """Also where the signs leave many tapes, none of them likely: an ink is no less at stake for that."""
    asked = with_signs(studio, Question(medium="copying-pencil", paper="paper-rag"), signs)
    answer = choose(studio, asked, limit=10_000)
    assert "water" in {one.liquid for one in answer.vetoed}
    assert len(answer.vetoed) > 20


def test_many_unlikely_tapes_of_one_adhesive_make_a_caution_about_it(studio: Studio) -> None:
    """Ten at a twentieth each are a half together; one alone would bar liquids for nothing."""
    rubber = Question(adhesive="natural-rubber-resin", stage="crosslinked")
    other = Question(adhesive="acrylic")
    rule = next(
        one.id
        for one in studio.compiled.cautions
        if "natural-rubber-resin" in one.when.adhesives and "crosslinked" in one.when.stages
    )
    assert rule in bearing(studio.compiled, [*[(0.05, rubber)] * 10, (0.5, other)])
    assert rule not in bearing(studio.compiled, [(0.05, rubber), (0.95, other)])


def test_a_sheet_without_a_tape_leaves_a_glue_a_glue(studio: Studio) -> None:
    """With any sheet named acetone led for glue on parchment."""
    add_sheet(studio, {"sheet": "P9", "paper": "parchment"})
    add_sheet(studio, {"sheet": "P10", "paper": "parchment", "tapes": "masking tape on the back"})
    bare = spoken(studio, "glue on pencil", Question(sheet="P9"))
    assert (len(bare.question.may_be), bare.left) == (4, ())
    stop = choose(studio, bare.question).stop
    assert stop is not None
    assert stop.text.startswith("No test is worth its risk: water is barred on this sheet")
    taped = spoken(studio, "glue on pencil", Question(sheet="P10"))
    assert (taped.question.may_be, taped.left) == ((), ("glue (which?)",))


def test_a_rule_for_some_names_two_and_says_that_there_are_more() -> None:
    """The chance is that of all that meet it, and read as that of the two."""
    may_be = [(0.2, Question(adhesive=one)) for one in ("acrylic", "rubber", "silicone", "paste")]
    assert perhaps({}, may_be, When(adhesives=("acrylic", "rubber"))) == "If it is acrylic or rubber (40 %): "
    three = When(adhesives=("acrylic", "rubber", "silicone"))
    assert perhaps({}, may_be, three) == "If it is acrylic, rubber or another (60 %): "
    assert perhaps({}, may_be, When(adhesives=("paste",))) == "If it is paste (20 %): "


def test_what_is_not_known_is_looked_at_before_any_liquid(studio: Studio) -> None:
    """Paste and rubber are too unlike for one liquid, and a look marks nothing."""
    unlike = with_signs(
        studio, Question(medium="carbon-ink", paper="paper-rag"), {"adhesive-colour": "amber"}
    )
    answer = choose(studio, unlike)
    said = answer.stop.text if answer.stop is not None else answer.next_step
    assert "before any liquid: What is the strip made of? " in said
    residue = choose(studio, Question(medium="carbon-ink", paper="paper-rag", carrier="none-transfer"))
    assert "before any liquid" in residue.next_step
    assert "strip" not in residue.next_step
    known = choose(studio, Question(adhesive="natural-rubber-resin", medium="carbon-ink", paper="paper-rag"))
    assert "before any liquid" not in known.next_step


@pytest.mark.parametrize("signs", [{}, {"tack": "strong"}])
@pytest.mark.parametrize("carrier", ["plastic-foam", "pvc-unplasticised", "cloth-coated"])
def test_a_carrier_that_is_seldom_met_narrows(studio: Studio, carrier: str, signs: dict[str, str]) -> None:
    """Its tapes are too unlikely for the list, so that rigid PVC was averaged over paste and gummed paper."""
    asked = with_signs(studio, Question(carrier=carrier), signs)
    borne = {adhesive for _, adhesive, on in studio.compiled.tapes.values() if on == carrier}
    assert {one.question.adhesive for one in components(studio, asked)} == borne


@pytest.mark.parametrize("typed", ["fresh clear tape, letterpress", "fresh tape, letterpress"])
def test_what_is_fresh_may_be_rubber(studio: Studio, typed: str) -> None:
    """The first stage of rubber is called induction, and "fresh" had every rubber tape fall out."""
    may_be = components(studio, spoken(studio, typed).question)
    groups = {studio.compiled.adhesives[one.adhesive].group for _, one in may_be if one.adhesive}
    assert {"rubber", "acrylic"} <= groups
    assert {one.stage for _, one in may_be} == {"fresh"}
