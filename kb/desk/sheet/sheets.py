"""Sheets as records of their own: made once, found by any part of a name, renamed and merged."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple
from unicodedata import normalize

import msgspec

from kb.book.kinds.sheet import Sheet
from kb.desk.errors import Choice, DeskError, Unclear
from kb.desk.records.book_list import amend_record, list_records
from kb.desk.records.record import Written, photo, write
from kb.desk.records.typed_fields import changes_from_words
from kb.desk.sheet.names import all_sheets
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept
from kb.model.question import Plain
from kb.model.record import Amend

LIKE = 75.0
"""From 0 to 100, how like a name must be to be taken for a half-remembered one."""
CLEARLY = 12.0
"""How much more like the best must be than the next, to be meant without asking."""
NAMED_CHOICES = 6
NOTHING = "-"
"""Typed for a field, it takes out what stood there; an empty text says nothing of it."""
FOUND_IT = "Name one that there is, or say that it is a new one (--new-sheet). Nothing was recorded."
WRITE_IT = "Those that there are: benchleaf sheet list. To write one down: benchleaf sheet add NAME"


class Named(NamedTuple):
    """A sheet by the name that its records bear, and all that it may be called."""

    name: str
    called: tuple[str, ...]
    row: KeptRow | None


class SheetLine(Plain, frozen=True, kw_only=True):
    """A sheet in a list. ``id`` is empty for one that records lie on and that was never written down."""

    sheet: str
    id: str
    number: str
    owner: str
    size: str
    records: int


def known_sheets(studio: Studio) -> list[Named]:
    """Sheets that have a record of their own, the latest first, then those that only others name."""
    rows = {row.body.sheet: row for row in kept(studio.index.conn, "sheet")}
    found = [
        Named(name, (name, row.body.number, row.body.owner, row.id, *row.body.also), row)
        for name, row in reversed(rows.items())
    ]
    return found + [Named(name, (name,), None) for name in all_sheets(studio) if name not in rows]


def sheet_named(studio: Studio, typed: str) -> str:
    """The one sheet that is meant by a name, a number, an id's beginning, or a half-remembered part.

    Raises DeskError for an empty name, NoSheet if nothing is called so, and Unclear if several may be meant.
    """
    text = typed.strip()
    if not text:
        raise DeskError("Name the sheet.")
    sheets = known_sheets(studio)
    exact = _exactly(text, sheets)
    if exact:
        return exact
    ranked = _ranked(text, sheets)
    if ranked and ranked[0][0] >= LIKE and (len(ranked) == 1 or ranked[0][0] - ranked[1][0] >= CLEARLY):
        return ranked[0][1].name
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
    exact = _exactly(text, sheets)
    if exact or new:
        return exact or text
    near = [named for score, named in _ranked(text, sheets) if score >= LIKE]
    raise NoSheet(text, tuple(_choice(named) for named in near[:NAMED_CHOICES]), FOUND_IT)


def found_sheet(studio: Studio, name: str) -> None:
    """Write a sheet down by its bare name, if nothing in the book bears that name yet."""
    if name and not _exactly(name, known_sheets(studio)):
        write(studio, "sheet", Sheet(sheet=name))


def sheets_like(studio: Studio, text: str) -> tuple[list[str], list[str]]:
    """Names of the sheets that are called so in any part, and of those whose spelling is only near it."""
    sheets, said = known_sheets(studio), _folded(text.strip())
    borne = [named for named in sheets if any(said in _folded(word) for word in named.called)]
    near = [named.name for score, named in _ranked(said, sheets) if score >= LIKE and named not in borne]
    return [named.name for named in borne], near


def _folded(text: str) -> str:
    """As names are compared: without capitals, and composed, since some keyboards type accents apart."""
    return normalize("NFC", text).casefold()


def _exactly(text: str, sheets: Iterable[Named]) -> str:
    folded = _folded(text)
    for named in sheets:
        if any(folded == _folded(word) for word in named.called if word):
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

    said = _folded(text)
    found = [
        (
            max((fuzz.partial_ratio(said, _folded(word)) for word in named.called if word), default=0.0),
            named,
        )
        for named in sheets
    ]
    return sorted(found, key=lambda pair: -pair[0])


def _choice(named: Named) -> Choice:
    sheet = named.row.body if named.row is not None else None
    about = ", ".join(part for part in (sheet.number, sheet.owner) if part) if sheet is not None else ""
    return Choice(named.name, about or "a sheet in the book")


# -- one sheet -----------------------------------------------------------------------------------------------


def sheet_row(studio: Studio, name: str) -> KeptRow | None:
    """The record of a sheet by its exact name; None if it has none of its own."""
    rows = kept(studio.index.conn, "sheet", name)
    return rows[-1] if rows else None


def sheet_record(studio: Studio, name: str) -> Sheet:
    """What is known of a sheet; a bare name for one that only other records lie on."""
    row = sheet_row(studio, name)
    return row.body if row is not None else Sheet(sheet=name)


def sheet_lines(studio: Studio) -> list[SheetLine]:
    """All sheets with the number of their records."""
    from kb.book.kinds.sheet import size_words

    found = []
    for named in known_sheets(studio):
        body = named.row.body if named.row is not None else Sheet(sheet=named.name)
        found.append(
            SheetLine(
                sheet=named.name,
                id=named.row.id if named.row is not None else "",
                number=body.number,
                owner=body.owner,
                size=size_words(body),
                records=len(list_records(studio, sheet=named.name, limit=0)),
            )
        )
    return found


def record_from_words(studio: Studio, kind: str, words: Mapping[str, Any]) -> Any:
    """A record of a kind from typed words by field; ``photo`` names files. Raises DeskError in a sentence."""
    from kb.book.check import make_kept

    typed = [f"{name}={value}" for name, value in words.items() if isinstance(value, str) and value.strip()]
    plain: dict[str, Any] = dict(changes_from_words(studio, kind, typed))
    named = words.get("photo") or ()
    pictures = [photo(Path(path), "before") for path in named if str(path).strip()]
    if pictures:
        plain["photos"] = msgspec.to_builtins(pictures)
    try:
        return make_kept(kind, plain)
    except ValueError as error:
        raise DeskError(f"{error} Nothing was recorded.") from error


def add_sheet(studio: Studio, words: Mapping[str, Any]) -> Written:
    """Write a sheet down. Raises DeskError for a name that is taken or figures that cannot be."""
    sheet: Sheet = record_from_words(studio, "sheet", _with_size(words))
    for named in known_sheets(studio):
        if named.row is not None and _folded(sheet.sheet) in {
            _folded(word) for word in (named.name, *named.row.body.also)
        }:
            raise DeskError(f'There is a sheet "{named.name}" already; amend it, or give a new name.')
    return write(studio, "sheet", sheet)


def amend_sheet(studio: Studio, typed: str, words: Mapping[str, str], why: str) -> Written:
    """Correct what is known of a sheet; one without a record of its own is given one.

    A field for which `NOTHING` is typed is emptied; one for which nothing at all is typed stays.
    """
    name = sheet_named(studio, typed)
    row = sheet_row(studio, name)
    given = {key: value for key, value in _with_size(words).items() if value.strip()}
    new_name = given.pop("sheet", "")
    if new_name and new_name != name:
        rename(studio, name, new_name, why)
        name, row = new_name, sheet_row(studio, new_name)
    if row is None:
        known = {key: value for key, value in given.items() if value != NOTHING}
        return write(studio, "sheet", record_from_words(studio, "sheet", {**known, "sheet": name}))
    if not given:
        return Written(id=row.id, bench=studio.bench, at=row.at)
    changes = changes_from_words(studio, "sheet", _emptied(given))
    return amend_record(studio, row.id, changes, why)


def rename(studio: Studio, old: str, new: str, why: str) -> int:
    """Give a sheet another name in all its records, each with an amendment; returns how many.

    Nothing is lost: every record keeps the line it was written with, and the old name still finds the sheet.
    """
    name = new.strip()
    if not name:
        raise DeskError("Say the new name of the sheet.")
    taken = _exactly(name, known_sheets(studio))
    if taken and taken != old:
        raise DeskError(f'There is a sheet "{taken}" already; merge the two instead.')
    if sheet_row(studio, old) is None:
        write(studio, "sheet", Sheet(sheet=old))
    own = sheet_row(studio, old)
    moved = _move(studio, old, name, why)
    if own is not None:
        also = tuple(dict.fromkeys((*own.body.also, old)))
        amend_record(studio, own.id, {"sheet": name, "also": also}, why)
    return moved + 1


def merge(studio: Studio, typed: str, into: str, why: str) -> int:
    """All records of one sheet lie on another from now on; returns how many. So do facts only it had."""
    old, kept_name = sheet_named(studio, typed), sheet_named(studio, into)
    if old == kept_name:
        raise DeskError(f'"{typed}" and "{into}" are the same sheet, {old}.')
    source, target = sheet_record(studio, old), sheet_row(studio, kept_name)
    if target is None:
        write(studio, "sheet", Sheet(sheet=kept_name))
        target = sheet_row(studio, kept_name)
    moved = _move(studio, old, kept_name, why)
    if target is not None:
        body: Sheet = target.body
        changes: dict[str, Any] = {"also": tuple(dict.fromkeys((*body.also, *source.also, old)))}
        for field in Sheet.__struct_fields__:
            if field not in {"sheet", "also"} and getattr(source, field) and not getattr(body, field):
                changes[field] = getattr(source, field)
        amend_record(studio, target.id, changes, why)
    own = sheet_row(studio, old)
    if own is not None:
        from kb.desk.records.book_list import withdraw_record

        withdraw_record(studio, own.id, f"merged into {kept_name}: {why}")
    return moved


def _move(studio: Studio, old: str, new: str, why: str) -> int:
    """The name in all records of the sheet but its own, withdrawn ones too: they may be brought back."""
    from kb.book.kinds.table import KINDS

    moved = [
        summary.id
        for summary in reversed(list_records(studio, kinds=tuple(KINDS), sheet=old, limit=0))
        if summary.kind != "sheet"
    ]
    for record in moved:
        write(studio, "amend", Amend(of=record, set={"sheet": new}, why=why))
    return len(moved)


def _with_size(words: Mapping[str, Any]) -> dict[str, Any]:
    """The words with ``size`` and ``humidity`` taken apart into the two figures that they hold."""
    from kb.desk.amounts import grams, humidity, millimetres, per_area_g_m2, size_mm

    found = {key.replace("-", "_"): value for key, value in words.items()}
    readers: tuple[tuple[str, tuple[str, ...], Callable[[str], tuple[float, ...]]], ...] = (
        ("size", ("width_mm", "height_mm"), size_mm),
        ("humidity", ("humidity_low", "humidity_high"), humidity),
        ("grammage", ("grammage_g_m2",), lambda text: (per_area_g_m2(text),)),
        ("mass", ("mass_g",), lambda text: (grams(text),)),
        ("thickness", ("thickness_mm",), lambda text: (millimetres(text),)),
    )
    for word, fields, read in readers:
        if text := str(found.pop(word, "") or "").strip():
            figures = (NOTHING,) * len(fields) if text == NOTHING else (f"{one:g}" for one in read(text))
            found.update(zip(fields, figures, strict=True))
    return found


def _emptied(given: Mapping[str, str]) -> list[str]:
    """Changes as they are typed: ``owner=``, ``width_mm=410``."""
    return [f"{key}={'' if value == NOTHING else value}" for key, value in given.items()]
