"""Infill colour from the desk and the command line: near but detectable first."""

from __future__ import annotations

import json

import pytest

from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.sheet.mends import compare, fit_of, lab
from kb.desk.studio import Studio
from kb.science.sheet.colour import Lab, delta_e_2000

SHEET = Lab(88.0, 1.0, 12.0)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("88 1 12", Lab(88, 1, 12)),
        ("88.1, -1.2, 12", Lab(88.1, -1.2, 12)),
        ("88,1 -1,2 12", Lab(88.1, -1.2, 12)),
        ("88.1/1.2/12", Lab(88.1, 1.2, 12)),
        ("88 \N{MINUS SIGN}1 12", Lab(88, -1, 12)),
    ],
)
def test_readings_as_people_type_them(text: str, expected: Lab) -> None:
    """Blanks, commas, decimal commas and slashes."""
    assert lab(text) == expected


@pytest.mark.parametrize(
    "text", ["", "88 1", "88 1 2 3", "88 one 2", "nan 1 2", "101 0 0", "50 300 0", "1e9 0 0"]
)
def test_readings_that_cannot_be(text: str) -> None:
    """Three numbers inside CIELAB, or a sentence."""
    with pytest.raises(DeskError):
        lab(text)


def test_best_comes_first(studio: Studio) -> None:
    """Near but detectable, then too close, then too far; each with the difference and its direction."""
    found = compare(studio, SHEET, [Lab(80, 1, 12), Lab(88, 1, 12.2), Lab(86, 2, 14)])
    assert [one.number for one in found.infills] == [3, 2, 1]
    assert [one.fit for one in found.infills] == ["near but detectable", "too close", "too far"]
    best = found.infills[0]
    assert best.difference.value == pytest.approx(delta_e_2000(SHEET, Lab(86, 2, 14)))
    assert best.difference.model == "CIEDE2000"
    assert best.lighter.value == pytest.approx(-2.0)
    assert best.yellower.value == pytest.approx(2.0)


def test_fit_at_its_bounds() -> None:
    """Below 1 nobody sees it; above 5 everybody does."""
    assert [fit_of(delta) for delta in (0.0, 0.99, 1.0, 5.0, 5.01)] == [
        "too close",
        "too close",
        "near but detectable",
        "near but detectable",
        "too far",
    ]


def test_nothing_to_compare_is_told(studio: Studio) -> None:
    """The sheet alone is no comparison."""
    with pytest.raises(DeskError, match="at least one infill"):
        compare(studio, SHEET, [])


def test_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Text and JSON say the same."""
    words = ["--studio", str(studio.root), "infill", "88 1 12", "86 2 14"]
    assert main(words) == 0
    assert "near but detectable" in capsys.readouterr().out
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["infills"][0]["fit"] == "near but detectable"
    assert main(["--studio", str(studio.root), "infill", "88 1", "86 2 14"]) == 3
