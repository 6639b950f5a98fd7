"""The form of an entry: plain values into records, or all that is wrong with them, with examples."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import Any, TypeVar

import msgspec
from msgspec import inspect

from kb.catalogue.problems import REFUSED, Fault, NodePath, nearest, quoted

_NUMBERS: dict[str, str] = {
    "d": "15.5",
    "p": "10.4",
    "h": "7.0",
    "r0": "8.0",
    "weight": "0.5",
    "molar_mass_g_mol": "58.08",
    "density_g_ml": "0.79",
    "molar_volume_cm3_mol": "74.0",
    "boiling_point_c": "56.1",
    "vapour_pressure_20c_kpa": "24.6",
    "vapour_pressure_25c_kpa": "30.8",
    "evaporation_rate_butyl_acetate_1": "5.6",
    "flash_point_c": "-20",
    "lower_explosive_limit_vol_pct": "2.5",
    "upper_explosive_limit_vol_pct": "13",
    "at_c": "25",
}
_TEXTS: dict[str, str] = {
    "id": "white-spirit",
    "name": "White spirit",
    "also": "mineral spirits",
    "cas": "67-64-1",
    "text": "Softens in warm water",
    "from": "memory",
    "family": "ketones",
    "agent": "acetone",
    "cite": "Author, A. (1990) Title. Journal 1, 1-10",
    "none_known": "a mixture without a fixed value",
}
_UNITS: tuple[tuple[str, str], ...] = (
    ("_20c_kpa", "kPa at 20 degrees Celsius"),
    ("_25c_kpa", "kPa at 25 degrees Celsius"),
    ("_butyl_acetate_1", "multiples of n-butyl acetate"),
    ("_vol_pct", "per cent by volume"),
    ("_cm3_mol", "cm3 per mol"),
    ("_g_mol", "g per mol"),
    ("_mg_m3", "mg per m3"),
    ("_g_ml", "g per ml"),
    ("_g_l", "g per litre"),
    ("_ppm", "ppm"),
    ("_kpa", "kPa"),
    ("_c", "degrees Celsius"),
)


def unit(key: str) -> str:
    """The unit that the name of a field says, in words; empty if it says none."""
    # By the ending, as names of fields bear their units.
    return next((words for ending, words in _UNITS if key.endswith(ending)), "")


def example(key: str, wanted: inspect.Type) -> str:
    """One line of YAML that would be right for the field ``key`` of type ``wanted``."""
    return f"{key}: {_value(key, wanted)}"


def words(wanted: inspect.Type, key: str = "") -> str:
    """What is due at a field, in words."""
    wanted = bare(wanted)
    if isinstance(wanted, inspect.LiteralType):
        return "one of: " + ", ".join(str(value) for value in wanted.values)
    if isinstance(wanted, inspect.FloatType | inspect.IntType):
        number = "a whole number" if isinstance(wanted, inspect.IntType) else "a number"
        return f"{number} in {unit(key)}" if unit(key) else number
    if isinstance(wanted, inspect.BoolType):
        return "true or false"
    if isinstance(wanted, inspect.VarTupleType):
        return "a list of ids of sources" if key == "from" else "a list"
    if isinstance(wanted, inspect.DictType):
        words_due = isinstance(wanted.value_type, inspect.LiteralType)
        return "a map of ids and words" if words_due else "a map of ids and numbers"
    if isinstance(wanted, inspect.StructType):
        # A struct of options alone still needs something to show.
        keys = [field.encode_name for field in wanted.fields if field.required] or ["value"]
        if is_figure(wanted):
            keys = ["value (or low and high)", "from"]
        return "a map with the keys " + ", ".join(keys)
    return "text"


def bare(wanted: inspect.Type) -> inspect.Type:
    """The type without the choice of leaving it out."""
    if isinstance(wanted, inspect.UnionType):
        return next(part for part in wanted.types if not isinstance(part, inspect.NoneType))
    return wanted


def is_figure(wanted: inspect.StructType) -> bool:
    """Whether the struct is a figure: a value or a range with its sources."""
    return {"value", "low", "high"} <= {field.name for field in wanted.fields}


def _value(key: str, wanted: inspect.Type) -> str:
    wanted = bare(wanted)
    if isinstance(wanted, inspect.StructType):
        pairs = [f"value: {_NUMBERS.get(key, '1.5')}"] if is_figure(wanted) else []
        needed = [field for field in wanted.fields if field.required]
        pairs += [example(field.encode_name, field.type) for field in needed]
        return "{" + ", ".join(pairs) + "}"
    if isinstance(wanted, inspect.VarTupleType):
        return f"[{_value(key, wanted.item_type)}]"
    if isinstance(wanted, inspect.DictType):
        if isinstance(wanted.value_type, inspect.LiteralType):
            return f"{{glossy: {wanted.value_type.values[0]}}}"
        return "{acetone: 0.5, ethanol: 0.5}"
    return _scalar_example(key, wanted)


def _scalar_example(key: str, wanted: inspect.Type) -> str:
    if isinstance(wanted, inspect.LiteralType):
        return str(wanted.values[0])
    if isinstance(wanted, inspect.FloatType):
        return _NUMBERS.get(key, "1.5")
    fixed = {inspect.BoolType: "true", inspect.IntType: "1"}
    return fixed.get(type(wanted)) or _TEXTS.get(key, "text")


_N = r"[-+]?\d+(?:\.\d+)?"
_NUMBER = re.compile(rf"({_N}|[-+]?\.\d+)")
_COMMA = re.compile(r"([-+]?\d+),(\d+)(\D.*)?")
_RANGE = re.compile(rf"({_N})\s*(?:-|–|—|\.\.|to|and)\s*({_N})(\D.*)?")
_BOUND = re.compile(rf"([<>≤≥]=?)\s*({_N})(.*)?")
_ABOUT = re.compile(rf"(?:~|≈|c\.|ca\.?|about)\s*({_N})(.*)?")
_ZEROS = re.compile(r"[-+]?0+(\d+(?:\.\d*)?)")
_WITH_UNIT = re.compile(rf"({_N})\s*([^\d:/_.].*)")


def advice(text: str, key: str) -> Fault:
    """What is wrong with the text, and how to write the number that it seems to mean as the value of ``key``.

    ``key`` is the field whose name carries the unit.
    """
    given = text.strip()
    said = f"{quoted(text)} is text where a number is due"
    named = f"the unit ({unit(key)}) is in the field's name" if unit(key) else "no unit"
    if match := _ZEROS.fullmatch(given):
        return Fault((), f"{said}: it begins with a zero", "no leading zero", f"{key}: {match[1]}")
    if match := _NUMBER.fullmatch(given):
        return Fault((), f"{said}: it stands in quotes", "the number without quotes", f"{key}: {match[1]}")
    if match := _COMMA.fullmatch(given):
        number = f"{match[1]}.{match[2]}"
        if re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", f"{match[1]},{match[2]}"):
            either = f"{quoted(text)} can be read as {match[1]}{match[2]} or as {number}"
            return Fault((), f"{either}; write it without a comma", f"a number; {named}", "")
        return Fault((), f"{said}: it has a decimal comma", "a decimal point", f"{key}: {number}")
    if match := _RANGE.fullmatch(given):
        return Fault((), f"{said}: it is a range", "low and high", f"{{low: {match[1]}, high: {match[2]}}}")
    if match := _BOUND.fullmatch(given):
        side = "high" if match[1][0] in "<≤" else "low"
        return Fault((), f"{said}: it is a bound", f"only {side}", f"{side}: {match[2]}")
    if match := _ABOUT.fullmatch(given):
        return Fault((), said, "only the number, and any doubt in the note", f"{key}: {match[1]}")
    if match := _WITH_UNIT.fullmatch(given):
        return Fault((), f"{said}: write only the number", f"only the number; {named}", f"{key}: {match[1]}")
    return Fault((), said, f"a number; {named}; leave the line out if none is known", "")


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
            # The field whose name carries the unit: a figure's value speaks for the figure.
            speaking = key if name in {"value", "low", "high"} else name
            yield from _look(inner, fields[name].type, (*at, name), speaking)
        else:
            yield _unknown(name, inner, wanted, at, key)
    for name, field in fields.items():
        if field.required and name not in value:
            said = f'the key "{name}" is missing'
            said = f"no source is given ({said})" if name == "from" else said
            yield Fault(at, said, f"{name}, {words(field.type, name)}", example(name, field.type))


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
        yield Fault(at, f"{given(value)} stands where a map is due", words(wanted), example(key, wanted))
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
        return told._replace(at=at, example=shown)
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


T = TypeVar("T")
_STEP = re.compile(r"\.([^.\[\]`]+)|\[(\d+)\]")


def convert(value: Any, kind: type[T]) -> T | list[Fault]:
    """The record of type ``kind`` that ``value`` describes, or its faults, with places relative to it.

    A whole number stands for a decimal one; nothing else is turned into another type.
    """
    try:
        return msgspec.convert(value, kind, strict=True)
    except msgspec.ValidationError as error:
        # The library names the first fault only; a person mends a file once and wants all of them.
        return faults(value, kind) or [_said_by_msgspec(str(error))]
    except (OverflowError, RecursionError, ValueError) as error:
        return faults(value, kind) or [Fault((), f"the entry cannot be read ({error})")]


def _said_by_msgspec(message: str) -> Fault:
    """msgspec's own complaint with the place it names, such as ``$.hansen.others[0].d``."""
    said, _, place = message.partition(" - at ")
    at: NodePath = tuple(key or int(number) for key, number in _STEP.findall(place))
    # Its back quotes are for programmers.
    return Fault(at, said[:1].lower() + said[1:].replace("`", ""))
