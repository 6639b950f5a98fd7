"""Where do liquids that print reports as effective rank, by chemistry alone?

Source: the treatment reports of data/choose/reports.yaml; each names its publication (conservation journals,
institutional pages and practitioners' messages). Print evidence is switched off and the book is empty, so
the ranking does not know the reports it is measured against.
"""

from __future__ import annotations

import statistics
from typing import NamedTuple

import msgspec
import pytest

from kb.desk.choose.choose import choose
from kb.desk.studio import Studio
from kb.index.queries import entries
from kb.model.guidance import Report
from kb.model.question import Dials, Question
from kb.science.liquids.blends import blend_id, normalise
from scripts.effects import CHANGES, turned_off
from tests.published.report_scores import by_answer, by_release, cases, first_lines, score

pytestmark = pytest.mark.published


class Rank(NamedTuple):
    """Place of one reported liquid among all candidates by chance of release, 0 best, 1 worst."""

    report: str
    liquid: str
    place: float


def reported_ranks(studio: Studio, result: str) -> list[Rank]:
    """Places of the liquids that reports with a stated adhesive give this result."""
    ranks = []
    for row in entries(studio.index.conn, "report"):
        report = msgspec.json.decode(row.body, type=Report)
        wanted = {blend_id(normalise(said.parts)) for said in report.liquids if said.result == result}
        if not report.adhesive or not wanted:
            continue
        asked = Question(
            adhesive=report.adhesive,
            stage=report.stage or "",
            carrier=report.carrier or "",
            medium="bare-paper",
            paper="paper-rag",
        )
        answer = choose(studio, asked, Dials(use_print=False, ceiling=1.0, worth=1e9), limit=1000)
        order = sorted(answer.suggestions, key=lambda one: -one.release_general.p)
        chances = [one.release_general.p for one in order]
        for one in order:
            if one.liquid in wanted:
                better = sum(p > one.release_general.p + 1e-9 for p in chances)
                equal = sum(abs(p - one.release_general.p) <= 1e-9 for p in chances) - 1
                ranks.append(Rank(report.id, one.liquid, (better + equal / 2) / (len(chances) - 1)))
    return ranks


def test_reported_effective_liquids_against_chemistry_alone(studio: Studio) -> None:
    """The distribution, and floors that were seen met and that a regression would break.

    Seen when written, 17 outcomes: 6 in the best fifth, median 0.55, mean 0.49 (chance: 0.50 and 0.50).
    So chemistry of fresh polymers ranks hydrocarbons on softened rubber well and misses most of the rest:
    ageing, mixtures, water on dispersions, cuts without printed Hansen values. The ranking therefore
    starts with wide intervals and lets tests and print move it.
    """
    ranks = sorted(reported_ranks(studio, "released"), key=lambda one: one.place)
    places = [rank.place for rank in ranks]
    for rank in ranks:
        print(f"{rank.report} {rank.liquid:<50} {rank.place:.2f}")
    print(f"n {len(places)} median {statistics.median(places):.3f} mean {statistics.mean(places):.3f}")
    assert len(places) >= 17
    assert sum(place <= 0.2 for place in places) >= 6
    assert statistics.mean(places) <= 0.50


def test_hydrocarbons_on_rubber_rank_at_the_head(studio: Studio) -> None:
    """Where the fresh polymer's sphere applies, print and chemistry agree (reports r01 and r02).

    Three of the four stand within the best twentieth. n-Hexane, a larger molecule than cyclohexane at
    nearly the same place, stood in the best fifth before molar volume counted and stands at .22 since.
    """
    wanted = {"n-hexane", "cyclohexane", "toluene", "cyclohexane 50 + toluene 50"}
    ranks = [
        r for r in reported_ranks(studio, "released") if r.report in {"r01", "r02"} and r.liquid in wanted
    ]
    places = {rank.liquid: rank.place for rank in ranks}
    assert set(places) == wanted
    assert places.pop("n-hexane") <= 0.25, ranks
    assert max(places.values()) <= 0.05, ranks


def test_print_moves_the_ranking_towards_what_it_reports(studio: Studio) -> None:
    """With print evidence on, the chance of a reported liquid rises and its reports are named."""
    asked = Question(
        adhesive="natural-rubber-resin",
        stage="oily",
        carrier="regenerated-cellulose-film",
        medium="bare-paper",
        paper="paper-rag",
    )
    dials = Dials(ceiling=1.0, worth=1e9)
    with_print = {s.liquid: s for s in choose(studio, asked, dials, limit=1000).suggestions}
    without = {
        s.liquid: s
        for s in choose(studio, asked, msgspec.structs.replace(dials, use_print=False), 1000).suggestions
    }
    assert with_print["acetone"].release_general.p > without["acetone"].release_general.p
    assert any("r10" in line for line in with_print["acetone"].details)


def test_chemistry_beats_the_same_order_under_crossed_cases(studio: Studio) -> None:
    """A floor on AUC less crossed AUC (150 shuffles), print switched off, on bare rag paper.

    Ten reports name a pure liquid that released. Before the parting from paper, the size of molecules and
    the split of medium and paper: release .57 against .50 crossed, whole answer .62 against .55. Seen when
    this was written: release .75 against .56, whole answer .85 against .71. The whole answer counts how
    often a liquid is reported, each case its own report too: its crossed score carries the same.
    """
    found = cases(studio, use_print=False)
    wanted = [case.wanted for case in found]
    assert len(found) >= 10
    for name, table, floor in (("release", by_release, 0.10), ("answer", by_answer, 0.08)):
        seen = score([table(case.answer) for case in found], wanted)
        print(name, seen)
        assert seen.auc - seen.crossed >= floor, (name, seen)
        assert seen.as_good <= 0.05


def test_first_line_and_first_three_carry_news(studio: Studio) -> None:
    """Effective liquids inside the first line and the first three, against crossed cases.

    Five lines with their alikes name most of the shelf and would pass with any chemistry.
    """
    found = cases(studio, use_print=False)
    for count in (1, 3):
        true, crossed = first_lines(found, count)
        print(count, true, crossed)
        assert true > crossed + 0.05


def test_a_change_turned_off_is_off_and_then_on_again(studio: Studio) -> None:
    """What ``scripts/effects.py`` turns off tells: without all of change 2 chemistry falls towards chance."""

    def release() -> float:
        found = cases(studio, use_print=False)
        return score([by_release(case.answer) for case in found], [case.wanted for case in found]).auc

    before = release()
    for change in CHANGES[1:]:
        with turned_off(studio, change):
            if change.words.startswith("2 "):
                assert release() < before - 0.1
    assert release() == before
