"""Alkaline baths from the desk and the command line: figures, refusals, cautions, sheet."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from kb.cli.main import main
from kb.desk.amounts import litres, number, size_mm, strength_mol_l
from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.desk.water.bath import ABLE, Sheet, bath, bath_cautions, reagent_id
from kb.desk.water.bath_view import BathRefused
from kb.science.water.baths import PURE_CO2_PPM, amount_for_ph, saturated


def figures(value: Any) -> list[dict[str, Any]]:
    """Every figure anywhere in an answer that was read from JSON."""
    found: list[dict[str, Any]] = []
    if isinstance(value, dict):
        if {"unit", "model", "sources"} <= set(value):
            found.append(value)
        for inner in value.values():
            found += figures(inner)
    elif isinstance(value, list):
        for inner in value:
            found += figures(inner)
    return found


def called(studio: Studio, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, Any]:
    """Exit code and JSON of ``benchleaf bath``."""
    code = main(["--studio", str(studio.root), "bath", *words, "--json"])
    out = capsys.readouterr().out
    return code, json.loads(out) if out else None


LIME = ("--reagent", "calcium-hydroxide", "--volume", "5 L", "--temperature", "18 C")


def test_closed_bath_reaches_its_target(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """The issue's own example under a lid: pH 8.5, and the amount that science says."""
    code, found = called(studio, capsys, *LIME, "--target-ph", "8.5", "--air", "closed")
    dose = amount_for_ph("calcium-hydroxide", 8.5, 5.0, 18.0, "closed")
    assert code == 0
    assert found["ph"]["value"] == pytest.approx(8.5, abs=1e-6)
    assert found["weigh"][0]["amount"]["value"] == pytest.approx(dose.weigh_g["calcium hydroxide"])
    assert found["stock"]["value"] == pytest.approx(dose.stock_ml)
    assert found["unsteady"]
    assert found["precipitates"] == []


def test_open_bath_that_cannot_hold_is_refused_with_the_nearest(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """Open to the air limewater ends near 8.2, so 8.5 exits 3 and says what can be had."""
    code, found = called(studio, capsys, *LIME, "--target-ph", "8.5", "--air", "open")
    assert code == 3
    assert found["refused"] == "air-takes-it-down"
    assert found["nearest_ph"] == pytest.approx(8.2, abs=0.05)
    assert "8.2" in found["text"]


def test_above_saturation_is_refused(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """No amount of lime gives pH 13 at 25 C, closed or by strength."""
    words = ("--reagent", "limewater", "--volume", "1 L", "--temperature", "25 C", "--air", "closed")
    code, found = called(studio, capsys, *words, "--target-ph", "13")
    assert (code, found["refused"]) == (3, "above-saturation")
    assert found["nearest_ph"] == pytest.approx(12.46, abs=0.03)
    code, found = called(studio, capsys, *words, "--strength", "10 g/l")
    assert (code, found["refused"]) == (3, "above-saturation")


def test_open_and_above_saturation_names_the_deeper_reason(studio: Studio) -> None:
    """pH 13 cannot even be made fresh, so the air is not to blame; the nearest is still that of the air."""
    with pytest.raises(BathRefused, match="even under a lid") as refusal:
        bath(studio, "calcium-hydroxide", 1.0, 13.0, 20.0, "open")
    assert refusal.value.why == "above-saturation"
    assert refusal.value.nearest_ph == pytest.approx(8.2, abs=0.05)


def test_below_the_water_is_refused(studio: Studio) -> None:
    """Alkali cannot make water more acid."""
    with pytest.raises(BathRefused) as refusal:
        bath(studio, "calcium-hydroxide", 1.0, 4.0, 20.0, "open")
    assert refusal.value.why == "below-water"


def test_every_figure_has_unit_model_and_source(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing in the answer is a bare number without where it comes from."""
    words = ("--target-ph", "8.0", "--air", "open", "--sheet-mass", "25 g", "--acid", "60")
    code, found = called(studio, capsys, *LIME, *words)
    assert code == 0
    all_figures = figures(found)
    assert len(all_figures) > 25
    known = {row[0] for row in studio.index.conn.execute("SELECT id FROM entry WHERE kind = 'source'")}
    for one in all_figures:
        assert one["unit"]
        assert one["model"]
        assert one["sources"]
        assert set(one["sources"]) <= known


def test_open_bath_is_fresh_above_its_end(studio: Studio) -> None:
    """An open bath is a lye first; the drift runs from there to the end, and chalk drops on the way."""
    found = bath(studio, "calcium-hydroxide", 5.0, None, 20.0, "open", strength_mol_l=0.001)
    assert found.drift.fresh_ph.value is not None
    assert found.drift.fresh_ph.value > 11
    assert found.ph.value == found.drift.end_ph.value
    assert [one.name for one in found.precipitates] == ["calcite"]
    for moment in found.drift.moments:
        assert moment.ph.low is not None
        assert moment.ph.high is not None
        assert found.drift.end_ph.value - 1e-6 <= moment.ph.low <= moment.ph.high
        assert moment.ph.high <= found.drift.fresh_ph.value + 1e-6
    assert any("lye" in one for one in found.warnings)


@pytest.mark.parametrize("reagent", ["calcium-bicarbonate", "magnesium-bicarbonate"])
@pytest.mark.parametrize("air", ["open", "closed"])
def test_bicarbonates_by_strength(studio: Studio, reagent: str, air: Any) -> None:
    """They are given by strength; full of gas they are near neutral, and the text says to leave that."""
    found = bath(studio, reagent, 2.0, None, 20.0, air, strength_mol_l=0.005)
    assert found.ph_under_gas is not None
    assert found.ph_under_gas.value is not None
    assert 5.5 < found.ph_under_gas.value < 7
    assert "Do not correct that" in " ".join(found.how)
    assert found.amount.value == pytest.approx(0.01)


def test_bicarbonate_beyond_what_the_gas_dissolves(studio: Studio) -> None:
    """0.2 per cent calcium bicarbonate (12.3 mmol/l) is more than water holds at 25 C under 1 atm."""
    with pytest.raises(BathRefused, match="colder water or pressure") as refusal:
        bath(studio, "calcium-bicarbonate", 1.0, None, 25.0, "closed", strength_mol_l=0.0123)
    assert refusal.value.why == "above-saturation"
    most = saturated("calcium-bicarbonate", 25.0, PURE_CO2_PPM).dissolved.calcium_mol_l
    assert bath(studio, "calcium-bicarbonate", 1.0, None, 25.0, "closed", strength_mol_l=most * 0.99)


def test_strength_in_grams_is_of_magnesium_carbonate() -> None:
    """8.43 g/l as magnesium carbonate is the printed 0.1 mol/l."""
    assert strength_mol_l("magnesium-bicarbonate", "8.4314 g/l") == pytest.approx(0.1)
    assert strength_mol_l("calcium-hydroxide", "50 mmol/L") == pytest.approx(0.05)
    with pytest.raises(DeskError, match="not a strength"):
        strength_mol_l("calcium-hydroxide", "strong")


def test_reserve_of_a_dip_matches_the_worked_example(studio: Studio) -> None:
    """Mg(HCO3)2 of 0.1 mol/l at 1 to 2 g/g brackets the 0.302 mol/kg of the example at 1.5 g/g."""
    found = bath(studio, "magnesium-bicarbonate", 5.0, None, 20.0, "closed", strength_mol_l=0.1)
    reserve = found.reserve_fresh
    assert reserve.mol_kg.low == pytest.approx(0.2, rel=0.02)
    assert reserve.mol_kg.high == pytest.approx(0.4, rel=0.02)
    assert reserve.floor.value == 0.4
    assert reserve.floor_percent_caco3.value == pytest.approx(2.0, abs=0.01)
    assert reserve.mol_kg.mark == "common practice, no source"
    assert not reserve.acid_known


def test_acid_of_the_sheet_costs_reserve_and_baths(studio: Studio) -> None:
    """With the acid known the reserve falls by it, and the number of baths follows the balance."""
    plain = bath(studio, "calcium-hydroxide", 0.5, None, 20.0, "closed", strength_mol_l=0.001)
    sheet = Sheet(dry_g=25.0, acid_mmol_kg=200.0)
    sour = bath(studio, "calcium-hydroxide", 0.5, None, 20.0, "closed", strength_mol_l=0.001, sheet=sheet)
    assert sour.reserve.mol_kg.high == pytest.approx((plain.reserve.mol_kg.high or 0.0) - 0.2)
    assert sour.sheet is not None
    assert sour.sheet.acid.value == pytest.approx(5.0)
    assert sour.sheet.baths_for_acid.value == 6
    assert sour.sheet.enough_water
    assert plain.sheet is None


def test_cautions_are_shown_each_time_and_the_named_medium_first(studio: Studio) -> None:
    """Iron gall ink, size, dyes, and lye on skin and eyes are always there."""
    found = bath(studio, "calcium-hydroxide", 1.0, 8.0, 20.0, "open")
    shown = {one.id for one in found.cautions}
    assert {"iron-gall-alkali", "size-alkali", "dye-alkali", "lye-skin-eyes"} <= shown
    assert bath_cautions(studio, ["blueprint"])[0][0].id == "prussian-blue-alkali"


@pytest.mark.parametrize(
    "named", [(), ("--medium", "letterpress", "--paper", "rag"), ("--medium", "blueprint")]
)
def test_what_was_not_named_is_no_stop(
    studio: Studio, capsys: pytest.CaptureFixture[str], named: tuple[str, ...]
) -> None:
    """Nine stops about photographs, parchment and sealing wax stood under a bath for letterpress on rag."""
    assert main(["--studio", str(studio.root), "bath", *LIME, "--target-ph", "8", *named]) == 0
    said = " ".join(capsys.readouterr().out.split())
    stops = re.findall(r"stop: \[[^]]*\]", said)
    assert len(stops) == (1 if "blueprint" in named else 0)
    assert all("Blueprint" in one for one in stops)
    assert "warn: [a liquid that acts as alkaline] A fresh alkaline bath" in said
    assert ("warn: [a liquid that acts as alkaline; on the paper Rag" in said) is ("rag" in named)
    rest = said.partition("Not named; if it is there, no such bath: ")[2]
    assert "on Iron gall ink; on the paper Parchment" in rest
    assert "test with the bath first: on Watercolour" in rest
    assert ("on Blueprint" in rest) is ("blueprint" not in named)


def test_what_alkali_does_to_this_sheet_is_said_before_the_amount(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bath for a blueprint began with what to weigh; a grade without a rule was told nowhere."""
    for words, said in (
        (("--medium", "blueprint"), "STOP, Blueprint and cyanotype: Alkali destroys"),
        (("--paper", "parchment"), "STOP, Parchment (animal skin): Collagen"),
        (("--medium", "graphite"), "weigh:"),
    ):
        assert main(["--studio", str(studio.root), "bath", *LIME, "--target-ph", "8", *words]) == 0
        assert capsys.readouterr().out.splitlines()[1].strip().startswith(said)
    chrome = Sheet(media=("lead-pigment",))
    assert (
        "usually suffers in alkali"
        in bath(studio, "calcium-hydroxide", 1.0, 8.0, 20.0, "open", sheet=chrome).warnings[0]
    )


def test_text_names_amount_ph_and_cautions(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """The plain-text twin reads as sentences and ends in: measure."""
    words = (*LIME, "--target-ph", "8", "--air", "open", "--sheet-mass", "25 g", "--paper", "rag")
    assert main(["--studio", str(studio.root), "bath", *words]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for part in (
        "weigh:",
        "pH: 8.00",
        "drops:",
        "drift in the air",
        "reserve to expect",
        "lye",
        "Measure the pH",
    ):
        assert part in said


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--reagent", "vinegar", "--volume", "1 L", "--target-ph", "8"), 3, "No bath is made here"),
        (("--reagent", "limewater", "--volume", "1 pint", "--target-ph", "8"), 3, "pint"),
        (("--reagent", "limewater", "--volume", "0 L", "--target-ph", "8"), 3, "above zero"),
        (("--reagent", "limewater", "--volume", "1 L", "--target-ph", "0"), 3, "above zero"),
        (("--reagent", "limewater", "--volume", "1 L", "--target-ph", "nan"), 3, "is not a pH"),
        (("--reagent", "limewater", "--volume", "1 L", "--target-ph", "99"), 3, "up to 14"),
        (("--reagent", "limewater", "--volume", "1 L", "--target-ph", "8", "--acid", "-3"), 3, "below zero"),
        (("--reagent", "limewater", "--volume", "1 L", "--target-ph", "8", "--depth", "0 mm"), 3, "Depth mm"),
        (("--reagent", "limewater", "--volume", "1 L", "--target-ph", "8", "--temperature", "90 C"), 3, ""),
        (("--reagent", "limewater", "--volume", "1 L", "--strength", "0 g/l"), 3, "strength"),
        (("--reagent", "limewater", "--volume", "1 L"), 2, "required"),
    ],
)
def test_input_that_cannot_be(
    studio: Studio, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], code: int, said: str
) -> None:
    """One sentence and an exit code, never a traceback."""
    try:
        found = main(["--studio", str(studio.root), "bath", *words])
    except SystemExit as stopped:
        found = int(str(stopped.code))
    told = capsys.readouterr().err
    assert found == code
    assert said in told
    assert "Something went wrong inside" not in told


def test_reagents_by_formula_and_word() -> None:
    """What people write on bottles is understood."""
    assert reagent_id("Ca(OH)2") == reagent_id("limewater") == "calcium-hydroxide"
    assert reagent_id("Magnesium bicarbonate") == "magnesium-bicarbonate"
    assert set(map(reagent_id, ABLE)) == set(ABLE)


def test_typed_amounts() -> None:
    """Sizes and volumes in the units of the bench."""
    assert litres("500 ml") == pytest.approx(0.5)
    assert size_mm("42 x 59.4 cm") == pytest.approx((420.0, 594.0))
    assert size_mm("420 × 594") == pytest.approx((420.0, 594.0))
    with pytest.raises(DeskError, match="width x height"):
        size_mm("420")
    assert (number("8,5", "a pH"), number("", "a pH")) == (8.5, None)
    # No pH is 8125, so that the comma can only be a point.
    assert number("8,125", "a pH", 14) == 8.125
    with pytest.raises(DeskError, match="is not an acid; write a number such as"):
        number("1,000", "an acid")
    with pytest.raises(DeskError, match=r"can be read as 1500 or as 1\.500"):
        strength_mol_l("calcium-hydroxide", "1,500 mg/l")
