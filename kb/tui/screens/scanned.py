"""An id that was scanned from a label, or typed whole, wherever one looks for something."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kb.tui.screens.at_desk import AtDesk

SHORTEST = 8
"""Letters and figures of an id that are taken for one; a label prints no fewer for people to read."""


def open_scanned(screen: AtDesk, typed: str, otherwise: Callable[[], object]) -> None:
    """Open the record that bears this id; where none does, go on as with any other words."""
    text = typed.strip()
    if len(text) < SHORTEST or not text.isalnum() or not any(map(str.isdigit, text)):
        otherwise()
        return

    from kb.desk.records.book_list import record_id

    def found(record: str) -> None:
        from kb.tui.screens.records.record_view import RecordScreen

        screen.bench.push_screen(RecordScreen(record))

    def no_record(_: str) -> None:
        otherwise()

    screen.ask(partial(record_id, start=text), found, group="scanned", failed=no_record)
