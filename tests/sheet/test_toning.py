"""Toning tests: from typed words to the book and back; the published difference; what is told."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from kb.book.append import BookError
from kb.book.kinds.batch import Batch
from kb.book.kinds.parts import ColourReading, Portion
from kb.book.kinds.toning import Toning
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.keep import rebuild
from kb.desk.making.batches import mark_bad, record
from kb.desk.records.book_list import amend_record, changes_from_words, show_record, withdraw_record
from kb.desk.sheet.mends import compare, lab
from kb.desk.studio import Studio
from kb.science.sheet.colour import Lab, delta_e_2000
from tests.work_help import add_toning, toning_from_words, tonings, warnings

FULL: dict[str, Any] = {
    "sheet": "S1",
    "tissue": "tengujo",
    "colourant": ["raw umber 0.4 g", "deionised water 20 ml"],
    "coats": "2",
    "aim": "88 1 12",
    "dry": "86,5 1,4 14,1",
    "read_with": "D65, 10 degrees, on two blotters",
    "judged": "a little warm",
    "bleeds": "Slightly",
    "at": "2026-05-31",
    "remarks": "third sheet",
}


@pytest.mark.slow
def test_words_to_book_to_index_to_view(studio: Studio) -> None:
    """What was typed is what is stored and listed, also after the index was derived anew."""
    toning = toning_from_words(studio, FULL)
    assert toning == Toning(
        sheet="S1",
        tissue="tengujo-5",
        colourants=(
            Portion(name="raw umber", amount=0.4, unit="g"),
            Portion(name="deionised water", amount=20.0, unit="ml"),
        ),
        coats=2,
        aim=ColourReading(lightness=88.0, a=1.0, b=12.0),
        dry=ColourReading(lightness=86.5, a=1.4, b=14.1),
        read_with="D65, 10 degrees, on two blotters",
        judged="a little warm",
        bleeds="slightly",
        toned_at="2026-05-31",
        remarks="third sheet",
    )
    written = add_toning(studio, toning)
    found = tonings(studio, "S1")
    assert [(one.id, one.at, one.toning, one.tissue) for one in found] == [
        (written.id, "2026-05-31", toning, "Tengujo")
    ]
    rebuild(studio)
    assert tonings(studio, "S1") == found
    assert tonings(studio, "S2") == []


def test_the_difference_is_that_of_the_published_formula(studio: Studio) -> None:
    """Of any two readings, as kb.science.sheet.colour and the infill comparison give it.

    kb.science.sheet.colour.delta_e_2000 is checked against the pairs printed in Sharma, Wu, Dalal (2005) in
    tests/published; so is, by that, what is listed here.
    """
    draw = random.Random(7)
    for _ in range(25):
        aim = Lab(draw.uniform(30, 98), draw.uniform(-15, 25), draw.uniform(-20, 45))
        dry = Lab(*(value + draw.uniform(-4, 4) for value in aim))
        dry = dry._replace(lightness=min(dry.lightness, 100.0))
        reading = [ColourReading(lightness=one[0], a=one[1], b=one[2]) for one in (aim, dry)]
        written = add_toning(studio, Toning(tissue="kozo-9", aim=reading[0], dry=reading[1]))
        view = next(one for one in tonings(studio) if one.id == written.id)
        other = compare(studio, aim, [dry]).infills[0]
        assert view.difference is not None
        assert view.difference.value == delta_e_2000(aim, dry)
        assert view.difference == other.difference
        assert (view.fit, view.difference_words, view.advice) == (other.fit, other.words, other.advice)


def test_a_printed_pair(studio: Studio) -> None:
    """The first pair of the table in Sharma et al. (2005): 2.0425 (from memory, as in tests/published)."""
    toning = toning_from_words(studio, {"tissue": "x", "aim": "50 2.6772 -79.7751", "dry": "50 0 -82.7485"})
    add_toning(studio, toning)
    (view,) = tonings(studio)
    assert view.difference is not None
    assert view.difference.value == pytest.approx(2.0425, abs=5e-5)


@pytest.mark.parametrize("missing", ["aim", "dry"])
def test_without_both_readings_no_difference_is_made_up(studio: Studio, missing: str) -> None:
    """It says that the colour was not read; nothing is called near."""
    add_toning(studio, toning_from_words(studio, {**FULL, missing: ""}))
    (view,) = tonings(studio)
    assert (view.difference, view.fit, view.advice) == (None, "", "")
    assert "not read" in view.verdict
    assert "difference" not in view.words


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"aim": "88 1"}, "L a b"),
        ({"dry": "188 1 2"}, "outside CIELAB"),
        ({"colourant": ["a pinch of umber"]}, "not an ingredient"),
        ({"coats": "two"}, "whole number"),
        ({"bleeds": "perhaps"}, "no, slightly, yes"),
        ({"batch": "01ZZZZZZZZ"}, "No batch"),
    ],
)
def test_what_cannot_be_is_refused(studio: Studio, typed: dict[str, Any], said: str) -> None:
    """A sentence that makes sense on a screen, and no record."""
    with pytest.raises(DeskError, match=said) as caught:
        toning_from_words(studio, {**FULL, **typed})
    assert "--" not in str(caught.value)
    assert tonings(studio) == []


def test_a_test_of_nothing_is_refused(studio: Studio) -> None:
    """A tissue must be named, in words or by id; amounts below nought cannot be."""
    with pytest.raises(DeskError, match="no tissue"):
        add_toning(studio, toning_from_words(studio, {"sheet": "S1"}))
    below = Toning(tissue="x", colourants=(Portion(name="umber", amount=-1.0, unit="g"),))
    with pytest.raises((DeskError, BookError), match="not below 0"):
        add_toning(studio, below)


def test_bleeding_and_bad_batches_are_told(studio: Studio) -> None:
    """Not looked at is not taken for either."""
    batch = record(studio, Batch(name="colour bath", made_at="2026-06-01"), date(2026, 6, 2)).id
    mark_bad(studio, batch, "settled out")
    portion = Portion(name="bath", amount=5.0, unit="ml", batch=batch)
    told = warnings(studio, Toning(tissue="tengujo-5", bleeds="yes", colourants=(portion,), batch=batch))
    assert len(told) == 2
    assert "settled out" in told[0]
    assert "damp swab" in told[1]
    for quiet in ("", "no"):
        assert warnings(studio, toning_from_words(studio, {"tissue": "tengujo", "bleeds": quiet})) == ()


def test_amended_by_words_and_withdrawn(studio: Studio) -> None:
    """A colour, portions and a choice are typed as when they were first written; the difference follows."""
    one = add_toning(studio, toning_from_words(studio, FULL)).id
    changes = changes_from_words(
        studio,
        "toning",
        ["dry=87.9 1.1 12.2", "colourants=raw umber 0.5 g; water 25 ml", "bleeds=no", "coats="],
    )
    amend_record(studio, one, changes, "read again")
    (view,) = tonings(studio)
    assert view.toning.dry == ColourReading(lightness=87.9, a=1.1, b=12.2)
    assert [portion.amount for portion in view.toning.colourants] == [0.5, 25.0]
    assert (view.toning.bleeds, view.toning.coats, view.state) == ("no", None, "amended")
    assert view.difference is not None
    assert view.difference.value == delta_e_2000(lab("88 1 12"), lab("87.9 1.1 12.2"))
    shown = dict(show_record(studio, one).fields)
    assert shown["colour when dry (L a b)"] == "87.9 1.1 12.2"
    withdraw_record(studio, one, "another sheet")
    assert tonings(studio) == []


def test_by_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Several colourants, the difference at once, and the same in JSON."""
    run: Callable[..., int] = lambda *words: main(["tone", *words, "--studio", str(studio.root)])  # noqa: E731
    studio.close()
    words = (
        "tengujo",
        "--sheet",
        "S1",
        "--new-sheet",
        "--colourant",
        "raw umber 0.4 g",
        "--colourant",
        "water 20 ml",
    )
    assert run("add", *words, "--aim", "88 1 12", "--dry", "87 1.5 14") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"difference {delta_e_2000(Lab(88, 1, 12), Lab(87, 1.5, 14)):.1f}" in said
    assert run("list", "--json") == 0
    (one,) = json.loads(capsys.readouterr().out)
    assert one["fit"] == "near but detectable"
    assert one["difference"]["value"] == delta_e_2000(Lab(88, 1, 12), Lab(87, 1.5, 14))
    assert run("list", "S2") == 1
    assert 'There is no sheet "S2"' in capsys.readouterr().err
