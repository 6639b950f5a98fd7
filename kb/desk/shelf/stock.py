"""Papers, tissues, starches and boards on the shelf: what is left, and what is past its day."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from kb.book.kinds.stock import STOCK
from kb.desk.records.work_records import words_of
from kb.index.kept_rows import kept
from kb.model.question import Plain

if TYPE_CHECKING:
    from kb.desk.studio import Studio


class StockView(Plain, frozen=True, kw_only=True):
    """One lot as it stands. ``past``: its day, as far as it is written down, is over."""

    id: str
    sort: str
    text: str
    finished: str
    past: bool


def in_stock(studio: Studio, today: date, *, finished: bool = False) -> list[StockView]:
    """Lots that are not used up, by sort and name; with ``finished`` the others too."""
    found = [
        StockView(
            id=row.id,
            sort=row.body.sort,
            text=words_of(studio, STOCK, row.body),
            finished=row.body.finished,
            # A day without its day of the month counts to the end of that month, as on a label.
            past=bool(row.body.expires) and row.body.expires < today.isoformat()[: len(row.body.expires)],
        )
        for row in kept(studio.index.conn, "stock")
        if finished or not row.body.finished
    ]
    return sorted(found, key=lambda one: (one.sort, one.text.casefold(), one.id))
