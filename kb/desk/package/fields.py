"""The columns of each kind of record, derived from its type, so that a new kind comes by itself."""

from __future__ import annotations

import ast
import inspect
import re
from functools import cache
from typing import Any, NamedTuple, cast

import msgspec
from msgspec.inspect import (
    BoolType,
    DictType,
    FloatType,
    IntType,
    LiteralType,
    StructType,
    Type,
    UnionType,
    VarTupleType,
    type_info,
)

from kb.book.check import KEPT
from kb.desk.package.words import (
    ABOUT,
    CHILD_ABOUT,
    CHILD_TABLES,
    LABELS,
    PHOTOGRAPHS,
    SPOKEN_UNITS,
    TABLES,
    UNITS,
)
from kb.model.record import Photo, SpotTest

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


@cache
def shapes() -> dict[str, Shape]:
    """All kinds of record that this version can read besides changes, by kind."""
    names = {"test": ("A spot test", SpotTest)} | {key: (one.name, one.type) for key, one in KEPT.items()}
    return {kind: _shape(kind, name, type_) for kind, (name, type_) in names.items()}


def table_of(kind: str) -> str:
    """The table of a kind: ``toning`` -> ``toning_tests``; a kind not named here takes a plural."""
    return TABLES.get(kind, kind.replace("-", "_") + "s")


def value_of(body: Any, path: tuple[str, ...]) -> Any:
    """The value that a column takes from a body; None where something on the way is missing."""
    for name in path:
        if body is None:
            return None
        body = getattr(body, name)
    return body


def label_of(column: Column) -> str:
    """A column in words, its unit left to the value: ``dwell_s`` -> ``dwell``."""
    return label_of_name(column.name)


def label_of_name(name: str) -> str:
    """The same of the bare name of a field."""
    name = LABELS.get(name, name)
    for ending in SPOKEN_UNITS:
        name = name.removesuffix(f"_{ending}")
    return name.removeprefix("site_").replace("_", " ")


def _shape(kind: str, name: str, type_: type[Any]) -> Shape:
    columns: list[Column] = []
    children: list[Child] = []
    for field in cast("StructType", type_info(type_)).fields:
        child = _child(kind, type_, field.name, field.type)
        if child is not None:
            children.append(child)
        else:
            columns += _columns(type_, field.name, field.type, (), "")
    about = _sentence(inspect.getdoc(type_) or name)
    return Shape(kind, table_of(kind), name, about, type_, tuple(columns), tuple(children))


def _child(kind: str, owner: type[Any], name: str, type_: Type) -> Child | None:
    """The table of a field that holds several things; None if it holds one."""
    if isinstance(type_, DictType):
        key = Column(*MAP_KEYS.get(name, ("name", "string", "", "Name of the item.")), ("0",))
        kind_of_value, words = _plain(type_.value_type)
        value = MAP_VALUES.get(name, ("value", kind_of_value, "", "Value of the item."))
        columns = (key, Column(value[0], kind_of_value, value[2], value[3], ("1",), words))
        about = CHILD_ABOUT.get((kind, name)) or _about(owner, name)
        return Child(name, _child_table(kind, name), about, columns, True, False)
    if not (isinstance(type_, VarTupleType) and isinstance(type_.item_type, StructType)):
        return None
    item = type_.item_type
    inner = [one for field in item.fields for one in _columns(item.cls, field.name, field.type, (), "")]
    photo = item.cls is Photo
    table = "photographs" if photo else _child_table(kind, name)
    about = PHOTOGRAPHS if photo else CHILD_ABOUT.get((kind, name)) or inspect.getdoc(item.cls) or name
    return Child(name, table, _sentence(about), tuple(inner), False, photo)


MAP_KEYS = {
    "parts": ("liquid", "string", "", "Id of a liquid of the catalogue, or its name as typed."),
    "harm": ("kind", "string", "", "What was looked at."),
}
MAP_VALUES = {
    "parts": ("share", "number", "share by volume", "Part of the whole by volume; all parts sum to 1."),
    "harm": ("grade", "integer", "grade 0-4", "Harm seen, from 0 none to 4 loss."),
}


def _child_table(kind: str, field: str) -> str:
    return CHILD_TABLES.get((kind, field), f"{table_of(kind)}_{field}")


def _columns(
    owner: type[Any], name: str, type_: Type, path: tuple[str, ...], prefix: str
) -> tuple[Column, ...]:
    """The column of a plain field, or those of the record that stands in it."""
    inner = _without_none(type_)
    if isinstance(inner, StructType):
        start = f"{prefix}{name}_"
        return tuple(
            column
            for field in inner.fields
            for column in _columns(inner.cls, field.name, field.type, (*path, name), start)
        )
    kind, words = _plain(inner)
    column = prefix + name
    return (Column(column, kind, unit_of(column), _about(owner, name), (*path, name), words),)


def _without_none(type_: Type) -> Type:
    if isinstance(type_, UnionType):
        rest = [one for one in type_.types if not isinstance(one, msgspec.inspect.NoneType)]
        return rest[0] if len(rest) == 1 else type_
    return type_


def _plain(type_: Type) -> tuple[str, tuple[str, ...]]:
    """The Table Schema type of a plain field, and the words that it is bound to.

    What is not known here becomes text, so that a new type loses nothing.
    """
    type_ = _without_none(type_)
    for known, kind in ((BoolType, "boolean"), (IntType, "integer"), (FloatType, "number")):
        if isinstance(type_, known):
            return kind, ()
    if isinstance(type_, LiteralType) and all(isinstance(one, str) for one in type_.values):
        return "string", tuple(str(one) for one in type_.values if one)
    return "string", ()


def unit_of(name: str) -> str:
    """The unit of a column by its name, in words; empty if it has none."""
    for ending, unit in UNITS.items():
        if name == ending or name.endswith(f"_{ending}"):
            return unit
    return ""


def _about(owner: type[Any], name: str) -> str:
    """What a field means: from the table here, else the text under it in the source, else its name."""
    said = (
        ABOUT.get((owner.__name__, name)) or ABOUT.get(("", name)) or _docs(cast("Any", owner)).get(name, "")
    )
    return _sentence(said or name.replace("_", " ").capitalize())


@cache
def _docs(owner: Any) -> dict[str, str]:
    """The texts that stand under the fields of a type; nothing where the source is not at hand."""
    try:
        body = ast.parse(inspect.getsource(owner)).body[0]
    except (OSError, TypeError, SyntaxError, IndexError):
        return {}
    found: dict[str, str] = {}
    last = ""
    for node in body.body if isinstance(body, ast.ClassDef) else ():
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            last = node.target.id
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and last:
            found[last], last = str(node.value.value), ""
    return found


def _sentence(text: str) -> str:
    """Text of the source for readers outside it: one paragraph, without marks of code, with a full stop."""
    text = re.sub(r"\s+", " ", text.partition("\n\n")[0].replace("`", "")).strip()
    return text if not text or text.endswith((".", "!", "?")) else text + "."
