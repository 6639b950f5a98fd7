"""Names of the sheets that any record of the book lies on."""

from __future__ import annotations

from kb.book.kinds.table import KEPT
from kb.desk.records.record import sheet_names
from kb.desk.studio import Studio

ON_A_SHEET = tuple(
    key for key, kind in KEPT.items() if "sheet" in kind.type.__struct_fields__ and key != "sheet"
)
"""Kinds of record, besides tests, that name a sheet."""


def all_sheets(studio: Studio) -> list[str]:
    """Sheets with tests, the most recent first, then those that only other records name, by name."""
    tested = [name for name, _ in sheet_names(studio) if name]
    marks = ", ".join("?" * len(ON_A_SHEET))
    sql = f"SELECT DISTINCT subject FROM kept WHERE kind IN ({marks}) AND subject <> ''"
    others = {str(row[0]) for row in studio.index.conn.execute(sql, ON_A_SHEET)}
    return [*tested, *sorted(others - set(tested))]
