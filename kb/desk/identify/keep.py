"""What a tape was identified as, kept with its sheet: the signs, and how likely each thing is."""

from __future__ import annotations

from datetime import date

from kb.book.kinds.sheet import Sheet
from kb.desk.choose.may_be import for_record, with_signs
from kb.desk.errors import DeskError
from kb.desk.identify.identify import identify
from kb.desk.records.book_list import amend_record
from kb.desk.records.record import Written, write
from kb.desk.sheet.names import sheet_for_record, sheet_row
from kb.desk.studio import Studio
from kb.model.question import Question

WHY = "the tape was looked at"


def keep_with_sheet(
    studio: Studio, typed: str, findings: dict[str, str], *, new: bool = False
) -> tuple[str, Written]:
    """Write the identification into the sheet's own record; the sheet's name, and what was written.

    A sheet without a record of its own is given one; ``new``: it is not in the book yet. Words that a person
    wrote about the tape stay. Raises DeskError where nothing was looked at or no sheet is named.
    """
    if not any(finding != "?" for finding in findings.values()):
        raise DeskError("Nothing was looked at yet, so there is nothing to keep.")
    name = sheet_for_record(studio, typed, new=new)
    if not name:
        raise DeskError("Name the sheet that the tape lies on.")
    asked = with_signs(studio, Question(sheet=name), findings)
    row = sheet_row(studio, name)
    verdict = f"{identify(studio, findings).verdict} ({date.today().isoformat()})"
    said = verdict if row is None or not row.body.identified else row.body.identified
    if row is None:
        sheet = Sheet(sheet=name, identified=said, signs=asked.signs, may_be=for_record(asked))
        return name, write(studio, "sheet", sheet)
    changes = {"identified": said, "signs": list(asked.signs), "may_be": for_record(asked)}
    return name, amend_record(studio, row.id, changes, WHY)
