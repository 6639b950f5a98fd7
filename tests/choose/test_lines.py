"""The first lines, the series and what comes after a spot, as the trade would have them."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import pytest

from kb.desk.choose.card import card
from kb.desk.choose.choose import choose
from kb.desk.choose.spoken import spoken
from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from kb.model.question import Answer, Question

RUBBER = Question(
    adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil", paper="paper-woodpulp"
)
STARCH = Question(adhesive="starch-dextrin", medium="bare-paper", paper="paper-rag")
Record = Callable[..., str]


def ask(studio: Studio, question: Question) -> Answer:
    """Everything that is ranked."""
    return choose(studio, question, limit=500)


def heads(answer: Answer) -> list[str]:
    """Leaders of the lines."""
    return [line.liquid for line in answer.groups]


def family(compiled: Compiled, liquid: str) -> str:
    """The wider family of a pure liquid."""
    return compiled.by_id[liquid].related


@pytest.mark.parametrize("stage", ["induction", "oily", "crosslinked"])
def test_at_most_seven_lines_without_oddities(studio: Studio, stage: str) -> None:
    """Few lines, pure known liquids lead, no siloxane, nobody unknown."""
    answer = ask(studio, msgspec.structs.replace(RUBBER, stage=stage))
    assert 1 <= len(answer.groups) <= 7
    compiled = studio.compiled
    for liquid in heads(answer):
        assert liquid in compiled.by_id, "a blend leads no line"
        assert family(compiled, liquid) != "siloxanes"
        assert compiled.by_id[liquid].named >= 1


def test_each_liquid_stands_in_one_line(studio: Studio) -> None:
    """Lines share no member, and a line's head is one of its members."""
    answer = ask(studio, RUBBER)
    members = [one for line in answer.groups for one in line.members]
    assert len(members) == len(set(members))
    assert all(line.liquid in line.members for line in answer.groups)


def test_n_hexane_stands_behind_heptane_and_white_spirit(studio: Studio) -> None:
    """Hazard decides among equals, and long-term effects stand behind a milder one as good."""
    order = [one.liquid for one in ask(studio, RUBBER).suggestions]
    assert order.index("n-hexane") > order.index("n-heptane")
    assert order.index("n-hexane") > order.index("white-spirit-low-aromatic")


def test_a_polar_liquid_is_among_the_first_four_on_cross_linked_rubber(studio: Studio) -> None:
    """Age changes the order: alcohol, ketone or ester comes up. Common practice, no source."""
    answer = ask(studio, msgspec.structs.replace(RUBBER, stage="crosslinked"))
    polar = {"ethanol", "acetone"}
    assert any(studio.compiled.by_id[one].agent in polar for one in heads(answer)[:4])


def test_no_peroxide_former_and_nothing_with_long_term_effects_leads_where_a_milder_one_acts(
    studio: Studio,
) -> None:
    """Diethyl ether and THF are alikes, n-hexane and toluene too."""
    barred = {"diethyl-ether", "tetrahydrofuran", "1-4-dioxane", "n-hexane", "toluene", "benzene"}
    for stage in ("induction", "oily", "crosslinked"):
        answer = ask(studio, msgspec.structs.replace(RUBBER, stage=stage))
        assert barred.isdisjoint(heads(answer))


def test_water_is_first_on_starch_over_bare_rag(studio: Studio) -> None:
    """Nobody would begin with anything else. Common practice, no source."""
    answer = ask(studio, STARCH)
    assert heads(answer)[0] == "water"
    assert answer.stop is None


def test_adding_a_medium_never_lowers_harm(studio: Studio) -> None:
    """Bare paper has no binder: any print on it can only be harmed in addition."""
    bare = ask(studio, STARCH)
    harm = {one.liquid: one.harm.p for one in (*bare.suggestions, *bare.refused)}
    for medium in sorted(studio.compiled.media):
        answer = ask(studio, msgspec.structs.replace(STARCH, medium=medium))
        for one in (*answer.suggestions, *answer.refused):
            if one.liquid in harm:
                assert one.harm.p >= harm[one.liquid] - 1e-12, (medium, one.liquid)


def test_silicone_is_not_left_to_water_or_acetone(studio: Studio) -> None:
    """Trap of the trial: the staged response of dispersions gave water .78 on silicone."""
    answer = ask(studio, Question(adhesive="silicone", medium="graphite", paper="paper-rag"))
    chances = {one.liquid: one.release.p for one in (*answer.suggestions, *answer.refused)}
    assert chances.get("water", 0.0) < 0.2
    assert chances["acetone"] < chances["n-heptane"]


def test_an_acetate_carrier_holds_acetone_back_and_says_so(studio: Studio) -> None:
    """Lift the carrier first, then ask again: without it acetone is freed."""
    asked = Question(
        adhesive="acrylic",
        stage="aged",
        carrier="cellulose-acetate-film",
        medium="bare-paper",
        paper="paper-rag",
    )
    with_film = ask(studio, asked)
    found = {one.liquid: one for one in (*with_film.suggestions, *with_film.refused)}
    bare = ask(studio, msgspec.structs.replace(asked, carrier="none-transfer"))
    without = {one.liquid: one for one in (*bare.suggestions, *bare.refused)}
    assert "dissolves the carrier" in found["acetone"].reason
    assert without["acetone"].index > found["acetone"].index
    assert not without["acetone"].refused


def test_a_release_leads_the_answer_as_worked_here(studio: Studio, record: Record) -> None:
    """A success is no refusal: control, next day and UV, larger area."""
    record(studio, sheet="Tide table", release=4, harm={"bleed": 0})
    answer = ask(studio, msgspec.structs.replace(RUBBER, sheet="Tide table"))
    assert [one.liquid for one in answer.worked_here] == ["n-heptane"]
    assert answer.next_step == answer.worked_here[0].text
    assert all(word in answer.next_step for word in ("control", "next day", "UV", "larger area"))


def test_a_tideline_asks_for_another_way_of_the_same_liquid(studio: Studio, record: Record) -> None:
    """Less, gel, suction, vapour: not another liquid."""
    record(studio, sheet="Tide table", release=4, harm={"tideline": 3})
    answer = ask(studio, msgspec.structs.replace(RUBBER, sheet="Tide table"))
    assert answer.worked_here == ()
    assert len(answer.other_ways) == 1
    assert all(word in answer.other_ways[0] for word in ("n-heptane", "tideline", "gel", "suction"))


def test_bleeding_asks_for_no_other_way(studio: Studio, record: Record) -> None:
    """An ink that dissolves does so in a gel too."""
    record(studio, sheet="Tide table", release=4, harm={"bleed": 3})
    assert ask(studio, msgspec.structs.replace(RUBBER, sheet="Tide table")).other_ways == ()


def test_after_a_failed_aliphatic_polar_liquids_rise_and_its_kin_fall(studio: Studio, record: Record) -> None:
    """The failure speaks for a later stage."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    first = ask(studio, here)
    before = {one.liquid: one for one in (*first.suggestions, *first.refused)}
    record(studio, sheet="Tide table", release=0, harm={"bleed": 0})
    again = ask(studio, here)
    after = {one.liquid: one for one in (*again.suggestions, *again.refused)}
    assert after["isooctane"].release.p < before["isooctane"].release.p
    assert after["ethanol"].release.p / after["isooctane"].release.p > (
        before["ethanol"].release.p / before["isooctane"].release.p
    )


def test_a_clean_look_on_bare_paper_lowers_harm_a_little_and_is_no_trial(
    studio: Studio, record: Record
) -> None:
    """It speaks of the paper, and leaves the liquid to be proposed."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    before = {one.liquid: one for one in ask(studio, here).suggestions}["n-heptane"]
    record(studio, sheet="Tide table", medium="bare-paper", release=None, harm={"tideline": 0})
    after = {one.liquid: one for one in ask(studio, here).suggestions}["n-heptane"]
    assert after.harm.p < before.harm.p
    assert not after.refused


def test_the_series_uses_each_line_once_and_says_every_outcome(studio: Studio) -> None:
    """Three outcomes for each spot, the last ends; the chance of the whole is above that of the first."""
    answer = ask(studio, RUBBER)
    liquids = [step.liquid for step in answer.series]
    assert 2 <= len(liquids) == len(set(liquids)) <= 7
    assert all(step.if_releases and step.if_not and step.if_harms for step in answer.series)
    assert [step.if_not for step in answer.series[:-1]] == [step.name for step in answer.series[1:]]
    whole, first = answer.expected_spots, answer.series[0]
    assert whole is not None
    assert first.release * (1 - first.harm) <= whole.release < 1
    assert whole.spots >= 1
    printed = card(answer)
    assert all(step.name in printed for step in answer.series)
    assert "harm 0 1 2 3 4" in printed


def test_a_line_as_one_speaks_fills_the_blanks(studio: Studio) -> None:
    """What was understood stands in the sentence, what was not is said."""
    said = spoken(studio, "brittle yellow clear tape over iron gall ink on rag paper, both sides, zebra")
    assert said.question.tape == "clear-cellulose-film-rubber"
    assert said.question.stage == "crosslinked"
    assert said.question.medium == "iron-gall"
    assert said.question.back_media == ("iron-gall",)
    assert said.question.paper == "paper-rag"
    assert said.left == ("zebra",)
    assert "zebra" in said.sentence
    with pytest.raises(DeskError):
        spoken(studio, "zebra crossing")


def test_signs_that_are_spoken_narrow_an_unknown_tape(studio: Studio) -> None:
    """Without the name of a tape, its looks weigh what it may be."""
    said = spoken(studio, "sticky glossy strip over toner")
    assert said.question.adhesive == ""
    assert said.question.may_be
    assert said.left == ("strip",)
