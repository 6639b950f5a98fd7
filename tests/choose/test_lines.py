"""The first lines, the series and what comes after a spot, as the trade would have them."""

from __future__ import annotations

import re
from collections.abc import Callable

import msgspec
import pytest

from kb.book.kinds.parts import outline_text
from kb.book.kinds.patch import PatchDone
from kb.cli.main import main
from kb.desk.choose.after import no_heat
from kb.desk.choose.choose import choose
from kb.desk.choose.explain import card
from kb.desk.choose.spoken import spoken
from kb.desk.choose.words import barred, series, some, warnings
from kb.desk.errors import DeskError
from kb.desk.materials.resolve import resolve
from kb.desk.records.book_list import amend_record
from kb.desk.records.record import add_test, write
from kb.desk.sheet.sheets import add_sheet
from kb.desk.sheet.tape import add_strip
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from kb.index.kept_rows import kept
from kb.model.question import Answer, Question
from kb.science.sheet.polygons import rectangle
from tests.conftest import spot

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


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody writes in it; who does makes one of their own."""
    return untouched


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


@pytest.mark.parametrize("medium", ["letterpress-oil", "iron-gall"])
def test_what_rubber_taught_is_no_news_of_glue(new_studio: Callable[[str], Studio], medium: str) -> None:
    """Heptane that released many rubbers leads nothing on gummed tape, where handbooks say it does nothing.

    Common practice, no source: such tape is softened by moisture; where water is barred there is no liquid.
    """
    studio = new_studio("own")
    for _ in range(12):
        add_test(studio, spot(release=4, harm={"bleed": 0}))
    studio.refresh()
    asked = Question(tape="gummed-paper", adhesive="animal-glue", medium=medium, paper="paper-rag")
    assert "n-heptane" in heads(ask(studio, msgspec.structs.replace(RUBBER, medium=medium)))
    answer = ask(studio, asked)
    assert heads(answer) == (["water"] if medium == "letterpress-oil" else [])
    if medium == "iron-gall":
        assert answer.stop is not None
        assert "barred on this sheet" in answer.stop.text


def test_what_this_sheet_bars_is_named_before_what_nobody_should_use(studio: Studio) -> None:
    """Water near iron gall ink, before benzene."""
    here = [one.here for one in ask(studio, msgspec.structs.replace(STARCH, medium="iron-gall")).vetoed]
    assert here[0]
    assert not here[-1]
    assert here == sorted(here, reverse=True)


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


def test_no_peroxide_former_leads_on_an_acetate_laminate(studio: Studio) -> None:
    """Diethyl ether dissolves it and stays among the alikes; common practice, no source."""
    answer = ask(
        studio, Question(adhesive="cellulose-acetate-laminate", medium="iron-gall", paper="paper-rag")
    )
    assert heads(answer)[0] == "acetone"
    assert {"diethyl-ether", "tetrahydrofuran"}.isdisjoint(heads(answer))
    assert any(one.liquid == "diethyl-ether" for one in (*answer.suggestions, *answer.refused))


def test_a_last_resort_stands_behind_every_milder_line(studio: Studio) -> None:
    """Held back or free: what has long-term effects is never thought of first."""
    for adhesive in (
        "natural-rubber-resin",
        "acrylic",
        "silicone",
        "hot-melt-sbc",
        "cellulose-acetate-laminate",
    ):
        for medium in ("iron-gall", "letterpress-oil", "graphite"):
            lines = ask(studio, Question(adhesive=adhesive, medium=medium, paper="paper-rag")).groups
            last = [line.last_resort for line in lines]
            assert last == sorted(last), (adhesive, medium)
            assert all(not line.held or line.looks for line in lines if line.last_resort)


def test_the_harm_shown_holds_what_the_carrier_counts(studio: Studio) -> None:
    """Half of what dissolves it, where it is to stay; nothing once it is gone."""
    asked = msgspec.structs.replace(RUBBER, carrier="cellulose-acetate-film", medium="graphite")
    bare = msgspec.structs.replace(asked, carrier="none-transfer")
    with_film, without = (
        next(one for one in (*found.suggestions, *found.refused) if one.liquid == "acetone")
        for found in (ask(studio, asked), ask(studio, bare))
    )
    assert with_film.harm_carrier == 0.5
    assert without.harm_carrier == 0.0
    assert with_film.harm.p == pytest.approx(1 - (1 - without.harm.p) * 0.5, abs=1e-9)
    assert any("the carrier's" in one for one in with_film.details)


def test_a_film_that_nothing_dissolves_costs_nothing(studio: Studio) -> None:
    """Polypropylene is partly crystalline: the nearness of hydrocarbons to its centre is swelling only."""
    asked = msgspec.structs.replace(RUBBER, carrier="bopp")
    found = ask(studio, asked)
    assert all(one.harm_carrier == 0.0 for one in (*found.suggestions, *found.refused))


def test_where_the_carrier_holds_all_back_it_is_lifted_first(studio: Studio) -> None:
    """Question five of the trial: then acetone, then an ester. Common practice, no source."""
    asked = Question(
        adhesive="acrylic",
        stage="aged",
        carrier="cellulose-acetate-film",
        medium="watercolour",
        paper="paper-rag",
    )
    answer = ask(studio, asked)
    assert answer.stop is not None
    assert answer.carrier_first in answer.stop.text
    assert "Lift the carrier first" in answer.carrier_first
    assert answer.carrier_first.index("Acetone") < answer.carrier_first.index("Ethyl acetate")
    assert ask(studio, msgspec.structs.replace(asked, carrier="none-transfer")).carrier_first == ""


@pytest.mark.parametrize("adhesive", ["hot-melt-sbc", "heat-activated-acrylic"])
def test_what_warmth_does_comes_before_the_liquid(studio: Studio, adhesive: str) -> None:
    """Questions eight and twelve of the trial; the catalogue says it with its source."""
    step = ask(
        studio, Question(adhesive=adhesive, medium="letterpress-oil", paper="paper-woodpulp")
    ).next_step
    assert step.startswith("With warmth: ")
    assert step.index("heated spatula") < step.index("Test first")
    assert "warmth:" not in ask(studio, RUBBER).next_step


def test_an_unknown_medium_is_named_as_an_average(studio: Studio) -> None:
    """Nobody takes it for a medium that is known."""
    answer = ask(studio, Question(adhesive="natural-rubber-resin", paper="paper-rag"))
    first = answer.groups[0].lead
    assert first is not None
    assert "average over the listed media" in first.reason
    assert "averaged over: stage, carrier, medium" in answer.rests_on
    assert "average over" not in next(iter(ask(studio, RUBBER).suggestions)).reason


def test_stop_names_what_bars_and_no_idle_liquid(studio: Studio) -> None:
    """Animal glue on iron gall ink: water is barred there; no hydrocarbon is offered, and no damp gel."""
    answer = ask(studio, Question(adhesive="animal-glue", medium="iron-gall", paper="paper-rag"))
    assert answer.stop is not None
    assert answer.groups == ()
    assert "water is barred on this sheet" in answer.stop.text
    assert "a damp gel" not in answer.stop.text
    assert "dry removal" in answer.stop.text
    assert [one.liquid for one in answer.vetoed if one.here] == ["water"]
    assert answer.mock_up == ""


def test_a_series_that_begins_with_looks_is_no_stop(studio: Studio) -> None:
    """What clean looks would free is planned, and not declared not worth its risk."""
    answer = ask(studio, msgspec.structs.replace(RUBBER, stage="crosslinked"))
    assert answer.series
    assert answer.stop is None
    assert answer.series[0].name in answer.next_step


def test_what_is_barred_says_what_to_mind_and_do_instead(studio: Studio) -> None:
    """Copying pencil: water was barred, and nothing said that a damp blotter or breath is water too."""
    answer = ask(studio, msgspec.structs.replace(RUBBER, medium="copying-pencil"))
    here = [line for line in barred(answer) if line.startswith("Barred here: Water.")]
    assert len(here) == 1
    assert "keep damp blotters and breath away" in here[0]


def test_offset_on_coated_paper_begins_with_an_aliphatic_and_is_warned_of(studio: Studio) -> None:
    """An aliphatic was held back at 69 % for want of a grade that every other oil ink has from the same text.

    Common practice, no source: labels and tape are taken off such print with an aliphatic first.
    """
    asked = msgspec.structs.replace(
        RUBBER, medium="lithographic", paper="paper-coated", carrier="none-transfer"
    )
    answer = ask(studio, asked)
    assert studio.compiled.by_id[answer.series[0].liquid].agent == "aliphatics"
    assert answer.series[0].looks == 0
    assert any("magazines and newspapers" in text for text in warnings(answer))
    assert not any("magazines" in text for text in warnings(ask(studio, RUBBER)))


@pytest.mark.parametrize("medium", ["gilding", "gouache", "pastel-charcoal"])
def test_what_a_tape_may_take_with_it_is_said(studio: Studio, medium: str) -> None:
    """Lifting the carrier was advised over gold leaf without a word. Of paste there is none to lift."""
    taped = msgspec.structs.replace(RUBBER, medium=medium, carrier="regenerated-cellulose-film")
    assert any("come off with it" in text for text in ask(studio, taped).cautions)
    pasted = msgspec.structs.replace(STARCH, medium=medium)
    assert not any("come off with it" in text for text in ask(studio, pasted).cautions)


@pytest.mark.parametrize(
    ("back", "facing"), [("300 x 20", True), ("10 x 20", False), ("300 x 60", False), ("", False)]
)
def test_tape_that_faces_tape_is_said_beside_the_answer(
    new_studio: Callable[[str], Studio], back: str, facing: bool
) -> None:
    """That strips may be all that holds the pieces was said where nothing could be tested, and only there.

    A face is measured from its own left edge: 10 on the front lies behind 300 of the back, of 410 mm.
    """
    studio = new_studio("own")
    add_sheet(studio, {"sheet": "Map 7", "size": "410 x 560 mm"})
    for face, at in (("front", "10 x 20"), ("back", back)):
        if at:
            add_strip(studio, {"sheet": "Map 7", "face": face, "at": at, "size": "100 x 25 mm"})
    studio.refresh()
    here = msgspec.structs.replace(RUBBER, stage="", sheet="Map 7")

    def said(asked: Question) -> bool:
        answer = ask(studio, asked)
        assert answer.stop is None
        return any("strips face each other" in text for text in answer.cautions)

    assert said(here) == facing
    # What was lifted holds nothing: half of it leaves the rest, and all of it nothing.
    for x, still in ((10, facing), (60, False)):
        outline = outline_text(rectangle(x, 20, 50, 25))
        write(
            studio,
            "patch",
            PatchDone(sheet="Map 7", patch=f"F{x}", face="front", outline=outline, progress="done"),
        )
        studio.refresh()
        assert said(here) == still
    # With the carrier gone nothing is held; and so it is said in the typed line.
    assert not said(msgspec.structs.replace(here, carrier="none-transfer"))
    for tape in ("masking tape", "tape", "clear tape"):
        assert said(spoken(studio, f"{tape} both sides, letterpress, rag paper").question)
    # Ink on both faces under a glue is no tape on both.
    assert not said(spoken(studio, "animal glue, letterpress on both sides").question)
    # An outline that was corrected by hand and crosses itself: nobody knows what is left.
    front = next(row for row in kept(studio.index.conn, "strip", "Map 7") if row.body.face == "front")
    amend_record(studio, front.id, {"outline": "10,20 110,45 110,20 10,45"}, "by hand")
    studio.refresh()
    assert said(here) == facing


def test_water_is_first_on_starch_over_bare_rag(studio: Studio) -> None:
    """Nobody would begin with anything else. Common practice, no source."""
    answer = ask(studio, STARCH)
    assert heads(answer)[0] == "water"
    assert answer.stop is None


@pytest.mark.slow
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


def test_at_the_edge_of_a_sphere_no_carrier_is_said_to_dissolve(studio: Studio) -> None:
    """PVC takes up no hexane (CRREL Special Report 95-1, table 6: 0.1 %); cyclohexane is at its edge."""
    asked = msgspec.structs.replace(RUBBER, stage="crosslinked", carrier="pvc-unplasticised")
    answer = choose(studio, asked, limit=10_000)
    said = {one.liquid: one for one in (*answer.suggestions, *answer.refused)}
    assert 0 < said["cyclohexane"].harm_carrier < said["acetone"].harm_carrier
    assert "dissolves the carrier" not in said["cyclohexane"].refused
    assert "carrier" not in said["n-heptane"].refused


def test_no_siloxane_leads_a_line_on_rubber_whatever_the_carrier(
    new_studio: Callable[[str], Studio], record: Record
) -> None:
    """One report knows it, no test: it stays among the alikes, also once other tests of rubber are there."""
    studio = new_studio("own")
    for carrier in ("", "none-transfer", "crepe-paper"):
        asked = msgspec.structs.replace(RUBBER, carrier=carrier)
        assert not any("siloxane" in one for one in heads(ask(studio, asked)))
    record(studio, release=4, harm={"bleed": 0})
    for carrier in ("", "none-transfer", "crepe-paper"):
        asked = msgspec.structs.replace(RUBBER, carrier=carrier)
        assert not any("siloxane" in one for one in heads(ask(studio, asked)))


def test_after_a_failed_aliphatic_polar_liquids_rise_and_its_kin_fall(
    new_studio: Callable[[str], Studio], record: Record
) -> None:
    """The failure speaks for a later stage."""
    studio = new_studio("own")
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
    new_studio: Callable[[str], Studio], record: Record
) -> None:
    """It speaks of the paper, and leaves the liquid to be proposed."""
    studio = new_studio("own")
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
    assert printed.count("release ___") == printed.count("tideline ___") == len(answer.series)
    assert "--adhesive natural-rubber-resin --stage oily" in printed  # nobody types the question again


def test_a_line_as_one_speaks_fills_the_blanks(studio: Studio) -> None:
    """What was understood stands in the sentence, what was not is said."""
    said = spoken(studio, "brittle yellow clear tape over iron gall ink on rag paper, both sides, zebra")
    assert said.question.medium == "iron-gall"
    assert said.question.back_media == ("iron-gall",)
    assert said.question.paper == "paper-rag"
    assert said.left == ("zebra",)
    for text in (said.sentence, said.brief):
        assert text.startswith("Not understood and left out: zebra.")
        assert all(word in text for word in ("brittle", "yellow", "clear", "iron gall ink", "both sides"))
    with pytest.raises(DeskError):
        spoken(studio, "zebra crossing")


def test_words_for_what_is_seen_name_no_tape_and_no_stage(studio: Studio) -> None:
    """Many tapes are clear: which one it is, is not guessed; old cellulose film comes first by the signs."""
    said = spoken(studio, "brittle yellow clear tape over iron gall ink")
    assert (said.question.tape, said.question.adhesive, said.question.stage) == ("", "", "")
    assert set(said.question.signs) == {"hardness=brittle", "adhesive-colour=amber", "colour=clear"}
    first = said.question.may_be[0]
    assert (first.adhesive, first.stage) == ("natural-rubber-resin", "crosslinked")
    assert len(said.question.may_be) > 2
    by_name = spoken(studio, "brittle natural rubber on iron gall ink").question
    assert (by_name.adhesive, by_name.stage, by_name.may_be) == ("natural-rubber-resin", "crosslinked", ())


def test_signs_that_are_spoken_narrow_an_unknown_tape(studio: Studio) -> None:
    """Without the name of a tape, its looks weigh what it may be."""
    said = spoken(studio, "sticky glossy zebra strip over toner")
    assert said.question.adhesive == ""
    assert said.question.may_be
    assert said.left == ("zebra",)


def test_ink_alone_is_not_understood_and_said(studio: Studio) -> None:
    """Which ink is the question; beside the name of a medium the word needs no answer."""
    assert spoken(studio, "acrylic tape on drafting film with ink").left == ("ink (which?)",)
    assert spoken(studio, "acrylic tape over ink, iron gall").left == ()


@pytest.mark.parametrize("medium", ["graphite", "wax-crayon", "ballpoint"])
def test_no_last_resort_stands_beside_enough_milder_lines(studio: Studio, medium: str) -> None:
    """Dichloromethane mixtures and what destroys ozone are no news where three milder ways may be tried."""
    answer = ask(studio, msgspec.structs.replace(RUBBER, stage="induction", medium=medium, paper="paper-rag"))
    able = [line for line in answer.groups if not line.last_resort and (not line.held or line.looks)]
    assert len(able) < 3 or not any(line.last_resort for line in answer.groups)
    assert not {"1-1-1-trichloroethane", "dichloromethane"} & set(heads(answer))


def test_what_is_barred_for_one_reason_is_said_once(studio: Studio) -> None:
    """A dozen alcohols on copying pencil: one sentence, with the first names."""
    answer = ask(studio, msgspec.structs.replace(RUBBER, medium="copying-pencil"))
    said = barred(answer)
    assert len(said) == len(set(said)) <= 4
    (alcohols,) = (text for text in said if "Ethanol" in text)
    assert " more. The dye of copying pencil" in alcohols
    # "Acetone, Xylene, mixed isomers" read as three.
    assert (
        some(["Acetone", "Xylene, mixed isomers", "1,3-Dioxolane"])
        == "Acetone; Xylene, mixed isomers; 1,3-Dioxolane"
    )
    anywhere = [one for one in answer.vetoed if not one.here]
    one_of_them = msgspec.structs.replace(answer, vetoed=anywhere[:1])
    assert barred(one_of_them) == ["1 liquid is barred whatever the sheet (--json lists them)."]


def test_stop_says_what_warmth_does_to_this_adhesive(studio: Studio) -> None:
    """A hot melt on coated paper: no liquid is worth its risk, and warmth is what one would try."""
    asked = spoken(studio, "EVA hot melt on letterpress, coated paper").question
    stop = ask(studio, asked).stop
    assert stop is not None
    assert "With warmth: soft from" in stop.text


def test_what_to_do_after_a_spot_is_said_once(
    new_studio: Callable[[str], Studio], record: Record, capsys: pytest.CaptureFixture[str]
) -> None:
    """It leads the answer, and the closing lines do not say it again."""
    studio = new_studio("own")
    record(studio, sheet="Sheet A", release=4, harm={"bleed": 0, "tideline": 0})
    asked = ["--adhesive", "natural-rubber-resin", "--sheet", "Sheet A", "--studio", str(studio.root)]
    assert main(["choose", *asked]) == 0
    assert capsys.readouterr().out.count("worked here") == 1


def test_the_carrier_is_lifted_first_where_nothing_is_likely_with_it_on(studio: Studio) -> None:
    """Oily rubber under PVC: heptane is free below even odds, and the film stands between."""
    asked = msgspec.structs.replace(RUBBER, carrier="pvc-plasticised")
    answer = ask(studio, asked)
    assert answer.stop is None
    assert max(one.release.p * (1 - one.harm.p) for one in answer.suggestions) < 0.5
    assert answer.next_step.startswith("Lift the carrier first (warmth, a thin blade")
    assert "Where it stays on, test first: n-Heptane" in answer.next_step
    # Where something milder is likelier than not to do it, nobody need lift first.
    sure = msgspec.structs.replace(asked, carrier="crepe-paper", medium="bare-paper", paper="paper-rag")
    assert ask(studio, sure).carrier_first == ""


@pytest.mark.parametrize(
    ("near", "named"),
    [
        ({"medium": "wax-crayon"}, "wax crayon"),
        ({"medium": "letterpress-oil", "also_media": ("toner",)}, "photocopy and laser toner"),
        ({"medium": "iron-gall", "paper": "parchment"}, "parchment"),
        ({"medium": "thermal-fax"}, "thermal paper"),
        ({"medium": "collodion-print"}, "collodion printing-out photograph"),
    ],
)
def test_no_warmth_is_advised_where_something_near_does_not_bear_it(
    studio: Studio, near: dict[str, object], named: str
) -> None:
    """Hot glue softens at 70 degrees, and so do wax and toner."""
    asked = msgspec.structs.replace(
        Question(adhesive="eva-hot-melt", carrier="polyethylene-laminate"), **near
    )
    answer = ask(studio, asked)
    said = answer.next_step if answer.stop is None else answer.stop.text
    assert f"no hot tool here, for the sake of {named}" in said
    assert "heated spatula" not in said
    assert ", warmth," not in said
    assert "(warmth" not in answer.carrier_first


def test_warmth_is_not_advised_near_cellulose_nitrate(studio: Studio) -> None:
    """It is no sheet that suffers there, but the workshop."""
    asked = Question(adhesive="cellulose-nitrate-cement", medium="toner", paper="paper-office")
    assert no_heat(studio.compiled, asked) == ("Photocopy and laser toner", "adhesive or carrier")


def test_a_stop_names_no_more_barred_liquids_than_one_reads(studio: Studio) -> None:
    """Thirty liquids are barred from a colour photograph; who it is for is a photograph conservator."""
    asked = Question(adhesive="acrylic", carrier="none-transfer", medium="photo-dye", paper="paper-rc-photo")
    answer = ask(studio, asked)
    assert answer.stop is not None
    assert "liquids are barred on this sheet" in answer.stop.text
    assert len(answer.stop.text) < 400
    by_heat = ask(studio, Question(adhesive="acrylic", medium="toner", method="heated-spatula"))
    assert by_heat.stop is not None
    assert "this way of putting it on is barred on this sheet, so ask by another" in by_heat.stop.text
    # No line bears it, and the sheet asks for it whatever the liquid.
    assert warnings(answer)[0].startswith("This sheet: A photograph needs a photograph conservator.")
    assert warnings(answer)[0].endswith("ask before any liquid.")


def test_where_nothing_may_be_tried_what_likely_harms_leads_no_list(studio: Studio) -> None:
    """Acetone takes ballpoint off at once, and stood first, as what to try on a mock-up too: where the rule
    says to test aliphatic hydrocarbons, one of them is a line."""
    answer = ask(
        studio, Question(tape="bopp-acrylic", adhesive="acrylic", carrier="bopp", medium="ballpoint")
    )
    first, *others = [line.lead for line in answer.groups if line.lead is not None]
    assert answer.stop is not None
    assert first.liquid == "n-heptane"
    assert first.harm.p < 0.5 < min(one.harm.p for one in others)
    assert "risk. Mildest refused: n-Heptane, " in answer.stop.text
    assert answer.mock_up.endswith(": n-Heptane.")
    # Of a tape that may be several things, too: the likeliest by itself was starch, at a sixth.
    assert heads(
        ask(studio, spoken(studio, "brittle tape over ballpoint, iron gall on the back").question)
    ) == [
        "n-heptane",
        "acetone",
    ]
    # On what water sets nobody begins with a hydrocarbon, though the tape may be another by its signs.
    assert heads(ask(studio, spoken(studio, "gummed tape on iron gall ink").question)) == []


@pytest.mark.parametrize(
    ("glue", "media", "looks"),
    [
        ("dry-mount-tissue", ("lithographic",), "1 clean look with Ethanol on lithographic,"),
        ("silicone", ("carbon-copy",), "2 clean looks with Acetone on carbon"),
        ("polychloroprene-contact", ("coloured-pencil", "graphite"), "1 clean look with "),
    ],
)
def test_a_stop_says_which_look_on_the_ink_would_change_it(
    new_studio: Callable[[str], Studio], record: Record, glue: str, media: tuple[str, ...], looks: str
) -> None:
    """Nobody knows an ink before a drop was on it. Where it is clean, as foreseen, the liquid is proposed."""
    work = new_studio("own")
    on = {"adhesive": glue, "carrier": "none-transfer", "paper": "paper-rag"}
    asked = Question(**on, medium=media[0], also_media=media[1:])
    before = ask(work, asked)
    assert before.stop is not None
    rest = before.stop.text.partition("What would change that: ")[2]
    assert rest.startswith(looks)
    name = next(line for line in before.groups if f" with {line.name} on " in rest).liquid
    # That the gloss stayed says nothing of bleeding, here or on another sheet, however often it did.
    for medium in media * 4:
        unseen = {**on, "parts": {name: 1.0}, "medium": medium, "stage": ""}
        for harm in ({"gloss": 0}, {"tideline": 1, "surface": 0}):
            record(work, **unseen, sheet="S2", release=None, harm=harm)
            record(work, **unseen, sheet="S3", release=None, harm=harm)
    unmoved = ask(work, msgspec.structs.replace(asked, sheet="S2"))
    assert unmoved.stop == before.stop
    count = 8 * len(media)
    assert f"On {count} spots here bleeding, offset and colour were not looked at" in unmoved.rests_on
    for medium in media * int(rest[0]):
        spared = {**on, "parts": {name: 1.0}, "medium": medium, "stage": "", "sheet": "S1"}
        record(work, **spared, release=None, harm={"gloss": 0, "bleed": 0})
    after = ask(work, msgspec.structs.replace(asked, sheet="S1"))
    assert after.stop is None
    assert next(line for line in after.groups if line.liquid == name).held == ""


@pytest.mark.parametrize(
    "typed",
    ["yellow tape over oil paint", "old brown tape over blueprint", "acrylic tape over copying pencil"],
)
def test_no_look_is_with_what_is_harsher_than_what_was_refused_or_warned_of(
    studio: Studio, typed: str
) -> None:
    """Water was to be put on oil paint where cyclohexane was held back, acetone on a dye it may dissolve."""
    stop = ask(studio, spoken(studio, typed).question).stop
    assert stop is not None
    assert "What would change that" not in stop.text


def test_every_ink_may_be_written_down_by_the_name_that_a_stop_gives_it(studio: Studio) -> None:
    """ "Ballpoint pen ink" was nothing by that name. Two are called wax seal, and asked back."""
    for one in studio.compiled.media.values():
        short = re.sub(r" \([^)]*\)", "", one.name)
        assert one.id == "seal-beeswax" or resolve(studio, "medium", short) == one.id


@pytest.mark.parametrize("medium", ["pastel-charcoal", "albumen-print", "bare-paper", ""])
def test_no_look_is_said_where_the_sheet_asks_for_more_care(studio: Studio, medium: str) -> None:
    """Powder comes off on the swab, a photograph is a specialist's, and nobody looks at what is not named."""
    answer = ask(studio, Question(adhesive="polychloroprene-contact", carrier="none-transfer", medium=medium))
    assert answer.stop is None or "What would change that" not in answer.stop.text


def test_a_stop_for_want_of_names_asks_for_them(studio: Studio) -> None:
    """An average over all media holds some that bleed in anything."""
    answer = ask(studio, Question(adhesive="acrylic", stage="aged", carrier="flat-paper-kraft"))
    assert answer.stop is not None
    assert "Name the medium and the paper: harm is an average" in answer.stop.text


def test_hard_rubber_that_nothing_moves_is_said_to_be_so(studio: Studio) -> None:
    """What a conservator would say at a stop: take less stain for enough."""
    asked = Question(
        adhesive="natural-rubber-resin",
        stage="crosslinked",
        carrier="crepe-paper",
        medium="pastel-charcoal",
        paper="paper-dyed",
    )
    answer = ask(studio, asked)
    assert answer.stop is not None
    assert any("take less stain for enough" in text for text in warnings(answer))


@pytest.mark.parametrize(
    ("adhesive", "stage", "nearer", "first"),
    [
        ("silicone", "", 0.05, ["n-heptane", "xylene"]),
        ("hot-melt-sbc", "oily", 0.1, ["cyclohexane", "xylene"]),
        # Where the aromatic gains more it leads, and what is polar must be nearer yet to go last.
        ("eva-hot-melt", "induction", 1.0, ["xylene", "ethyl-acetate"]),
    ],
)
def test_of_equals_the_least_polar_is_tested_first(
    studio: Studio, adhesive: str, stage: str, nearer: float, first: list[str]
) -> None:
    """The ladder of the trade: silicone and hot melt yield to an aliphatic hardly less than to xylene."""
    answer = ask(studio, Question(adhesive=adhesive, stage=stage, medium="graphite", paper="paper-rag"))
    assert heads(answer)[:2] == first
    found = {one.liquid: one.release.p for one in answer.suggestions}
    aliphatic = next(one for one in heads(answer) if one in {"n-heptane", "cyclohexane"})
    assert 0 < found["xylene"] - found[aliphatic] < nearer


def test_a_glue_that_no_tape_bears_has_no_carrier(studio: Studio) -> None:
    """Nobody asks of paste or cement what film it is on."""
    answer = ask(studio, Question(adhesive="pvac-emulsion", medium="graphite", paper="paper-rag"))
    assert "carrier" not in answer.rests_on
    assert answer.question.carrier == "none-transfer"
    assert ask(studio, Question(adhesive="acrylic", medium="graphite")).question.carrier == ""


@pytest.mark.parametrize(
    ("typed", "led_by", "said"),
    [
        ("silking, letterpress, rag paper", "water", "starch or dextrin or flour paste, as is usual"),
        (
            "PE laminate, graphite, rag paper",
            "xylene",
            "held by ethylene-vinyl acetate hot glue",
        ),
        # Who names the adhesive is believed, and a tape has its own.
        ("silking, animal glue, letterpress, rag paper", "water", ""),
        ("masking tape, letterpress, rag paper", "cyclohexane", ""),
    ],
)
def test_what_no_tape_bears_is_held_by_its_usual_adhesive(
    studio: Studio, typed: str, led_by: str, said: str
) -> None:
    answer = ask(studio, spoken(studio, typed).question)
    assert answer.groups[0].liquid == led_by
    assert said in answer.rests_on if said else "Taken as held" not in answer.rests_on


@pytest.mark.parametrize("medium", ["intaglio", "letterpress-oil", "iron-gall"])
def test_the_surest_of_what_is_free_stands_on_a_line(studio: Studio, medium: str) -> None:
    """A siloxane that one report knows led the aliphatics on wax, and was no line by itself."""
    for adhesive in studio.compiled.adhesives:
        answer = choose(
            studio, Question(adhesive=adhesive, medium=medium, paper="paper-rag", carrier="none-transfer")
        )
        free = [one for one in answer.suggestions if one.familiarity >= 2]
        if free:
            on_a_line = {liquid for group in answer.groups for liquid in group.members}
            assert max(free, key=lambda one: one.release.p * (1 - one.harm.p)).liquid in on_a_line, adhesive


def test_lines_are_numbered_as_they_are_planned(studio: Studio) -> None:
    """Two orders on one screen would have the second spot made of the wrong liquid."""
    for medium in ("letterpress-oil", "graphite", "iron-gall", "ballpoint"):
        answer = ask(studio, msgspec.structs.replace(RUBBER, medium=medium))
        planned = [step.liquid for step in answer.series]
        assert heads(answer)[: len(planned)] == planned


@pytest.mark.parametrize(
    ("typed", "said", "unsaid"),
    [
        # Nothing acts, or what would is barred: no other way of putting it on helps.
        (
            "epoxy, letterpress, newsprint",
            "What else there is: warmth, dry removal",
            "another way of putting",
        ),
        ("dry mount tissue, colour photograph", "What else there is: dry removal", "a damp gel"),
        # Dry heat does nothing to starch.
        ("wheat paste, albumen print, rag paper", "another way of putting the liquid on", "warmth"),
        # The same of glues that share a name.
        ("paste, iron gall, rag paper", "water is barred on this sheet", "warmth"),
        # Silk was averaged over tapes, and heptane led on what is pasted.
        ("silk gauze, iron gall, rag paper", "water is barred on this sheet", "warmth"),
        # A gel takes powder along; and where a rule warns of water, or water does nothing, it is no damp one.
        ("school glue drips, pastel, rag paper", "another way of putting the liquid on, warmth", "gel"),
        ("tape, colour photograph", "a specialist's confined gel with very little water", "a damp gel"),
        ("acrylic residue, thermal paper", "another way of putting the liquid on, dry removal", "gel"),
        # Where no line is free it is said why, and what to name.
        ("PVA, letterpress", "Best refused: Water, harm could be as high as", "Stop and look again"),
        # Asked again with the carrier gone it is held back.
        ("pastel, masking tape", "harm 26 %, above your ceiling)", "acts like what failed"),
    ],
)
def test_a_stop_advises_nothing_that_it_denies(studio: Studio, typed: str, said: str, unsaid: str) -> None:
    answer = choose(studio, spoken(studio, typed).question)
    assert answer.stop is not None
    assert said in answer.stop.text
    assert unsaid not in answer.stop.text


def test_a_rule_for_some_of_what_a_tape_may_be_says_of_which(studio: Studio) -> None:
    """ "This film is made to keep liquids out" was said of any clear tape."""
    unsure = choose(studio, spoken(studio, "yellowed clear tape, carbon copy").question).cautions
    assert any(" If it is biaxially oriented polypropylene film (" in text for text in unsure)
    sure = choose(studio, spoken(studio, "parcel tape, carbon copy").question).cautions
    assert not any("If it is " in text for text in sure)


def test_all_that_bars_a_liquid_is_said(studio: Studio) -> None:
    """Ink and skin both bar water, and only the ink was named; what is barred anywhere needs one reason."""
    answer = choose(studio, spoken(studio, "hide glue, iron gall ink, parchment").question)
    told = next(one for one in barred(answer) if one.startswith("Barred here: Water. "))
    assert "moves iron and draws brown halos" in told
    assert "swells and cockles parchment" in told
    assert len({one.liquid for one in answer.vetoed}) == len(answer.vetoed)


@pytest.mark.parametrize(
    ("typed", "said", "unsaid"),
    [
        # Notes about the way of work stood under the answer, which said "by swab" and no more.
        (
            "rubber residue, pencil, rag paper",
            "by swab. Graphite does not dissolve, but it smears",
            "skin under",
        ),
        ("rubber residue, letterpress, newsprint", "by swab. A weak sheet can skin under", "Graphite"),
        ("wheat paste, charcoal, newsprint", "Not by swab here", "A weak sheet can skin"),
        # What lies on top is not melted or dissolved into the sheet first.
        ("candle wax, letterpress, rag paper", "Shave or crack off what lies on top first", "smears"),
        ("beeswax, letterpress, rag paper", "beeswax between 62 and 64 °C", "smears"),
        # Shellac lets go of a dye in alcohol; water softens it and does not release it.
        ("shellac, letterpress, rag paper", "Shellac can let go of a red dye in alcohol", "then Water"),
    ],
)
def test_how_to_go_about_it_stands_in_the_answer(studio: Studio, typed: str, said: str, unsaid: str) -> None:
    answer = choose(studio, spoken(studio, typed).question)
    told = " ".join((answer.next_step, series(answer), *warnings(answer)))
    assert said in told
    assert unsaid not in told
