"""One object has one name, however its accents are composed and whichever letters are capitals."""

from __future__ import annotations

import json
from unicodedata import normalize

import pytest

from kb.cli.main import main
from kb.desk.choose.choose import choose
from kb.desk.records.book_list import list_records
from kb.desk.records.record import add_test, list_tests
from kb.desk.studio import Studio
from kb.desk.water.wash import Washing, plan
from kb.index.queries import sheet_as_known
from kb.model.question import Question
from tests.conftest import spot

NAME = normalize("NFC", "Karte Zürich, gefärbt é")
TYPED = (NAME, normalize("NFD", NAME), NAME.upper(), normalize("NFD", NAME.lower()), f"  {NAME} ")


def harmed(studio: Studio) -> None:
    add_test(studio, spot(sheet=NAME, parts={"water": 1.0}, release=1, harm={"bleed": 4}, medium="iron-gall"))


@pytest.mark.parametrize("typed", TYPED)
def test_what_harmed_this_sheet_is_known_however_its_name_is_typed(studio: Studio, typed: str) -> None:
    """A harm of 4 on it must not read as 'nothing is known of how this sheet answers'."""
    harmed(studio)
    assert [row.sheet for row in list_tests(studio, {"sheet": typed})] == [NAME]
    assert [row.sheet for row in list_records(studio, sheet=typed)] == [NAME]
    asked = Question(adhesive="natural-rubber", stage="oily", medium="iron-gall", sheet=NAME)
    other = Question(adhesive="natural-rubber", stage="oily", medium="iron-gall", sheet=typed)
    by_name = {one.liquid: one.harm for one in choose(studio, asked).refused}
    assert {one.liquid: one.harm for one in choose(studio, other).refused} == by_name
    here, there = (plan(studio, Washing(sheet=name, media=("iron-gall",))) for name in (typed, NAME))
    assert here.reach == there.reach


@pytest.mark.parametrize("typed", TYPED)
def test_a_second_record_lies_on_the_same_sheet(
    studio: Studio, capsys: pytest.CaptureFixture[str], typed: str
) -> None:
    """Of any kind: a spot test and a mend founded a second sheet before."""
    harmed(studio)
    at = ("--studio", str(studio.root))
    spot_words = ["add", "--liquid", "water", "--release", "2", "--dwell", "30s", "--sheet", typed]
    assert main(["test", *at, *spot_words]) == 0
    assert main(["mend", *at, "add", typed, "--tear", "plain", "--length", "30 mm"]) == 0
    capsys.readouterr()
    assert main(["book", *at, "list", "--json"]) == 0
    assert {row["sheet"] for row in json.loads(capsys.readouterr().out)} == {NAME}


def test_two_names_that_differ_only_in_capitals_stay_two(studio: Studio) -> None:
    """Where a book has both, neither is taken for the other."""
    for name in ("chart", "Chart"):
        add_test(studio, spot(sheet=name))
    conn = studio.index.conn
    assert [sheet_as_known(conn, name) for name in ("chart", "Chart", "CHART")] == ["chart", "Chart", "CHART"]
    assert sheet_as_known(conn, "Chars") == "Chars", "near in spelling is not the same"
