"""The columns of each kind of record, derived from its type, so that a new kind comes by itself."""

from __future__ import annotations

import inspect
import re
from functools import cache
from typing import Any, NamedTuple

from kb.book.kinds.field import UNIT_WORDS, Field, fields, value_of
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import Photo, Site
from kb.book.kinds.table import KINDS

__all__ = ["BETWEEN", "Child", "Column", "Shape", "label_of", "part_field", "shapes", "value_of"]

PHOTOGRAPHS = (
    "Photographs of records of every kind, each tied to its record by the SHA-256 of its content, "
    "whatever its name."
)
BETWEEN = "; "
"""Stands between the items of a list that is kept in one cell."""


class Column(NamedTuple):
    """One column: its Table Schema type, its unit (empty: none) and what it means.

    ``path`` leads from the body to the value; of a value in a map or list it starts at the item.
    """

    name: str
    type: str
    unit: str
    about: str
    path: tuple[str, ...]
    words: tuple[str, ...] = ()
    """The only words that may stand here, if there are such."""
    label: str = ""
    """The column in words for paper, its unit left to the value."""
    entries: tuple[str, ...] = ()
    """Kinds of catalogue entries whose ids may stand here."""


class Child(NamedTuple):
    """A field that holds several things, each a row of a table of its own."""

    field: str
    table: str
    about: str
    columns: tuple[Column, ...]
    is_map: bool
    is_photo: bool


class Shape(NamedTuple):
    """One kind of record: its table, its columns in the order of its fields, and its child tables."""

    kind: str
    table: str
    name: str
    about: str
    type: type[Any]
    columns: tuple[Column, ...]
    children: tuple[Child, ...]


def shapes() -> dict[str, Shape]:
    """All kinds of record that this version can read besides changes, by kind."""
    return {kind.key: _shape(kind) for kind in KINDS.values()}


def label_of(column: Column) -> str:
    """A column in words, its unit left to the value: ``dwell_s`` -> ``dwell``."""
    return column.label or column.name.replace("_", " ")


@cache
def part_field(name: str) -> Field | None:
    """The field of that name in what records hold - a place, a round, a portion - for changes told raw."""
    for kind in KINDS.values():
        for outer in fields(kind.type):
            inner = outer.type if outer.is_part else outer.item
            for field in fields(inner) if hasattr(inner, "__struct_fields__") else ():
                if field.name == name:
                    return field
    return None


def _shape(kind: Kind) -> Shape:
    columns: list[Column] = []
    children: list[Child] = []
    for field in fields(kind.type):
        child = _child(kind, field)
        if child is not None:
            children.append(child)
        else:
            columns += _columns(field)
    about = _sentence(inspect.getdoc(kind.type) or kind.name)
    return Shape(kind.key, kind.table, kind.name, about, kind.type, tuple(columns), tuple(children))


def _child(kind: Kind, field: Field) -> Child | None:
    """The table of a field that holds several things; None if it holds one or plain words."""
    table, about = kind.tables.get(field.name, (f"{kind.table}_{field.name}", ""))
    if field.is_map:
        key = Column(*MAP_KEYS.get(field.name, ("name", "string", "", "Name of the item.")), ("0",))
        kind_of_value = TYPES.get(field.item, "string")
        value = MAP_VALUES.get(field.name, ("value", kind_of_value, "", "Value of the item."))
        columns = (key, Column(value[0], kind_of_value, value[2], value[3], ("1",)))
        return Child(field.name, table, _sentence(about or field.says.meaning), columns, True, False)
    if field.item is None or not hasattr(field.item, "__struct_fields__"):
        return None
    inner = tuple(column for one in fields(field.item) for column in _columns(one))
    if field.item is Photo:
        return Child(field.name, "photographs", PHOTOGRAPHS, inner, False, True)
    about = about or field.says.meaning or inspect.getdoc(field.item) or field.name
    return Child(field.name, table, _sentence(about), inner, False, False)


MAP_KEYS = {
    "parts": ("liquid", "string", "", "Id of a liquid of the catalogue, or its name as typed."),
    "harm": ("kind", "string", "", "What was looked at."),
    "may_be": ("what", "string", "", "Ids of adhesive, stage and carrier between slashes; empty: not known."),
}
MAP_VALUES = {
    "parts": ("share", "number", "share by volume", "Part of the whole by volume; all parts sum to 1."),
    "may_be": ("chance", "number", "", "How likely it is that the tape is this; all chances sum to 1."),
    "harm": ("grade", "integer", "grade 0-4", "Harm seen, from 0 none to 4 loss."),
}


TYPES = {bool: "boolean", int: "integer", float: "number"}
"""Table Schema types; whatever is none of these becomes text, so that a new type loses nothing."""


def _columns(field: Field, prefix: str = "", label: str = "") -> tuple[Column, ...]:
    """The column of a plain field, or those of the part that stands in it."""
    if field.is_part:
        # A place is where it is, whatever part of the record it stands in.
        inner_label = "" if field.type is Site else f"{field.name.replace('_', ' ')} "
        inner = fields(field.type, field.path)
        return tuple(
            column for one in inner for column in _columns(one, f"{prefix}{field.name}_", inner_label)
        )
    says = field.says
    return (
        Column(
            prefix + field.name,
            TYPES.get(field.type, "string"),
            UNIT_WORDS.get(says.unit, says.unit),
            _sentence(says.meaning or says.label.capitalize()),
            field.path,
            field.choices,
            label + says.label,
            says.entries,
        ),
    )


def _sentence(text: str) -> str:
    """Text of the source for readers outside it: one paragraph, without marks of code, with a full stop."""
    text = re.sub(r"\s+", " ", text.partition("\n\n")[0].replace("`", "")).strip()
    return text if not text or text.endswith((".", "!", "?")) else text + "."
