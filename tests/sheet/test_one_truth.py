"""What is known of a sheet in one record is used wherever the sheet is planned for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from kb.book.kinds.housing import Housing
from kb.cli.main import main
from kb.desk.amounts import celsius
from kb.desk.errors import DeskError
from kb.desk.records.book_list import amend_record, list_records
from kb.desk.records.fill import begin, store
from kb.desk.sheet.facts import sheet_facts
from kb.desk.sheet.housing import notes
from kb.desk.sheet.plan import housing_lines, sheet_plan, wash_lines
from kb.desk.sheet.sheets import add_condition, add_sheet, keep_facts
from kb.desk.studio import Studio
from kb.desk.water.wash import Washing, plan_known
from kb.tui.screens.water.bath_form import BathForm, InReach, reckon, with_record
from tests.work_help import add

CHART = {"sheet": "Chart", "size": "600 x 840 mm", "grammage": "80 g/m2"}

LISTED_BY_SHEET = ("mend", "frame", "wash", "condition", "strip", "tone", "photo")


@pytest.fixture
def chart(studio: Studio) -> Studio:
    """A studio with one invented sheet."""
    add_sheet(studio, CHART)
    return studio


def test_a_sheet_that_was_framed_has_a_size(studio: Studio) -> None:
    """The plan called the size missing while the housing record had it."""
    add_sheet(studio, {"sheet": "Chart"})
    sides: dict[str, Any] = {"sheet_width_mm": 600.0, "sheet_height_mm": 840.0}
    housing = Housing(sheet="Chart", humidity_low=45.0, humidity_high=55.0, **sides)
    add(studio, housing)
    facts = sheet_facts(studio, "Chart")
    assert (facts.size, facts.humidity) == ("600 x 840 mm", "45-55 %")
    plan = sheet_plan(studio, "Chart", facts)
    assert plan.housing is not None
    assert not any(one.startswith(("width and height", "the humidity")) for one in plan.missing)


def test_the_rebate_is_held_against_its_layers(chart: Studio) -> None:
    """The recorded depth was not looked at."""
    framed = Housing(sheet="Chart", humidity_low=45.0, humidity_high=55.0, depth_mm=4.0)
    assert any(one.startswith("Depth 4 mm is TOO SMALL: the layers take") for one in notes(chart, framed))
    deep = msgspec.structs.replace(framed, depth_mm=60.0)
    assert any(one.startswith("Depth 60 mm is enough") for one in notes(chart, deep))


@pytest.mark.slow
def test_the_verdict_on_light_says_what_it_takes(chart: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody typed how bright or how long: it was over the budget without a word of why."""
    taken = "taken as high sensitivity at 50 lux, 8 h a day on 90 days: 36 000 lux h"
    main(["house", "--size", "420 x 594 mm"])
    assert taken in " ".join(capsys.readouterr().out.split())
    facts = msgspec.structs.replace(sheet_facts(chart, "Chart"), size="420 x 594 mm", humidity="40-60 %")
    lines = housing_lines(sheet_plan(chart, "Chart", facts).housing)
    assert any(taken in one for one in lines)


def test_a_gap_is_checked_by_the_grain_that_is_known_now(chart: Studio) -> None:
    """The one that was reckoned before anybody had looked at the grain is not what stands there."""
    gaps = {"gap_width_mm": 2.0, "gap_height_mm": 2.0}
    framed = Housing(sheet="Chart", humidity_low=40.0, humidity_high=60.0, **gaps)
    said = {}
    for grain in ("", "width", "height"):
        if grain:
            keep_facts(chart, "Chart", msgspec.structs.replace(sheet_facts(chart, "Chart"), grain=grain))
        said[grain] = notes(chart, framed)
    assert len(set(said.values())) == 3, said


def test_an_option_is_typed_whole(chart: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """--colour was taken as --colourant and filed there."""
    with pytest.raises(SystemExit) as left:
        main(["--studio", str(chart.root), "tone", "add", "Chart", "--colour", "brown"])
    assert left.value.code == 2
    assert "Did you mean --colourant?" in capsys.readouterr().err
    assert list_records(chart, kinds=("toning",)) == []


def test_washing_knows_the_sheet(studio: Studio) -> None:
    """From the plan of a sheet to its washing, media, paper and size were lost."""
    add_sheet(studio, {**CHART, "media-front": "letterpress-oil", "paper": "paper-woodpulp"})
    planned = plan_known(studio, Washing("Chart"))
    assert [one.id for one in planned.reach] == ["letterpress-oil", "paper-woodpulp"]
    assert planned.least_water is not None
    # 0.806 l for half a square metre would be a film of a millimetre and a half.
    assert (planned.least_water.value or 0.0) / 0.504 >= 10


def test_washing_knows_what_the_tests_of_the_sheet_were_made_on(
    studio: Studio, record: Callable[..., str]
) -> None:
    """The plan said STOP, and its washing that no medium is named. No word is passed over either."""
    record(studio, sheet="Chart", medium="iron-gall", paper="paper-rag")
    record(studio, sheet="Chart", medium="bare-paper", paper="paper-rag")
    assert [one.id for one in plan_known(studio, Washing("Chart")).reach] == ["iron-gall", "paper-rag"]
    add_sheet(studio, {"sheet": "Map", "media-front": "letterpress-oil, aquarel"})
    found = plan_known(studio, Washing("Map"))
    unknown = next(one for one in found.reach if one.name == "aquarel")
    assert (unknown.verdict, found.verdict) == ("test first", "test first")
    assert all("Handbook" not in one or one.endswith(".") for one in wash_lines(found)), (
        "Handbook, and no word"
    )
    add_sheet(studio, {"sheet": "Deed", "media-front": "iron gal ink"})
    misspelt = plan_known(studio, Washing("Deed")).reach[0]
    assert "Near in spelling: Iron gall ink" in misspelt.why, "its rules hold for nothing here"


@pytest.mark.parametrize(("kind", "field"), [("mend", "length"), ("condition", "width")])
def test_a_tear_longer_than_its_sheet_is_refused(chart: Studio, kind: str, field: str) -> None:
    values = {"sheet": "Chart", "damage": "tear", field: "5000 mm"}
    with pytest.raises(DeskError, match=r"5000 mm is longer than both sides of the sheet together"):
        store(chart, kind=kind, values=values)
    store(chart, kind=kind, values={**values, field: "800 mm"})
    for lies, said in (
        ({"width_mm": "5000 mm"}, "longer than both"),
        ({"x_mm": "900 mm"}, "900 mm lies outside"),
    ):
        with pytest.raises(DeskError, match=said):
            add_condition(chart, {"sheet": "Chart", "damage": "tear", **lies})


def test_a_spot_outside_its_sheet_is_refused(chart: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Nine hundred millimetres from the left of a sheet of 600 was stored without a word."""
    words = ["test", "add", "--studio", str(chart.root), "--sheet", "Chart", "--liquid", "acetone"]
    words += ["--release", "1"]
    assert main([*words, "--x", "900 mm"]) != 0
    assert "900 mm lies outside the sheet (600 x 840 mm)" in capsys.readouterr().err
    assert main([*words, "--x", "590 mm", "--y", "12 mm"]) == 0
    (test,) = list_records(chart, kinds=("test",), sheet="Chart")
    with pytest.raises(DeskError, match="900 mm lies outside the sheet"):
        amend_record(chart, test.id, {"site": {"x_mm": 900.0}}, "slip of the pen")


def test_a_form_holds_nothing_that_nobody_chose(chart: Studio) -> None:
    """That of a mend came with a tissue, a batch and a length of 120 mm, that of a housing with a frame."""
    for kind in ("mend", "toning", "housing"):
        begun = begin(chart, kind=kind, sheet="Chart")
        assert {name for name, value in begun.values.items() if value} <= {"sheet", "size", "humidity"}, kind


def test_hinges_are_offered_in_the_weight_that_the_plan_asks(studio: Studio) -> None:
    """Tissues of 2 to 3.5 g/m2 for mends were offered where 11 to 20 carry the sheet."""
    add_sheet(studio, {**CHART, "humidity": "40-60 %"})
    plan = sheet_plan(studio, "Chart", sheet_facts(studio, "Chart"))
    assert plan.housing is not None
    asked = plan.housing.hinges.tissue
    offered = begin(studio, kind="housing", sheet="Chart").choices["hinge_tissue"]
    assert offered
    for one in offered:
        low, high = one.words.rpartition(", ")[2].removesuffix(" g/m2").split(" to ")
        assert float(low) <= (asked.high or 0.0), one
        assert float(high) >= (asked.low or 0.0), one


def test_a_thermometer_is_read_to_a_tenth(chart: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """66 F printed 18.8889 °C; what was typed in °C stays as typed."""
    assert celsius("66 F") == 18.9
    assert celsius("18.25 C") == 18.25
    at = ("--studio", str(chart.root))
    assert main(["wash", *at, "read", "Chart", "--bath", "1", "--temperature", "66 F"]) == 0
    assert main(["wash", *at, "list"]) == 0
    assert "18.9 °C" in capsys.readouterr().out


def test_a_list_of_a_sheet_that_is_not_there_says_so(
    chart: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """It gave an empty list and exit 0."""
    at = ("--studio", str(chart.root))
    listings = [[verb, *at, "list", "--sheet", "Nowhere"] for verb in ("test", "book")]
    listings += [[verb, *at, "list", "Nowhere"] for verb in LISTED_BY_SHEET]
    for words in (*listings, *([*words, "--json"] for words in listings)):
        assert main(words) == 1, words
        told = capsys.readouterr()
        assert 'There is no sheet "Nowhere"' in told.err, words
        assert not told.out, words
    assert main(["test", *at, "list", "--sheet", "Chart"]) == 0


def test_a_question_finds_its_sheet_by_number_or_part(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """By its number a sheet of iron gall ink was planned for as one of which nothing is known."""
    add_sheet(studio, {**CHART, "number": "QN-7", "media-front": "iron-gall"})
    at = ("--studio", str(studio.root))
    questions = (["wash", "plan"], ["choose", "--adhesive", "starch"], ["dry", "--liquid", "acetone"])
    for words in questions:
        answers = []
        for typed in ("Chart", "QN-7", "char"):
            assert main([*words, *at, "--sheet", typed, "--json"]) == 0
            told = capsys.readouterr()
            answers.append(told.out)
            assert not told.err, words
        assert len(set(answers)) == 1, words
        assert main([*words, *at, "--sheet", "Nowhere"]) == 0
        assert 'There is no sheet "Nowhere"' in capsys.readouterr().err, words


@pytest.mark.slow
def test_an_alkaline_bath_knows_the_medium_and_paper_of_its_sheet(studio: Studio) -> None:
    """The bath took them from the question only, though the record of the sheet had them."""
    media = {when.media[0] for one in studio.compiled.cautions if (when := one.when).agents and when.media}
    medium = next(
        one for one in sorted(media) if _first_caution(studio, InReach(media=(one,))) != _plain(studio)
    )
    add_sheet(studio, {**CHART, "media-front": medium, "paper": "paper-woodpulp"})
    named = InReach(media=(medium,), paper="paper-woodpulp")
    assert _first_caution(studio, InReach(sheet="Chart")) == _first_caution(studio, named)
    assert _first_caution(studio, InReach(sheet="Chart")) != _plain(studio)


def _first_caution(studio: Studio, near: InReach) -> str:
    return reckon(studio, BathForm(volume="5 L", target_ph="8.5"), with_record(studio, near)).cautions[0].id


def _plain(studio: Studio) -> str:
    return _first_caution(studio, InReach())


def test_an_amended_length_is_held_against_the_sheet(chart: Studio) -> None:
    """A tear of a sheet may not be longer than the sheet, also when its length is corrected."""
    made = store(chart, kind="mend", values={"sheet": "Chart", "damage": "tear", "length": "80 mm"}).id
    with pytest.raises(DeskError, match=r"5000 mm is longer than both sides of the sheet together"):
        amend_record(chart, made, {"length_mm": 5000.0}, "read again")
    amend_record(chart, made, {"length_mm": 800.0}, "read again")
