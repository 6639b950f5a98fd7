"""All screens at both sizes: columns under their headings, no figure cut, no wall of prose, all text seen."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual.app import App
from textual.containers import VerticalScroll
from textual.pilot import Pilot
from textual.widget import Widget
from textual.widgets import DataTable, Input, OptionList, Static

from kb.desk.demo import open_demo
from kb.tui.app import BenchleafApp
from kb.tui.widgets.choice_row import HERE
from kb.tui.widgets.columns import GAP, Column, TableRow
from kb.tui.widgets.field import Marked
from kb.tui.widgets.frame import KeyBar
from kb.tui.widgets.page import Page
from kb.tui.widgets.table import Table
from scripts.pictures import SCENES
from tests.screens.screen_help import settle, shown
from tests.screens.test_contrast import check_contrast

SIZES = [(80, 24), (120, 40)]
MOST_PROSE = 12
LEFT_TO_READ = {"help"}
"""A text that one opened to read it, over the screen."""
LEADS_TO = {
    "home": "HomeScreen",
    "map": "MapScreen",
    "blends": "BlendsScreen",
    "air": "AirScreen",
    "wash": "WashScreen",
    "book": "BookScreen",
}
DIMMED = {"tour", "help"}
"""What lies under a pop-up is dimmed on purpose."""
LISTS = {"list of materials": ("f4", "~cellulose"), "list of recipes": ("f6", "~paste")}
"""What the pictures leave for the entry that is read, where there is room for one only."""
WORDS = 4
"""Words in lower case from which a row with one blank between all of them is prose and no row of a table."""
FIRST = {
    "home": ("#said", "Series of "),
    "map": ("#map-said", "reaches A, spares M and C"),
    "plan": ("#sheet-said", "No bath: "),
    "wash": ("#wash-verdict", "No bath: "),
    "record": ("#record-called", "Ethyl acetate on QN-M1"),
}
"""The answer, which leads its screen in one line, also where there is least room."""
LONG = "a name that goes on for much longer than any column has room for, and then some more of it"


async def walk(pilot: Pilot[Any], steps: tuple[str, ...]) -> None:
    """The steps of a scene: keys, or words that are typed in one burst."""
    await settle(pilot)
    for what in steps:
        typed = what[1:] if what[0] in '"~' else ""
        for letter in typed:
            pilot.app.post_message(events.Key("space" if letter == " " else letter, letter))
        await settle(pilot)
        if what[0] == '"':
            pilot.app.post_message(events.Key("enter", "\r"))
        elif not typed:
            await pilot.press(what)
        await settle(pilot)
        await settle(pilot)
    pilot.app.clear_notifications()
    await settle(pilot)


def prose(widget: Widget, rows: list[str]) -> list[str]:
    """Rows of a widget, as they are seen, that are sentences and no table."""
    region = widget.region
    seen = [row[region.x : region.right].strip(" │▁▂▃▄▅▆▇█") for row in rows[region.y : region.bottom]]
    return [one for one in seen if "  " not in one and len(re.findall(r"\b[a-z]{2,}\b", one)) >= WORDS]


def check_columns(table: Table, rows: list[str]) -> None:
    """Every heading and the cells under it begin together, or end together where they are figures."""
    area = table.scrollable_content_region
    lines = [row.ljust(area.right)[area.x : area.right] for row in rows[area.y : area.bottom]]
    start = 0
    for place, one in enumerate(table.of_columns):
        if one.key not in table.wide:
            assert one.spare or one.seldom or not any(str(row.cells[place]) for row in table.of_rows), one
            continue
        ends = start + table.wide[one.key]
        head = lines[0][start:ends].removesuffix("↑").removesuffix("↓")
        assert (head.endswith if one.figure else head.startswith)(one.heading), (one.heading, lines[0])
        assert not lines[0][ends : ends + GAP].strip(), (one.heading, lines[0])
        in_sight = table.in_order[int(table.scroll_y) :][: len(lines) - 1]
        for row, line in zip(in_sight, lines[1:], strict=False):
            text, cell = getattr(row.cells[place], "plain", str(row.cells[place])), line[start:ends]
            assert not line[ends : ends + GAP].strip(), (one.heading, line)
            if one.fixed:
                assert cell == (text.rjust(ends - start) if one.figure else text.ljust(ends - start)), line
            else:
                assert cell[:1] == (text[:1] or " "), (one.heading, line)
        start = ends + GAP


def check_kit_columns(table: DataTable[Any], rows: list[str]) -> None:
    """The same of Textual's own table, where words have no figures beside them."""
    area = table.scrollable_content_region
    lines = [row[area.x : area.right] for row in rows[area.y : area.bottom]]
    start = 0
    for column in table.ordered_columns:
        begins = start + table.cell_padding
        heading = column.label.plain
        assert heading == lines[0][begins : begins + len(heading)], (heading, lines[0])
        for place, line in enumerate(lines[1 : 1 + table.row_count]):
            cell = table.get_row_at(place + int(table.scroll_y))[table.get_column_index(column.key)]
            if text := str(cell).strip():
                assert line[begins : begins + 1] == text[:1], (heading, line)
        start += column.get_render_width(table)


def invented(columns: tuple[Column, ...]) -> list[TableRow]:
    """Long names, and figures from 1 to 1,000,000, for any columns. Words never cut are dates and grades."""

    def cell(one: Column, n: int) -> str:
        if one.figure:
            return f"{10**n:,}"
        return ("withdrawn", "2026-01-05")[n % 2] if one.whole else LONG[: 12 * n + 3].strip()

    return [TableRow(str(n), [cell(one, n) for one in columns]) for n in range(7)]


def under_rank_head(app: App[Any], rows: list[str]) -> None:
    """The list of the answer is no table of the kit: its heading is held to the same."""
    for head in app.screen.query("#rank-head"):
        listed = app.screen.query_one("#ranks OptionList", OptionList)
        if not listed.option_count:
            continue
        at = head.content_region
        heading = rows[at.y][at.x : at.right]
        row = rows[listed.region.y][at.x : at.right]
        for word in ("liquid", "release", "harm"):
            assert row[heading.index(word)].strip(), (word, heading, row)


def check_bars(app: App[Any], rows: list[str], scene: str) -> None:
    """Words that scroll stand one cell from their bar; the map fills its legend by cells."""
    for one in app.screen.query(VerticalScroll):
        if one.show_vertical_scrollbar and one.region and one.id != "map-side" and not one.query(Input):
            bar = one.vertical_scrollbar.region
            beside = {rows[y][bar.x - 1] for y in range(bar.y, bar.bottom)}
            assert beside == {" "}, f"{scene}: {one!r} {beside}"


def look_at(app: BenchleafApp, scene: str) -> None:
    """Columns as they are, walls of prose, lines to type in."""
    size = app.size
    rows = [line.ljust(size.width) for line in shown(app).split("\n")]
    for table in (one for one in app.screen.query(Table) if one.region):
        check_columns(table, rows)
    for kit in app.screen.query(DataTable):
        check_kit_columns(kit, rows)
    under_rank_head(app, rows)
    check_bars(app, rows, scene)
    if scene in FIRST:
        where, said = FIRST[scene]
        at = app.screen.query(where).first().content_region
        lead = " ".join(rows[at.y][at.x : at.right].split())
        assert said in lead, (scene, lead)
        assert scene == "map" or lead.endswith((".", "clean")), (scene, lead)
    panes = [*app.screen.query(Static), *app.screen.query(Page), *app.screen.query(OptionList)]
    for pane in panes if size.width == 120 and scene not in LEFT_TO_READ else ():
        found = prose(pane, rows)
        assert len(found) <= MOST_PROSE, f"{scene}: {len(found)} lines of prose in {pane!r}: {found}"
    for typed in app.screen.query(Input):
        assert typed.size.width >= min(8, len(typed.value)), f"{scene}: {typed!r} is too narrow"
        # By signs and not by a tint alone: the cursor stands still, and a line of a form is marked.
        assert not typed.has_focus or (typed._cursor_visible and not typed.cursor_blink), scene
        if isinstance(typed.parent, Marked):
            said = str(typed.parent.query_one(".said", Static).content)
            assert said.startswith(HERE) == typed.parent.has_focus_within, (scene, said)


async def with_invented_cells(app: BenchleafApp, pilot: Pilot[Any]) -> None:
    """The columns once more, with long words and large figures."""
    for own in [one for one in app.screen.query(Table) if one.region]:
        own.show(invented(own.of_columns))
        await settle(pilot)
        check_columns(own, shown(app).split("\n"))


async def check_gloves(app: BenchleafApp, pilot: Pilot[None], scene: str) -> None:
    """Each line to type in has a row in gloves; the one with the cursor and the way back are in sight."""
    app.gloves = True
    app.add_class("-gloves")
    await settle(pilot)
    for one in app.screen.query(Input):
        displayed = all(above.display for above in one.ancestors_with_self)
        assert one.size.height or not displayed, f"{scene}: {one!r} has no row"
        assert not one.has_focus or app.screen.find_widget(one).visible_region.height, f"{scene}: {one!r}"
    foot = app.screen.query(KeyBar)
    leaves = [one.binding for one in app.screen.active_bindings.values() if one.binding.key == "escape"]
    if foot and any(one.show and one.description for one in leaves):
        assert "Esc " in str(foot.first(KeyBar).content), scene
        assert foot.first(KeyBar).fits, scene
    app.gloves = False
    app.remove_class("-gloves")
    await settle(pilot)


@pytest.mark.slow
@pytest.mark.parametrize("scene", SCENES | LISTS)
@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_every_screen(size: tuple[int, int], scene: str, blank_index: Path, tmp_path: Path) -> None:
    """Each is filled as in the pictures of the documentation. What is typed is never hidden by its end."""
    demo = open_demo(tmp_path / "demo")
    # The catalogue is that of every studio; only the book is read anew.
    shutil.copy(blank_index, demo.root / "index.db")
    app = BenchleafApp(demo)
    async with app.run_test(size=size) as pilot:
        await walk(pilot, (SCENES | LISTS)[scene])
        assert type(app.screen).__name__ == LEADS_TO.get(scene, type(app.screen).__name__)
        look_at(app, scene)
        # One walk serves both: it is what takes the time.
        if size == SIZES[-1] and scene in SCENES and scene not in DIMMED:
            await check_contrast(app, pilot, scene)
        if size == SIZES[0] and scene in SCENES:
            await check_gloves(app, pilot, scene)
        await with_invented_cells(app, pilot)
