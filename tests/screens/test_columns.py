"""Tables: each cell begins where its heading begins, and no figure is ever cut."""

from __future__ import annotations

import random

import pytest
from textual.app import App, ComposeResult

from kb.tui.palette import commands
from kb.tui.text import parts_cut
from kb.tui.widgets.columns import GAP, Column, TableRow, shortened, widths
from kb.tui.widgets.table import Table
from tests.screens.screen_help import shown, still

COLUMNS = (
    Column("name", "Name"),
    Column("count", "Tests", figure=True),
    Column("what", "What"),
    Column("share", "Share %", figure=True),
    Column("more", "Remarks", spare=True),
)
LONG = "a name that goes on for much longer than any column has room for, and then some more of it"


def rows(seed: int) -> list[TableRow]:
    """Names from one letter to a long line, and numbers from 1 to 1,000,000."""
    dice = random.Random(seed)
    found = []
    for number in range(12):
        count = 10 ** dice.randint(0, 6)
        cells = (
            LONG[: dice.randint(1, len(LONG))].strip() or "a",
            f"{count:,}",
            LONG[: dice.randint(1, 40)].strip() or "a",
            f"{dice.randint(1, 10 ** dice.randint(1, 6))}",
            LONG[: dice.randint(1, 30)].strip() or "a",
        )
        found.append(TableRow(str(number), cells, (cells[0], float(count), cells[2], float(cells[3]), "")))
    return found


class OneTable(App[None]):
    """A table and nothing else. ``opened`` are the rows that were opened."""

    def __init__(self) -> None:
        super().__init__()
        self.opened: list[int] = []

    def on_table_row_selected(self) -> None:
        self.opened.append(self.query_one(Table).cursor_row)

    def compose(self) -> ComposeResult:
        yield Table(COLUMNS, id="table")


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (60, 20)])
async def test_cells_stand_under_their_headings(size: tuple[int, int]) -> None:
    """Whatever the length of names and figures; figures end where their heading ends, and are whole."""
    app = OneTable()
    async with app.run_test(size=size) as pilot:
        table = app.query_one(Table)
        for seed in range(8):
            table.show(rows(seed))
            await pilot.pause()
            await still()
            lines = shown(app).split("\n")
            places = widths(COLUMNS, table.of_rows, table.size.width - 1)
            start = 0
            for place, one in enumerate(COLUMNS):
                if one.key not in places:
                    continue
                end = start + places[one.key]
                head = lines[0][start:end]
                assert (head.rstrip().endswith if one.figure else head.startswith)(one.heading), (
                    seed,
                    lines[0],
                )
                for row, text in zip(table.in_order, lines[1:], strict=False):
                    cell = text[start:end]
                    if one.figure:
                        assert cell == str(row.cells[place]).rjust(places[one.key])
                    else:
                        assert cell[:1] == str(row.cells[place])[:1]
                    assert not text[end : end + GAP].strip()
                start = end + GAP


async def test_a_scrollbar_that_comes_late_moves_no_column() -> None:
    """Rows are measured before it is known that they need one, or after it; the columns are the same."""
    app = OneTable()
    async with app.run_test(size=(80, 8)) as pilot:
        table = app.query_one(Table)
        table.show(rows(5))
        before = dict(table.wide)
        await pilot.pause()
        await still()
        assert table.show_vertical_scrollbar
        table.show(rows(5))
        assert table.wide == before


async def test_a_box_around_a_table_takes_none_of_its_words() -> None:
    """Lines are painted whole where blanks alone stand beside them; a box is put around them."""
    app = OneTable()
    async with app.run_test(size=(80, 20)) as pilot:
        table = app.query_one(Table)
        table.show(rows(5))
        await pilot.pause()
        await still()
        plain = [line.strip() for line in shown(app).split("\n")]
        table.styles.border, table.styles.padding = ("solid", "red"), (1, 2)
        table.show(rows(5))
        await pilot.pause()
        await still()
        boxed = [line.strip("│ ") for line in shown(app).split("\n")]
        assert boxed[2].split() == plain[0].split()
        assert [line.split()[0] for line in boxed[3:14]] == [line.split()[0] for line in plain[1:12]]


@pytest.mark.parametrize("width", [12, 20, 30])
def test_what_is_cut_still_tells_rows_apart(width: int) -> None:
    """Names that begin alike, and four blends of one liquid as they stand in the book at 80 columns."""
    blends = [
        f"n-Heptane {share} % + {other}" for share in (80, 70) for other in ("Ethanol", "Ethyl acetate")
    ]
    pastes = [f"Wheat starch paste, cooked on a hot plate, {how}" for how in ("thick", "thin", "for keeping")]
    for names in (blends, pastes):
        columns = (Column("name", "Name", shorten=parts_cut),)
        short = shortened(columns, [TableRow(one, (one,)) for one in names], {"name": width})["name"]
        seen = {short.get(one, one) for one in names}
        assert len(seen) == len(names), seen
        assert all(len(one) <= width for one in seen), seen


@pytest.mark.parametrize(
    ("name", "cut"),
    [
        ("80 % n-Heptane + 20 % Ethyl acetate", "80 n-Heptane + 20 Ethyl acetate"),
        ("Isoparaffin, boiling range about 160-190 °C", "Isoparaffin, boiling ra…160-190 °C"),
        ("Xylene, mixed isomers", "Xylene, mixed isomers"),
    ],
)
def test_the_figures_of_a_name_stay(name: str, cut: str) -> None:
    """At 80 columns the answer has 34 cells for it: the last part and the boiling range were cut."""
    assert parts_cut(name, 34) == cut
    assert len(name) <= 34 or parts_cut(name, 14).startswith(name[:3].strip()), "what it is comes first"


async def test_headings_and_a_key_sort_and_keep_the_row() -> None:
    """Numbers by size, words by letter, then from the other end, then as the rows came."""
    app = OneTable()
    async with app.run_test(size=(120, 40)) as pilot:
        table = app.query_one(Table)
        table.show(rows(3), at="5")
        table.focus()
        table.sort_by("count")
        counts = [row.sort[1] for row in table.in_order]
        assert counts == sorted(counts)  # type: ignore[type-var]
        assert table.key_here == "5"
        table.sort_by("count")
        assert [row.sort[1] for row in table.in_order] == sorted(counts, reverse=True)  # type: ignore[type-var]
        table.sort_by("count")
        assert [row.key for row in table.in_order] == [str(number) for number in range(12)]
        await pilot.press("full_stop")
        names = [str(row.cells[0]).casefold() for row in table.in_order]
        assert names == sorted(names)
        assert "Name↑" in shown(app)
        await pilot.press("home")
        assert table.cursor_row == 0
        await pilot.press("end")
        assert table.cursor_row == 11


async def test_one_click_selects_and_two_open() -> None:
    """A single click never opens anything, not even on the row one stands on."""
    app = OneTable()
    async with app.run_test(size=(120, 40)) as pilot:
        table = app.query_one(Table)
        table.show(rows(1))
        await pilot.pause()
        await pilot.click(table, offset=(3, 4))
        assert (table.cursor_row, app.opened) == (3, [])
        await pilot.click(table, offset=(3, 4), times=2)
        assert app.opened == [3]


async def test_after_sorting_the_top_of_the_list_is_in_sight_and_the_palette_finds_it() -> None:
    """Shown from the row one stood on, the list would look unsorted."""
    app = OneTable()
    async with app.run_test(size=(80, 6)) as pilot:
        table = app.query_one(Table)
        table.show(rows(3), at="11")
        table.focus()
        await pilot.press("end", "full_stop")
        await pilot.pause()
        await still()
        assert table.scroll_offset.y == 0
        assert str(table.in_order[0].cells[0])[:3] in shown(app)
        assert "Sort" in {command.title for command in commands(app, app.screen)}
