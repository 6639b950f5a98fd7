"""Up to four entries of one kind side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text
from textual import getters, on
from textual.app import ComposeResult
from textual.widgets import OptionList, Static

from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.materials.reading_pane import SourceView, cited_words, marked
from kb.tui.text import cut, tidy
from kb.tui.widgets.two_clicks import ClickList

if TYPE_CHECKING:
    from kb.desk.materials.compare import Cell, Comparison, Row

COMPARE = (
    Act("sources", "o", "Sources", "Where the figures of the row under the cursor come from"),
    Act("differing", "d", "Differing", "Only the rows in which they differ, or all again"),
    Act("dismiss", "escape", "Back", "Back to the materials"),
)
LABEL, WIDE_LABEL = 17, 34
"""Cells of a label, which is wrapped where there are few."""
MISSING = "-"
LEGEND = "- not stated here; ~ from memory; ? not read here; = common practice; # this project's own choice"


class CompareScreen(DeskScreen[None]):
    """A column for each entry, a row for each figure; the row under the cursor has its sources on one key."""

    TITLE_WORDS = "Side by side"
    HELP = (
        "Figures of two to four entries of one kind. What one of them does not state is '-': nothing that "
        "is missing is guessed. A sign and a word stand behind what rests on nothing that was read; what "
        "stands bare was read in its source. A figure in brackets is printed elsewhere and disagrees.\n\n"
        f"{keys_in_words(COMPARE)}\nEnter    The same as O"
    )
    BINDINGS = bindings(COMPARE)
    CSS = """
    CompareScreen #compare-head { height: auto; max-height: 4; padding: 0 1; text-style: bold; }
    CompareScreen #compare-rows { height: 1fr; padding: 0 0 0 1; scrollbar-gutter: stable; }
    CompareScreen #compare-legend { height: auto; max-height: 2; padding: 0 1; color: $secondary; }
    """

    listed = getters.query_one(ClickList)

    def __init__(self, table: Comparison) -> None:
        super().__init__()
        self.table = table
        self.differing = False
        self.rows: list[Row] = []

    def body(self) -> ComposeResult:
        yield Static(id="compare-head", markup=False)
        yield ClickList(id="compare-rows")
        yield Static(LEGEND, id="compare-legend", markup=False)

    def on_mount(self) -> None:
        names = _grid(len(self.table.columns), self._label)
        kind = f"{self.table.kind} ({'differing' if self.differing else 'all'})"
        names.add_row(Text(tidy(kind)), *(Text(cut(one.name, 90)) for one in self.table.columns))
        self.query_one("#compare-head", Static).update(names)
        self._draw()
        self.listed.focus()

    @property
    def _label(self) -> int:
        """On one line where the entries leave the room."""
        return WIDE_LABEL if self.app.size.width // (len(self.table.columns) + 1) >= WIDE_LABEL else LABEL

    def _draw(self) -> None:
        self.rows = [one for one in self.table.rows if one.differs or not self.differing]
        self.listed.fill([_row(one, self._label) for one in self.rows], 0 if self.rows else None)

    def action_differing(self) -> None:
        self.differing = not self.differing
        self.on_mount()

    @on(OptionList.OptionSelected, "#compare-rows")
    def action_sources(self) -> None:
        if row := self.listed.row_of(self.rows):
            self.app.push_screen(SourceView(f"Sources: {row.label}", row_sources(self.table, row)))


def row_sources(table: Comparison, row: Row) -> str:
    """What each entry says in a row, with the sources of each."""
    cited = {one.id: one for one in table.sources}
    parts = []
    for column, cell in zip(table.columns, row.cells, strict=True):
        unit = f" {row.unit}" if row.unit and cell.text else ""
        parts.append(f"{column.name}: {cell.text or 'not stated here'}{unit}")
        parts += [cited_words(cited[one]) for one in cell.sources if one in cited]
        if cell.text and not cell.sources:
            parts.append("  It names no source of its own; see the entry.")
    return "\n\n".join(parts)


def cell_words(cell: Cell) -> str:
    return " ".join(filter(None, (cell.text or MISSING, marked(cell.mark))))


def _grid(columns: int, label: int) -> Table:
    grid = Table.grid(padding=(0, 1), expand=True)
    grid.add_column(width=label)
    for _ in range(columns):
        grid.add_column(ratio=1, overflow="fold")
    return grid


def _row(one: Row, label: int) -> Table:
    unit = f" ({one.unit})" if one.unit else ""
    grid = _grid(len(one.cells), label)
    grid.add_row(Text(tidy(f"{one.label}{unit}")), *(Text(tidy(cell_words(cell))) for cell in one.cells))
    return grid
