"""One sheet with its facts, its condition and its tape, for the command and the screen."""

from __future__ import annotations

from kb.book.kinds.condition import Condition, condition_words
from kb.book.kinds.sheet import SHEET, Sheet
from kb.book.kinds.strip import strip_line
from kb.desk.errors import DeskError
from kb.desk.records.record_line import Teller
from kb.desk.sheet.names import sheet_named, sheet_record, sheet_row
from kb.desk.sheet.tape import TapeView, strips, tape_view
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept
from kb.model.question import Plain


class SheetView(Plain, frozen=True, kw_only=True):
    """A sheet, and all that belongs to its face. ``tape`` is None where there is none, or no size."""

    sheet: str
    id: str
    record: Sheet
    facts: tuple[tuple[str, str], ...]
    condition: tuple[Condition, ...]
    condition_words: tuple[str, ...]
    tape: TapeView | None
    tape_words: tuple[str, ...]
    no_tape: str
    """Why there is no tape to show."""


def sheet_view(studio: Studio, typed: str) -> SheetView:
    """The sheet that is meant by any part of its name. Raises DeskError and Unclear as ``sheet_named``."""
    name = sheet_named(studio, typed)
    row = sheet_row(studio, name)
    record = sheet_record(studio, name)
    condition = [found.body for found in conditions(studio, name)]
    tape, why = None, ""
    try:
        tape = tape_view(studio, name)
    except DeskError as error:
        why = str(error)
    return SheetView(
        sheet=name,
        id=row.id if row is not None else "",
        record=record,
        facts=Teller(studio).fields(SHEET, record),
        condition=tuple(condition),
        condition_words=tuple(condition_words(found) for found in condition),
        tape=tape,
        tape_words=(*(strip_line(found.body) for found in strips(studio, name)), *_progress(tape)),
        no_tape=why,
    )


def conditions(studio: Studio, name: str) -> list[KeptRow]:
    """What is wrong with a sheet, the oldest first."""
    return kept(studio.index.conn, "condition", name)


def _progress(tape: TapeView | None) -> tuple[str, ...]:
    if tape is None:
        return ()
    return (
        f"{tape.done} of {len(tape.patches)} patches lifted; about {hours(tape.minutes_left)}, "
        f"{tape.ml_left:.0f} ml and {tape.swabs_left:.0f} swabs to go",
    )


def hours(minutes: float) -> str:
    """``3 h 20 min``, ``45 min``."""
    whole = round(minutes)
    return f"{whole // 60} h {whole % 60:02} min" if whole >= 60 else f"{whole} min"
