"""Entries side by side: marked in the materials, compared on a screen of their own."""

from __future__ import annotations

from typing import Any

import pytest
from textual.pilot import Pilot

from kb.desk.materials.cited import Cited
from kb.desk.materials.compare import Cell, Column, Comparison, Row
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.screens.materials.materials import MaterialsScreen
from kb.tui.screens.materials.reading_pane import COMPARE, CompareScreen, SourceView, cell_words, row_sources
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, settle, shown, write

OWN = f"""\
sources:
- {{id: zz-note, cite: "Zzyxq note of 1901", basis: memory, seen: false}}
- {{id: zz-book, cite: Zzyxq handbook 1902, basis: published, seen: true, extent: whole}}
liquids:
- id: zzyxq-one
  name: Zzyxq one
  family: alcohol
  cas: ''
  molar_mass_g_mol: {{value: 60, from: [zz-book]}}
  boiling_point_c: {{value: 82, from: [zz-note], others: [{{value: 85, from: [zz-book]}}]}}
- id: zzyxq-two
  name: '{HOSTILE}'
  also: [zzyxq two]
  family: alcohol
  molar_mass_g_mol: {{value: 60, from: [zz-book]}}
"""


@pytest.fixture(scope="module")
def still(tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A studio with two liquids of its own. Nobody changes it."""
    root = tmp_path_factory.mktemp("still")
    (root / "catalogue").mkdir()
    (root / "catalogue" / "own.yaml").write_text(OWN)
    return Studio(root)


async def compared(pilot: Pilot[None], *typed: str) -> CompareScreen:
    """Mark what is found first for each of the words, then compare."""
    await settle(pilot)
    await keys(pilot, "f4")
    for words in typed:
        await write(pilot, words)
        await keys(pilot, "down", "m", "slash", "escape")
    await keys(pilot, "down", "v")
    screen = pilot.app.screen
    assert isinstance(screen, CompareScreen)
    return screen


async def test_four_liquids_side_by_side(still: Studio) -> None:
    """Names on top, one row a figure, marks with their words, gaps as gaps; the keys fit."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await compared(pilot, "acetone", "ethanol", "toluene", "zzyxq one")
        assert [one.id for one in screen.table.columns] == ["acetone", "ethanol", "toluene", "zzyxq-one"]
        text = flat(pilot.app)
        assert "Acetone Ethanol Toluene Zzyxq one" in text
        assert "58.08 46.07" in text
        assert "~ from memory" in text
        assert "- not stated here" in text
        assert keys_fit(pilot.app)
        for act in COMPARE:
            assert act.word in shown(pilot.app)
        assert screen.listed.virtual_size.width <= screen.size.width


async def test_only_what_differs(still: Studio) -> None:
    """D leaves out rows in which they say the same, and brings them back."""
    async with BenchleafApp(still).run_test(size=(100, 40)) as pilot:
        screen = await compared(pilot, "zzyxq one", "zzyxq two")
        everything = [row.label for row in screen.rows]
        assert "molar mass" in everything
        await keys(pilot, "d")
        assert "molar mass" not in [row.label for row in screen.rows]
        assert "boiling point" in [row.label for row in screen.rows]
        assert "(differing)" in flat(pilot.app)
        await keys(pilot, "d")
        assert [row.label for row in screen.rows] == everything


async def test_sources_of_a_row(still: Studio) -> None:
    """O and Enter open what each entry says with its sources; a rival figure is told; Escape comes back."""
    async with BenchleafApp(still).run_test(size=(100, 40)) as pilot:
        screen = await compared(pilot, "zzyxq one", "zzyxq two")
        place = [row.label for row in screen.rows].index("boiling point")
        await keys(pilot, *["down"] * place, "o")
        assert isinstance(pilot.app.screen, SourceView)
        text = flat(pilot.app)
        assert "Zzyxq one: 82 (also printed: 85) °C" in text
        assert "Zzyxq note of 1901" in text
        assert "Read: not read for this catalogue" in text
        assert f"{HOSTILE}: not stated here" in text
        await keys(pilot, "escape", "enter")
        assert isinstance(pilot.app.screen, SourceView)
        await keys(pilot, "escape", "escape")
        assert isinstance(pilot.app.screen, MaterialsScreen)


async def test_one_mark_is_not_compared(still: Studio) -> None:
    """K is offered from two on; U takes the marks away."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f4")
        await write(pilot, "acetone")
        await keys(pilot, "down", "m", "v")
        assert isinstance(pilot.app.screen, MaterialsScreen)
        assert "Marked: Acetone (M on another one, then V compares)" in flat(pilot.app)
        assert "K Compare" not in flat(pilot.app)
        await keys(pilot, "u")
        assert "Marked" not in flat(pilot.app)


async def test_another_kind_is_refused_with_what_to_do(still: Studio) -> None:
    """A paper cannot stand beside a liquid."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f4")
        await write(pilot, "acetone")
        await keys(pilot, "down", "m", "slash", "escape")
        await write(pilot, "copying pencil")
        await keys(pilot, "down", "m")
        screen = pilot.app.screen
        assert isinstance(screen, MaterialsScreen)
        assert screen.marks.ids == ("acetone",)
        assert any("U unmarks all" in note.message for note in pilot.app._notifications)


def _table() -> Comparison:
    cells = (Cell(text="82", mark="from memory", sources=("a",)), Cell(text=""), Cell(text="7"))
    return Comparison(
        kind="liquid",
        columns=tuple(Column(id=one, name=one.upper()) for one in "xyz"),
        rows=(Row(label="boiling point", unit="°C", cells=cells, differs=True),),
        sources=(Cited(id="a", cite="Note", basis="memory", seen=False, extent="", url=""),),
    )


def test_cells_in_words() -> None:
    """A mark has a sign and a word; nothing is a dash."""
    table = _table()
    assert [cell_words(cell) for cell in table.rows[0].cells] == ["82 ~ from memory", "-", "7"]
    told = row_sources(table, table.rows[0])
    assert "X: 82 °C" in told
    assert "Rests on: handbook knowledge from memory" in told
    assert "Y: not stated here" in told
    assert "It names no source of its own" in told


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
def test_picture_side_by_side(still: Studio, size: tuple[int, int], snap_compare: Any) -> None:
    """Two invented liquids, one with hostile words for a name."""

    async def before(pilot: Pilot[None]) -> None:
        await compared(pilot, "zzyxq one", "zzyxq two")

    assert snap_compare(BenchleafApp(still), terminal_size=size, run_before=before)
