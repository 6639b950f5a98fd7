"""Entries laid out for reading: readable words, every line with its sources and how far they go."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from kb.desk.materials.cited import Line
from kb.desk.materials.lookup import all_of, read
from kb.desk.materials.names import Names
from kb.desk.materials.reading_words import in_words, label_of, limit_words
from kb.desk.records.book_list import amend_record, withdraw_record
from kb.desk.records.record import Step, add_test, blend_name, show_test, write
from kb.desk.studio import Studio
from kb.model.kinds import BY_WORD
from kb.model.liquid import ExposureLimit
from kb.model.record import Withdraw
from tests.conftest import spot

OWN = """\
sources:
- {id: zz-read, cite: Handbook 1902, basis: published, seen: true, extent: chapter 3}
- {id: zz-quoted, cite: Handbook 1903, basis: published, seen: false}
- {id: zz-kept, cite: From memory, basis: memory, seen: false}
liquids:
- id: zz-spirit
  name: Zz spirit
  family: alcohol
  cas: 67-64-1
  cas_sources: [zz-kept]
  vapour_pressure_20c_kpa:
    {value: 3, at_c: 20, from: [zz-read], others: [{value: 4, at_c: 21, from: [zz-kept]}]}
  boiling_point_c: {low: 60, high: 80, from: [zz-read]}
  flash_point_c: {none_known: it does not burn, from: [zz-kept]}
  water: {text: mixes a little, solubility_g_l: 5, temp_c: 20-25, from: [zz-quoted]}
  limits:
  - {authority: EU, list_name: IOELV, twa_ppm: 500, twa_mg_m3: 1210, verified: false, from: [zz-read]}
  - {authority: EU, list_name: binding, short_term_ppm: 9, skin: true, verified: true, from: [zz-read]}
  - {authority: US-NIOSH, list_name: "REL, average over 10 h", twa_ppm: 7, verified: false, from: [zz-kept]}
  classification:
    statements: [H225, H361f, "H372 (nervous system)"]
    supplier_statements: [H304]
    supplier_sources: [zz-kept]
    euh: [EUH066]
    pictograms: [GHS02]
    signal_word: Danger
    notes: [P]
    from: [zz-read]
reports:
- id: zz-report
  title: A letter
  adhesive: acrylic
  adhesive_assumed: true
  steps:
  - {kind: solvent, agent: acetone, how: on a swab, amounts: a few drops, outcome: it let go}
  liquids:
  - {parts: {n-hexane: 1.0}, result: named only}
  - {parts: {acetone: 0.25, toluene: 0.75}, result: partly, parts_assumed: true, note: As printed.}
  evidence: C
  from: [zz-read, zz-kept]
polymers:
- id: zz-resin
  name: Zz resin
  sphere: {d: 17, p: 3, h: 4, r0: 8, kind: swelling, row: 12, note: a film, from: [zz-read]}
  other_spheres: [{d: 18, p: 1, h: 2, r0: 5, from: [zz-quoted]}]
"""


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody writes in it; who does makes one of their own."""
    return untouched


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A studio with entries that hold every kind of line. Nobody changes it."""
    root = tmp_path_factory.mktemp("own")
    (root / "catalogue").mkdir()
    (root / "catalogue" / "own.yaml").write_text(OWN)
    return Studio(root)


def lines(studio: Studio, kind: str, entry_id: str, label: str = "") -> list[Line]:
    """The lines of an entry, or those with one label."""
    return [one for one in read(studio, kind, entry_id).lines if not label or one.label == label]


def said(studio: Studio, kind: str, entry_id: str, label: str) -> list[str]:
    """Their values."""
    return [one.value for one in lines(studio, kind, entry_id, label)]


@pytest.mark.slow
def test_limits_in_words(own: Studio) -> None:
    """List, figures with their time, skin; what nobody saw is marked, even if its source was read."""
    first, second = lines(own, "liquid", "zz-spirit", "limit, EU")
    assert first.value == "IOELV: 500 ppm, 1210 mg/m3 (8 h) - unverified: check the current list"
    assert (first.sources, first.mark) == (("zz-read",), "unverified")
    assert second.value == "binding: 9 ppm (15 min); through the skin too"
    assert second.mark == ""
    (niosh,) = lines(own, "liquid", "zz-spirit", "limit, US-NIOSH")
    assert niosh.value.startswith("REL, average over 10 h: 7 ppm - unverified")
    assert niosh.mark == "from memory"


def test_a_limit_without_figures_says_so() -> None:
    """It is never an empty line, and both figures of one time stand together."""
    bare = ExposureLimit(authority="EU", list_name="IOELV", verified=True, sources=("a",))
    assert limit_words(bare) == "EU IOELV: no figure"
    full = ExposureLimit(
        authority="UK",
        list_name="WEL",
        twa_ppm=1,
        short_term_ppm=2,
        short_term_mg_m3=3,
        ceiling_ppm=4,
        verified=True,
        sources=("a",),
    )
    assert limit_words(full) == "UK WEL: 1 ppm (8 h); 2 ppm, 3 mg/m3 (15 min); 4 ppm (never above)"


@pytest.mark.parametrize(("year", "old"), [(2026, False), (2024, False), (2023, True), (2016, True)])
def test_a_list_of_three_years_asks_for_a_newer_one(year: int, old: bool) -> None:
    """With the year beside it in any case; without advice, as where several limits stand together, not."""
    limit = ExposureLimit(
        authority="EU", list_name="IOELV", year=year, twa_ppm=1, verified=True, sources=("a",)
    )
    words = limit_words(limit, today=date(2026, 11, 28))
    assert words == f"EU IOELV ({year}{'; check for a newer one' if old else ''}): 1 ppm (8 h)"
    assert "newer" not in limit_words(limit, advice=False, today=date(2026, 11, 28))


def test_a_list_grows_old_on_its_own() -> None:
    """The same limit, three years on; a limit without a year cannot say how old it is."""
    limit = ExposureLimit(
        authority="EU", list_name="IOELV", year=2024, twa_ppm=1, verified=True, sources=("a",)
    )
    assert "newer" in limit_words(limit, today=date(2027, 1, 1))
    undated = ExposureLimit(authority="EU", list_name="IOELV", twa_ppm=1, verified=True, sources=("a",))
    assert "newer" not in limit_words(undated, today=date(2027, 1, 1))


@pytest.mark.slow
def test_label_in_words(own: Studio) -> None:
    """Each code with its official wording; what suppliers print rests on its own sources."""
    (label,) = lines(own, "liquid", "zz-spirit", "on the label")
    assert label.value.startswith("Danger: H225 Highly flammable liquid and vapour; H361f Suspected")
    assert "H372 (nervous system) Causes damage to organs" in label.value
    assert "EUH066 Repeated exposure" in label.value
    (printed,) = lines(own, "liquid", "zz-spirit", "suppliers print")
    assert printed.value.startswith("H304 May be fatal if swallowed")
    assert (printed.sources, printed.mark) == (("zz-kept",), "from memory")
    assert said(own, "liquid", "zz-spirit", "pictograms") == ["flame (GHS02)"]


def test_figures_in_words(own: Studio) -> None:
    """The temperature once, ranges as ranges, no figure in words, the registry number with its source."""
    first, other = [one for one in lines(own, "liquid", "zz-spirit") if one.label.startswith("vapour")]
    assert (first.label, first.value) == ("vapour pressure at 20 °C", "3 kPa")
    assert (other.label, other.value) == ("vapour pressure at 20 °C (also printed)", "4 kPa; at 21 °C")
    assert other.mark == "from memory"
    assert said(own, "liquid", "zz-spirit", "boiling point") == ["60 to 80 °C"]
    assert said(own, "liquid", "zz-spirit", "flash point") == ["it does not burn"]
    assert said(own, "liquid", "zz-spirit", "with water") == ["mixes a little; 5 g/l at 20-25 °C"]
    (cas,) = lines(own, "liquid", "zz-spirit", "CAS number")
    assert (cas.value, cas.sources, cas.mark) == ("67-64-1", ("zz-kept",), "from memory")


def test_spheres_in_words(own: Studio) -> None:
    """Centre, radius, what was tested, which row; others stand below."""
    assert said(own, "polymer", "zz-resin", "Hansen sphere") == [
        "dD 17, dP 3, dH 4, R0 8 MPa^0.5; for swelling; row 12 of the table; (a film)"
    ]
    (other,) = lines(own, "polymer", "zz-resin", "other sphere")
    assert other.mark == "not read here"


def test_a_report_says_what_was_read_and_what_it_leaves_open(own: Studio) -> None:
    """Grade in words, parts and results in words, every line on the report's sources."""
    found = {one.label: one for one in lines(own, "report", "zz-report")}
    assert found["evidence"].value == (
        "grade C, practitioner's message; what was read: zz-read: chapter 3; zz-kept: from memory"
    )
    assert found["adhesive"].value.endswith("(an assumption: the report does not name it)")
    assert said(own, "report", "zz-report", "liquid") == [
        "n-Hexane; named, but what it did is not said",
        "25 % Acetone + 75 % Toluene; released in part; the report does not give the shares, equal ones are "
        "assumed; (As printed)",
    ]
    assert found["step 1"].value == "solvent: acetone, on a swab, a few drops. Outcome: it let go"
    assert found["not stated"].value == "stage, carrier, medium, paper, method"
    assert found["rests on"].value == "2 sources, 1 of them read for this catalogue"
    assert {one.sources for one in found.values()} == {("zz-read", "zz-kept")}


def test_stages_of_an_adhesive_keep_their_sources(studio: Studio) -> None:
    """Each sign, effect and way of removal is a line with its own sources."""
    (fairly,) = lines(studio, "adhesive", "natural-rubber-resin", "Induction: removal")
    assert fairly.sources == ("smith84",)
    labels = [one.label for one in lines(studio, "adhesive", "natural-rubber-resin")]
    assert {"Oily: signs", "Cross-linked: effects", "rests on"} <= set(labels)


def test_a_caution_says_where_it_applies(studio: Studio) -> None:
    """By names, with what its severity means."""
    assert said(studio, "caution", "iron-gall-water", "applies") == ["Water; on Iron gall ink"]
    assert said(studio, "caution", "iron-gall-water", "severity") == ["stop: vetoes a suggestion"]


def test_order_of_a_liquid(studio: Studio) -> None:
    """What it is, then figures, then safety."""
    labels = [one.label for one in lines(studio, "liquid", "acetone")]
    places = [
        labels.index(one) for one in ("CAS number", "family", "molar mass", "on the label", "limit, EU")
    ]
    assert places == sorted(places)
    assert labels[0] == "CAS number"


@pytest.mark.parametrize("kind", BY_WORD)
def test_no_line_of_any_entry_is_raw(studio: Studio, kind: str) -> None:
    """No key of the files, no true or false, no brackets of a map; every source of a line is cited."""
    for found in all_of(studio, kind):
        reading = read(studio, kind, found.id)
        cited = {one.id for one in reading.sources}
        for one in reading.lines:
            assert one.value
            assert not re.search(
                r"\b(True|False)\b|[{}]|\w_\w+ ", re.sub(r"https?://\S+|\S+/\S+", "", one.value)
            ), one
            assert "_" not in one.label
            assert set(one.sources) <= cited


def test_every_figure_of_a_liquid_has_a_source(studio: Studio) -> None:
    """Only what the studio or the project says of itself may stand without."""
    for found in all_of(studio, "liquid"):
        bare = {one.label for one in read(studio, "liquid", found.id).lines if not one.sources}
        assert bare <= {"family"}


def test_labels() -> None:
    """Units leave the name of the field; temperatures are said as people say them."""
    assert label_of("boiling_point_c") == ("boiling point", "°C")
    assert label_of("vapour_pressure_25c_kpa") == ("vapour pressure at 25 °C", "kPa")
    assert label_of("usual_adhesives") == ("usual adhesives", "")


def test_numbers_within_a_map() -> None:
    """Ranges of time and temperature are said as ranges."""
    step = {"text": "Cook.", "minutes": 30, "minutes_high": 60, "temp_c": 90.0, "hold": True}
    assert in_words(step, "") == ("Cook. 30 to 60 min; 90 °C; the work may rest here, or waits for a look")
    assert in_words({"days_high": 14}, "") == "up to 14 days"
    assert in_words({"low": 3}, "mm") == "from 3 mm"


# Records of the book


def test_history_says_what_is_in_force(new_studio: Callable[[str], Studio]) -> None:
    """The first writing is kept; a withdrawn amendment and what withdrew it are told apart."""
    studio = new_studio("own")
    root = add_test(studio, spot(release=0)).id
    first = amend_record(studio, root, {"release": 2}, "graded too early").id
    second = amend_record(studio, root, {"release": 4}, "slip").id
    undone = write(studio, "withdraw", Withdraw(of=second, why="no slip")).id
    found = show_test(studio, root)
    assert (found.first.release, found.test.release) == (0, 2)
    told: dict[str, Step] = {one.id: one for one in found.history}
    assert [told[one].in_force for one in (root, first, second, undone)] == [True, True, False, True]
    assert told[second].note == "Withdrawn: no slip"
    assert [told[one].of for one in (root, first, second, undone)] == ["", root, root, second]
    withdraw_record(studio, root, "wrong bottle")
    assert not next(one for one in show_test(studio, root).history if one.id == root).in_force


def test_blends_are_named_as_lists_name_them(studio: Studio) -> None:
    """The text of a list reads back as names."""
    text = blend_name({"acetone": 1.0, "water": 3.0})
    assert text == "water 75 + acetone 25"
    assert Names(studio).blend(text) == "Water 75 % + Acetone 25 %"
    assert Names(studio).of("stage", "no-such-stage") == "no-such-stage"


def test_a_reading_needs_no_studio_folder(blank_index: Path) -> None:
    """Reading makes nothing."""
    before = sorted(blank_index.parent.iterdir())
    assert read(Studio(blank_index.parent), "liquid", "acetone").lines
    assert sorted(one for one in blank_index.parent.iterdir() if not one.name.startswith("index.db")) == [
        one for one in before if not one.name.startswith("index.db")
    ]
