"""A filled-in card typed in: every line read before any is stored, nothing dropped in silence."""

from __future__ import annotations

from pathlib import Path
from unittest.mock import Mock

import pytest

from kb.book.kinds.spot_test import HARM_KINDS
from kb.cli.main import main
from kb.cli.out import FAILED, FOUND
from kb.desk.choose.choose import choose
from kb.desk.errors import DeskError, Unclear
from kb.desk.records import record
from kb.desk.records.record import Written, list_tests
from kb.desk.records.typed import from_card
from kb.desk.studio import Studio
from kb.model.question import Question

ASKED = Question(
    adhesive="natural-rubber-resin",
    stage="oily",
    medium="letterpress-oil",
    paper="paper-woodpulp",
    sheet="Tide table",
)
OPTIONS = [
    "--adhesive",
    "natural-rubber",
    "--stage",
    "oily",
    "--medium",
    "letterpress",
    "--paper",
    "wood-pulp",
]


def test_lines_of_a_card_are_spots(studio: Studio) -> None:
    """Dwells, release, each harm that was looked at, the place; a look is bare paper and no adhesive."""
    first, look, blend = from_card(
        studio,
        ASKED,
        [
            "n-heptane: 30s, 1 min, 2:00, release 2, bleed 0, tideline=1 at lower left, fold",
            "ethanol: look, all 0",
            "",
            "acetone 50, n-heptane 50: 30 s r4 gloss 3",
        ],
    )
    assert [one.dwell_s for one in first.rounds] == [30.0, 60.0, 120.0]
    assert (first.release, first.harm) == (2, {"bleed": 0, "tideline": 1})
    assert (first.site.words, first.sheet, first.adhesive) == (
        "lower left, fold",
        "Tide table",
        ASKED.adhesive,
    )
    assert (look.medium, look.adhesive, look.release) == ("bare-paper", "", None)
    assert look.harm == dict.fromkeys(HARM_KINDS, 0)
    assert blend.parts == {"acetone": 0.5, "n-heptane": 0.5}
    assert blend.harm == {"gloss": 3}, "what is not named was not looked at"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("n-heptane 30s release 2", "names no liquid"),
        ("n-heptane: 30s release 2 smudged", '"smudged" is not understood'),
        ("n-heptane: 30s", "no grade is said"),
        ("n-heptane: release 7", "not one of 0, 1, 2, 3, 4"),
        ("n-heptane: release 2 release 3", "not understood"),
        ("n-heptane: look release 2", "no release"),
        ("n-heptane: 30s release 2 harm 0", '"harm 0" is not understood'),
        ("n-heptane: 30s, wear 2", "Kinds of harm are bleed, offset, tideline, gloss, surface, colour"),
    ],
)
def test_what_cannot_be_read_is_quoted(studio: Studio, line: str, said: str) -> None:
    """Harm 0 of no kind is no statement: which kinds were looked at has to be said."""
    with pytest.raises(DeskError, match=said):
        from_card(studio, ASKED, [line])


def test_a_name_that_is_only_near_is_asked_about(studio: Studio) -> None:
    """Never taken."""
    with pytest.raises(Unclear, match="nothing by that name"):
        from_card(studio, ASKED, ["heptne: release 2"])


@pytest.mark.slow
def test_the_command_stores_all_or_nothing_and_says_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One bad line keeps the good ones out; then all are said back with id and CAS number."""
    studio = ["--studio", str(tmp_path / "new")]
    good, bad = "n-heptane: 30s, release 1, bleed 0", "acetone: 30s, relese 4"
    words = ["test", "card", *studio, *OPTIONS, "--sheet", "Tide table"]
    assert main([*words, "--new-sheet", good, bad]) != 0
    assert list_tests(Studio(tmp_path / "new")) == []
    card = tmp_path / "card.txt"
    card.write_text(f"{good}\nacetone: 30s, release 4, bleed 0, gloss 0\n", encoding="utf-16")
    capsys.readouterr()
    assert main([*words, "--new-sheet", "--from", str(card)]) == FAILED
    assert (
        capsys.readouterr().err == f"{card} is not text in UTF-8; store it as such. Nothing was recorded.\n"
    )
    card.write_text(card.read_text("utf-16"), encoding="utf-8")
    assert main([*words, "--from", str(card)]) == FOUND, "a slip of the hand founds no second sheet"
    assert list_tests(Studio(tmp_path / "new")) == []
    capsys.readouterr()
    assert main([*words, "--new-sheet", "--from", str(card)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "n-Heptane [n-heptane, CAS 142-82-5]" in out
    assert "Acetone [acetone, CAS 67-64-1]" in out
    assert "medium: Letterpress" in out
    stored = list_tests(Studio(tmp_path / "new"))
    assert {(one.liquid, one.release) for one in stored} == {("n-heptane", 1), ("acetone", 4)}
    answer = choose(Studio(tmp_path / "new"), ASKED)
    assert [one.liquid for one in answer.worked_here] == ["acetone"]
    assert main([*words[:-1], "tide TABLE", good]) == 0
    assert {one.sheet for one in list_tests(Studio(tmp_path / "new"))} == {"Tide table"}
    full = DeskError("No room on the disk.")
    monkeypatch.setattr(record, "add_test", Mock(side_effect=[Written(id="1", bench="", at=""), full]))
    assert main([*words, "--from", str(card)]) == FAILED
    said = capsys.readouterr().err
    assert said == "No room on the disk. 1 of the card's spots were stored before that.\n"
