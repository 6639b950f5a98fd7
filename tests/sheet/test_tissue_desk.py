"""Repair tissue from the desk: weights, strips, what is added, and the mend that is too strong."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import get_args

import pytest

from kb.book.kinds.condition import Condition
from kb.book.kinds.mend import TearKind
from kb.book.kinds.sheet import Sheet
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.records.fill import begin
from kb.desk.records.record import write
from kb.desk.sheet.facts import SheetFacts, open_tear, sheet_facts
from kb.desk.sheet.plan import sheet_plan, tissue_lines
from kb.desk.sheet.press import PLANS
from kb.desk.sheet.press import plan as press_plan
from kb.desk.sheet.tissue import STRONGER, TEARS, Wanted, propose
from kb.desk.studio import Studio
from kb.science.sheet.tissue import strips_for
from kb.tui.screens.sheet.sheet import TEAR


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody here writes in it."""
    return untouched


def test_tissues_are_customary_and_lightest_first(studio: Studio) -> None:
    """A sheet of 100 g/m2 takes 5 to 12 g/m2; each proposal lies there and is lighter than the sheet."""
    found = propose(studio, Wanted(100.0))
    assert found.wanted is not None
    assert (found.wanted.low, found.wanted.high) == (5.0, 12.0)
    assert found.wanted.mark == "common practice, no source"
    lows = [one.grammage.low or 0.0 for one in found.tissues]
    assert lows == sorted(lows)
    assert len(found.tissues) >= 4
    assert all(one.customary for one in found.tissues)
    assert all(one.stronger_than_sheet != "yes" for one in found.tissues)


def test_both_faces_seen_asks_for_lighter_tissue(studio: Studio) -> None:
    """Where both faces are looked at only the lighter half of the range is left."""
    one = propose(studio, Wanted(100.0)).wanted
    both = propose(studio, Wanted(100.0, both_faces_seen=True)).wanted
    assert one is not None
    assert both is not None
    assert (both.high or 0) < (one.high or 0)


def test_strips_and_wastage(studio: Studio) -> None:
    """The strips are those of the science; what is cut holds torn sides and wastage."""
    found = propose(studio, Wanted(100.0, tear_mm=180.0, strip_mm=6.0, wastage=0.2))
    plain = strips_for(180.0, 6.0)
    assert found.strips is not None
    assert found.strips.pieces == plain.pieces == 3
    assert found.strips.area_to_cut.value == pytest.approx(plain.cut_area_mm2 / 0.8 / 100.0)
    assert found.strips.area_on_sheet.value == pytest.approx(plain.area_mm2 / 100.0)


def test_mass_and_thickness_added(studio: Studio) -> None:
    """Area times grammage, and twice both for two faces."""
    one = propose(studio, Wanted(100.0, tear_mm=180.0, strip_mm=6.0, tissue="kozo-9")).tissues[0]
    two = propose(studio, Wanted(100.0, tear_mm=180.0, strip_mm=6.0, tissue="kozo-9", mend_faces=2)).tissues[
        0
    ]
    area_m2 = strips_for(180.0, 6.0).area_mm2 * 1e-6
    assert one.adds_mass is not None
    assert two.adds_mass is not None
    assert (one.adds_mass.low, one.adds_mass.high) == pytest.approx((8 * area_m2, 10 * area_m2))
    assert two.adds_mass.high == pytest.approx(20 * area_m2)
    assert (one.adds_thickness.low, one.adds_thickness.high) == (40.0, 55.0)
    assert two.adds_thickness.high == 110.0


def test_a_mend_stronger_than_its_sheet_is_told(studio: Studio) -> None:
    """Strong kozo on newsprint: yes. On a heavy drawing paper: no sign."""
    heavy = propose(studio, Wanted(25.0, tissue="sekishu-29-35")).tissues[0]
    assert heavy.stronger_than_sheet == "yes"
    assert heavy.verdict == STRONGER
    assert not heavy.customary
    fine = propose(studio, Wanted(250.0, tissue="sekishu-29-35")).tissues[0]
    assert fine.stronger_than_sheet == "no sign"
    assert "does not prove" in fine.verdict


def test_adhesive_counts_towards_strength(studio: Studio) -> None:
    """Dry adhesive on the tissue can tip the balance."""
    bare = propose(studio, Wanted(30.0, tissue="kozo-17-20")).tissues[0]
    coated = propose(studio, Wanted(30.0, tissue="kozo-17-20", adhesive_g_m2=14.0)).tissues[0]
    assert (bare.stronger_than_sheet, coated.stronger_than_sheet) == ("may be", "yes")


def test_thickness_step_is_told(studio: Studio) -> None:
    """More than a fifth of the sheet's thickness is too much."""
    assert propose(studio, Wanted(100.0, 120.0, tissue="kozo-9")).tissues[0].too_thick
    assert not propose(studio, Wanted(100.0, 400.0, tissue="kozo-9")).tissues[0].too_thick


def test_losses_get_infills_and_pulp_is_marked(studio: Studio) -> None:
    """A hole asks for an infill of the sheet's kind; paper with wood pulp says so."""
    found = propose(studio, Wanted(100.0, tear="loss", fill_mm2=400.0))
    assert found.job == "infill"
    by_id = {one.id: one for one in found.tissues}
    assert "sekishu-29-35" in by_id
    assert "wood pulp" in by_id["mitsumata-wood-pulp"].note
    assert found.strips is not None
    assert found.strips.area_on_sheet.value == pytest.approx(4.0)


def test_an_infill_of_several_layers_weighs_and_stands_as_all_of_them(studio: Studio) -> None:
    """By hand, 12 cm2 of 17 to 20 g/m2 in four layers: 81.6 to 96 mg, 68 to 80 % of a sheet of 100 g/m2."""
    found = propose(studio, Wanted(100.0, tear="loss", fill_mm2=1200.0))
    built = next(one for one in found.tissues if one.id == "kozo-17-20")
    assert built.layers == 4
    assert built.adds_mass is not None
    assert (built.adds_mass.low, built.adds_mass.high) == (pytest.approx(0.0816), pytest.approx(0.096))
    assert (built.share_of_sheet.low, built.share_of_sheet.high) == (pytest.approx(68), pytest.approx(80))
    thin, thick = built.thickness.low or 0.0, built.thickness.high or 0.0
    assert built.adds_thickness.low == pytest.approx(4 * thin)
    assert built.adds_thickness.high == pytest.approx(4 * thick)
    assert found.strips is not None
    assert found.strips.area_to_cut.value == pytest.approx(12 / 0.9)
    assert found.strips.area_to_cut.note.startswith("for each layer")


@pytest.mark.parametrize("tear", list(TEARS))
def test_every_kind_of_tear_has_advice(studio: Studio, tear: str) -> None:
    """And rules with their sources."""
    found = propose(studio, Wanted(60.0, tear=tear, tear_mm=50.0))  # type: ignore[arg-type]
    assert found.advice
    assert len(found.rules) >= 5
    assert all(rule.sources for rule in found.rules)


def test_what_a_record_may_call_a_tear_a_plan_takes(new_studio: Callable[[str], Studio]) -> None:
    """A layer that lifts was written down, and then broke the plan of its sheet."""
    kinds = set(get_args(TearKind)) - {""}
    assert set(TEARS) == kinds
    assert {choice.value for choice in TEAR} - {""} == kinds
    root = ["--studio", str(new_studio("own").root)]
    assert main(["sheet", "add", "Map 7", *root]) == 0
    for command in (["plan", "Map 7"], ["tissue", "--length", "50 mm"]):
        assert main([*command, "--grammage", "90 g/m2", "--tear", "lifting", *root]) == 0


def test_a_layer_that_lifts_takes_no_strip_and_hides_no_tear(new_studio: Callable[[str], Studio]) -> None:
    """It is pasted down: a strip that was planned stood on the form of the mend, and in its record."""
    studio = new_studio("own")
    assert propose(studio, Wanted(90.0, tear="lifting", tear_mm=60.0)).strips is None
    write(studio, "sheet", Sheet(sheet="Map 7", grammage_g_m2=90))
    write(studio, "condition", Condition(sheet="Map 7", damage="tear", tear="lifting", width_mm=60))
    begun = begin(studio, kind="mend", sheet="Map 7")
    assert "strips" not in begun.hints
    assert not any(
        "strips" in one for one in sheet_plan(studio, "Map 7", sheet_facts(studio, "Map 7")).missing
    )
    write(studio, "condition", Condition(sheet="Map 7", damage="tear", tear="plain", width_mm=40))
    tear = open_tear(studio, "Map 7")
    assert (tear.kind, tear.length) == ("plain", "40 mm")
    assert "strips" in begin(studio, kind="mend", sheet="Map 7").hints


def test_below_and_beyond_custom(studio: Studio) -> None:
    """Custom knows no tissue for the thinnest sheets; an infill for board is built up in layers."""
    assert "below 20 g/m2" in propose(studio, Wanted(12.0)).advice
    board = propose(studio, Wanted(400.0, tear="loss"))
    assert {one.note for one in board.tissues} == {"In 2 layers."}
    assert all(one.layers == 2 for one in board.tissues)


@pytest.mark.parametrize(
    "wanted",
    [Wanted(0.0), Wanted(-5.0), Wanted(100.0, tissue="nothing"), Wanted(100.0, tear_mm=50.0, wastage=1.0)],
)
def test_figures_that_cannot_be(studio: Studio, wanted: Wanted) -> None:
    """One sentence."""
    with pytest.raises(DeskError):
        propose(studio, wanted)


@pytest.mark.slow
def test_a_tissue_that_nobody_measured_stops_no_answer(new_studio: Callable[[str], Studio]) -> None:
    """It is proposed nowhere, and named as what cannot be judged where it is asked for."""
    studio = new_studio("own tissue")
    studio.catalogue_dir.mkdir(parents=True)
    (studio.catalogue_dir / "own.yaml").write_text(
        "tissues:\n"
        "- {id: our-paper, name: Our paper, fibre: kozo, made: by hand, opacity: sheer, strength: medium, "
        "uses: [mend], grammage_g_m2: {low: 5, high: 8, from: [memory]}, "
        "thickness_um: {none_known: not measured, from: [memory]}, from: [memory]}\n",
        encoding="utf-8",
    )
    found = propose(studio, Wanted(grammage_g_m2=100.0))
    assert found.tissues
    assert "our-paper" not in {one.id for one in found.tissues}
    with pytest.raises(DeskError, match="weight and thickness are known"):
        propose(studio, Wanted(grammage_g_m2=100.0, tissue="our-paper"))


def test_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Text and JSON; a tissue may be named loosely."""
    words = ["--studio", str(studio.root), "tissue", "--grammage", "90 g/m2", "--length", "12 cm"]
    assert main(words) == 0
    assert "does not prove" in " ".join(capsys.readouterr().out.split())
    assert main([*words, "--tissue", "sekishu", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [one["id"] for one in found["tissues"]] == ["sekishu-29-35"]
    assert main(["--studio", str(studio.root), "tissue", "--grammage", "heavy"]) == 3


# Pressing


@pytest.mark.parametrize("after", list(PLANS))
def test_press_plans_add_up(studio: Studio, after: str) -> None:
    """Every step has a time with a source, blotters are counted, and the whole is the sum."""
    found = press_plan(studio, after)
    lows = [one.minutes.value or one.minutes.low or 0.0 for one in found.steps]
    assert found.in_all.low == pytest.approx(sum(lows))
    assert [one.timer_s for one in found.steps] == pytest.approx([60 * low for low in lows])
    assert max(one.blotters for one in found.steps) == found.blotter_changes
    assert all(one.minutes.sources and one.minutes.unit == "min" for one in found.steps)
    assert found.rules


def test_press_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """The hinge's time was read in a source, so it bears no mark."""
    assert main(["--studio", str(studio.root), "press", "hinge"]) == 0
    assert "10 to 15 min\n" in capsys.readouterr().out
    with pytest.raises(DeskError, match="no plan"):
        press_plan(studio, "glue")


@pytest.mark.parametrize(
    ("media", "alkaline", "dry", "dries_after"),
    [
        # The plan barred every bath on this ink, and went on to paste and a line drawn with water.
        (("iron-gall",), False, True, ("mend",)),
        (("letterpress-oil",), False, False, ("wash", "mend")),
        # Alkali alone is barred, and paste is none.
        (("blueprint",), True, False, ("mend",)),
        (("iron-gall",), True, True, ("mend",)),
    ],
)
def test_where_no_water_may_come_no_wet_mend_is_planned(
    studio: Studio, media: tuple[str, ...], alkaline: bool, dry: bool, dries_after: tuple[str, ...]
) -> None:
    facts = SheetFacts(grammage="90 g/m2", media=media)
    plan = sheet_plan(studio, "A letter of nobody", facts, alkaline=alkaline)
    first = tissue_lines(plan.tissue)[0]
    assert first.startswith("This sheet bears no water, and paste is mostly water") == dry
    assert tuple(one.after for one in plan.drying) == dries_after
