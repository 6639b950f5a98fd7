"""Taking back what was just stored: a withdrawal that says so, within a minute of the write."""

from __future__ import annotations

from time import monotonic

from kb.desk.errors import DeskError
from kb.desk.studio import Studio

WITHIN_S = 60.0
WHY = "taken back within a minute of being stored"
NOTHING = "Nothing was stored in the last minute, so there is nothing to take back."


def undo_last(studio: Studio) -> str:
    """Withdraw the record that this program stored last; returns what was done in words.

    A correction is taken back too, which brings back what it changed. Raises DeskError where nothing was
    stored in the last minute.
    """
    from kb.desk.records.book_list import withdraw_record

    last = studio.last_written
    if last is None or monotonic() - last.at_s > WITHIN_S:
        raise DeskError(NOTHING)
    withdraw_record(studio, last.id, WHY)
    studio.last_written = None
    what = f"{last.kind.replace('_', ' ')} {last.id}"
    return f"Taken back: {what}. It stays readable in the book, marked as withdrawn."
