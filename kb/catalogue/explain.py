"""Find everything that is wrong with the form of one entry, not only the first thing."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

from msgspec import inspect

from kb.catalogue.examples import bare, example, is_figure, unit, words
from kb.catalogue.numbers import advice
from kb.catalogue.problems import REFUSED, Fault, NodePath, nearest, quoted

_SOURCE_WORDS = frozenset({"source", "sources", "src", "ref", "refs", "reference", "cite"})
_UNIT_WORDS = frozenset({"unit", "units"})


@cache
def shape(kind: type) -> inspect.Type:
    """What msgspec knows of a type; cached because looking it up is slow."""
    return inspect.type_info(kind)


def faults(value: Any, kind: type) -> list[Fault]:
    """All faults of form of ``value`` as a record of type ``kind``; places are relative to it."""
    return list(_look(value, shape(kind), (), kind.__name__.lower()))


def _look(value: Any, wanted: inspect.Type, at: NodePath, key: str) -> Iterator[Fault]:
    # What the reader refused has been told where it stands.
    if value is REFUSED or (value is None and _may_be_empty(wanted)):
        return
    wanted = bare(wanted)
    if isinstance(wanted, inspect.StructType):
        yield from _struct(value, wanted, at, key)
    elif isinstance(wanted, inspect.VarTupleType):
        yield from _list(value, wanted, at, key)
    elif isinstance(wanted, inspect.DictType):
        yield from _dict(value, wanted, at, key)
    elif not _fits(value, wanted):
        yield _scalar(value, wanted, at, key)


def _may_be_empty(wanted: inspect.Type) -> bool:
    return isinstance(wanted, inspect.UnionType) and wanted.includes_none


def _struct(value: Any, wanted: inspect.StructType, at: NodePath, key: str) -> Iterator[Fault]:
    if not isinstance(value, dict):
        said = f"{given(value)} stands where a map is due"
        shown = example(key, wanted)
        # A bare number is the usual slip: the figure lacks its source, and the example shows it with one.
        if is_figure(wanted) and isinstance(value, int | float) and not isinstance(value, bool):
            shown = f"{key}: {{value: {value}, from: [memory]}}"
        yield Fault(at, said, words(wanted), shown if at else "")
        return
    fields = {field.encode_name: field for field in wanted.fields}
    for name, inner in value.items():
        if name in fields and inner is None and not _may_be_empty(fields[name].type):
            due = words(fields[name].type, name)
            instead = "" if fields[name].required else "; or leave the line out"
            shown = example(name, fields[name].type)
            yield Fault((*at, name), f"nothing stands where {due} is due", due + instead, shown)
        elif name in fields:
            yield from _look(inner, fields[name].type, (*at, name), _named(name, key))
        else:
            yield _unknown(name, inner, wanted, at, key)
    for name, field in fields.items():
        if field.required and name not in value:
            yield _missing(name, field.type, at)


def _named(name: str, above: str) -> str:
    """The field whose name carries the unit: a figure's value speaks for the figure."""
    return above if name in {"value", "low", "high"} else name


def _missing(name: str, wanted: inspect.Type, at: NodePath) -> Fault:
    said = f'the key "{name}" is missing'
    if name == "from":
        said = 'no source is given (the key "from" is missing)'
    return Fault(at, said, f"{name}, {words(wanted, name)}", example(name, wanted))


def _unknown(name: str, value: Any, wanted: inspect.StructType, at: NodePath, key: str) -> Fault:
    fields = {field.encode_name: field.type for field in wanted.fields}
    here = (*at, name)
    said = f"the key {quoted(name)} is not known here"
    # Whoever writes a unit means the field's figure, so the answer names the field.
    if name in _UNIT_WORDS and unit(key):
        said += f": the unit is in the name of the field, {key}"
        return Fault(here, said, f"numbers in {unit(key)}, and no unit", example(key, wanted))
    if name in _UNIT_WORDS:
        said += ": the unit of each figure is in the name of its field"
        return Fault(here, said, "no unit", "boiling_point_c: {value: 56.1, from: [memory]}")
    # YAML reads "0,79" in a flow map as two entries, the second a key without a value.
    if name.isdigit() and value is None:
        return Fault(
            here, f"{said}: a decimal comma has cut a number in two", "a decimal point", "value: 0.79"
        )
    # Words that people use for sources lead to the one key.
    near = "from" if name in _SOURCE_WORDS and "from" in fields else nearest(name, fields)
    if not near:
        return Fault(here, said, "one of: " + ", ".join(fields))
    if unit(near) and name.rpartition("_")[0] and near.startswith(name.rpartition("_")[0] + "_"):
        return Fault(
            here, f"{said}: figures are kept in one unit", f"{near}, in {unit(near)}", near + ": ..."
        )
    return Fault(here, f'{said}; did you mean "{near}"?', near, example(near, fields[near]))


def _list(value: Any, wanted: inspect.VarTupleType, at: NodePath, key: str) -> Iterator[Fault]:
    if not isinstance(value, list):
        shown = example(key, wanted)
        # One text where a list is due is most often a list of one.
        if isinstance(value, str) and isinstance(bare(wanted.item_type), inspect.StrType):
            shown = f"{key}: [{value}]" if len(value) < 40 and value.isprintable() else shown
        yield Fault(at, f"{given(value)} stands where a list is due", words(wanted, key), shown)
        return
    for number, item in enumerate(value):
        yield from _look(item, wanted.item_type, (*at, number), key)


def _dict(value: Any, wanted: inspect.DictType, at: NodePath, key: str) -> Iterator[Fault]:
    if not isinstance(value, dict):
        said = f"{given(value)} stands where a map is due"
        yield Fault(at, said, words(wanted), example(key, wanted))
        return
    for name, item in value.items():
        yield from _look(item, wanted.value_type, (*at, name), name)


def _scalar(value: Any, wanted: inspect.Type, at: NodePath, key: str) -> Fault:
    due = words(wanted, key)
    number = isinstance(wanted, inspect.FloatType | inspect.IntType)
    if number and isinstance(value, str):
        told = advice(value, key)
        field = str(at[-1]) if at and not told.example.startswith("{") else ""
        shown = told.example.replace(f"{key}: ", f"{field}: ", 1) if field else told.example
        return Fault(at, told.message, told.expected, shown)
    if isinstance(wanted, inspect.StrType):
        said = f"{given(value)} stands where text is due"
        if isinstance(value, int | float):
            # YAML takes yes, no and bare numbers for what they are not; quotes make them text.
            return Fault(at, said, "text; put it in quotes", f"'{str(value).lower()}'")
        return Fault(at, said, "text", example(key, wanted))
    if isinstance(wanted, inspect.LiteralType):
        near = nearest(value, [str(known) for known in wanted.values]) if isinstance(value, str) else ""
        said = f"{given(value)} is not one of the known words"
        said += f'; did you mean "{near}"?' if near else ""
        return Fault(at, said, due, example(key, wanted))
    return Fault(at, f"{given(value)} stands where {due} is due", due, example(key, wanted))


def _fits(value: Any, wanted: inspect.Type) -> bool:
    """Whether a single value is of the type that is due; true is no number and 1 is not true."""
    if isinstance(wanted, inspect.FloatType):
        return isinstance(value, int | float) and not isinstance(value, bool)
    if isinstance(wanted, inspect.IntType):
        # True is a whole number to the language, and no figure to a person.
        return type(value) is int
    if isinstance(wanted, inspect.BoolType):
        return isinstance(value, bool)
    if isinstance(wanted, inspect.LiteralType):
        return any(type(value) is type(known) and value == known for known in wanted.values)
    return isinstance(value, str) if isinstance(wanted, inspect.StrType) else True


def given(value: Any) -> str:
    """What stands in the file, in words."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"the number {value}"
    if isinstance(value, str):
        return f"the text {quoted(value)}"
    return "a list" if isinstance(value, list) else "a map"
