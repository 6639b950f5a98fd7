"""The ranking does what a careful person expects of it."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from kb.desk.choose.choose import choose, dials_of
from kb.desk.errors import DeskError
from kb.desk.records.book_list import amend_record, withdraw_record
from kb.desk.records.record import add_test
from kb.desk.shelf.shelf import forbid
from kb.desk.studio import Studio, with_book
from kb.model.question import Answer, Dials, Possible, Question, Suggestion
from kb.science.choose.acting import logit
from tests.conftest import spot

QUESTION = Question(
    adhesive="natural-rubber-resin",
    stage="oily",
    carrier="regenerated-cellulose-film",
    medium="letterpress-oil",
    paper="paper-woodpulp",
)
Record = Callable[..., str]


def ask(studio: Studio, question: Question = QUESTION, dials: Dials | None = None) -> Answer:
    """All suggestions."""
    return choose(studio, question, dials, limit=500)


def found(answer: Answer, liquid: str) -> Suggestion:
    """The line of one liquid, proposed or refused."""
    return next(one for one in (*answer.suggestions, *answer.refused) if one.liquid == liquid)


def test_empty_book_answers_from_chemistry_and_print_and_says_so(studio: Studio) -> None:
    """With nothing tested there are still at least eight suggestions, and it is said what they rest on."""
    answer = ask(studio)
    assert len(answer.suggestions) >= 8
    assert "No test of yours bears on it yet" in answer.rests_on
    assert "reports in print" in answer.rests_on
    assert [one.rank for one in answer.suggestions] == list(range(1, len(answer.suggestions) + 1))
    assert all(one.evidence.own == one.evidence.similar == 0 for one in answer.suggestions)


def test_without_print_an_empty_book_gives_the_chemistry_prior_exactly(studio: Studio) -> None:
    """Specification, section 9: empty log and no print means p = p0 and the chemistry ranking."""
    answer = ask(studio, dials=Dials(use_print=False))
    compiled = studio.compiled
    for one in answer.suggestions:
        what = compiled.candidate(one.liquid, one.parts)
        p0 = compiled.release_p0(QUESTION.adhesive, QUESTION.stage, QUESTION.carrier, QUESTION.method, what)
        assert one.release.p == pytest.approx(p0, abs=1e-12)
        assert one.evidence.print == 0
    assert answer.rests_on.startswith("Rests on chemistry.")


def test_three_failures_move_the_first_down(studio: Studio, record: Record) -> None:
    """Recorded failures count against a liquid."""
    first = ask(studio).suggestions[0]
    for _ in range(3):
        record(studio, parts=first.parts, release=0, harm={"bleed": 0})
    after = found(ask(studio), first.liquid)
    assert after.rank > 1
    assert after.release.p < first.release.p
    assert after.evidence.own == 3


def test_three_releases_on_a_similar_tape_move_a_liquid_up(studio: Studio, record: Record) -> None:
    """Evidence from another rubber tape carries over, less than from the same."""
    before = found(ask(studio), "n-butyl-acetate")
    for _ in range(3):
        record(
            studio, adhesive="synthetic-rubber", parts={"n-butyl-acetate": 1.0}, release=4, harm={"bleed": 0}
        )
    after = found(ask(studio), "n-butyl-acetate")
    assert after.release.p > before.release.p
    assert after.index > before.index
    assert after.evidence.similar == 3
    assert after.evidence.own == 0


def test_harm_on_the_medium_moves_down_more_than_a_failed_release(
    new_studio: Callable[[str], Studio], record: Record
) -> None:
    """Harm weighs more than failure."""
    failed, harmed = new_studio("failed"), new_studio("harmed")
    before = found(ask(failed), "n-heptane")
    record(failed, release=0, harm={})
    record(harmed, release=None, harm={"bleed": 3})
    drop_failed = before.index - found(ask(failed), "n-heptane").index
    drop_harmed = before.index - found(ask(harmed), "n-heptane").index
    assert drop_harmed > drop_failed > 0


def test_not_looked_at_is_never_no_harm(studio: Studio, record: Record) -> None:
    """A test without a harm grade leaves the chance of harm exactly as it was."""
    before = found(ask(studio), "n-heptane").harm
    record(studio, release=4, harm={})
    assert found(ask(studio), "n-heptane").harm == before


def test_a_control_changes_no_release_and_a_far_material_only_what_this_bench_sees(
    studio: Studio, record: Record
) -> None:
    """Controls are not releases; starch in water speaks to rubber in heptane through the whole book only.

    So it moves every liquid by the same few logits, and counts as no test of rubber.
    """
    before = ask(studio)
    record(studio, release=4, control=True, harm={})
    assert found(ask(studio), "n-heptane").release == found(before, "n-heptane").release
    record(studio, adhesive="starch-dextrin", stage="aged", parts={"water": 1.0}, release=4, harm={})
    after = ask(studio, dials=Dials(use_print=False))
    compiled = studio.compiled
    moves = []
    for one in (found(after, "n-heptane"), found(after, "acetone"), found(after, "ethanol")):
        what = compiled.candidate(one.liquid, one.parts)
        p0 = compiled.release_p0(QUESTION.adhesive, QUESTION.stage, QUESTION.carrier, QUESTION.method, what)
        moves.append(logit(one.release.p) - logit(p0))
        assert one.evidence.own == one.evidence.similar == 0
    assert moves == pytest.approx([moves[0]] * 3)
    assert 0 < moves[0] < 0.2


@pytest.mark.slow
def test_order_of_records_does_not_matter(new_studio: Callable[[str], Studio], tmp_path: Path) -> None:
    """The same tests in any order, in one batch or many, give the same answer to the last digit."""
    rng = random.Random(7)
    liquids = ["n-heptane", "acetone", "toluene", "ethanol", "water"]
    tests = [
        spot(
            parts={rng.choice(liquids): 1.0},
            release=rng.randrange(5),
            harm={"bleed": rng.randrange(5)} if rng.random() < 0.7 else {},
            adhesive=rng.choice(["natural-rubber-resin", "acrylic", "synthetic-rubber"]),
            stage=rng.choice(["oily", "induction", "crosslinked"]),
        )
        for _ in range(60)
    ]
    answers = []
    for number in range(3):
        studio = new_studio(f"order{number}")
        for place, test in enumerate(rng.sample(tests, len(tests))):
            add_test(studio, test)
            if number == 1 or place == 30:
                studio.refresh()
        studio.refresh()
        answers.append(msgspec.json.encode(ask(studio)))
    assert answers[0] == answers[1] == answers[2]


def test_withdrawing_undoes_and_amending_redoes_the_count(studio: Studio, record: Record) -> None:
    """After a withdrawal the answer is what it was; an amended grade counts as amended."""
    empty = msgspec.json.encode(ask(studio))
    first = record(studio, release=0, harm={"bleed": 4})
    withdraw_record(studio, first, "wrong bottle")
    studio.refresh()
    assert msgspec.json.encode(ask(studio)) == empty
    second = record(studio, release=0, harm={})
    low = found(ask(studio), "n-heptane").release.p
    amend_record(studio, second, {"release": 4}, "read the wrong line")
    studio.refresh()
    assert found(ask(studio), "n-heptane").release.p > low


def test_spots_on_this_sheet_weigh_most_and_are_not_proposed_again(studio: Studio, record: Record) -> None:
    """A failed spot here lowers every liquid's chance here, and its own liquid is not suggested again."""
    here = msgspec.structs.replace(QUESTION, sheet="Tide table")
    before = ask(studio, here)
    record(studio, sheet="Tide table", release=0, harm={"bleed": 3})
    after = ask(studio, here)
    assert (
        found(after, "n-heptane").refused
        == "already tried on this sheet, where it did harm: bleed on letterpress and relief printing ink"
    )
    for one in after.suggestions[:10]:
        assert one.release.p < found(before, one.liquid).release.p
        assert one.harm.p > found(before, one.liquid).harm.p


def test_the_worst_medium_within_reach_counts(studio: Studio) -> None:
    """With several media, front and back, harm is that of the worst, and each one's chance is shown."""
    alone = ask(studio)
    both = ask(studio, msgspec.structs.replace(QUESTION, also_media=("ballpoint",), back_media=("toner",)))
    for liquid in ("toluene", "ethanol", "n-heptane"):
        one = found(both, liquid) if liquid not in {v.liquid for v in both.vetoed} else None
        if one is None:
            continue
        assert set(one.harm_by_medium) == {"letterpress-oil", "ballpoint", "toner", "bare-paper"}
        assert one.harm.p == max(chance.p for chance in one.harm_by_medium.values())
        assert one.harm_by_medium["letterpress-oil"].p == pytest.approx(found(alone, liquid).harm.p)
    assert {v.liquid for v in alone.vetoed} < {v.liquid for v in both.vetoed}


def test_a_caution_vetoes_and_the_list_says_why(studio: Studio) -> None:
    """Water on copying pencil is not a matter of probabilities."""
    asked = msgspec.structs.replace(QUESTION, medium="copying-pencil")
    answer = ask(studio, asked)
    vetoed = {one.liquid: one for one in answer.vetoed}
    assert "water" in vetoed
    assert vetoed["water"].text
    assert all(one.liquid != "water" for one in (*answer.suggestions, *answer.refused))


def test_ceiling_and_aversion_only_narrow(studio: Studio) -> None:
    """A lower ceiling gives a subset; more aversion never raises an index."""
    usual, cautious = ask(studio), ask(studio, dials=Dials(ceiling=0.3))
    assert {one.liquid for one in cautious.suggestions} <= {one.liquid for one in usual.suggestions}
    averse = ask(studio, dials=Dials(harm_aversion=32))
    for one in usual.suggestions:
        assert found(averse, one.liquid).index <= one.index


def test_no_test_is_proposed_when_none_is_worth_its_risk(studio: Studio) -> None:
    """The list stops, and names the best of the refused."""
    answer = ask(studio, dials=Dials(worth=0.01))
    assert answer.suggestions == ()
    assert answer.stop is not None
    assert answer.stop.best_refused
    assert "No test is worth its risk" in answer.stop.text


def test_unknown_features_are_averaged_and_named(studio: Studio) -> None:
    """Nothing stated at all still gives an answer that says what it does not know."""
    answer = ask(studio, Question())
    assert "adhesive, stage, carrier, medium, paper" in answer.rests_on


def test_an_unknown_tape_is_averaged_over_what_it_may_be(studio: Studio) -> None:
    """Signs narrow the average; the mean lies between those of what is possible."""
    unknown = msgspec.structs.replace(QUESTION, adhesive="", stage="", carrier="")
    both = msgspec.structs.replace(
        unknown,
        may_be=(
            Possible(adhesive="natural-rubber-resin", stage="oily", carrier="", weight=0.5),
            Possible(adhesive="starch-dextrin", stage="aged", carrier="", weight=0.5),
        ),
    )
    free = Dials(ceiling=1.0, worth=1e9)
    rubber = msgspec.structs.replace(unknown, adhesive="natural-rubber-resin", stage="oily")
    starch = msgspec.structs.replace(unknown, adhesive="starch-dextrin", stage="aged")
    for liquid in ("n-heptane", "ethanol"):
        mean = found(ask(studio, both, free), liquid).release_general.p
        ends = [found(ask(studio, q, free), liquid).release_general.p for q in (rubber, starch)]
        assert mean == pytest.approx(sum(ends) / 2, abs=1e-9)
    assert "things it may be." in ask(studio, both).rests_on
    seen = msgspec.structs.replace(both, signs=("hardness=brittle",))
    assert "things its signs leave possible" in ask(studio, seen).rests_on


def test_the_shelf_bounds_what_is_proposed(studio: Studio) -> None:
    """A liquid that the studio forbids is not proposed, and the answer says why."""
    first = ask(studio).suggestions[0].liquid
    forbid(studio, liquids=[first], why="no hexane ring in this room", rule="building")
    answer = ask(studio)
    assert all(first not in one.parts for one in (*answer.suggestions, *answer.refused))
    assert any(one.liquid == first and "no hexane ring" in one.why for one in answer.left_out)


def test_similar_tapes_are_counted_once_each(studio: Studio, record: Record) -> None:
    """Seven tests on three kinds of tape are told as such."""
    for carrier in ("regenerated-cellulose-film", "crepe-paper", "cloth"):
        record(studio, carrier=carrier, release=3, harm={"bleed": 0})
        record(studio, carrier=carrier, release=3, harm={"bleed": 0})
    assert "6 earlier tests on 3 similar tapes: released 6" in found(ask(studio), "n-heptane").reason


def test_a_blend_that_was_tested_is_proposed_again(studio: Studio, record: Record) -> None:
    """The book's own blends are candidates with their parts."""
    parts = {"n-heptane": 0.7, "ethanol": 0.3}
    record(studio, parts=parts, release=4, harm={"bleed": 0})
    one = found(ask(studio), "n-heptane 70 + ethanol 30")
    assert one.parts == pytest.approx(parts)
    assert one.evidence.own == 1


@pytest.mark.slow
def test_a_named_book_file_stands_in_for_the_studio(studio: Studio, record: Record, tmp_path: Path) -> None:
    """--book answers from that file alone and writes nothing."""
    record(studio, release=0, harm={})
    file = next((studio.root / "book").glob("*.jsonl"))
    other = with_book(Studio(tmp_path / "nobody"), file)
    assert msgspec.json.encode(ask(other)) == msgspec.json.encode(ask(studio))
    assert not (tmp_path / "nobody").exists()


@pytest.mark.parametrize("wrong", [{"ceiling": 0.0}, {"worth": -1.0}, {"harm_aversion": float("nan")}])
def test_dials_that_cannot_be_meant_are_refused(wrong: dict[str, float]) -> None:
    """Each with a sentence."""
    with pytest.raises(DeskError, match="usual"):
        dials_of(Dials(), **wrong)  # type: ignore[arg-type]
