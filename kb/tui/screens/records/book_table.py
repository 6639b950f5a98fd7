"""The table of records: one page at a time, its columns laid out for the width there is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, Protocol

from rich.text import Text
from textual import events
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.widgets import DataTable

from kb.tui.widgets.table import GAP, Column, TableRow, widths

TESTS = (
    Column("date", "Date", figure=True),
    Column("sheet", "Sheet"),
    Column("tape", "Tape"),
    Column("liquid", "Liquid"),
    Column("release", "Release", figure=True),
    Column("harm", "Harm", figure=True),
    Column("medium", "Medium", spare=True),
    Column("stage", "Stage", spare=True),
    Column("state", "State", figure=True),
)
EVERYTHING = (
    Column("date", "Date", figure=True),
    Column("kind", "Kind"),
    Column("sheet", "Sheet", most=26),
    Column("what", "What"),
    Column("state", "State", figure=True),
)
"""Grades, dates and states are never cut; spare columns are left to the line below where room is short."""


class AnyRow(Protocol):
    """A row of the list. ``said`` is the whole row in one sentence."""

    @property
    def id(self) -> str:
        """Of the record."""

    @property
    def sheet(self) -> str:
        """Empty where the record names none."""

    @property
    def said(self) -> str:
        """For where columns are cut."""


class BookTable(DataTable[Text]):
    """Rows of the book. Going past an end of the page asks for the next one."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "select_cursor", "Open")]

    class Edge(Message):
        """The cursor was moved past the last row (1) or the first one (-1)."""

        def __init__(self, step: int) -> None:
            self.step = step
            super().__init__()

    def __init__(self) -> None:
        super().__init__(id="book-tests", cursor_type="row", cell_padding=0, zebra_stripes=False)
        self.columns_shown: Sequence[Column] = TESTS
        self.rows_shown: list[AnyRow] = []
        self._drawn_for = 0

    @property
    def here(self) -> AnyRow | None:
        """The row under the cursor."""
        at = self.cursor_row
        return self.rows_shown[at] if 0 <= at < len(self.rows_shown) else None

    @property
    def value_here(self) -> str:
        """The row under the cursor as one line, for copying."""
        return self.here.said if self.here else ""

    def show(
        self, rows: Sequence[AnyRow], at: str = "", *, last: bool = False, columns: Sequence[Column] = TESTS
    ) -> None:
        """Put a page here, with the cursor on the record ``at`` if it is there, else at an end."""
        self.columns_shown = columns
        self.rows_shown = list(rows)
        places = [place for place, row in enumerate(rows) if row.id == at]
        self._draw(places[0] if places else len(rows) - 1 if last else 0)

    def _draw(self, place: int) -> None:
        total = max(60, (self.scrollable_content_region.width or self.size.width) - 1)
        self._drawn_for = self.size.width
        keys = [one.key for one in self.columns_shown]
        rows = [TableRow(row.id, [getattr(row, key) for key in keys]) for row in self.rows_shown]
        wide = widths(self.columns_shown, rows, total)
        self.clear(columns=True)
        for number, one in enumerate(shown := [one for one in self.columns_shown if one.key in wide], 1):
            gap = GAP if number < len(shown) else 0
            self.add_column(Text(one.heading), width=wide[one.key] + gap, key=one.key)
        for row in self.rows_shown:
            self.add_row(*(_cell(one, row, wide[one.key]) for one in shown))
        self.move_cursor(row=place, animate=False)

    def on_resize(self, event: events.Resize) -> None:
        """Columns follow the width."""
        if event.size.width != self._drawn_for:
            self._draw(self.cursor_row)

    def action_scroll_home(self) -> None:
        """The first row of the page. (Rows are what one moves among; there is no column to go to.)"""
        self.action_scroll_top()

    def action_scroll_end(self) -> None:
        """The last row of the page."""
        self.action_scroll_bottom()

    def action_cursor_down(self) -> None:
        """Down, and over the end of the page."""
        if self.cursor_row >= self.row_count - 1:
            self.post_message(self.Edge(1))
        else:
            super().action_cursor_down()

    def action_cursor_up(self) -> None:
        """Up, and over the top of the page."""
        if self.cursor_row <= 0:
            self.post_message(self.Edge(-1))
        else:
            super().action_cursor_up()


def _cell(one: Column, row: AnyRow, width: int) -> Text:
    return Text(one.shorten(getattr(row, one.key), width), no_wrap=True, end="")
