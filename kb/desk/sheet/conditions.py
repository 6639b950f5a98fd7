"""What is wrong with a sheet: written down, listed, and checked off by what was done about it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kb.book.kinds.condition import Condition, condition_words
from kb.desk.errors import DeskError
from kb.desk.records.book_list import amend_record, kind_of, record_id
from kb.desk.records.record import Written, write
from kb.desk.sheet.facts import conditions
from kb.desk.sheet.names import sheet_named
from kb.desk.sheet.sheets import record_from_words
from kb.desk.studio import Studio
from kb.model.question import Plain


class ConditionLine(Plain, frozen=True, kw_only=True):
    """One thing in a list; ``treated`` is empty while it is open."""

    id: str
    words: str
    treated: str
    condition: Condition


def add_condition(studio: Studio, words: Mapping[str, Any]) -> Written:
    """Write down one thing that is wrong. Raises DeskError for a damage that has no word of the trade."""
    name = sheet_named(studio, str(words.get("sheet") or ""), to_write=True)
    given = {key.replace("-", "_"): value for key, value in words.items()}
    return write(studio, "condition", record_from_words(studio, "condition", {**given, "sheet": name}))


def condition_list(studio: Studio, typed: str) -> list[ConditionLine]:
    """What is written down of a sheet, the oldest first."""
    return [
        ConditionLine(
            id=row.id, words=condition_words(row.body), treated=row.body.treated, condition=row.body
        )
        for row in conditions(studio, sheet_named(studio, typed))
    ]


def settle(studio: Studio, record: str, treated: str, by: str = "") -> Written:
    """Check one thing off: what was done about it, and by which record."""
    if kind_of(studio, record) != "condition":
        raise DeskError(f'"{record}" is no record of a condition; benchleaf condition list shows them.')
    if not treated.strip():
        raise DeskError("Say what was done about it, or why it was left.")
    changes: dict[str, Any] = {"treated": treated.strip()}
    if by:
        changes["treated_by"] = record_id(studio, by)
    return amend_record(studio, record_id(studio, record), changes, "settled by treatment")
