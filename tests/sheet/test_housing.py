"""Housing from the desk: gap, hinges, depth, light, climate."""

from __future__ import annotations

import json
from typing import Any

import pytest

from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.materials.measured import guideline, span_of
from kb.desk.sheet.housing import CLIMATES, Framed, house
from kb.desk.studio import Studio
from tests.water.test_bath import figures


def framed(**fields: Any) -> Framed:
    """600 x 420 mm, 40 to 60 % RH, with some fields changed."""
    usual: dict[str, Any] = {"width_mm": 600.0, "height_mm": 420.0, "rh_from": 40.0, "rh_to": 60.0}
    return Framed(**{**usual, **fields})


def test_the_worked_example_of_a_gap(studio: Studio) -> None:
    """600 mm across the grain, 20 % RH: up to 2.4 mm at 0.020, so 1.2 mm each side and the clearance."""
    across = house(studio, framed(grain="height")).gaps[0]
    assert across.movement.high == pytest.approx(600 * 0.020 / 100 * 20)
    assert across.movement.low == pytest.approx(600 * 0.008 / 100 * 20)
    assert across.gap.high == pytest.approx(1.2 + 1.0)
    assert across.advised.value == 3.0
    assert across.coefficient.sources == ("memory",)
    assert across.coefficient.mark == "from memory"


def test_a_second_source_is_kept_beside_it(studio: Studio) -> None:
    """The printed table gives another range: both are shown, with the source."""
    across = house(studio, framed(grain="height")).gaps[0]
    assert [one.sources for one in across.other] == [("dimstab",)]
    assert across.other[0].high == pytest.approx(600 * 0.012 / 100 * 20 / 2 + 1.0)
    assert "assumed" in across.other[0].note


def test_grain_turns_with_the_sheet(studio: Studio) -> None:
    """Along the width the width moves least, and the height most."""
    wide = house(studio, framed(grain="width")).gaps
    tall = house(studio, framed(grain="height")).gaps
    assert (wide[0].movement.high or 0) < (tall[0].movement.high or 0)
    assert (wide[1].movement.high or 0) > (tall[1].movement.high or 0)


def test_hung_from_the_top_the_foot_takes_it_all(studio: Studio) -> None:
    """Held in the middle the movement is halved; left and right it always is."""
    top = house(studio, framed(held="one-edge")).gaps[1]
    centre = house(studio, framed(held="centre")).gaps[1]
    assert (top.gap.high or 0) - 1.0 == pytest.approx(2 * ((centre.gap.high or 0) - 1.0))
    assert "hinges" in top.gap.note


def test_large_sheets_are_beyond_custom(studio: Studio) -> None:
    """The customary least gap is for sheets under 600 mm and up to 50 % RH."""
    assert house(studio, framed(width_mm=1200.0)).gaps[0].beyond_custom
    assert house(studio, framed(rh_from=20.0, rh_to=80.0)).gaps[1].beyond_custom
    assert not house(studio, framed()).gaps[1].beyond_custom


def test_humidity_by_standard(studio: Studio) -> None:
    """A standard's range is taken with its name; one without a lower end is refused."""
    found = house(studio, framed(rh_from=0.0, rh_to=0.0, standard="BS 4971"))
    assert (found.humidity.low, found.humidity.high) == (35.0, 60.0)
    assert found.humidity.mark == "from memory"
    with pytest.raises(DeskError, match="no lowest humidity"):
        house(studio, framed(standard="ashrae-d"))
    with pytest.raises(DeskError, match="no standard"):
        house(studio, framed(standard="iso"))


@pytest.mark.parametrize(
    ("mass", "tissue", "width", "count"),
    [(10.0, (8.0, 10.0), 200.0, 2), (30.0, (11.0, 20.0), 500.0, 2), (90.0, (28.0, 35.0), 900.0, None)],
)
def test_hinges_by_mass_and_width(
    studio: Studio, mass: float, tissue: tuple[float, float], width: float, count: int | None
) -> None:
    """At least two, more on a wide sheet; heavier tissue for a heavier sheet."""
    hinges = house(studio, framed(mass_g=mass, width_mm=width)).hinges
    assert (hinges.tissue.low, hinges.tissue.high) == tissue
    assert hinges.count.value == count
    assert (hinges.count.low, hinges.count.high) == ((None, None) if count else (3.0, 5.0))
    assert hinges.rules


def test_mass_from_grammage_and_unknown_mass(studio: Studio) -> None:
    """Area times grammage; where nothing is known the lightest tissue is named."""
    known = house(studio, framed(grammage_g_m2=100.0)).hinges
    assert known.mass is not None
    assert known.mass.value == pytest.approx(25.2)
    assert house(studio, framed()).hinges.tissue.high == 10.0


def test_depth_is_the_sum_of_its_layers(studio: Studio) -> None:
    """With the sheet's own thickness; a spacer stands in for the window mount."""
    found = house(studio, framed(thickness_mm=0.2))
    low = sum(one.depth.value or one.depth.low or 0.0 for one in found.layers)
    high = sum(one.depth.value or one.depth.high or 0.0 for one in found.layers)
    assert (found.depth.low, found.depth.high) == pytest.approx((low, high))
    assert found.depth.mark == "from memory"
    floated = house(studio, framed(window_mount=False))
    assert any("Spacer" in one.name for one in floated.layers)


def test_light_budget(studio: Studio) -> None:
    """50 lux, 8 h, 90 days is the worked example's 36 000 lux h, over the year of the most sensitive."""
    light = house(studio, framed()).light
    assert light.dose.value == 36_000
    assert light.over_budget
    assert light.days_left.value == 0.0
    medium = house(studio, framed(sensitivity="medium")).light
    assert not medium.over_budget
    assert medium.share_of_year.value == pytest.approx(24.0)
    assert medium.days_left.value == pytest.approx((150_000 - 36_000) / 400)
    assert house(studio, framed(lux=200.0)).light.too_bright
    assert house(studio, framed(lux=0.0)).light.days_left.value is None


@pytest.mark.parametrize(
    "fields",
    [
        {"width_mm": 0.0},
        {"rh_from": 60.0, "rh_to": 40.0},
        {"rh_to": 120.0},
        {"hours_a_day": 25.0},
        {"days": 0.0},
        {"days": 400.0},
        {"lux": -1.0},
        {"width_mm": float("nan")},
    ],
)
def test_figures_that_cannot_be(studio: Studio, fields: dict[str, Any]) -> None:
    """One sentence each."""
    with pytest.raises(DeskError):
        house(studio, framed(**fields))


NOTED = {
    "movement-machine": (0.002, 0.008),
    "movement-cross": (0.008, 0.020),
    "movement-unknown": (0.006, 0.012),
    "movement-wet-machine": (0.2, 0.8),
    "movement-wet-cross": (1.0, 3.0),
    "climate-bs4971-rh": (35, 60),
    "climate-bs4971-temperature": (13, 20),
    "climate-bizot-rh": (40, 60),
    "climate-bizot-temperature": (16, 25),
    "climate-bs5454-rh": (45, 60),
    "climate-bs5454-temperature": (16, 19),
}
"""Typed from the notes on housing, apart from the catalogue."""


def test_guidelines_are_as_they_were_noted(studio: Studio) -> None:
    """Figures of data/sheet/guidelines.yaml that the formulas are given."""
    for name, noted in NOTED.items():
        found = span_of(studio, name)
        assert (found.low, found.high) == noted, name
    assert span_of(studio, "gap-least").low == 3.0
    # Worked out from printed totals, over 33 to 66 % RH.
    for grain, low, high in (("machine", 0.003, 0.006), ("cross", 0.006, 0.012)):
        (other,) = guideline(studio, f"movement-{grain}").figure.others
        assert (other.low, other.high) == (low, high)


@pytest.mark.slow
def test_a_studio_may_put_in_its_own_coefficient(studio: Studio) -> None:
    """A measured movement in the studio's catalogue replaces the shipped one, under its own source."""
    studio.catalogue_dir.mkdir(parents=True)
    (studio.catalogue_dir / "own.yaml").write_text(
        "sources:\n"
        "- {id: own-strips, cite: Strips measured in this studio, basis: published, seen: true}\n"
        "guidelines:\n"
        "- {id: movement-unknown, name: Measured on strips, topic: movement, unit: '% per % RH', "
        "figure: {value: 0.01, from: [own-strips]}, from: [own-strips]}\n",
        encoding="utf-8",
    )
    studio.refresh()
    gap = house(Studio(studio.root), framed()).gaps[0]
    assert (gap.movement.low, gap.movement.high) == pytest.approx((1.2, 1.2))
    assert gap.movement.sources == ("own-strips",)
    assert gap.movement.mark == ""


@pytest.mark.slow
def test_a_limit_of_light_may_be_one_figure(studio: Studio) -> None:
    """What a studio puts in as a value and not as an upper end is reckoned with: it was taken for nothing."""
    studio.catalogue_dir.mkdir(parents=True)
    (studio.catalogue_dir / "own.yaml").write_text(
        "guidelines:\n"
        "- {id: light-year-high, name: Light in a year, topic: light, unit: lux h, "
        "figure: {value: 20000, from: [memory]}, from: [memory]}\n"
        "- {id: light-lux-paper, name: Most light, topic: light, unit: lux, "
        "figure: {value: 60, from: [memory]}, from: [memory]}\n",
        encoding="utf-8",
    )
    own = Studio(studio.root)
    light = house(own, framed(lux=50.0, hours_a_day=8.0, days=25.0)).light
    assert light.share_of_year.value == pytest.approx(50.0)
    assert not light.too_bright
    text = (studio.catalogue_dir / "own.yaml").read_text(encoding="utf-8")
    (studio.catalogue_dir / "own.yaml").write_text(text.replace("20000", "0"), encoding="utf-8")
    own.refresh()
    with pytest.raises(DeskError, match="light-year-high must be above zero"):
        house(own, framed())


def test_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Text and JSON; every figure with unit, model and source."""
    words = ["--studio", str(studio.root), "house", "--size", "420 x 594 mm", "--grammage", "100"]
    assert main([*words, "--humidity", "40-60 %"]) == 0
    assert "depth of the rebate" in capsys.readouterr().out
    assert main([*words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["humidity"]["low"] == 35
    assert {one["id"] for one in found["climates"]} == set(CLIMATES)
    assert all(one["unit"] and one["model"] and one["sources"] for one in figures(found))
    assert main([*words, "--humidity", "60-40 %"]) == 3
