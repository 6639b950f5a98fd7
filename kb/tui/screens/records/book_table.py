"""The table of records: one page at a time, its columns laid out for the width there is."""

from __future__ import annotations

from collections.abc import Sequence

from textual.message import Message

from kb.tui.screens.records.record_words import Row
from kb.tui.text import parts_cut
from kb.tui.widgets.columns import Column, TableRow
from kb.tui.widgets.table import Table

TESTS = (
    Column("date", "Date", whole=True),
    Column("sheet", "Sheet"),
    Column("tape", "Tape"),
    Column("liquid", "Liquid", shorten=parts_cut),
    Column("release", "Release", whole=True),
    Column("harm", "Harm", whole=True),
    Column("medium", "Medium", spare=True),
    Column("stage", "Stage", spare=True),
    Column("state", "State", whole=True, seldom=True),
)
EVERYTHING = (
    Column("date", "Date", whole=True),
    Column("kind", "Kind"),
    Column("sheet", "Sheet", most=26),
    Column("what", "What"),
    Column("state", "State", whole=True, seldom=True),
)
"""Spare columns are left to the line below where room is short."""


class BookTable(Table):
    """A page of the book, sorted within itself. Going past an end of it asks for the next one."""

    class Edge(Message):
        """The cursor was moved past the last row (1) or the first one (-1)."""

        def __init__(self, step: int) -> None:
            self.step = step
            super().__init__()

    def __init__(self) -> None:
        super().__init__(TESTS, id="book-tests")
        self._by_id: dict[str, Row] = {}

    @property
    def rows_shown(self) -> list[Row]:
        """The page, as it stands."""
        return [self._by_id[row.key] for row in self.in_order]

    @property
    def here(self) -> Row | None:
        return self._by_id.get(self.key_here)

    @property
    def value_here(self) -> str:
        """The row under the cursor as one line, for copying."""
        return self.here.said if self.here else ""

    def turn_to(
        self, rows: Sequence[Row], at: str = "", *, last: bool = False, columns: Sequence[Column] = TESTS
    ) -> None:
        """Put a page here, with the cursor on the record ``at`` if it is there, else at an end."""
        if self.of_columns != columns:
            self.of_columns, self.order = tuple(columns), ("", False)
        self._by_id = {row.id: row for row in rows}
        self.show([TableRow(row.id, [getattr(row, one.key) for one in columns]) for row in rows], at)
        if at not in self._by_id:
            self.cursor_row = self.row_count - 1 if last else 0

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
