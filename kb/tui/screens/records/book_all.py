"""The bench book's second list: records of every kind, narrowed by sheet, by person and by kind."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from kb.book.kinds.table import KINDS
from kb.tui.day import day_of
from kb.tui.screens.records.book_filter import (
    PERSON,
    Known,
    Part,
    Understood,
    begun,
    person,
    same,
    sheet,
    taken_apart,
)

if TYPE_CHECKING:
    from kb.desk.records.book_list import RecordSummary
    from kb.desk.studio import Studio
    from kb.tui.screens.records.book_table import AnyRow

HINT = 'it takes a sheet, "by AB" and kinds: mends, batches, readings, toning, housing, bottles, tests'


class AllRow(NamedTuple):
    """One record in the list of everything. ``said`` is the whole row in one sentence."""

    id: str
    date: str
    kind: str
    sheet: str
    what: str
    state: str
    said: str


class Everything(NamedTuple):
    """Rows as fetched, whether there are older ones, and how the filter was understood."""

    rows: list[AnyRow]
    more: bool
    understood: Understood
    known: Known


def fetch_everything(studio: Studio, *, text: str, before: str, known: Known, page: int) -> Everything:
    """One page of the records that the typed words mean, newest first."""
    from kb.desk.records.book_list import list_records
    from kb.desk.sheet.names import all_sheets

    understood = Understood({}, "")
    if text.strip():
        if not known.people:
            recent = {one.who for one in list_records(studio, limit=page)}
            people = (studio.who, *sorted(recent - {studio.who}))
            known = Known(tuple(all_sheets(studio)), people)
        understood = understand_kinds(text, known)
    by = understood.filters
    kinds = (by["kind"],) if "kind" in by else ()
    found = list_records(
        studio, kinds=kinds, sheet=by.get("sheet", ""), who=by.get("who", ""), limit=page + 1, before=before
    )
    return Everything([row(one) for one in found[:page]], len(found) > page, understood, known)


def understand_kinds(text: str, known: Known) -> Understood:
    """What the line means: a sheet, a kind of record, 'by AB'; what is not understood is said."""
    return taken_apart(text, known, partial(_one, known=known), HINT)


def _one(words: list[str], known: Known) -> Part | None:
    text, first, rest = " ".join(words), words[0].lower().rstrip(":"), " ".join(words[1:])
    if rest and first in PERSON:
        return person(rest, known.people)
    if rest and first == "sheet":
        return sheet(rest, known.sheets) or begun(rest, known.sheets)
    if exact := sheet(text, known.sheets):
        return exact
    for kind in KINDS.values():
        if text.casefold() in kind.names:
            return Part("kind", kind.key, kind.noun)
    if name := same(text, known.people):
        return Part("who", name, name)
    return begun(text, known.sheets)


def row(one: RecordSummary) -> AllRow:
    """A record of the list in words. What its kind says already is not said twice."""
    kind = KINDS[one.kind].title if one.kind in KINDS else one.kind
    head, colon, rest = one.what.partition(": ")
    what = rest if colon and head.casefold() == kind.casefold() else one.what
    on = f"{one.sheet}: " if one.sheet else ""
    said = f"{kind}, {on}{what}; by {one.who}"
    return AllRow(one.id, day_of(one.at), kind, one.sheet, what, one.state, said)
