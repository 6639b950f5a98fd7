"""Dilutions at the desk and on the command line, checked against sums done by hand."""

from __future__ import annotations

import json

import pytest

from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.making.dilute import Strength, blend, convert_strength, dilute, load, solids, strength


@pytest.mark.parametrize(
    ("text", "value", "unit", "basis"),
    [
        ("2 % w/v", 2, "%", "w/v"),
        ("12,5% w/w", 12.5, "%", "w/w"),
        ("8.5 g/l", 8.5, "g/l", ""),
        ("0.1 M", 0.1, "mol/l", ""),
        ("3", 3, "%", ""),
    ],
)
def test_strengths_as_typed(text: str, value: float, unit: str, basis: str) -> None:
    """Per cent may bear a basis."""
    assert strength(text) == Strength(value, unit, basis)


@pytest.mark.parametrize(
    "text",
    ["", "strong", "2 % w/q", "3 g/l w/v", "-2 %", "2 g", "1,500 mg/l", "110 % w/w", "101 % v/v", "150 %"],
)
def test_what_is_no_strength_is_refused(text: str) -> None:
    """In a sentence."""
    with pytest.raises(DeskError):
        strength(text)


def test_what_a_formula_refuses_is_said_in_words() -> None:
    """It said "Percent_ww must be above zero"."""
    with pytest.raises(DeskError, match="Percent ww must be above zero"):
        load("0 % w/w", 1.0, load_g_m2=5.0)


def test_stock_to_working_strength() -> None:
    """10 % to 2 % is one in five; from 50 ml of stock it makes 250 ml."""
    made = dilute("10 % w/v", "2 % w/v", total="200 ml")
    assert (made.first, made.second, made.unit) == (pytest.approx(40), pytest.approx(160), "ml")
    assert made.steps == ("take 40 ml of the stock", "make up to 200 ml")
    back = dilute("10 % w/v", "2 % w/v", of_stock="50 ml")
    assert (back.total, back.second) == (pytest.approx(250), pytest.approx(200))


def test_units_of_one_kind_are_brought_together() -> None:
    """0.1 mol/l to 25 mmol/l is one in four; 2 % w/v is 20 g/l."""
    assert dilute("0.1 mol/l", "25 mmol/l", total="1 l").first == pytest.approx(250)
    assert dilute("2 % w/v", "5 g/l", total="100 ml").first == pytest.approx(25)


def test_weights_go_with_weights() -> None:
    """A w/w strength is diluted by weight; with a volume the missing density is named; two bases are two."""
    assert dilute("20 % w/w", "5 % w/w", total="100 g").steps == (
        "take 25 g of the stock",
        "add water to 100 g",
    )
    with pytest.raises(DeskError, match="density"):
        dilute("20 % w/w", "5 % w/w", total="100 ml")
    with pytest.raises(DeskError, match="two bases"):
        dilute("20 % w/w", "5 % w/v", total="100 ml")
    with pytest.raises(DeskError, match="two bases"):
        blend("5 % w/v", "2 % w/v", wanted="3 % w/w", total="100 ml")
    with pytest.raises(DeskError, match="cannot be compared"):
        dilute("0.1 mol/l", "5 g/l", total="100 ml")


def test_per_cent_without_a_basis_says_what_was_taken() -> None:
    """By weight with grams, by volume with millilitres."""
    assert "by weight" in dilute("10 %", "5 %", total="100 g").notes[0]
    assert "by volume" in dilute("10", "5", total="100 ml").notes[0]
    # Of two, one without its basis was taken for the other's in silence.
    assert dilute("10 %", "5 % w/v", total="100 ml").notes == ("10 % taken to be w/v, as the other is",)
    assert "5 % taken to be v/v" in blend("96 % v/v", "5 %", amounts=("1 ml", "1 ml")).notes[0]
    assert not dilute("2 % w/v", "5 g/l", total="100 ml").notes
    assert strength("120 % w/v").value == 120


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"total": "1 l", "of_stock": "1 l"}, "either"),
        ({}, "either"),
        ({"total": "lots"}, "number"),
        ({"total": "0 ml"}, "above zero"),
    ],
)
def test_a_dilution_needs_one_amount(options: dict[str, str], said: str) -> None:
    """Neither none nor two."""
    with pytest.raises(DeskError, match=said):
        dilute("10 % w/v", "2 % w/v", **options)


def test_a_stock_is_not_diluted_to_something_stronger() -> None:
    """That is refused with both figures."""
    with pytest.raises(DeskError, match="stronger"):
        dilute("2 % w/v", "10 % w/v", total="1 l")


def test_two_strengths_blended() -> None:
    """3 % between 5 % and 2 % is one to two; equal amounts of 5 and 2 give 3.5."""
    made = blend("5 % w/v", "2 % w/v", wanted="3 % w/v", total="90 ml")
    assert (made.first, made.second) == (pytest.approx(30), pytest.approx(60))
    assert blend("5 % w/v", "2 % w/v", amounts=("50 ml", "50 ml")).strength == pytest.approx(3.5)
    with pytest.raises(DeskError, match="lie between"):
        blend("5 % w/v", "2 % w/v", wanted="6 % w/v", total="90 ml")
    with pytest.raises(DeskError, match="both by volume"):
        blend("5 %", "2 %", amounts=("50 ml", "50 g"))


def test_solids_after_cooking_down() -> None:
    """12.5 % in 440 g is 55 g of solids, which are 13.75 % of 400 g."""
    assert solids("12.5 % w/w", "440 g", "400 g").value == pytest.approx(13.75)
    for wrong in (
        ("2 % w/v", "440 g", "400 g"),
        ("2 % w/w", "400 g", "440 g"),
        ("2 % w/w", "440 ml", "400 g"),
    ):
        with pytest.raises(DeskError):
            solids(*wrong)


def test_dry_load_of_remoistenable_tissue() -> None:
    """100 um of 4 % at 1.0 leave 4 g/m2, and 4 g/m2 need 100 um, which is 100 ml for a square metre."""
    assert load("4 % w/w", 1.0, film_um=100).value == pytest.approx(4)
    found = load("4 % w/w", 1.0, load_g_m2=4)
    assert found.value == pytest.approx(100)
    assert "100 ml for each m2" in found.text
    with pytest.raises(DeskError, match="either"):
        load("4 % w/w", 1.0)
    with pytest.raises(DeskError, match="% w/w"):
        load("4 % w/v", 1.0, film_um=100)


def test_bases_turn_into_one_another_only_with_a_density() -> None:
    """12.5 % w/w at 1.04 g/ml is 13 % w/v; without the density it is refused and named."""
    assert convert_strength("12.5 % w/w", "w/v", mix_density_g_ml=1.04).value == pytest.approx(13)
    assert convert_strength("50 % v/v", "w/v", part_density_g_ml=0.789).value == pytest.approx(39.45)
    with pytest.raises(DeskError, match="density of the mix"):
        convert_strength("12.5 % w/w", "w/v")
    with pytest.raises(DeskError, match="on what basis"):
        convert_strength("12.5 %", "w/v")
    with pytest.raises(DeskError, match="no basis"):
        convert_strength("12.5 % w/w", "w/q")


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["stock", "10 % w/v", "2 % w/v", "--total", "200 ml"], 0, "take 40 ml"),
        (["blend", "5 % w/v", "2 % w/v", "--amounts", "50 ml", "50 ml"], 0, "3.5 %"),
        (["blend", "5 % w/v", "2 % w/v"], 2, ""),
        (["solids", "12.5 % w/w", "440 g", "400 g"], 0, "13.8 % w/w"),
        (["load", "4 % w/w", "--density", "1", "--film", "100"], 0, "4 g/m2"),
        (["convert", "12.5 % w/w", "w/v", "--density", "1.04"], 0, "13 % w/v"),
        (["convert", "12.5 % w/w", "w/v"], 3, ""),
        (["stock", "2 % w/v", "10 % w/v", "--total", "1 l"], 3, ""),
    ],
)
def test_command(words: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every sub-verb, and its refusals with one sentence on standard error."""
    assert main(["dilute", *words]) == code
    out, err = capsys.readouterr()
    assert said in out
    assert bool(err) == (code != 0)


def test_command_json(capsys: pytest.CaptureFixture[str]) -> None:
    """One line of JSON."""
    assert main(["dilute", "stock", "10 % w/v", "2 % w/v", "--total", "200 ml", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["first"] == pytest.approx(40)
