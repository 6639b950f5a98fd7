"""One table for all lists in columns: widths from the widest cell, sorting by heading or key, a click picks.

Each cell starts where its heading starts, and a figure ends where its heading ends. Words are shortened where
there is no room for them; figures never are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar, NamedTuple

from rich.cells import cell_len
from rich.text import Text
from textual import events
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.widgets import DataTable

from kb.tui.text import cut, tidy

GAP = 2
"""Cells between two columns."""
LEAST = 8
"""Cells to which words are shortened at most, unless their heading is longer."""
Cell = str | Text
Sort = float | str


class Column(NamedTuple):
    """A column. ``figure``: right-aligned and never shortened; ``spare``: left out where there is no room.

    ``whole``: words that are never shortened, a date or a grade.
    """

    key: str
    heading: str
    figure: bool = False
    spare: bool = False
    most: int = 0
    """Cells that it never goes beyond, where what stands beside it tells more; 0: as wide as its widest."""
    shorten: Callable[[str, int], str] = cut
    whole: bool = False

    @property
    def fixed(self) -> bool:
        """Whether it takes its widest cell, come what may."""
        return self.figure or self.whole


class TableRow(NamedTuple):
    """A row: what tells it apart, its cells in the order of the columns, and by what it is sorted."""

    key: str
    cells: Sequence[Cell]
    sort: Sequence[Sort] = ()


def widths(columns: Sequence[Column], rows: Sequence[TableRow], total: int) -> dict[str, int]:
    """The width of each column that is shown in ``total`` cells, by its key.

    What fits is shown whole. Else columns without a word in them go, then spare ones, the last one first, and
    then the longest words are shortened, all to the same width.
    """
    shown = list(columns)
    empty = [
        one for place, one in enumerate(columns) if rows and not any(_plain(row.cells[place]) for row in rows)
    ]
    while True:
        natural = {one.key: _widest(one, place, rows) for place, one in enumerate(columns) if one in shown}
        room = total - GAP * (len(shown) - 1)
        least = {one.key: _least(one, natural[one.key]) for one in shown}
        spare = [one for one in shown if one in empty] or [one for one in shown if one.spare]
        if sum(natural.values()) <= room or not spare:
            break
        shown.remove(spare[-1])
    words = [one.key for one in shown if not one.fixed]
    left = room - sum(natural[one.key] for one in shown if one.fixed)
    return natural | _shared({key: natural[key] for key in words}, {key: least[key] for key in words}, left)


def _widest(one: Column, place: int, rows: Sequence[TableRow]) -> int:
    cells = (cell_len(_plain(row.cells[place])) for row in rows)
    widest = max(cell_len(one.heading), *cells, 0)
    return min(widest, one.most) if one.most else widest


def _least(one: Column, natural: int) -> int:
    return natural if one.fixed else min(natural, max(LEAST, cell_len(one.heading)))


def _shared(natural: dict[str, int], least: dict[str, int], room: int) -> dict[str, int]:
    """Short words whole; the longer ones share what is left, none with less than its least."""
    found: dict[str, int] = {}
    for left, key in enumerate(sorted(natural, key=lambda one: natural[one])):
        share = (room - sum(found.values())) // (len(natural) - left)
        found[key] = min(natural[key], max(share, least[key]))
    return found


def _plain(cell: Cell) -> str:
    return cell.plain if isinstance(cell, Text) else tidy(cell, multiline=False)


class Table(DataTable[Text]):
    """Rows of text. The row one stands on is kept when the order or the width changes."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "select_cursor", "Open"),
        Binding(
            "full_stop", "sort_next", "Sort", show=False, tooltip="Sort by the next column, up then down"
        ),
    ]

    class Sorted(Message):
        """The rows stand in another order."""

    def __init__(self, columns: Sequence[Column], *, id: str) -> None:
        super().__init__(id=id, cursor_type="row", cell_padding=0, zebra_stripes=False)
        self.of_columns = tuple(columns)
        self.of_rows: list[TableRow] = []
        self.order: tuple[str, bool] = ("", False)
        """The column that it is sorted by, "" for the order in which rows came; and whether from the end."""
        self._drawn_for = 0

    @property
    def in_order(self) -> list[TableRow]:
        """The rows as they stand."""
        key, backward = self.order
        place = next((n for n, one in enumerate(self.of_columns) if one.key == key), None)
        if place is None:
            return self.of_rows
        return sorted(self.of_rows, key=lambda row: _sort_key(row, place), reverse=backward)

    @property
    def sorted_by(self) -> str:
        """The heading of the column that rows are sorted by; empty where they stand as they came."""
        return next((one.heading for one in self.of_columns if one.key == self.order[0]), "")

    @property
    def key_here(self) -> str:
        """The key of the row under the cursor; empty where there is none."""
        rows, at = self.in_order, self.cursor_row
        return rows[at].key if 0 <= at < len(rows) else ""

    @property
    def value_here(self) -> str:
        """The row under the cursor as one line, for copying."""
        rows, at = self.in_order, self.cursor_row
        return "  ".join(_plain(cell) for cell in rows[at].cells) if 0 <= at < len(rows) else ""

    def show(self, rows: Sequence[TableRow], at: str = "") -> None:
        """Put rows here; the cursor goes to the row ``at``, else stays on the row it is on."""
        kept = at or self.key_here
        self.of_rows = list(rows)
        self._draw(kept)

    def _draw(self, kept: str) -> None:
        total = max(20, (self.scrollable_content_region.width or self.size.width) - 1)
        self._drawn_for = self.size.width
        wide = widths(self.of_columns, self.of_rows, total)
        with self.prevent(DataTable.RowHighlighted):
            self.clear(columns=True)
            for one in (shown := [one for one in self.of_columns if one.key in wide]):
                gap = 0 if one is shown[-1] else GAP
                self.add_column(self._heading(one, wide[one.key]), width=wide[one.key] + gap, key=one.key)
            rows = self.in_order
            # Fingers in gloves want a larger aim.
            height = 2 if getattr(self.app, "gloves", False) else 1
            for row in rows:
                cells = [
                    _cell(one, cell, wide[one.key])
                    for one, cell in zip(self.of_columns, row.cells, strict=True)
                    if one.key in wide
                ]
                self.add_row(*cells, height=height)
        places = [place for place, row in enumerate(rows) if row.key == kept]
        if rows:
            self.move_cursor(row=places[0] if places else 0, animate=False)

    def _heading(self, one: Column, width: int) -> Text:
        key, backward = self.order
        words = one.heading
        if one.key == key:
            # The arrow takes the place of a letter rather than that of the column beside.
            words = f"{cut(words, max(1, width - 1))}{'↓' if backward else '↑'}"
        return Text(words.rjust(width) if one.figure else words)

    def sort_by(self, key: str) -> None:
        """By a column; once more from the other end, and once more as the rows came."""
        (now, backward), kept = self.order, self.key_here
        if now != key:
            self.order = key, False
        else:
            self.order = ("", False) if backward else (key, True)
        self._draw(kept)
        self.post_message(self.Sorted())

    def action_sort_next(self) -> None:
        """The keyboard's way through all orders."""
        (now, backward), kept = self.order, self.key_here
        keys = ["", *(one.key for one in self.of_columns if one.heading)]
        if now and not backward:
            self.order = now, True
        else:
            self.order = keys[(keys.index(now) + 1) % len(keys)], False
        self._draw(kept)
        self.post_message(self.Sorted())

    def on_data_table_header_selected(self, event: DataTable.HeaderSelected) -> None:
        """A click on a heading sorts."""
        event.stop()
        self.sort_by(str(event.column_key.value))

    def on_resize(self, event: events.Resize) -> None:
        """Columns follow the width."""
        if event.size.width != self._drawn_for:
            self._draw(self.key_here)

    async def _on_click(self, event: events.Click) -> None:
        """One click selects a row, two open it."""
        meta = event.style.meta
        row = meta.get("row", -1)
        if row < 0 or event.chain > 1:
            # On a heading, or the second click: as the table has it.
            return
        event.stop()
        event.prevent_default()
        self.focus()
        self.move_cursor(row=row, animate=False)

    def action_scroll_home(self) -> None:
        """The first row. (Rows are what one moves among; there is no column to go to.)"""
        self.action_scroll_top()

    def action_scroll_end(self) -> None:
        self.action_scroll_bottom()


def _sort_key(row: TableRow, place: int) -> tuple[int, float, str]:
    """Numbers before words, and words without regard to case; nothing comes last."""
    value: Sort = row.sort[place] if row.sort else _plain(row.cells[place])
    if isinstance(value, str):
        return (1 if value.strip() else 2), 0.0, value.casefold()
    return 0, value, ""


def _cell(one: Column, cell: Cell, width: int) -> Text:
    if isinstance(cell, Text):
        made = cell.copy()
        made.no_wrap, made.end = True, ""
        if one.figure:
            made.pad_left(max(0, width - made.cell_len))
        return made
    words = tidy(cell, multiline=False)
    if one.figure:
        return Text(words.rjust(width), no_wrap=True, end="")
    return Text(one.shorten(words, width), no_wrap=True, end="")
