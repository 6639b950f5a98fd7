"""From typed words to the fields of a record of any kind, and to changes of them, by what the fields say.

The form, the command and the correction read by the same rules: what one of them takes, all take.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

import msgspec

from kb.book.check import make_record
from kb.book.kinds.field import Field, asked, fields, find
from kb.book.kinds.kind import Kind, plain_of
from kb.book.kinds.parts import ColourReading, Photo
from kb.book.kinds.spot_test import SpotTest
from kb.book.kinds.table import KINDS
from kb.desk import amounts
from kb.desk.errors import DeskError, in_a_sentence
from kb.desk.records import work_records as work
from kb.desk.records.record import record_named, storable
from kb.desk.studio import Studio
from kb.index.kept_rows import kept, one_kept
from kb.index.queries import sheet_as_known
from kb.science.quantities import parse_number

MOST_FIGURES = 9
"""Of a count; more is no count of strips, coats or hinges."""
NOTHING = "Nothing was recorded."
DAMAGED, DAMAGED_MM = {"mend", "condition"}, ("length_mm", "width_mm", "height_mm")
"""Kinds that lie on the sheet, and their lengths, which cannot reach beyond it."""
SIDES = (("sheet", ("width_mm", "height_mm")), ("housing", ("sheet_width_mm", "sheet_height_mm")))
"""Where the size of a sheet is written down."""


def record_from_words(studio: Studio, kind: Kind, words: Mapping[str, Any]) -> Any:
    """A record from typed words by the keys of `asked`; a key that is missing or empty was not said.

    What is named several times - photographs, portions - comes as a list or with semicolons between. Raises
    DeskError for what cannot be; whether enough was said is checked when it is stored.
    """
    items = asked(kind.type)
    values: dict[tuple[str, ...], Any] = {}
    for key, group in items.items():
        typed = _text(words.get(key))
        if typed and group[0].says.reads == "sheet":
            # Form and command ask about a name that no sheet bears before they come here.
            values[group[0].path] = typed
        elif typed:
            try:
                found = _read(studio, group, typed)
            except DeskError as error:
                error.line = key
                raise
            values.update(zip((field.path for field in group), found, strict=True))
    for group in items.values():
        other = find(kind.type, group[0].says.else_of)
        if other is not None and group[0].path not in values and values.get(other.path):
            values[group[0].path] = _said_by(studio, other.says.record, values[other.path])
    if kind.subject == "sheet" and kind.key != "sheet" and ("sheet",) in values:
        # Two spellings of one name would make two objects of it.
        values["sheet",] = sheet_as_known(studio.index.conn, values["sheet",])
    body = _made(kind, values)
    if kind.key in DAMAGED:
        must_fit(studio, body)
    return body


def checked_from_words(studio: Studio, kind: Kind, words: Mapping[str, Any]) -> Any:
    """The same, if it can be stored: asked before a sheet is founded for it or words are made of it."""
    return storable(kind.key, record_from_words(studio, kind, words))


def must_fit(studio: Studio, body: Any, size: tuple[float, float] | None = None) -> None:
    """Raise DeskError if a length on a sheet is more than both its sides together, where they are known.

    ``size``: its sides, mm, that are to be written down with it, in place of those in its record.
    """
    lengths = [getattr(body, name, None) or 0.0 for name in DAMAGED_MM]
    for across, down in _sizes(studio, body.sheet, size) if any(lengths) else ():
        if max(lengths) > across + down:
            raise DeskError(
                f"{max(lengths):g} mm is longer than both sides of the sheet together ({across:g} x "
                f"{down:g} mm). Nothing was recorded; correct the length, or the size of the sheet."
            )


def must_lie_on(studio: Studio, sheet: str, place_mm: Iterable[float | None]) -> None:
    """Raise DeskError if a spot is farther from an edge than the sheet is long, where its size is known.

    Against the longer side, for nobody says which way up a sheet was measured.
    """
    farthest = max((one or 0.0 for one in place_mm), default=0.0)
    for across, down in _sizes(studio, sheet) if farthest and sheet else ():
        if farthest > max(across, down):
            raise DeskError(
                f"{farthest:g} mm lies outside the sheet ({across:g} x {down:g} mm). Nothing was recorded; "
                "correct the place, or the size of the sheet."
            )


def must_be_graded_fitly(test: SpotTest) -> None:
    """Raise DeskError if a control is given a release: nothing is on it that could come off."""
    if test.control and test.release is not None:
        raise DeskError("Release is not graded on a control. Nothing was recorded.")


def _sizes(
    studio: Studio, sheet: str, size: tuple[float, float] | None = None
) -> Iterator[tuple[float, float]]:
    """Width and height, mm, wherever both of them are written down."""
    if size:
        yield size
    for kind, sides in SIDES[1:] if size else SIDES:
        for row in kept(studio.index.conn, kind, sheet):
            across, down = (getattr(row.body, side) for side in sides)
            if across and down:
                yield across, down


def plain_from_words(studio: Studio, kind: Kind, words: Mapping[str, Any]) -> dict[str, Any]:
    """Fields of a record by name, as they were typed, but for those ``apart``. Raises DeskError."""
    said = [(group[0], typed) for key, group in plain_of(kind).items() if (typed := _text(words.get(key)))]
    return {field.name: value(studio, field, typed) for field, typed in said}


def _made(kind: Kind, values: Mapping[tuple[str, ...], Any]) -> Any:
    """The struct, parts made too; a name that must be given and was not stays empty until it is stored."""
    body: dict[str, Any] = {one.name: "" for one in msgspec.structs.fields(kind.type) if one.required}
    for field in fields(kind.type):
        parts = {path[1]: found for path, found in values.items() if len(path) > 1 and path[0] == field.name}
        if parts:
            body[field.name] = field.type(**parts)
        elif field.path in values:
            body[field.name] = values[field.path]
    return kind.type(**body)


def _said_by(studio: Studio, kind: str, record_id: str) -> str:
    """What the record says of itself that stands for the field: the recipe of a batch, else its name."""
    row = one_kept(studio.index.conn, kind, record_id)
    return "" if row is None else str(getattr(row.body, "recipe", "") or getattr(row.body, "name", ""))


def _text(typed: Any) -> str:
    """What was typed as one text; several stand between semicolons."""
    if typed is None:
        return ""
    several = [typed] if isinstance(typed, str | Path | int | float) else list(typed)
    return "; ".join(str(one).strip() for one in several if str(one).strip())


# -- one field ----------------------------------------------------------------------------------------------


def _read(studio: Studio, group: tuple[Field, ...], typed: str) -> tuple[Any, ...]:
    """The values of what is typed together. What cannot be read is told with the name of its line."""
    says = group[0].says
    if len(group) == 1 and says.unit not in amounts.BY_UNIT:
        return (value(studio, group[0], typed),)
    try:
        if len(group) == 1:
            return (value(studio, group[0], typed),)
        found = TOGETHER[says.reads](typed)
        return tuple(_meant(field, one, typed) for field, one in zip(group, found, strict=True))
    except DeskError as error:
        label = says.form or says.label
        raise DeskError(f"{label[:1].upper()}{label[1:]}: {error}") from error


def value(studio: Studio, field: Field, typed: str) -> Any:
    """What a field holds when this is typed for it. Raises DeskError."""
    says = field.says
    if field.choices:
        return _choice(field, typed)
    if says.reads in WHOLE:
        return WHOLE[says.reads](studio, typed)
    if says.reads == "day":
        return _day(field, typed)
    if says.record:
        return record_named(studio, says.record, typed)
    if says.entries:
        return work.known_or_words(studio, says.entries, typed, loosely=says.loosely)
    if says.unit in amounts.BY_UNIT:
        return _meant(field, amounts.BY_UNIT[says.unit](typed), typed)
    if field.type is bool:
        return _yes_or_no(field, typed)
    if field.is_figure:
        return _number(field, typed)
    if field.item is str:
        return tuple(word.strip() for word in typed.split(",") if word.strip())
    if field.item is not None:
        raise DeskError(
            f"The {field.name.replace('_', ' ')} of a record are not amended this way: withdraw it and write "
            "it down again."
        )
    if field.is_part:
        raise DeskError(
            f"Say which part of {field.name} is meant, for instance {field.name}.words=lower edge."
        )
    return typed


def _meant(field: Field, found: float, typed: str) -> float:
    """The figure that was read, unless it is less than anybody means."""
    says = field.says
    if found < says.least:
        least = f"{says.least:g} {says.unit}"
        raise DeskError(f'"{typed}" is not a {says.label}; the least is {least}. {NOTHING}')
    return found


def _day(field: Field, typed: str) -> str:
    """A day of the past, but for the last one on which something may be used."""
    from kb.desk.shelf.bottles import not_ahead

    day = date.today().isoformat() if typed.lower() == "today" else typed
    not_ahead(day, field.says.label, date.max if field.name == "expires" else date.today())
    return day


def _choice(field: Field, typed: str) -> str:
    known = (" and " if len(field.choices) == 2 else ", ").join(field.choices)
    if typed.lower() not in field.choices:
        raise DeskError(f'"{typed}" ({field.says.label}) is not one of {known}. {NOTHING}')
    return typed.lower()


def _yes_or_no(field: Field, typed: str) -> bool:
    if typed.lower() not in {"yes", "no"}:
        raise DeskError(f'"{typed}" ({field.says.label}) is neither yes nor no. {NOTHING}')
    return typed.lower() == "yes"


def _number(field: Field, typed: str) -> float | int:
    if field.type is int:
        if len(typed) > MOST_FIGURES or not re.fullmatch(r"[+-]?\d+", typed, re.ASCII):
            raise DeskError(f'"{typed}" ({field.says.label}) is not a whole number. {NOTHING}')
        return int(typed)
    try:
        return parse_number(typed, field.says.high)
    except ValueError as error:
        why = f": {error}" if "," in typed else ""
        raise DeskError(f'"{typed}" ({field.says.label}) is not a number{why}. {NOTHING}') from None


def _colour(studio: Studio, typed: str) -> ColourReading:
    from kb.desk.sheet.mends import lab

    found = lab(typed)
    return ColourReading(lightness=found.lightness, a=found.a, b=found.b)


def _batch_or_words(studio: Studio, typed: str) -> str:
    from kb.desk.making.batches import named

    return named(studio, typed)


def _sheet(studio: Studio, typed: str) -> str:
    from kb.desk.sheet.names import sheet_for_record

    return sheet_for_record(studio, typed)


WHOLE: Mapping[str, Callable[[Studio, str], Any]] = {
    "portions": lambda _, typed: tuple(map(amounts.portion, filter(str.strip, typed.split(";")))),
    "colour": _colour,
    "photographs": lambda _, typed: work.photos([one.strip() for one in typed.split(";")]),
    "moment": lambda _, typed: work.done_at(typed),
    "batch or words": _batch_or_words,
    "sheet": _sheet,
}
"""Readers of fields that no unit and no catalogue tells how to read, by the word of their `Says`."""
TOGETHER: Mapping[str, Callable[[str], tuple[float, ...]]] = {
    "size": amounts.size_mm,
    "both": amounts.pair_mm,
    "range": amounts.humidity,
}
"""Readers of several fields at once."""


# -- changes ------------------------------------------------------------------------------------------------


def changes_from_words(
    studio: Studio,
    kind: str,
    texts: Iterable[str],
    read: Callable[[Studio, Kind, str, str], dict[str, Any]] | None = None,
    such_as: str = "remarks=seen again",
) -> dict[str, Any]:
    """``["length_mm=45", "site.words=lower edge"]`` -> changes of a record of that kind.

    A field is named as in the book or as the form and the command name it. An empty value takes a figure out.
    Raises DeskError for a field that the kind does not have and for a value that does not fit.
    """
    if kind not in KINDS:
        raise DeskError(f"A record of the kind {kind} cannot be amended by this version.")
    changes: dict[str, Any] = {}
    for text in texts:
        named, sign, typed = text.partition("=")
        name = named.strip().lower().replace("-", "_").replace(" ", "_")
        if not sign or not name:
            raise DeskError(f'"{text}" is not FIELD=VALUE, for instance {such_as}.')
        changes.update((read or change)(studio, KINDS[kind], name, typed.strip()))
    return changes


def change(studio: Studio, kind: Kind, name: str, typed: str) -> dict[str, Any]:
    """What changes when this is typed for a field, by the path of the field. Raises DeskError."""
    field = find(kind.type, name)
    if field is not None:
        return {name: _changed(studio, field, typed)}
    group = asked(kind.type).get(name, ())
    if len(group) > 1 and typed:
        return {one.name: found for one, found in zip(group, _read(studio, group, typed), strict=True)}
    if group:
        return {".".join(one.path): _changed(studio, one, typed) for one in group}
    outer, dot, inner = name.partition(".")
    if dot and find(kind.type, outer):
        raise DeskError(f"{outer} has no part {inner!r} to amend. {NOTHING}")
    raise DeskError(f"{kind.name} has no field {outer!r} to amend. {NOTHING}")


def _changed(studio: Studio, field: Field, typed: str) -> Any:
    if field.item is Photo:
        raise DeskError(
            f"The {field.name} of a record are not amended this way: withdraw it and write it down again."
        )
    if field.empty_allowed and typed in {"", "-"}:
        return None
    if not typed and (field.type is str or field.choices):
        return ""
    return [] if not typed and field.item is not None else msgspec.to_builtins(value(studio, field, typed))


def whole_changes(kind: str, current: msgspec.Struct, changes: Mapping[str, Any]) -> dict[str, Any]:
    """The changes with parts such as ``site.words`` set into the field as it stands, checked for the kind.

    Of a map such as ``harm`` a part that is None is taken out.
    Raises DeskError for a field that the kind does not have and for a record that could not be.
    """
    known = KINDS[kind]
    now = msgspec.to_builtins(current)
    whole: dict[str, Any] = {}
    for name, new in changes.items():
        outer, dot, inner = name.partition(".")
        if outer not in known.type.__struct_fields__:
            raise DeskError(f"{known.name} has no field {outer!r} to amend. {NOTHING}")
        if dot:
            base = whole.get(outer, now.get(outer)) or {}
            whole[outer] = {**base, inner: new} if isinstance(base, dict) else {inner: new}
            held = find(known.type, outer)
            if new is None and held is not None and held.is_map:
                del whole[outer][inner]
        else:
            whole[outer] = msgspec.to_builtins(new)
    if not whole:
        raise DeskError(f"Say what is changed. {NOTHING}")
    with in_a_sentence(NOTHING):
        make_record(kind, {**now, **whole})
    return whole
