"""The list of looks: steady lines under headings, so that the cursor stays where it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.widgets.option_list import Option

from kb.model.identification import NextLook
from kb.tui.screens.identify.looking import Row
from kb.tui.text import line
from kb.tui.widgets.two_clicks import ClickList


class LookList(ClickList):
    """Lines of looks. ``wanted`` is called at once when one is to be answered: a message would come late, and
    keys typed ahead would be lost."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("right", "select", "Answer", key_display="Enter", tooltip="Answer the look under the cursor")
    ]

    def __init__(self, wanted: Callable[[], None]) -> None:
        super().__init__(id="looks")
        self.wanted = wanted
        self.rows: list[Row] = []

    @property
    def here(self) -> NextLook | None:
        row = self.row_of(self.rows)
        return row.look if row else None

    def show(self, rows: Sequence[Row]) -> None:
        """Draw the lines; only those that changed, if they are about the same looks."""
        here = self.row_of(self.rows)
        old, self.rows = self.rows, list(rows)
        if [_id(row) for row in old] == [_id(row) for row in rows]:
            for place, row in enumerate(rows):
                if row.text != old[place].text:
                    self.replace_option_prompt_at_index(place, line(row.text))
            return
        self.fill((Option(line(row.text), disabled=row.look is None) for row in rows), None)
        self.go_to(_id(here) if here else "")
        if self.highlighted is None:
            self.action_first()

    def go_to(self, look: str) -> None:
        """Stand on a look, if it is listed."""
        for place, row in enumerate(self.rows):
            if look and _id(row) == look:
                self.highlighted = place

    def go_to_group(self) -> None:
        """Stand on the first look under the next heading."""
        count, at = len(self.rows), self.highlighted or 0
        ahead = [(at + step) % count for step in range(1, count + 1)] if count else []
        heading = next((place for place in ahead if self.rows[place].look is None), None)
        if heading is not None:
            self.highlighted = min(heading + 1, count - 1)

    def on_resize(self) -> None:
        """The line one stands on stays in sight."""
        self.scroll_to_highlight()

    def action_select(self) -> None:
        self.wanted()


def _id(row: Row) -> str:
    return row.look.look if row.look else ""
