"""Washing planner and bath readings: no water test, no bath; readings in the book; when to stop."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable
from typing import Any

import pytest

from kb.book.append import BookError, append
from kb.book.check import make_amend, make_kept
from kb.book.fold import fold
from kb.book.kinds.bath_reading import BathReading
from kb.book.kinds.spot_test import Round
from kb.book.kinds.table import KINDS
from kb.book.verify import verify
from kb.cli.main import main
from kb.desk.errors import DeskError, Unclear
from kb.desk.keep import rebuild
from kb.desk.records.book_list import amend_record, changes_from_words, list_records, withdraw_record
from kb.desk.studio import Studio
from kb.desk.water.readings import (
    add_reading,
    all_readings,
    reading_id,
    stop_rule,
)
from kb.desk.water.wash import Size, Washing, plan, worst
from kb.model.record import Withdraw
from tests.whole_book import all_lines

CLEAN = {"bleed": 0, "offset": 0, "tideline": 0}
FIVE_MIN = (Round(dwell_s=300.0),)


def put(studio: Studio, sheet: str = "S1", **fields: Any) -> str:
    """Write down a reading; returns its id."""
    return add_reading(studio, BathReading(sheet=sheet, **fields)).id


@pytest.fixture
def water(record: Callable[..., str]) -> Callable[..., str]:
    """Stores a test with water on letterpress of sheet S1: five minutes, no harm, unless told otherwise."""

    def store(studio: Studio, **fields: Any) -> str:
        usual: dict[str, Any] = {"parts": {"water": 1.0}, "sheet": "S1", "harm": CLEAN, "rounds": FIVE_MIN}
        return record(studio, **{**usual, **fields})

    return store


def verdicts(studio: Studio, **fields: Any) -> tuple[str, dict[str, str]]:
    """The plan's verdict and those of its ways, on letterpress and wood pulp."""
    found = plan(studio, Washing("S1", ("letterpress-oil",), "paper-woodpulp", **fields))
    return found.verdict, {one.way: one.verdict for one in found.ways}


# What is possible


def test_no_water_test_no_bath(studio: Studio) -> None:
    """Without a test with water on this sheet nothing is possible, whatever the handbook says."""
    found = plan(studio, Washing("S1", ("letterpress-oil",), "paper-woodpulp"))
    assert found.verdict == "test first"
    assert found.headline == "Test first, no bath."
    assert [one.way for one in found.ways] == ["blotter", "float", "immersion", "suction"]
    assert {one.verdict for one in found.ways} == {"test first"}


def test_a_test_on_another_sheet_or_liquid_does_not_count(studio: Studio, water: Callable[..., str]) -> None:
    """Only this sheet, and only water."""
    water(studio, sheet="S2")
    water(studio, parts={"ethanol": 1.0})
    assert verdicts(studio)[0] == "test first"


def test_a_clean_test_allows_washing(studio: Studio, water: Callable[..., str]) -> None:
    """Five minutes of water without harm: all ways, the gentlest first."""
    water(studio)
    verdict, ways = verdicts(studio)
    assert verdict == "possible"
    assert set(ways.values()) == {"possible"}


def test_a_withdrawn_test_no_longer_counts(studio: Studio, water: Callable[..., str]) -> None:
    """What was taken out of the book permits nothing."""
    from kb.desk.records.book_list import withdraw_record

    withdraw_record(studio, water(studio), "wrong sheet")
    assert verdicts(studio)[0] == "test first"


@pytest.mark.parametrize(
    ("fields", "expected", "why"),
    [
        ({"harm": {"bleed": 2, "offset": 0}}, "no", "grade 2"),
        ({"harm": {**CLEAN, "offset": 1}}, "gentle only", "a trace: offset"),
        ({"harm": {"bleed": 0, "offset": 0, "tideline": 2}}, "possible", "wet the whole sheet"),
        ({"harm": {"bleed": 0, "offset": 0, "tideline": 4, "surface": 2}}, "no", "surface of grade 2"),
        ({"harm": {"tideline": 1}}, "test first", "bleed or offset"),
        ({"harm": {"bleed": 0}}, "test first", "offset"),
        ({"harm": {}}, "test first", "bleed or offset"),
        ({"rounds": (Round(dwell_s=60.0),)}, "test first", "at least 5"),
        ({"rounds": ()}, "test first", "says how long it took; a bath asks for at least 5 min."),
    ],
)
def test_what_a_test_must_have_shown(
    studio: Studio, water: Callable[..., str], fields: dict[str, Any], expected: str, why: str
) -> None:
    """Harm forbids, a trace limits, what was not looked at or too short asks for another test."""
    water(studio, **fields)
    found = plan(studio, Washing("S1", ("letterpress-oil",), "paper-woodpulp"))
    assert found.verdict == expected
    assert why in found.reach[0].why


LONG, SHORT = (Round(dwell_s=900.0),), (Round(dwell_s=5.0),)


@pytest.mark.parametrize(
    ("tests", "expected", "why"),
    [
        (
            [(LONG, {"gloss": 0}), (SHORT, CLEAN)],
            "test first",
            "bleed took 5 s; a bath asks for at least 5 min.",
        ),
        ([(LONG, {"bleed": 0}), (SHORT, {"offset": 0})], "test first", "looked for offset took 5 s; a bath"),
        ([(LONG, {"bleed": 0}), (FIVE_MIN, {"offset": 0, "gloss": 0})], "possible", "2 tests with water"),
        ([(FIVE_MIN, CLEAN), (LONG, {})], "possible", "1 test with water on this sheet: no harm seen"),
    ],
)
def test_the_dwell_is_that_of_a_test_which_looked(
    studio: Studio,
    water: Callable[..., str],
    tests: list[tuple[Any, dict[str, int]]],
    expected: str,
    why: str,
) -> None:
    """Five seconds with a look at the ink and fifteen minutes with one at the gloss made washing possible."""
    for rounds, harm in tests:
        water(studio, rounds=rounds, harm=harm)
    found = plan(studio, Washing("S1", ("letterpress-oil",), "paper-woodpulp"))
    assert (found.verdict, why in found.reach[0].why) == (expected, True), found.reach[0].why


@pytest.mark.parametrize("medium", ["letterpress-oil", "bare-paper", ""])
def test_paper_that_nobody_looked_at_takes_no_bath(
    studio: Studio, water: Callable[..., str], medium: str
) -> None:
    """After twenty minutes, with a look at the ink alone, rag with a gelatin size was "possible"."""
    harm = {"bleed": 0, "offset": 0}
    water(studio, medium=medium, harm=harm)
    paper = plan(studio, Washing("S1", ("letterpress-oil",), "paper-rag")).reach[-1]
    assert (paper.verdict, "tideline, gloss or surface" in paper.why) == ("test first", True)
    bare = plan(studio, Washing("S1", ("bare-paper",), "paper-rag"))
    assert bare.verdict == "test first"
    water(studio, medium=medium, harm={**harm, "surface": 0})
    assert plan(studio, Washing("S1", ("letterpress-oil",), "paper-rag")).reach[-1].verdict == "possible"


@pytest.mark.parametrize("method", ["gel", "local-poultice", "vapour-dome"])
def test_what_a_gel_spared_is_no_news_of_a_bath(
    studio: Studio, water: Callable[..., str], method: str
) -> None:
    """Twenty minutes under a gel of water, all clean, were "Washing is possible"; its harm does count."""
    clean = {"bleed": 0, "offset": 0, "tideline": 0, "surface": 0}
    water(studio, method=method, harm=clean)
    asked = Washing("S1", ("letterpress-oil",), "paper-rag")
    assert plan(studio, asked).verdict == "test first"
    assert "by gel or the like alone" in plan(studio, asked).reach[0].why
    # A ring under it is no look at what a bath would do, and opens none either.
    water(studio, method=method, harm={**clean, "tideline": 3})
    assert plan(studio, asked).verdict == "test first"
    # A trace counts beside a drop that was clean, and so does harm.
    water(studio, harm=clean)
    assert plan(studio, asked).verdict == "possible"
    water(studio, method=method, harm={**clean, "bleed": 1})
    assert plan(studio, asked).verdict == "gentle only"
    water(studio, method=method, harm={**clean, "bleed": 3})
    assert plan(studio, asked).verdict == "no"


@pytest.mark.parametrize(
    "fields",
    [{"medium": "bare-paper"}, {"medium": ""}, {"medium": "", "control": True}, {"medium": "stamp-pad"}],
)
def test_paper_that_nobody_named_is_judged_too(
    studio: Studio, water: Callable[..., str], fields: dict[str, Any]
) -> None:
    """A drop that tore the fibres of bare paper stood beside "Washing is possible", as no paper was named."""
    of_ink = {"bleed": 0, "offset": 0}
    water(studio, harm=of_ink, paper="")
    unseen = plan(studio, Washing("S1", ("letterpress-oil",)))
    assert (unseen.verdict, unseen.reach[-1].kind) == ("test first", "paper")
    assert "tideline, gloss or surface" in unseen.reach[-1].why
    water(studio, harm={"surface": 4}, paper="", **fields)
    torn = plan(studio, Washing("S1", ("letterpress-oil",)))
    assert (torn.verdict, torn.reach[-1].verdict) == ("no", "no")
    assert torn.headline.endswith("Paper cannot be wetted.")
    assert torn.reach[-1].why.endswith("surface of grade 4.")
    # Seen and unharmed it is free, and what nobody named asks for no handbook.
    water(studio, sheet="S2", harm={**of_ink, "surface": 0}, paper="")
    free = plan(studio, Washing("S2", ("letterpress-oil",)))
    assert (free.verdict, free.reach[-1].handbook) == ("possible", "")
    # Another ink that ran is told of without a paper too.
    water(studio, sheet="S2", medium="graphite", harm={"bleed": 4})
    assert (
        plan(studio, Washing("S2", ("letterpress-oil",))).headline
        == "No bath: Graphite pencil cannot be wetted."
    )


@pytest.mark.parametrize("harm", [{"tideline": 0}, {"tideline": 3, "bleed": 1}])
def test_of_a_tideline_alone_it_says_so(
    studio: Studio, water: Callable[..., str], harm: dict[str, int]
) -> None:
    """It said that the ink alone was looked at, where a ring on the paper had been graded."""
    water(studio, harm=harm)
    paper = plan(studio, Washing("S1", ("letterpress-oil",), "paper-rag")).reach[-1]
    assert (paper.verdict, "looked at the tideline alone" in paper.why) == ("test first", True), paper.why


def test_the_test_with_the_bath_must_have_looked_too(studio: Studio, water: Callable[..., str]) -> None:
    """One that names a batch and looked at the gloss answered for alkali."""
    water(studio)
    water(studio, batch="01HZXQ0000000000000000000X", harm={"gloss": 0})
    found = plan(studio, Washing("S1", ("letterpress-oil",), "paper-woodpulp", alkaline=True))
    assert found.verdict == "test first"
    assert "names the batch of a bath looked for bleed or offset" in found.reach[0].why


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"medium": ""}, "with water, no medium named: bleed of grade 4."),
        ({"parts": {"water": 0.9, "ethanol": 0.1}}, "with water 90 % + Ethanol 10 %: bleed of grade 4."),
        ({"parts": {"hydrogen-peroxide-30": 1.0}, "medium": ""}, "no medium named: bleed of grade 4."),
        ({"parts": {"acetone": 0.8, "water": 0.2}}, "grade 4; with water alone no harm was seen."),
        ({"parts": {"ethanol": 1.0}}, ""),
        ({"medium": "graphite"}, ""),
        ({"parts": {"water": 0.9, "ethanol": 0.1}, "harm": {"bleed": 1, "offset": 0}}, ""),
        ({"parts": {"water": 0.9, "ethanol": 0.1}, "harm": {"bleed": 0, "tideline": 3}}, ""),
    ],
)
def test_harm_counts_though_no_medium_or_more_than_water_was_named(
    studio: Studio, water: Callable[..., str], fields: dict[str, Any], why: str
) -> None:
    """Bleeding of grade 4 by nine parts of water and one of ethanol stood beside "Washing is possible"."""
    water(studio)
    water(studio, **{"harm": {"bleed": 4}, **fields})
    found = plan(studio, Washing("S1", ("letterpress-oil",)))
    ink = found.reach[0]
    assert ink.verdict == ("possible" if not why else "gentle only" if "alone" in why else "no")
    assert ink.why.endswith(why or "1 test with water on this sheet: no harm seen.")


@pytest.mark.parametrize(
    ("grade", "said"), [(1, " left a trace: bleed."), (3, ": bleed of grade 3.")], ids=["trace", "harm"]
)
def test_a_test_is_called_by_its_day(
    studio: Studio, water: Callable[..., str], grade: int, said: str
) -> None:
    """It was called by its id, which nobody knows."""
    water(studio, harm={**CLEAN, "bleed": grade})
    (row,) = list_records(studio)
    found = plan(studio, Washing("S1", ("letterpress-oil",), "paper-woodpulp")).reach[0].why
    assert found.startswith(f"Test of {row.at[:10]} with water{said}")


def test_only_gentle_ways_after_a_trace(studio: Studio, water: Callable[..., str]) -> None:
    """Blotter and suction stay, float and tray go."""
    water(studio, harm={**CLEAN, "offset": 1})
    ways = verdicts(studio)[1]
    assert ways == {"blotter": "possible", "float": "no", "immersion": "no", "suction": "possible"}


def test_a_rule_that_forbids_beats_clean_tests(studio: Studio, water: Callable[..., str]) -> None:
    """Iron gall ink is not bathed, even where a spot showed nothing."""
    water(studio, medium="iron-gall")
    found = plan(studio, Washing("S1", ("iron-gall",), ""))
    assert found.verdict == "no"
    assert any(one.id == "iron-gall-water" for one in found.cautions)


def test_what_forbids_the_bath_is_named_once_and_by_every_way(
    studio: Studio, water: Callable[..., str]
) -> None:
    """The ways said "{} cannot be wetted"; two inks of one printer were one name twice."""
    both = ("inkjet-dye", "inkjet-pigment")
    for medium in both:
        water(studio, medium=medium, harm={"bleed": 2})
    found = plan(studio, Washing("S1", both))
    assert [one.verdict for one in found.reach if one.kind == "medium"] == ["no", "no"]
    assert found.headline == "No bath: Inkjet print cannot be wetted."
    assert {one.why for one in found.ways} == {found.headline}


def test_an_ink_that_bled_is_named_and_not_the_paper_under_it(
    studio: Studio, water: Callable[..., str]
) -> None:
    """Two bleeding letters had the headline say that the paper cannot be wetted; the ink counts where the
    question does not name it, too."""
    water(studio, medium="inkjet-dye", harm={"bleed": 2, "offset": 0, "surface": 0})
    for media in (("inkjet-dye",), ("graphite",), ()):
        found = plan(studio, Washing("S1", media, "paper-woodpulp"))
        assert found.headline == "No bath: Inkjet print cannot be wetted."
        of = {one.id: (one.verdict, one.why) for one in found.reach}
        assert of["inkjet-dye"][0] == "no"
        assert of["paper-woodpulp"] == ("possible", "1 test with water on this sheet: no harm seen.")
    # Of the paper nobody saw anything where the ink alone was looked at; what it shows itself is its own.
    water(studio, sheet="S2", medium="inkjet-dye", harm={"bleed": 2, "offset": 2})
    assert plan(studio, Washing("S2", (), "paper-woodpulp")).reach[-1].verdict == "test first"
    water(studio, sheet="S2", medium="inkjet-dye", harm={"bleed": 2, "offset": 0, "surface": 3})
    torn = plan(studio, Washing("S2", (), "paper-woodpulp"))
    assert torn.headline == "No bath: Inkjet print, Wood-pulp paper of newsprint kind cannot be wetted."


def test_the_handbook_limits_where_it_disagrees(studio: Studio, water: Callable[..., str]) -> None:
    """Watercolour pencil usually gives way: a clean test allows the gentle ways only, and both are told."""
    water(studio, medium="watercolour-pencil")
    found = plan(studio, Washing("S1", ("watercolour-pencil",), ""))
    assert found.verdict == "gentle only"
    assert "disagree" in found.reach[0].why


def test_the_worst_within_reach_decides(studio: Studio, water: Callable[..., str]) -> None:
    """One untested medium on the back is enough."""
    water(studio)
    assert plan(studio, Washing("S1", ("letterpress-oil", "graphite"), "")).verdict == "test first"
    assert worst(["possible", "gentle only"]) == "gentle only"
    assert worst([]) == "test first"


def test_nothing_named_is_nothing_allowed(studio: Studio) -> None:
    """No sheet, no medium, no paper: the notes ask for each."""
    found = plan(studio, Washing("", (), ""))
    assert found.verdict == "test first"
    assert len(found.notes) >= 4


@pytest.mark.slow
def test_alkali_needs_a_test_with_the_bath(studio: Studio, water: Callable[..., str]) -> None:
    """A test with plain water says nothing about alkali, unless the handbook calls both stable."""
    water(studio)
    assert (
        plan(studio, Washing("S1", ("letterpress-oil",), "paper-woodpulp", alkaline=True)).verdict
        == "test first"
    )
    water(studio, batch="01HZXQ0000000000000000000X")
    found = plan(studio, Washing("S1", ("letterpress-oil",), "paper-woodpulp", alkaline=True))
    assert found.verdict == "possible"
    assert any(one.id == "lye-skin-eyes" for one in found.cautions)


def test_water_by_tray_and_by_mass(studio: Studio, water: Callable[..., str]) -> None:
    """700 x 500 mm at 20 mm is the 7 litres of the worked example; half a litre would not cover it."""
    water(studio)
    size = Size(420.0, 594.0, 100.0, 0.0, 700.0, 500.0, 300.0)
    found = plan(studio, Washing("S1", ("letterpress-oil",), "", size=size))
    ways = {one.way: one for one in found.ways}
    immersion = ways["immersion"].water_per_change
    assert immersion is not None
    assert (immersion.low, immersion.high) == pytest.approx((7.0, 14.0))
    whole = ways["immersion"].water_in_all
    assert whole is not None
    assert (whole.low, whole.high) == pytest.approx((14.0, 56.0))
    assert found.least_water is not None
    assert found.least_water.value == pytest.approx(7.0)
    # What the mass asks for is the least where nothing says how large the sheet is: 20 ml for a gram.
    weighed = plan(studio, Washing("S1", ("letterpress-oil",), "", size=Size(dry_g=25.0))).least_water
    assert weighed is not None
    assert weighed.value == pytest.approx(0.5)
    assert ways["float"].water_in_all is None
    assert ways["blotter"].water_per_change is not None
    assert ways["blotter"].minutes.sources == ("common-practice",)
    assert ways["blotter"].minutes.mark


# The record


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"sheet": " ", "ph": 7}, "no sheet"),
        ({"sheet": "S"}, "Nothing was read"),
        ({"sheet": "S", "minutes": 5}, "Nothing was read"),
        ({"sheet": "S", "ph": 15}, "pH"),
        ({"sheet": "S", "ph": 7, "bath": 0}, "counted from 1"),
        ({"sheet": "S", "ph": 7, "minutes": -1}, "minutes"),
        ({"sheet": "S", "conductivity_us_cm": -1}, "conductivity"),
        ({"sheet": "S", "temperature_c": 200}, "temperature"),
        ({"sheet": "S", "ph": 7, "read_at": "yesterday"}, "not a date"),
        ({"sheet": "S", "ph": "seven"}, "does not fit"),
        ({"sheet": "S", "smell": "musty"}, "smell"),
    ],
)
def test_a_reading_that_cannot_be(fields: dict[str, Any], said: str) -> None:
    """A body that is no sound reading is refused in a sentence."""
    with pytest.raises(ValueError, match=said):
        make_kept("reading", fields)


def test_zero_is_a_reading() -> None:
    """A conductivity of nothing was read; it is not the same as not read."""
    assert make_kept("reading", {"sheet": "S", "conductivity_us_cm": 0}).conductivity_us_cm == 0


def test_amends_of_readings_are_checked_on_the_way_in(studio: Studio) -> None:
    """A figure that no reading can hold is refused before it is written."""
    found = make_amend({"of": "0" * 26, "set": {"ph": 7.2}, "why": "decimal point"})
    assert found.set == {"ph": 7.2}
    with pytest.raises(ValueError, match="pH"):
        make_amend({"of": "0" * 26, "set": {"ph": 72}, "why": "x"})
    with pytest.raises((DeskError, BookError, ValueError)):
        append(studio.book_dir, bench="b", who="x", kind="reading", body={"sheet": "S"})
    assert "reading" in KINDS


@pytest.mark.slow
def test_written_amended_withdrawn_and_still_readable(studio: Studio) -> None:
    """Corrections stand beside the first record; the index says the same after it is derived anew."""
    first = put(studio, bath=1, minutes=10, ph=6.2, colour="yellow")
    second = put(studio, bath=1, minutes=20, ph=6.6)
    amend_record(studio, second, {"ph": 6.4}, "read the wrong line")
    withdraw_record(studio, first, "another sheet")
    found = all_readings(studio, "S1")
    assert [(one.id, one.reading.ph, one.amended) for one in found] == [(second, 6.4, True)]
    book = fold(all_lines(studio.book_dir))
    assert book.kept["reading"][first].withdrawn
    assert book.kept["reading"][first].body.ph == 6.2
    assert [change.in_force for change in book.kept["reading"][second].history] == [True]
    assert verify(studio.book_dir) == []
    rebuild(studio)
    assert all_readings(studio, "S1") == found


def test_order_of_reading_does_not_matter(studio: Studio) -> None:
    """The fold is the same for every order of the lines."""
    first = put(studio, ph=6.2)
    amend_record(studio, first, {"ph": 6.4}, "first")
    amend_record(studio, first, {"colour": "straw"}, "second")
    lines = all_lines(studio.book_dir)
    made = [fold(order).kept["reading"] for order in itertools.permutations(lines)]
    assert all(one == made[0] for one in made)
    assert made[0][first].body == BathReading(sheet="S1", ph=6.4, colour="straw")


def test_a_change_that_arrives_before_its_reading(studio: Studio) -> None:
    """From another bench the correction may come first; it waits."""
    first = put(studio, ph=6.2)
    source = next(path for path in studio.book_dir.iterdir() if path.suffix == ".jsonl")
    kept = source.read_bytes()
    source.unlink()
    studio.refresh()
    append(studio.book_dir, bench="c", who="x", kind="withdraw", body=Withdraw(of=first, why="w"))
    studio.refresh()
    source.write_bytes(kept)
    studio.refresh()
    assert all_readings(studio) == []


def test_amends_that_would_empty_a_reading_are_refused(studio: Studio) -> None:
    """Nothing is recorded that could not be read back."""
    first = put(studio, ph=6.2)
    with pytest.raises(DeskError, match="Nothing was read"):
        amend_record(studio, first, {"ph": None}, "x")
    with pytest.raises(DeskError, match="no field"):
        amend_record(studio, first, {"smell": "x"}, "x")
    assert changes_from_words(studio, "reading", ["ph=", "bath=2", "colour=straw"]) == {
        "ph": None,
        "bath": 2,
        "colour": "straw",
    }
    with pytest.raises(DeskError, match="not a number"):
        changes_from_words(studio, "reading", ["ph=high"])
    with pytest.raises(DeskError, match="FIELD=VALUE"):
        changes_from_words(studio, "reading", ["ph"])


def test_readings_by_the_start_of_their_id(studio: Studio) -> None:
    """Short ids are enough where only one fits."""
    first = put(studio, ph=6.2)
    put(studio, ph=6.3)
    assert reading_id(studio, first.lower()) == first
    with pytest.raises(Unclear):
        reading_id(studio, first[:4])
    with pytest.raises(DeskError, match="No reading"):
        reading_id(studio, "ZZZ")


# When to stop


def test_stop_rule_within_one_bath(studio: Studio) -> None:
    """Change means go on; no change means that this water is spent."""
    assert stop_rule(studio, "S1").verdict == "no readings"
    put(studio, bath=1, minutes=5, ph=6.0, conductivity_us_cm=100)
    assert stop_rule(studio, "S1").verdict == "no readings"
    put(studio, bath=1, minutes=15, ph=6.3, conductivity_us_cm=101)
    found = stop_rule(studio, "S1")
    assert found.verdict == "go on"
    assert found.changed == ("pH 6 to 6.3",)
    put(studio, bath=1, minutes=25, ph=6.4, conductivity_us_cm=104)
    assert stop_rule(studio, "S1").verdict == "change the water"


def test_a_slip_of_the_meter_is_no_change(studio: Studio) -> None:
    """Within one bath conductivity does not fall to a part of itself: one of the readings is doubtful."""
    put(studio, bath=1, minutes=5, conductivity_us_cm=4100)
    put(studio, bath=1, minutes=15, conductivity_us_cm=120)
    found = stop_rule(studio, "S1")
    assert found.verdict == "cannot tell"
    assert "One of the two readings is doubtful" in found.text
    # Fresh water may well be that much clearer.
    put(studio, bath=2, minutes=5, conductivity_us_cm=20)
    assert "doubtful" not in stop_rule(studio, "S1").text


def test_stop_rule_between_baths(studio: Studio) -> None:
    """Fresh water that ends as the last bath did: stop. Right after the change nothing is said."""
    put(studio, bath=1, minutes=20, ph=6.4, colour="straw")
    put(studio, bath=2, minutes=0, ph=6.4, colour="straw")
    assert stop_rule(studio, "S1").verdict == "cannot tell"
    put(studio, bath=2, minutes=20, ph=6.45, colour="Straw")
    assert stop_rule(studio, "S1").verdict == "stop"
    put(studio, bath=3, minutes=20, ph=7.0, colour="clear")
    assert stop_rule(studio, "S1").verdict == "cannot tell"


def test_readings_of_two_baths_without_a_time_are_their_last(studio: Studio) -> None:
    """180 and then 172 uS/cm in fresh water: it took up nothing more, and what was assumed is said."""
    put(studio, bath=1, conductivity_us_cm=180)
    put(studio, bath=2, conductivity_us_cm=172)
    found = stop_rule(studio, "S1")
    assert found.verdict == "stop"
    assert "not written down" in found.text


def test_stop_rule_never_guesses(studio: Studio) -> None:
    """Readings of unlike things are not compared; warmth is told."""
    put(studio, minutes=5, ph=6.0, temperature_c=18)
    put(studio, minutes=15, conductivity_us_cm=100, temperature_c=30)
    assert stop_rule(studio, "S1").verdict == "cannot tell"
    put(studio, minutes=25, conductivity_us_cm=101, temperature_c=18)
    found = stop_rule(studio, "S1")
    assert found.verdict == "change the water"
    assert "equally warm" in found.text


# The command


def test_command_reads_lists_amends_and_withdraws(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """The whole course from the command line, with JSON."""
    root = str(studio.root)
    words = ("--bath", "1", "--minutes", "0:10", "--ph", "6,215", "--conductivity", "0.18 mS")
    words += ("--temperature", "68 F", "--json", "--new-sheet")
    assert main(["--studio", root, "wash", "read", "S1", *words]) == 0
    written = json.loads(capsys.readouterr().out)["written"]["id"]
    assert all_readings(studio)[0].reading.ph == 6.215
    assert main(["--studio", root, "wash", "amend", written, "--set", "ph=6.3", "--why", "slip"]) == 0
    capsys.readouterr()
    assert main(["--studio", root, "wash", "list", "S1", "--json"]) == 0
    (one,) = json.loads(capsys.readouterr().out)["readings"]
    assert one["reading"]["ph"] == 6.3
    assert one["reading"]["temperature_c"] == pytest.approx(20.0)
    assert one["reading"]["conductivity_us_cm"] == pytest.approx(180.0)
    assert main(["--studio", root, "wash", "withdraw", written, "--why", "wrong sheet"]) == 0
    capsys.readouterr()
    assert main(["--studio", root, "wash", "list", "S1"]) == 0
    assert "No readings" in capsys.readouterr().out
    for bath, said in (("1", "fewer than two"), ("2", "stop"), ("1", "stop")):
        # What is said before it is stored is what the list says of it afterwards.
        assert main(["--studio", root, "wash", "read", "S1", "--bath", bath, "--ph", "7"]) == 0
        told = capsys.readouterr().out.partition("\n")[2]
        assert said in told
        assert main(["--studio", root, "wash", "list", "S1"]) == 0
        assert capsys.readouterr().out.endswith(told)


def test_command_plan_says_test_first(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Text and JSON agree."""
    words = ["--studio", str(studio.root), "wash", "plan", "--sheet", "S1", "--medium", "letterpress"]
    assert main(words) == 0
    assert "Test first, no bath." in capsys.readouterr().out
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["verdict"] == "test first"


def test_stored_text_cannot_steer_the_terminal(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """A colour with an escape sequence comes out harmless."""
    put(studio, sheet="S1", colour="straw\x1b[31m", ph=7.0)
    assert main(["--studio", str(studio.root), "wash", "list"]) == 0
    assert "\x1b" not in capsys.readouterr().out
