"""What is told of a sheet goes into its record and its condition, as far as it is new.

Apart from `facts.py`, because every record's lengths are held against the sheet's, those written here too.
"""

from __future__ import annotations

import msgspec

from kb.book.kinds.condition import Condition
from kb.desk.errors import DeskError
from kb.desk.records.book_list import amend_record
from kb.desk.records.record import write
from kb.desk.records.typed_fields import changes_from_words
from kb.desk.sheet.facts import SheetFacts, entry_ids, note_file, open_tear, sheet_facts
from kb.desk.sheet.names import found_sheet, sheet_record
from kb.desk.sheet.sheets import NOTHING, amend_sheet
from kb.desk.studio import Studio

WHY = "known now"
FIGURES = ("size", "grammage", "mass", "thickness", "grain", "humidity", "paper")
"""Facts that are words of the command ``sheet amend`` too."""


def keep_facts(studio: Studio, sheet: str, facts: SheetFacts) -> None:
    """Write what is new of these facts into the sheet's record and condition; founds the sheet if need be.

    Raises DeskError for figures that cannot be. An older version's note is done away with.
    """
    name = sheet.strip()
    if not name:
        raise DeskError("Name the sheet.")
    body = sheet_record(studio, name)
    now = sheet_facts(studio, name) if not note_file(studio, name).exists() else SheetFacts()
    said = msgspec.structs.replace(facts, grain=facts.grain.replace("unknown", ""))
    changes = {
        field: getattr(said, field) or NOTHING
        for field in FIGURES
        if getattr(said, field) != getattr(now, field)
    }
    recorded = {*entry_ids(studio, "medium", (*body.media_front, *body.media_back))}
    for field, here in (("media_front", facts.media), ("media_back", facts.media_back)):
        new = [medium for medium in here if medium not in recorded]
        if new:
            changes[field] = ", ".join((*getattr(body, field), *new))
    if changes:
        found_sheet(studio, name)
        amend_sheet(studio, name, changes, WHY)
    _keep_tear(studio, name, facts)
    note_file(studio, name).unlink(missing_ok=True)


def _keep_tear(studio: Studio, name: str, facts: SheetFacts) -> None:
    tear = open_tear(studio, name)
    if (facts.tear, facts.tear_length) == (tear.kind, tear.length) or not (facts.tear or facts.tear_length):
        return
    damage = "loss" if facts.tear == "loss" else "tear"
    typed = [f"damage={damage}", f"tear={facts.tear}", f"width_mm={facts.tear_length}"]
    changes = changes_from_words(studio, "condition", typed)
    if tear.row is not None:
        amend_record(studio, tear.row.id, changes, WHY)
    else:
        found_sheet(studio, name)
        write(studio, "condition", msgspec.convert({"sheet": name, **changes}, Condition))
