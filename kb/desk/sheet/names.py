"""Names of sheets: those that any record lies on, and the one that is meant by what was typed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple
from unicodedata import normalize

from kb.book.kinds.sheet import Sheet
from kb.book.kinds.table import KEPT
from kb.desk.errors import Choice, DeskError, Unclear
from kb.desk.records.record import sheet_names, write
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept
from kb.index.queries import subjects

ON_A_SHEET = tuple(
    key for key, kind in KEPT.items() if "sheet" in kind.type.__struct_fields__ and key != "sheet"
)
"""Kinds of record, besides tests, that name a sheet."""
LIKE = 75.0
"""From 0 to 100, how like a name must be to be taken for a half-remembered one."""
CLEARLY = 12.0
"""How much more like the best must be than the next, to be meant without asking."""
NAMED_CHOICES = 6
FOUND_IT = "Name one that there is, or say that it is a new one (--new-sheet). Nothing was recorded."
WRITE_IT = "Those that there are: benchleaf sheet list. To write one down: benchleaf sheet add NAME"


class Named(NamedTuple):
    """A sheet by the name that its records bear, and all that it may be called."""

    name: str
    called: tuple[str, ...]
    row: KeptRow | None


def all_sheets(studio: Studio) -> list[str]:
    """Sheets with tests, the most recent first, then those that only other records name, by name."""
    tested = [name for name, _ in sheet_names(studio) if name]
    return [*tested, *sorted(subjects(studio.index.conn, ON_A_SHEET) - set(tested))]


def known_sheets(studio: Studio) -> list[Named]:
    """Sheets that have a record of their own, the latest first, then those that only others name."""
    rows = {row.body.sheet: row for row in kept(studio.index.conn, "sheet")}
    found = [
        # An id is known by its beginning alone: any two letters stand in some id.
        Named(name, (name, row.body.number, row.body.owner, *row.body.also), row)
        for name, row in reversed(rows.items())
    ]
    return found + [Named(name, (name,), None) for name in all_sheets(studio) if name not in rows]


def sheet_row(studio: Studio, name: str) -> KeptRow | None:
    """The record of a sheet by its exact name; None if it has none of its own."""
    rows = kept(studio.index.conn, "sheet", name)
    return rows[-1] if rows else None


def sheet_record(studio: Studio, name: str) -> Sheet:
    """What is known of a sheet; a bare name for one that only other records lie on."""
    row = sheet_row(studio, name)
    return row.body if row is not None else Sheet(sheet=name)


def sheet_named(studio: Studio, typed: str, *, to_write: bool = False) -> str:
    """The one sheet that is meant by a name, a number, an id's beginning, or a half-remembered part.

    Raises DeskError for an empty name, NoSheet if nothing is called so, and Unclear if several may be meant.
    With ``to_write`` a name that is only near in spelling raises NoSheet, too: nothing is stored for it.
    """
    text = typed.strip()
    if not text:
        raise DeskError("Name the sheet.")
    sheets = known_sheets(studio)
    exact = exactly(text, sheets)
    if exact:
        return exact
    ranked = _ranked(text, sheets)
    if ranked and ranked[0][0] >= LIKE and (len(ranked) == 1 or ranked[0][0] - ranked[1][0] >= CLEARLY):
        best = ranked[0][1]
        if not to_write or any(folded(text) in folded(word) for word in best.called):
            return best.name
        raise NoSheet(text, (_choice(best),), WRITE_IT)
    nearest = [named for score, named in ranked[:NAMED_CHOICES] if score >= LIKE]
    if not nearest:
        raise NoSheet(text, (), WRITE_IT)
    raise Unclear("sheet", text, tuple(_choice(named) for named in nearest))


class NoSheet(Unclear):
    """No sheet bears the name that a record was to lie on; ``choices`` are those near in spelling."""

    def __init__(self, text: str, choices: tuple[Choice, ...], what_to_do: str) -> None:
        super().__init__("sheet", text, choices, borne=False)
        near = "; ".join(choice.id for choice in choices)
        self.args = (
            f'There is no sheet "{text}"{f"; near in spelling: {near}" if near else ""}. {what_to_do}',
        )


def sheet_for_record(studio: Studio, typed: str, *, new: bool = False) -> str:
    """The sheet that a new record lies on, by a name, number or id that is its own; empty for none.

    With ``new`` any other name stands for a sheet that `found_sheet` is to write down. Without it a name that
    no sheet bears raises NoSheet: a slip of the hand must not found a second sheet beside the one meant.
    """
    text = typed.strip()
    if not text:
        return ""
    sheets = known_sheets(studio)
    exact = exactly(text, sheets)
    if exact or new:
        return exact or text
    near = [named for score, named in _ranked(text, sheets) if score >= LIKE]
    raise NoSheet(text, tuple(_choice(named) for named in near[:NAMED_CHOICES]), FOUND_IT)


def found_sheet(studio: Studio, name: str) -> None:
    """Write a sheet down by its bare name, if nothing in the book bears that name yet."""
    if name and not exactly(name, known_sheets(studio)):
        write(studio, "sheet", Sheet(sheet=name))


def sheets_like(studio: Studio, text: str) -> tuple[list[str], list[str]]:
    """Names of the sheets that are called so in any part, and of those whose spelling is only near it."""
    sheets, said = known_sheets(studio), folded(text.strip())
    borne = [named for named in sheets if any(said in folded(word) for word in named.called)]
    near = [named.name for score, named in _ranked(said, sheets) if score >= LIKE and named not in borne]
    return [named.name for named in borne], near


def folded(text: str) -> str:
    """As names are compared: without capitals, and composed, since some keyboards type accents apart."""
    return normalize("NFC", text).casefold()


def exactly(text: str, sheets: Iterable[Named]) -> str:
    """The sheet whose own name, number or id this is; empty if none."""
    said = folded(text)
    for named in sheets:
        if any(said == folded(word) for word in named.called if word):
            return named.name
    return next(
        (
            n.name
            for n in sheets
            if n.row is not None and len(text) >= 8 and n.row.id.startswith(text.upper())
        ),
        "",
    )


def _ranked(text: str, sheets: Iterable[Named]) -> list[tuple[float, Named]]:
    """How like each sheet is to the text, from 0 to 100, the likest first."""
    from rapidfuzz import fuzz

    said = folded(text)
    found = [
        (max((fuzz.partial_ratio(said, folded(word)) for word in named.called if word), default=0.0), named)
        for named in sheets
    ]
    return sorted(found, key=lambda pair: -pair[0])


def _choice(named: Named) -> Choice:
    sheet = named.row.body if named.row is not None else None
    about = ", ".join(part for part in (sheet.number, sheet.owner) if part) if sheet is not None else ""
    return Choice(named.name, about or "a sheet in the book")
