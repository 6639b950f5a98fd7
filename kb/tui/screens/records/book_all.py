"""The bench book's second list: records of every kind, narrowed by sheet, by person and by kind."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from kb.book.kinds.table import KINDS
from kb.tui.day import day_of
from kb.tui.screens.records.book_filter import (
    Known,
    Page,
    Part,
    Understood,
    begun,
    known_to,
    same,
    sheet,
    taken_apart,
)
from kb.tui.screens.records.record_words import Row, kind_shown

if TYPE_CHECKING:
    from kb.desk.records.book_list import RecordSummary
    from kb.desk.studio import Studio

HINT = 'it takes a sheet, "by AB" and kinds: mends, batches, readings, toning, housing, bottles, tests'


def fetch_everything(studio: Studio, *, text: str, before: str, known: Known, page: int) -> Page:
    """One page of the records that the typed words mean, newest first."""
    from kb.desk.records.book_list import list_records
    from kb.desk.sheet.names import all_sheets

    understood = Understood({}, "")
    if text.strip():
        if not known.people:
            known = known_to(studio, all_sheets(studio), list_records(studio, limit=page))
        understood = understand_kinds(text, known)
    by = understood.filters
    kinds = (by["kind"],) if "kind" in by else ()
    found = list_records(
        studio, kinds=kinds, sheet=by.get("sheet", ""), who=by.get("who", ""), limit=page + 1, before=before
    )
    return Page([row(one) for one in found[:page]], len(found) > page, understood, known)


def understand_kinds(text: str, known: Known) -> Understood:
    """What the line means: a sheet, a kind of record, 'by AB'; what is not understood is said."""
    return taken_apart(text, known, partial(_one, known=known), HINT)


def _one(words: list[str], known: Known) -> Part | None:
    text = " ".join(words)
    if exact := sheet(text, known.sheets):
        return exact
    for kind in KINDS.values():
        if text.casefold() in kind.names:
            return Part("kind", kind.key, kind.noun)
    if name := same(text, known.people):
        return Part("who", name, name)
    return begun(text, known.sheets)


def row(one: RecordSummary) -> Row:
    """A record of the list in words. What its kind says already is not said twice."""
    kind = kind_shown(one.kind)
    head, colon, rest = one.what.partition(": ")
    what = rest if colon and head.casefold() == kind.casefold() else one.what
    on = f"{one.sheet}: " if one.sheet else ""
    said = f"{kind}, {on}{what}; by {one.who}"
    return Row(one.id, day_of(one.at), one.sheet, one.state, said, kind=kind, what=what)
