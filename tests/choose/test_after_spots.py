"""What comes after a spot on the sheet: what is next, what is barred, and what is said to have worked."""

from __future__ import annotations

from itertools import permutations

import msgspec
import pytest

from kb.book.kinds.spot_test import HARM_KINDS
from kb.desk.choose.explain import AGAIN, card
from kb.desk.choose.weigh import DID_HARM, HARMED_HERE
from kb.desk.choose.words import before_spot, numbers
from kb.desk.shelf.shelf import forbid, hold
from kb.desk.studio import Studio
from kb.model.question import Answer, Question
from kb.science.liquids.blends import blend_id
from tests.choose.test_lines import RUBBER, STARCH, Record, ask, family


@pytest.mark.parametrize("clean", [0, 8])
def test_what_acts_like_what_bled_here_is_not_proposed(studio: Studio, record: Record, clean: int) -> None:
    """Heptane freed the tape and moved the ink: cyclohexane was the one liquid proposed next, at 36 % harm.

    However many clean tests there are elsewhere. Common practice, no source.
    """
    for _ in range(clean):
        record(studio, sheet="Elsewhere", parts={"n-heptane": 1.0}, release=4, harm={"bleed": 0})
    here = msgspec.structs.replace(RUBBER, sheet="Tide table", carrier="crepe-paper")
    record(studio, sheet="Tide table", parts={"n-heptane": 1.0}, release=3, harm={"bleed": 3})
    answer = ask(studio, here)
    of, shelf = family(studio.compiled, "n-heptane"), studio.compiled.by_id
    kin = {one for one in shelf if family(studio.compiled, one) == of}
    assert len(kin) > 5
    # Nor what chemistry holds to be harsher on the same ink.
    kin |= {"xylene", "toluene", "acetone", "ethyl-acetate"}
    assert not {one.liquid for one in answer.suggestions} & kin
    assert not {one.liquid for one in answer.series} & kin
    why = {one.liquid: one.refused for one in answer.refused}
    assert why["cyclohexane"] == HARMED_HERE
    assert not any(name in answer.carrier_first + answer.mock_up for name in ("Heptane", "Cyclohexane"))
    # What dissolves does so in a gel too, but another ink is not this one.
    assert kin_of_harm(ask(studio, msgspec.structs.replace(here, method="gel")))
    assert not kin_of_harm(ask(studio, msgspec.structs.replace(here, medium="iron-gall")))


def kin_of_harm(answer: Answer) -> set[str]:
    """What is held back because it, or its like, did harm on the sheet."""
    return {one.liquid for one in answer.refused if one.refused.startswith((HARMED_HERE, DID_HARM))}


@pytest.mark.parametrize(
    ("spot", "said"),
    [
        ({"medium": "iron-gall"}, "bleed and tideline on iron gall ink"),
        ({"medium": ""}, "bleed and tideline, no medium named"),
        ({"medium": "stamp-pad"}, "bleed and tideline on stamp-pad ink and ownership stamps"),
        ({"medium": "bare-paper", "release": None}, "bleed and tideline on bare paper"),
    ],
)
def test_what_did_harm_here_is_told_with_its_harm(
    studio: Studio, record: Record, spot: dict[str, str | None], said: str
) -> None:
    """The answer had "already tried" for what had bled, and no word of it in what people read."""
    here = msgspec.structs.replace(RUBBER, medium="iron-gall", sheet="Chart")
    harm = {"bleed": 3, "tideline": 2, "gloss": 1}
    record(studio, **{"sheet": "Chart", "parts": {"acetone": 1.0}, "release": 1, "harm": harm} | spot)
    record(studio, sheet="Chart", parts={"n-heptane": 1.0}, medium="iron-gall", release=1, harm={"bleed": 0})
    answer = ask(studio, here)
    why = {one.liquid: one.refused for one in answer.refused}
    tried = "already tried on this sheet, where it did harm" if spot.get("release", 1) else DID_HARM
    assert why["acetone"] == f"{tried}: {said}"
    assert why["n-heptane"] == "already tried on this sheet"
    assert f"Harm was seen on this sheet: Acetone ({said})." in answer.rests_on
    # A look that passed the ink by took the sentence away.
    record(studio, sheet="Chart", medium="iron-gall", parts={"water": 1.0}, release=1, harm={"gloss": 0})
    rests = ask(studio, here).rests_on
    assert f"Harm was seen on this sheet: Acetone ({said})." in rests
    assert "On 1 spot here bleeding" in rests
    assert "Harm was seen" not in ask(studio, msgspec.structs.replace(here, sheet="")).rests_on


def test_what_was_clean_outweighs_what_is_less_like(studio: Studio, record: Record) -> None:
    """Isooctane left the ink alone; that a third of ester in it did not, says nothing against heptane."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    blend = {"isooctane": 0.7, "ethyl-acetate": 0.3}
    record(studio, sheet="Tide table", parts=blend, release=None, harm={"bleed": 2})
    assert "n-heptane" in kin_of_harm(ask(studio, here))
    record(studio, sheet="Tide table", parts={"isooctane": 1.0}, release=None, harm={"bleed": 0})
    answer = ask(studio, here)
    assert "n-heptane" not in kin_of_harm(answer)
    assert "ethyl-acetate" in kin_of_harm(answer)


def test_a_blend_harms_by_each_of_its_parts(studio: Studio, record: Record) -> None:
    """Ethanol moved the ink: heptane with propan-2-ol in it is no milder way of the same."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table", medium="carbon-ink")
    blend = {"n-heptane": 0.7, "propan-2-ol": 0.3}
    record(studio, sheet="Elsewhere", parts=blend, release=4, harm={"bleed": 0})
    record(
        studio,
        sheet="Tide table",
        medium="carbon-ink",
        parts={"ethanol": 1.0},
        release=None,
        harm={"bleed": 3},
    )
    assert "n-heptane 70 + propan-2-ol 30" in kin_of_harm(ask(studio, here))
    assert "n-heptane" not in kin_of_harm(ask(studio, here))


@pytest.mark.parametrize(
    ("seen", "bars", "spares"),
    [
        # What bled bars what holds it or its like; not where the part itself, or the blend, was clean.
        ([("E", 3)], "E P HE HP", "H"),
        ([("E", 3), ("P", 0)], "E HE", "H P HP"),
        ([("E", 3), ("HE", 0)], "E P", "H HE HP"),
        ([("E", 3), ("HE", 0), ("HE", 2)], "E P HE HP", ""),
        # Of a blend that bled the harshest part is blamed, and its like, unless it was clean alone.
        ([("HE", 3)], "E P HE HP", "H"),
        ([("HE", 3), ("E", 0)], "HE HP", "H E"),
    ],
)
def test_a_blend_and_its_parts_speak_for_each_other(
    studio: Studio, record: Record, seen: list[tuple[str, int]], bars: str, spares: str
) -> None:
    """A blend that was clean on the ink was barred by its part, and one that bled left its part free."""
    shelf = {
        "H": {"n-heptane": 1.0},
        "E": {"ethanol": 1.0},
        "P": {"propan-2-ol": 1.0},
        "HE": {"n-heptane": 0.7, "ethanol": 0.3},
        "HP": {"n-heptane": 0.7, "propan-2-ol": 0.3},
    }
    on = {"medium": "carbon-ink", "paper": "paper-rag"}
    for blend in ("HE", "HP"):
        record(studio, sheet="Elsewhere", **on, parts=shelf[blend], release=4, harm={"bleed": 0})
    for name, grade in seen:
        record(studio, sheet="Tide table", **on, parts=shelf[name], release=None, harm={"bleed": grade})
    barred = kin_of_harm(ask(studio, msgspec.structs.replace(RUBBER, **on, sheet="Tide table")))
    ids = {name: blend_id(parts) for name, parts in shelf.items()}
    assert {ids[name] for name in bars.split()} <= barred
    assert not {ids[name] for name in spares.split()} & barred


def test_what_is_more_polar_is_no_way_out_where_the_mildest_bled(studio: Studio, record: Record) -> None:
    """Cyclohexane moved stamp ink, which one grade holds for all liquids: xylene and acetone came next."""
    here = msgspec.structs.replace(RUBBER, medium="stamp-pad", paper="paper-rag", sheet="Tide table")
    on = {"sheet": "Tide table", "medium": "stamp-pad", "paper": "paper-rag"}
    record(studio, **on, parts={"cyclohexane": 1.0}, release=3, harm={"bleed": 2})
    assert {"xylene", "acetone", "ethyl-acetate"} <= kin_of_harm(ask(studio, here))
    # What is as harsh and was clean speaks for all up to it.
    record(studio, **on, parts={"acetone": 1.0}, release=None, harm={"bleed": 0})
    assert not {"xylene", "acetone", "ethyl-acetate"} & kin_of_harm(ask(studio, here))


def test_what_a_swab_did_not_release_a_gel_may(studio: Studio, record: Record) -> None:
    """Asked of a gel the answer was a stop, as water by swab had failed; and "water worked" named no way."""
    paste = {"adhesive": "starch-dextrin", "medium": "graphite", "paper": "paper-rag"}
    spot = {**paste, "sheet": "Map 2", "stage": "", "carrier": "", "parts": {"water": 1.0}}
    asked = Question(**paste, sheet="Map 2")
    by_gel = msgspec.structs.replace(asked, method="gel")
    before = ask(studio, by_gel).series[0].release
    record(studio, **spot, release=1, harm={"bleed": 0, "tideline": 0})
    assert ask(studio, asked).series == ()
    again = ask(studio, by_gel).series
    assert [one.liquid for one in again] == ["water"]
    assert again[0].release < before
    record(studio, **spot, method="gel", release=1, harm={"bleed": 0, "tideline": 0})
    assert ask(studio, by_gel).series == ()
    record(studio, **spot, method="local-poultice", release=4, harm={"bleed": 0, "tideline": 0})
    assert ask(studio, by_gel).next_step.startswith("Water by local poultice worked here")


def test_one_alike_that_spares_the_ink_is_the_next_after_one_that_moved_it(
    studio: Studio, record: Record
) -> None:
    """Cyclohexane freed the tape and moved the ink, heptane left that alone, and the answer was to stop."""
    here = msgspec.structs.replace(RUBBER, also_media=("ballpoint",), sheet="Tide table")
    record(studio, sheet="Tide table", parts={"cyclohexane": 1.0}, release=3, harm={"bleed": 0})
    for liquid, grade in (("cyclohexane", 2), ("n-heptane", 0)):
        record(
            studio, sheet="Tide table", medium="ballpoint", parts={liquid: 1.0}, release=None,
            harm={"bleed": grade},
        )  # fmt: skip
    answer = ask(studio, here)
    assert [one.liquid for one in answer.series] == ["n-heptane"]
    assert answer.next_step.startswith("Test first: n-Heptane")


def test_what_is_free_but_like_what_failed_is_named_where_nothing_leads(
    studio: Studio, record: Record
) -> None:
    """The first line bore a number, and above it stood "stop and look again" without a word of it."""
    here = msgspec.structs.replace(
        RUBBER, carrier="none-transfer", medium="ballpoint", paper="paper-office", sheet="Tide table"
    )
    record(studio, sheet="Tide table", medium="ballpoint", release=1, harm={"bleed": 0})
    answer = ask(studio, here)
    assert (answer.series, numbers(answer)[0]) == ((), 1)
    assert f"acts like what failed here: {answer.groups[0].name}" in answer.next_step


def test_a_stop_numbers_no_line(studio: Studio, record: Record) -> None:
    """Beside "no test is worth its risk" stood a first line, after looks, that acts like what had failed."""
    glue = {
        "adhesive": "cyanoacrylate", "carrier": "regenerated-cellulose-film", "medium": "ruled-lines",
        "paper": "paper-glassine", "sheet": "Tide table",
    }  # fmt: skip
    for parts in ({"acetone": 1.0}, {"ethyl-acetate": 0.6, "ethanol": 0.4}):
        record(studio, **glue, stage="", parts=parts, release=1, harm={"bleed": 0})
    answer = ask(studio, Question(**glue))
    assert answer.stop is not None
    assert not any(numbers(answer))


def test_a_clean_look_on_the_ink_is_no_trial_of_the_tape(studio: Studio, record: Record) -> None:
    """Paper, ink, adhesive is the order that the answer itself asks for; the second took the liquid out."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    first = ask(studio, here)
    liquid = first.series[0].liquid
    record(studio, sheet="Tide table", parts={liquid: 1.0}, release=None, harm={"bleed": 0})
    again = ask(studio, here)
    assert again.series[0].liquid == liquid
    assert again.series[0].harm < first.series[0].harm


def test_a_gloss_that_stayed_is_no_look_at_the_ink(studio: Studio, record: Record) -> None:
    """It was "what it must spare was clean", and after a release nobody was told to look at the ink first."""
    here, none = msgspec.structs.replace(RUBBER, sheet="Tide table"), "bleeding, offset and colour"
    first = ask(studio, here)
    liquid = {first.series[0].liquid: 1.0}
    record(studio, sheet="Tide table", parts=liquid, release=None, harm={"gloss": 0, "surface": 1})
    again = ask(studio, here)
    assert (again.series, again.next_step) == (first.series, first.next_step)
    assert f" On 1 spot here {none} were not looked at" in again.rests_on
    # Of paper alone there is nothing to be missed, and of another sheet nothing is said.
    assert none not in ask(studio, msgspec.structs.replace(here, medium="bare-paper")).rests_on
    assert none not in ask(studio, RUBBER).rests_on
    ask_for = "was not looked at: before that a spot there"
    record(studio, sheet="Tide table", parts=liquid, release=4, harm={"gloss": 0})
    assert ask_for in ask(studio, here).worked_here[0].text
    record(studio, sheet="Tide table", parts=liquid, release=4, harm={"gloss": 0, "offset": 0})
    assert ask_for not in ask(studio, here).worked_here[0].text


@pytest.mark.parametrize("ran", [False, True])
def test_a_ring_that_stayed_away_lifts_a_ring_and_no_ink_that_ran(
    studio: Studio, record: Record, ran: bool
) -> None:
    """Of its line what left no ring is free again; where the ink ran it says nothing."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    harm = {"bleed": 3} if ran else {"tideline": 3}
    record(studio, sheet="Tide table", parts={"n-heptane": 1.0}, release=0, harm=harm)
    record(studio, sheet="Tide table", parts={"cyclohexane": 1.0}, release=None, harm={"tideline": 0})
    answer = ask(studio, here)
    held = {one.liquid for one in answer.refused if one.refused == HARMED_HERE}
    assert ("cyclohexane" in held) == ran


def test_what_worked_beside_the_ink_is_tried_on_it_before_it_has_worked(
    studio: Studio, record: Record
) -> None:
    """Xylene that freed tape from bare paper was said to have worked, a larger area next, over toner."""
    over = msgspec.structs.replace(RUBBER, sheet="Tide table")
    record(studio, sheet="Tide table", medium="bare-paper", release=4, harm={"tideline": 0})
    answer = ask(studio, over)
    assert answer.worked_here == ()
    assert answer.series[0].liquid == "n-heptane"
    assert ask(studio, msgspec.structs.replace(over, medium="bare-paper")).worked_here
    # With a clean look on the ink both are known.
    record(studio, sheet="Tide table", release=None, harm={"bleed": 0})
    assert [one.liquid for one in ask(studio, over).worked_here] == ["n-heptane"]


def test_beside_a_success_nothing_is_called_not_worth_its_risk(studio: Studio, record: Record) -> None:
    """Water by gel had freed the glue, and the answer began: no test is worth its risk, nothing acts."""
    glue = {"adhesive": "animal-glue", "stage": "", "carrier": "", "medium": "graphite", "paper": "paper-rag"}
    record(studio, sheet="Map 2", **glue, parts={"water": 1.0}, release=4, harm={"bleed": 0, "tideline": 0})
    answer = ask(
        studio, Question(adhesive="animal-glue", medium="graphite", paper="paper-rag", sheet="Map 2")
    )
    assert answer.worked_here
    assert answer.stop is None


def test_what_was_looked_at_is_not_asked_for_again(studio: Studio, record: Record) -> None:
    """Paper and ink were clean, and the next step began with paper and ink."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    name = ask(studio, here).series[0].liquid
    assert "Paper alone at a margin, then letterpress" in ask(studio, here).next_step
    for medium in ("bare-paper", "letterpress-oil"):
        harm = {"bleed": 0, "tideline": 0}
        record(studio, sheet="Tide table", medium=medium, parts={name: 1.0}, release=None, harm=harm)
    answer = ask(studio, here)
    assert answer.series[0].liquid == name
    assert "what it must spare was clean: now the adhesive" in answer.next_step.casefold()
    bare = ask(studio, STARCH).next_step
    assert "Paper alone at a margin, then the adhesive at a loose end. At least three rounds" in bare


def test_when_every_way_failed_a_weak_last_resort_is_no_line(studio: Studio, record: Record) -> None:
    """Five liquids had failed, and toluene, like xylene and at 17 %, stood first."""
    here = msgspec.structs.replace(
        RUBBER, stage="crosslinked", medium="iron-gall", paper="paper-rag", sheet="Tide table"
    )
    for liquid in ("n-heptane", "xylene", "acetone", "ethanol", "ethyl-acetate"):
        record(
            studio, sheet="Tide table", medium="iron-gall", paper="paper-rag", parts={liquid: 1.0},
            release=1, harm={"bleed": 0},
        )  # fmt: skip
    answer = ask(studio, here)
    assert not any(numbers(answer))
    assert answer.stop is not None
    assert "tried on this sheet" in answer.stop.text


def test_where_water_moved_the_colour_no_damp_gel_is_named(studio: Studio, record: Record) -> None:
    """Water in a gel had lifted the watercolour, and the stop went on to a damp gel: "nothing acts"."""
    paste = {"adhesive": "starch-dextrin", "medium": "watercolour", "paper": "paper-rag"}
    record(
        studio, sheet="Map 2", **paste, stage="", carrier="", parts={"water": 1.0}, method="gel",
        release=3, harm={"bleed": 2},
    )  # fmt: skip
    answer = ask(studio, Question(**paste, sheet="Map 2"))
    assert answer.stop is not None
    assert "a damp gel" not in answer.stop.text
    assert "what would act was tried on this sheet" in answer.stop.text


@pytest.mark.parametrize(
    ("adhesive", "stage", "medium", "paper", "more"),
    [
        ("zinc-oxide-rubber", "crosslinked", "watercolour", "paper-woodpulp", 0),
        ("synthetic-rubber", "crosslinked", "watercolour", "paper-rag", 1),
        ("natural-rubber-resin", "oily", "letterpress-oil", "paper-woodpulp", -1),
    ],
)
def test_of_later_spots_no_more_is_promised_than_is_sure(
    studio: Studio, record: Record, adhesive: str, stage: str, medium: str, paper: str, more: int
) -> None:
    """The card said one look before xylene; with the spot before it in the book too it was two, or none."""
    asked = Question(adhesive=adhesive, stage=stage, medium=medium, paper=paper, sheet="Chart")
    answer = ask(studio, asked)
    first, then = answer.series[:2]
    lines = card(answer).splitlines()
    assert AGAIN in lines
    looks = [one.strip().partition(" x bare")[0] for one in lines if " x bare paper" in one]
    assert f"first about {then.looks}" in looks
    assert (f"first {first.looks}" in looks) == bool(first.looks)
    told = [before_spot(place, step) for place, step in ((1, first), (2, then))]
    assert ["; first about one clean look" in one for one in told] == [False, True]
    spot = {
        "sheet": "Chart",
        "adhesive": adhesive,
        "stage": stage,
        "parts": {first.liquid: 1.0},
        "paper": paper,
    }
    for _ in range(first.looks):
        clean = {"tideline": 0, "gloss": 0, "surface": 0}
        record(studio, **spot, medium="bare-paper", release=None, harm=clean)
    record(studio, **spot, carrier="", medium=medium, release=0, harm=dict.fromkeys(HARM_KINDS, 0))
    after = ask(studio, asked).series[0]
    assert (after.liquid, after.looks) == (then.liquid, then.looks + more)


def test_the_card_bears_what_the_sheet_asks_for(studio: Studio, record: Record) -> None:
    """Beside the sheet stood "by swab" over loose powder, and xylene where heptane had half done."""
    powder = card(ask(studio, msgspec.structs.replace(STARCH, medium="pastel-charcoal")))
    assert "This sheet: The powder lies loose" in powder
    record(studio, sheet="Tide table", release=2, harm={"bleed": 0})
    half = card(ask(studio, msgspec.structs.replace(RUBBER, sheet="Tide table")))
    assert half.index("n-Heptane swelled it in part") < half.index("1. ")


def test_a_ring_of_free_liquid_bars_no_gel(studio: Studio, record: Record) -> None:
    """A tideline comes of how much, so it speaks of what is put on as freely. Common practice, no source."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    record(studio, sheet="Tide table", parts={"n-heptane": 1.0}, release=0, harm={"tideline": 3})
    assert "cyclohexane" in kin_of_harm(ask(studio, here))
    assert not kin_of_harm(ask(studio, msgspec.structs.replace(here, method="gel")))


def test_what_a_gel_spared_clears_no_free_liquid(studio: Studio, record: Record) -> None:
    """Heptane by swab left a ring; one clean look at cyclohexane by gel freed that for the swab."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table", method="swab")
    record(
        studio, sheet="Tide table", parts={"n-heptane": 1.0}, method="swab", release=2, harm={"tideline": 3}
    )
    before = ask(studio, here)
    clean = {"tideline": 0, "bleed": 0}
    for _ in range(3):
        record(studio, sheet="Tide table", parts={"cyclohexane": 1.0}, method="gel", release=None, harm=clean)
    after = ask(studio, here)
    assert "cyclohexane" in kin_of_harm(before)
    assert kin_of_harm(after) == kin_of_harm(before)
    # A gel that harmed has told of free liquid all the same, and a clean swab clears.
    record(studio, sheet="Tide table", parts={"cyclohexane": 1.0}, method="swab", release=None, harm=clean)
    assert "cyclohexane" not in kin_of_harm(ask(studio, here))
    record(
        studio, sheet="Tide table", parts={"isooctane": 1.0}, method="gel", release=None, harm={"bleed": 3}
    )
    assert "isooctane" in kin_of_harm(ask(studio, here))


CLEAN_INK = {"bleed": 0, "offset": 0}


@pytest.mark.parametrize("method", ["swab", ""])
def test_a_gel_is_no_look_and_no_success_for_free_liquid(studio: Studio, record: Record, method: str) -> None:
    """A look by gel took the warning from a swab, and a success by gel was told to whoever asked for one."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table", method=method)
    record(studio, sheet="Tide table", method="gel", release=4, harm={**CLEAN_INK, "tideline": 0})
    assert ask(studio, here).next_step.startswith("n-Heptane by gel worked here")
    # By swab, with nothing looked at: the clean gel is no look at what a swab does.
    swab = msgspec.structs.replace(here, sheet="Deed")
    record(studio, sheet="Deed", method="swab", release=3, harm={})
    before = ask(studio, swab).next_step
    record(studio, sheet="Deed", method="gel", release=None, harm={**CLEAN_INK, "tideline": 0})
    assert "was not looked at: before that a spot there" in before
    assert ask(studio, swab).next_step == before
    # What a swab did at the margin is no success on the ink, though a gel spared that.
    ink = msgspec.structs.replace(here, sheet="Map 2", medium="ballpoint")
    record(studio, sheet="Map 2", medium="bare-paper", method="swab", release=4, harm={"tideline": 0})
    record(studio, sheet="Map 2", medium="ballpoint", method="gel", release=None, harm=CLEAN_INK)
    assert not ask(studio, ink).worked_here


@pytest.mark.parametrize("order", list(permutations([("gel", 4), ("swab", 4), ("vapour-dome", 0)])))
def test_the_way_that_is_asked_of_is_told_first_in_any_order(
    studio: Studio, record: Record, order: tuple[tuple[str, int], ...]
) -> None:
    for method, release in order:
        record(studio, sheet="Deed", method=method, release=release, harm={**CLEAN_INK, "tideline": 0})
    answer = ask(studio, msgspec.structs.replace(RUBBER, sheet="Deed", method="swab"))
    assert answer.next_step.startswith("n-Heptane by swab worked here")


def test_a_success_is_told_with_the_rules_of_its_own_way(studio: Studio, record: Record) -> None:
    """A heated spatula on toner, which a stop bars, was leave for a larger area to who asked by swab."""
    here = msgspec.structs.replace(RUBBER, sheet="Deed", method="swab", medium="toner")
    harm = {**CLEAN_INK, "tideline": 0}
    record(studio, sheet="Deed", medium="toner", method="heated-spatula", release=4, harm=harm)
    assert "heated spatula worked here. But a rule bars it here" in ask(studio, here).next_step
    # Free water lifts gouache; what a gel of it did is not barred with it.
    wet = msgspec.structs.replace(STARCH, sheet="Map 2", method="swab", medium="gouache")
    gel = {"adhesive": "starch-dextrin", "parts": {"water": 1.0}, "medium": "gouache", "method": "gel"}
    record(studio, sheet="Map 2", **gel, release=4, harm=harm)
    (told,) = ask(studio, wet).worked_here
    assert "a rule bars it" not in told.text


def test_a_control_that_was_harmed_bars_the_liquid(studio: Studio, record: Record) -> None:
    """Water ringed the bare corner of this very sheet, and was still proposed for it by swab."""
    here = msgspec.structs.replace(STARCH, sheet="Tide table")
    bare = {"adhesive": "", "stage": "", "carrier": "", "medium": "bare-paper", "paper": "paper-rag"}
    record(studio, sheet="Tide table", **bare, parts={"water": 1.0}, control=True, harm={"tideline": 3})
    answer = ask(studio, here)
    assert kin_of_harm(answer) == {"water"}
    assert "a damp gel" in answer.next_step
    # It was no trial of the adhesive.
    assert all("already" not in one.refused for one in answer.refused)


def test_what_swelled_in_part_is_tried_on_before_another_liquid(studio: Studio, record: Record) -> None:
    """Grade 2 is half of a success: longer or held on the spot, as nobody would go to an aromatic for it.

    Common practice, no source. What was not looked at for harm is not said to have harmed nothing.
    """
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    record(studio, sheet="Elsewhere", release=2, harm={"bleed": 0})
    assert not ask(studio, here).other_ways
    record(studio, sheet="Tide table", release=2, harm={"bleed": 0})
    answer = ask(studio, here)
    assert answer.next_step.startswith(
        "n-Heptane swelled it in part and harmed nothing that was looked at: the same liquid again"
    )
    assert "gel or local poultice" in answer.next_step
    record(studio, sheet="Tide table", release=2, harm={}, method="gel")
    assert not ask(studio, here).other_ways


def test_a_gel_that_worked_after_a_tideline_is_said_to_have_worked(studio: Studio, record: Record) -> None:
    """The advice was followed and the same advice came again, beside an aromatic."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    record(studio, sheet="Tide table", release=3, harm={"bleed": 0, "tideline": 3})
    record(studio, sheet="Tide table", release=4, harm={"bleed": 0, "tideline": 0}, method="gel")
    answer = ask(studio, here)
    assert answer.next_step.startswith("n-Heptane by gel worked here")
    assert answer.other_ways == ()
    assert answer.series == ()
    # By the same way it is not undone.
    record(studio, sheet="Tide table", release=3, harm={"tideline": 2}, method="gel")
    assert ask(studio, here).worked_here == ()


def test_after_a_failure_the_plan_holds(studio: Studio, record: Record) -> None:
    """What the series said comes next does come first; the kin of what failed stand behind, and say so."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    planned = ask(studio, here).series
    liquid = planned[0].liquid
    record(studio, sheet="Tide table", parts={liquid: 1.0}, release=0, harm={"bleed": 0})
    after = ask(studio, here)
    # What may be tried before what is only a thought; of either, the kin of what failed last.
    order = [(not number, line.tried) for number, line in zip(numbers(after), after.groups, strict=True)]
    assert order == sorted(order)
    assert (False, True) in order
    assert (True, False) in order
    assert all(
        step.liquid not in {m for line in after.groups if line.tried for m in line.members}
        for step in after.series
    )
    assert after.groups[0].liquid in {step.liquid for step in planned[1:]}


def test_a_release_leads_the_answer_as_worked_here(studio: Studio, record: Record) -> None:
    """A success is no refusal: control, next day and UV, larger area."""
    record(studio, sheet="Tide table", release=4, harm={"bleed": 0})
    answer = ask(studio, msgspec.structs.replace(RUBBER, sheet="Tide table"))
    assert [one.liquid for one in answer.worked_here] == ["n-heptane"]
    assert answer.next_step == answer.worked_here[0].text
    assert all(word in answer.next_step for word in ("control", "next day", "UV", "larger area"))
    assert (answer.series, answer.expected_spots, answer.mock_up) == ((), None, ""), (
        "nothing further is planned"
    )


def test_a_tideline_asks_for_another_way_of_the_same_liquid(studio: Studio, record: Record) -> None:
    """Less, gel, suction, vapour: not another liquid."""
    record(studio, sheet="Tide table", release=4, harm={"tideline": 3})
    answer = ask(studio, msgspec.structs.replace(RUBBER, sheet="Tide table"))
    assert answer.worked_here == ()
    assert len(answer.other_ways) == 1
    assert all(word in answer.other_ways[0] for word in ("n-Heptane", "tideline", "gel", "suction"))
    assert answer.next_step == answer.other_ways[0]


def test_a_tideline_of_the_control_asks_for_it_too(studio: Studio, record: Record) -> None:
    """Heptane freed the tape and left a ring beside it: cyclohexane was advised, which had swelled it."""
    record(studio, sheet="Tide table", parts={"cyclohexane": 1.0}, release=2, harm={"bleed": 0})
    record(studio, sheet="Tide table", release=4, harm={"bleed": 0})
    record(studio, sheet="Tide table", control=True, medium="bare-paper", release=None, harm={"tideline": 3})
    answer = ask(studio, msgspec.structs.replace(RUBBER, sheet="Tide table"))
    assert answer.worked_here == ()
    assert answer.next_step.startswith("n-Heptane released, but left tideline: the same liquid again")


@pytest.mark.parametrize(("release", "did"), [(3, "released"), (2, "swelled it in part")])
def test_a_tideline_of_the_only_liquid_is_no_stop(
    studio: Studio, record: Record, release: int, did: str
) -> None:
    """Water on paste left a tideline: a gel or less of it is what comes next, not giving up."""
    record(
        studio,
        sheet="Map 2",
        adhesive="starch-dextrin",
        stage="",
        carrier="",
        medium="graphite",
        paper="paper-rag",
        parts={"water": 1.0},
        release=release,
        harm={"bleed": 0, "tideline": 3},
    )
    asked = Question(adhesive="starch-dextrin", medium="graphite", paper="paper-rag", sheet="Map 2")
    answer = ask(studio, asked)
    assert answer.stop is None
    assert answer.next_step.startswith(f"Water {did}, but left tideline: the same liquid again")
    assert "gel" in answer.next_step


def test_bleeding_asks_for_no_other_way(studio: Studio, record: Record) -> None:
    """An ink that dissolves does so in a gel too."""
    record(studio, sheet="Tide table", release=4, harm={"bleed": 3})
    assert ask(studio, msgspec.structs.replace(RUBBER, sheet="Tide table")).other_ways == ()


@pytest.mark.parametrize("parts", [{"n-heptane": 1.0}, {"n-heptane": 0.5, "isooctane": 0.5}])
@pytest.mark.parametrize("release", [2, 3])
def test_what_the_studio_forbids_is_not_advised_again(
    studio: Studio, record: Record, parts: dict[str, float], release: int
) -> None:
    """Forbidden since the spot was made, it was the next step all the same. What is not held can be had."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    record(studio, sheet="Tide table", parts=parts, release=release, harm={"bleed": 0, "tideline": 3})
    hold(studio, ["benzene"])
    assert len(ask(studio, here).other_ways) == 1
    forbid(studio, liquids=["n-heptane"], why="invented")
    assert ask(studio, here).other_ways == ()


def test_what_worked_here_and_is_no_longer_at_hand_says_so(studio: Studio, record: Record) -> None:
    """Forbidden or used up since, nothing said that it had worked, and another liquid was begun with."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    record(studio, sheet="Tide table", release=4, harm={"bleed": 0})
    hold(studio, ["acetone"])
    used_up = ask(studio, here)
    assert used_up.next_step.startswith("n-Heptane worked here: a control beside it")
    assert "But n-Heptane is not listed as held: get it before another liquid" in used_up.next_step
    hold(studio, ["n-heptane"])
    forbid(studio, liquids=["n-heptane"], why="invented")
    forbidden = ask(studio, here)
    assert forbidden.worked_here == ()
    said = forbidden.stop.text if forbidden.stop else forbidden.next_step
    assert "n-Heptane worked here, but now n-Heptane is forbidden here (local rule): invented." in said


def test_a_blend_of_what_must_not_meet_is_proposed_nowhere(studio: Studio, record: Record) -> None:
    """Tested by somebody, told or not, it was asked for again, here and on other sheets."""
    mixed = {"acetone": 0.5, "chloroform": 0.5}
    for sheet in ("Tide table", "Pilot book"):
        record(studio, sheet=sheet, parts=mixed, release=4, harm={"bleed": 0})
    for sheet in ("", "Tide table"):
        answer = ask(studio, msgspec.structs.replace(RUBBER, sheet=sheet))
        proposed = [one.parts for one in (*answer.suggestions, *answer.refused)]
        assert not [parts for parts in proposed if {*mixed} <= {*parts}]
        (out,) = [one for one in answer.left_out if " + " in one.liquid]
        assert out.why.startswith("Acetone and Trichloromethane must not meet: Chloroform and acetone")
    assert "worked here, but now Acetone and Trichloromethane must not meet" in answer.next_step


@pytest.mark.parametrize("ring", [0, 3])
def test_a_ring_beside_the_ink_is_no_look_at_the_ink(studio: Studio, record: Record, ring: int) -> None:
    """Acetone left a ring beside ballpoint, and went on by gel without a look at what it dissolves."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table", medium="graphite")
    record(studio, sheet="Tide table", medium="graphite", release=3, harm={"tideline": ring})
    record(studio, sheet="Tide table", medium="graphite", method="gel", release=3, harm={"tideline": 0})
    answer = ask(studio, here)
    said = [one.text for one in answer.worked_here] + list(answer.other_ways)
    assert said
    assert all("Its harm to graphite" in one and "before that a spot there" in one for one in said)


@pytest.mark.parametrize("looked", [True, False])
@pytest.mark.parametrize(("release", "ring"), [(4, 0), (3, 3), (2, 3), (2, 0)])
def test_who_named_no_medium_looked_at_no_ink_that_is_named_later(
    studio: Studio, record: Record, looked: bool, release: int, ring: int
) -> None:
    """Acetone had left a ring on nobody knows what, and went on over ballpoint without a look at it."""
    here, ask_for = msgspec.structs.replace(RUBBER, sheet="Tide table", medium=""), "before that a spot there"
    harm = {"tideline": ring} | ({"bleed": 0} if looked else {})
    # What another liquid did is no look at this one.
    record(studio, sheet="Tide table", medium="", parts={"ethanol": 1.0}, release=0, harm={"bleed": 0})
    record(studio, sheet="Tide table", medium="", parts={"n-heptane": 1.0}, release=release, harm=harm)
    named = ask(studio, msgspec.structs.replace(here, medium="graphite"))
    said = [one.text for one in named.worked_here] + list(named.other_ways)
    # What swelled and harmed nothing is only known to where the ink was looked at; nobody said which it was.
    assert [ask_for in text for text in said] == [True] * (release > 2 or ring > 2)
    # Where no ink is asked about there is none to look at.
    open_ = ask(studio, here)
    said = [one.text for one in open_.worked_here] + list(open_.other_ways)
    assert [ask_for in text for text in said] == [False]
    # What may dissolve the ink does not go on at all.
    record(studio, sheet="Deed", medium="", parts={"acetone": 1.0}, release=3, harm={"tideline": 3})
    assert not ask(studio, msgspec.structs.replace(here, medium="ballpoint", sheet="Deed")).other_ways


CLEAN, BLED, RING = {"bleed": 0}, {"bleed": 3}, {"tideline": 3}
HARMED_AFTER = [
    # A clean spot that swelled it, or one that only wetted too much; then the same liquid moved the ink.
    (
        {"medium": "bare-paper", "release": 2, "harm": {"tideline": 0}},
        {"release": None, "harm": {"bleed": 3}},
    ),
    ({"release": 2, "harm": {"bleed": 0}}, {"release": None, "harm": {"bleed": 3}, "control": True}),
    ({"release": 3, "harm": {"tideline": 3}}, {"release": None, "harm": {"bleed": 3}}),
    ({"release": 3, "harm": {"tideline": 3}}, {"release": None, "harm": {"bleed": 4}, "control": True}),
]


@pytest.mark.parametrize(("first", "then"), HARMED_AFTER)
def test_no_other_way_is_advised_of_what_moved_the_ink(
    studio: Studio, record: Record, first: dict[str, object], then: dict[str, object]
) -> None:
    """ "Harmed nothing: the same liquid again" was said beside a line that it did harm on this sheet."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    record(studio, sheet="Tide table", **first)
    record(studio, sheet="Tide table", **then)
    assert ask(studio, here).other_ways == ()


@pytest.mark.parametrize(
    ("spot", "asked"),
    [
        # Nobody looked at the ink yet.
        (
            {"parts": {"xylene": 1.0}, "medium": "bare-paper", "release": 2, "harm": {"tideline": 0}},
            "ballpoint",
        ),
        # What ran of another colour is no news of this one.
        ({"medium": "watercolour", "release": 3, "harm": {"bleed": 3}}, "letterpress-oil"),
        # And what a rule bars is not advised in any way.
        (
            {"parts": {"water": 1.0}, "medium": "copying-pencil", "release": 2, "harm": {"bleed": 0}},
            "copying-pencil",
        ),
    ],
)
def test_another_way_is_of_what_is_asked_about(
    studio: Studio, record: Record, spot: dict[str, object], asked: str
) -> None:
    """Advice came from a spot elsewhere on the sheet, and of water where water is barred."""
    record(studio, sheet="Tide table", **spot)
    assert ask(studio, msgspec.structs.replace(RUBBER, medium=asked, sheet="Tide table")).other_ways == ()


def test_a_longer_way_that_failed_ends_the_advice(studio: Studio, record: Record) -> None:
    """Held in a gel it released no more than before: a poultice is the same again."""
    record(studio, sheet="Tide table", release=2, harm={"bleed": 0})
    record(studio, sheet="Tide table", release=1, harm={"bleed": 0}, method="gel")
    assert ask(studio, msgspec.structs.replace(RUBBER, sheet="Tide table")).other_ways == ()


def test_harm_counts_where_no_medium_is_asked_about(studio: Studio, record: Record) -> None:
    """Heptane moved the print, and with the medium left open it was the one to test first again."""
    for _ in range(20):
        record(studio, sheet="Elsewhere", parts={"n-heptane": 1.0}, release=4, harm={"bleed": 0})
    record(studio, sheet="Tide table", parts={"n-heptane": 1.0}, release=None, harm={"bleed": 3})
    answer = ask(studio, msgspec.structs.replace(RUBBER, medium="", sheet="Tide table"))
    assert "n-heptane" in kin_of_harm(answer)
    assert "n-heptane" not in {step.liquid for step in answer.series}


def test_a_success_stands_beside_harm_to_another_ink(studio: Studio, record: Record) -> None:
    """What bled the stamp has still freed the print; where both lie within reach it has not."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table")
    both = msgspec.structs.replace(here, also_media=("stamp-pad",))
    record(studio, sheet="Tide table", release=4, harm={"bleed": 0, "tideline": 0})
    assert "was not looked at" not in ask(studio, here).worked_here[0].text
    assert "harm to stamp-pad ink" in ask(studio, both).worked_here[0].text
    record(studio, sheet="Tide table", medium="stamp-pad", release=None, harm={"bleed": 3})
    assert [one.liquid for one in ask(studio, here).worked_here] == ["n-heptane"]
    assert ask(studio, both).worked_here == ()


def test_what_bled_is_not_undone_by_a_gel(studio: Studio, record: Record) -> None:
    """Less of what dissolves the ink dissolves less of it, and still some."""
    record(studio, sheet="Tide table", release=4, harm={"bleed": 4})
    record(studio, sheet="Tide table", release=4, harm={"bleed": 0}, method="gel")
    assert ask(studio, msgspec.structs.replace(RUBBER, sheet="Tide table")).worked_here == ()


def test_fibres_that_water_raised_bar_no_solvent(studio: Studio, record: Record) -> None:
    """Acetone and six others were held back after it as harsher by what they dissolve."""
    here = msgspec.structs.replace(RUBBER, stage="crosslinked", sheet="Tide table")
    record(studio, sheet="Tide table", parts={"water": 1.0}, release=0, harm={"bleed": 0, "surface": 2})
    assert not kin_of_harm(ask(studio, here)) & {"acetone", "xylene", "toluene", "ethanol", "turpentine"}


def test_a_rule_is_said_beside_what_worked_against_it(studio: Studio, record: Record) -> None:
    """ "Water worked here, then a larger area" stood alone over copying pencil."""
    asked = msgspec.structs.replace(STARCH, medium="copying-pencil", sheet="Tide table")
    spot = {"adhesive": asked.adhesive, "medium": "copying-pencil", "parts": {"water": 1.0}}
    record(studio, sheet="Tide table", **spot, release=4, harm={"bleed": 0})
    text = ask(studio, asked).worked_here[0].text
    assert text.startswith("Water worked here. But a rule bars it here: ")
    # It went on with a larger area, and other liquids could wait.
    assert "larger area" not in text
    # A warning of this sheet left the screen with the line of what had worked.
    record(studio, sheet="Deed", parts={"ethanol": 1.0}, medium="iron-gall", release=4, harm={"bleed": 0})
    text = ask(studio, msgspec.structs.replace(RUBBER, medium="iron-gall", sheet="Deed")).worked_here[0].text
    assert "Mind: A clean spot does not clear alcohol on iron gall ink." in text
    assert "flammable" not in text


@pytest.mark.parametrize("release", [2, 3])
@pytest.mark.parametrize("bled", ["n-heptane", ""])
def test_a_ring_on_bare_paper_sends_nothing_onto_an_ink_it_may_move(
    studio: Studio, record: Record, bled: str, release: int
) -> None:
    """Cyclohexane was to go on by gel, over the ink that heptane had moved; acetone over ballpoint."""
    ink = "letterpress-oil" if bled else "ballpoint"
    here = msgspec.structs.replace(RUBBER, sheet="Tide table", medium=ink)
    if bled:
        record(studio, sheet="Tide table", parts={bled: 1.0}, release=None, harm={"bleed": 4})
    ring = {"cyclohexane" if bled else "acetone": 1.0}
    record(studio, sheet="Tide table", medium="bare-paper", parts=ring, release=release, harm={"tideline": 3})
    assert ask(studio, here).other_ways == ()
    # Beside that ink the paper alone takes it: there it goes on, in less.
    assert ask(studio, msgspec.structs.replace(here, medium="bare-paper")).other_ways


@pytest.mark.parametrize("release", [2, 3])
def test_another_way_asks_for_a_look_on_the_ink_first(studio: Studio, record: Record, release: int) -> None:
    """The ring was seen on bare paper: what the liquid does to the pencil line nobody has looked at."""
    record(studio, sheet="Tide table", medium="bare-paper", release=release, harm={"tideline": 3})
    here = msgspec.structs.replace(RUBBER, sheet="Tide table", medium="graphite")
    (way,) = ask(studio, here).other_ways
    assert way.endswith("graphite pencil was not looked at: before that a spot there.")


PASTE = {"adhesive": "starch-dextrin", "stage": "", "paper": "paper-rag", "carrier": ""}
WET = {"sheet": "Tide table", "medium": "bare-paper", "release": 3, "harm": {"bleed": 0, "tideline": 3}}


@pytest.mark.parametrize(
    ("liquid", "ink", "free"),
    [
        ("water", "graphite", True),
        ("water", "letterpress-oil", True),
        ("water", "iron-gall", False),
        ("water", "stamp-pad", False),
        ("acetone", "graphite", True),
        ("acetone", "ballpoint", False),
        ("acetone", "toner", False),
        ("butanone", "toner", False),
    ],
)
def test_what_a_look_would_free_is_not_lost_by_a_ring(
    studio: Studio, record: Record, liquid: str, ink: str, free: bool
) -> None:
    """Water on paste had left a ring beside the pencil, and no test was worth its risk; on another sheet it
    was water after one clean look."""
    asked = PASTE if liquid == "water" else {}
    record(studio, **WET, **asked, parts={liquid: 1.0})
    here = Question(**PASTE) if asked else RUBBER
    answer = ask(studio, msgspec.structs.replace(here, medium=ink, sheet="Tide table"))
    assert [way.endswith("was not looked at: before that a spot there.") for way in answer.other_ways] == (
        [True] * free
    )
    assert (answer.stop is None) or not free


@pytest.mark.parametrize(("method", "left"), [("swab", True), ("bath", False), ("hot-air", False)])
def test_a_gel_keeps_for_longer_what_was_put_on_briefly(
    studio: Studio, record: Record, method: str, left: bool
) -> None:
    """A bath had left water all the time it asks for, and the answer was water again, by gel."""
    paste = {"adhesive": "starch-dextrin", "stage": "", "medium": "graphite", "paper": "paper-rag"}
    record(
        studio, sheet="Map 2", **paste, carrier="", parts={"water": 1.0}, method=method, release=0,
        harm={"bleed": 0, "tideline": 0},
    )  # fmt: skip
    series = ask(studio, Question(**paste, method="gel", sheet="Map 2")).series
    assert ("water" in {step.liquid for step in series}) == left


def test_water_that_was_clean_clears_no_solvent(studio: Studio, record: Record) -> None:
    """Cyclohexane moved the stamp: a clean look with water let acetone, xylene and ethanol pass again."""
    here = msgspec.structs.replace(RUBBER, sheet="Tide table", medium="stamp-pad", paper="paper-rag")
    on = {"sheet": "Tide table", "medium": "stamp-pad", "paper": "paper-rag"}
    record(studio, **on, parts={"cyclohexane": 1.0}, release=3, harm={"bleed": 2})
    before = kin_of_harm(ask(studio, here))
    assert {"acetone", "xylene", "ethyl-acetate"} <= before
    record(studio, **on, parts={"water": 1.0}, release=None, harm={"bleed": 0})
    assert {"acetone", "xylene", "ethyl-acetate"} <= kin_of_harm(ask(studio, here))


@pytest.mark.parametrize("unequal", [True, False])
def test_of_two_rings_the_order_of_writing_does_not_decide(
    studio: Studio, record: Record, unequal: bool
) -> None:
    """What is written down first was the next step."""
    for sheet, order in (("Map 1", (0, 1)), ("Map 2", (1, 0))):
        for at in order:
            parts = {("n-heptane", "isooctane")[at]: 1.0}
            record(
                studio, sheet=sheet, parts=parts, release=3, harm={"bleed": 0, "tideline": 2 + at * unequal}
            )
    first, second = (
        ask(studio, msgspec.structs.replace(RUBBER, sheet=sheet)).other_ways for sheet in ("Map 1", "Map 2")
    )
    assert first == second
    assert len(first) == 2
