"""Sheets as records of their own: made once, found by any part of a name, renamed and merged."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

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

LIKE = 75.0
"""From 0 to 100, how like a name must be to be taken for a half-remembered one."""
CLEARLY = 12.0
"""How much more like the best must be than the next, to be meant without asking."""
MISTYPED = 85.0
"""Names as alike as this are asked about before a new sheet is founded."""
NAMED_CHOICES = 6


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

    Raises DeskError for an empty name or if there is no sheet, and Unclear if several or none may be meant.
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
    if not sheets:
        raise DeskError(f'There is no sheet "{text}" yet. Write it down: benchleaf sheet add "{text}"')
    nearest = [named for score, named in ranked[:NAMED_CHOICES] if score >= LIKE]
    raise Unclear("sheet", text, tuple(_choice(named) for named in nearest or sheets[:NAMED_CHOICES]))


def sheet_for_record(studio: Studio, typed: str) -> str:
    """The sheet that a new record lies on: one that is known by this name, or one that begins with it.

    A name that differs from a known one as a slip of the hand would is asked about: raises Unclear.
    """
    text = typed.strip()
    if not text:
        return ""
    sheets = known_sheets(studio)
    exact = _exactly(text, sheets)
    if exact:
        return exact
    like = [named for score, named in _ranked(text, sheets, whole=True) if score >= MISTYPED]
    if like:
        raise Unclear("sheet", text, tuple(_choice(named) for named in like[:NAMED_CHOICES]))
    return text


def _exactly(text: str, sheets: Iterable[Named]) -> str:
    folded = text.casefold()
    for named in sheets:
        if any(folded == word.casefold() for word in named.called if word):
            return named.name
    return next(
        (
            n.name
            for n in sheets
            if n.row is not None and len(text) >= 8 and n.row.id.startswith(text.upper())
        ),
        "",
    )


def _ranked(text: str, sheets: Iterable[Named], *, whole: bool = False) -> list[tuple[float, Named]]:
    """How like each sheet is to the text. Figures must agree: sheet 1 is no slip for sheet 2."""
    from rapidfuzz import fuzz

    figures = _figures(text)
    found = []
    for named in sheets:
        scores = [0.0]
        for word in named.called:
            if not word or (figures and whole and _figures(word) != figures):
                continue
            near, said = word.casefold(), text.casefold()
            scores.append(fuzz.ratio(said, near) if whole else fuzz.partial_ratio(said, near))
        found.append((max(scores), named))
    return sorted(found, key=lambda pair: -pair[0])


def _figures(text: str) -> str:
    return "".join(character for character in text if character.isdecimal())


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
        if named.row is not None and sheet.sheet.casefold() in {
            word.casefold() for word in (named.name, *named.row.body.also)
        }:
            raise DeskError(f'There is a sheet "{named.name}" already; amend it, or give a new name.')
    return write(studio, "sheet", sheet)


def amend_sheet(studio: Studio, typed: str, words: Mapping[str, str], why: str) -> Written:
    """Correct what is known of a sheet; one without a record of its own is given one."""
    name = sheet_named(studio, typed)
    row = sheet_row(studio, name)
    given = {key: value for key, value in _with_size(words).items() if value.strip()}
    new_name = given.pop("sheet", "")
    if new_name and new_name != name:
        rename(studio, name, new_name, why)
        name, row = new_name, sheet_row(studio, new_name)
    if row is None:
        return write(studio, "sheet", record_from_words(studio, "sheet", {**given, "sheet": name}))
    if not given:
        return Written(id=row.id, bench=studio.bench, at=row.at)
    changes = changes_from_words(studio, "sheet", [f"{key}={value}" for key, value in given.items()])
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
    """The name in all records of the sheet but its own."""
    from kb.book.kinds.table import KINDS

    moved = 0
    for summary in reversed(list_records(studio, kinds=tuple(KINDS), sheet=old, limit=0)):
        if summary.kind != "sheet":
            amend_record(studio, summary.id, {"sheet": new}, why)
            moved += 1
    return moved


def _with_size(words: Mapping[str, Any]) -> dict[str, Any]:
    """The words with ``size`` and ``humidity`` taken apart into the two figures that they hold."""
    from kb.desk.amounts import grams, humidity, per_area_g_m2, size_mm

    found = {key.replace("-", "_"): value for key, value in words.items()}
    if size := str(found.pop("size", "") or "").strip():
        found["width_mm"], found["height_mm"] = (f"{side:g}" for side in size_mm(size))
    if span := str(found.pop("humidity", "") or "").strip():
        found["humidity_low"], found["humidity_high"] = (f"{end:g}" for end in humidity(span))
    if grammage := str(found.pop("grammage", "") or "").strip():
        found["grammage_g_m2"] = f"{per_area_g_m2(grammage):g}"
    if mass := str(found.pop("mass", "") or "").strip():
        found["mass_g"] = f"{grams(mass):g}"
    if thickness := str(found.pop("thickness", "") or "").strip():
        found["thickness_mm"] = thickness
    return found
