"""From typed words to changes of a record of any kind, by the types that its fields have."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import msgspec

from kb.book.check import AMENDABLE, KEPT
from kb.desk.errors import DeskError
from kb.desk.records.typed_amounts import celsius, lux, millimetres, minutes
from kb.desk.studio import Studio
from kb.model.record import ColourReading, Photo, Portion, Round, SpotTest

_AMOUNTS: dict[str, Callable[[str], float]] = {
    "_mm": millimetres,
    "_minutes": minutes,
    "minutes": minutes,
    "_lux": lux,
    "_c": celsius,
}
"""How a figure is read, by the ending of its field's name; a bare number is in the unit of the field."""
_ONLY_WHOLE = (Photo, Round)


def changes_from_words(studio: Studio, kind: str, texts: list[str]) -> dict[str, Any]:
    """``["length_mm=45", "site.words=lower edge"]`` -> changes of a record of that kind.

    An empty value takes a figure out. A reading of a colour is three numbers, portions stand between
    semicolons ("raw umber 0.4 g; water 20 ml"), words in a list between commas. Raises DeskError for a field
    that the kind does not have and for a value that does not fit.
    """
    if kind not in AMENDABLE:
        raise DeskError(f"A record of the kind {kind} cannot be amended by this version.")
    changes: dict[str, Any] = {}
    for text in texts:
        field, sign, value = text.partition("=")
        name = field.strip().lower().replace("-", "_").replace(" ", "_")
        if not sign or not name:
            raise DeskError(f'"{text}" is not FIELD=VALUE, for instance remarks=seen again.')
        if kind == "test" and "." not in name and name not in {"photos", "rounds"}:
            changes.update(_of_test(studio, text, changes))
        else:
            changes[name] = _value(studio, kind, name, value.strip())
    return changes


def _of_test(studio: Studio, text: str, so_far: dict[str, Any]) -> dict[str, Any]:
    """Names of a test's materials are resolved as when it was added; harm adds to harm named before."""
    from kb.desk.records.typed import changes_from_words as of_test

    found = of_test(studio, [text])
    if "harm" in found and "harm" in so_far:
        found["harm"] = {**so_far["harm"], **found["harm"]}
    return found


def whole_changes(kind: str, current: msgspec.Struct, changes: Mapping[str, Any]) -> dict[str, Any]:
    """The changes with parts such as ``site.words`` set into the field as it stands, checked for the kind.

    Raises DeskError for a field that the kind does not have and for a record that could not be.
    """
    known = AMENDABLE[kind]
    now = msgspec.to_builtins(current)
    whole: dict[str, Any] = {}
    for name, value in changes.items():
        outer, dot, inner = name.partition(".")
        if outer not in known.fields:
            raise DeskError(f"{known.name} has no field {outer!r} to amend. Nothing was recorded.")
        if dot:
            base = whole.get(outer, now.get(outer)) or {}
            whole[outer] = {**base, inner: value} if isinstance(base, dict) else {inner: value}
        else:
            whole[outer] = msgspec.to_builtins(value)
    if not whole:
        raise DeskError("Say what is changed. Nothing was recorded.")
    try:
        known.make({**now, **whole})
    except ValueError as error:
        raise DeskError(f"{error} Nothing was recorded.") from error
    return whole


def _value(studio: Studio, kind: str, name: str, text: str) -> Any:
    known = AMENDABLE[kind]
    outer, dot, inner = name.partition(".")
    types = _types(SpotTest if kind == "test" else KEPT[kind].type)
    if outer not in types:
        raise DeskError(f"{known.name} has no field {outer!r} to amend. Nothing was recorded.")
    wanted = types[outer]
    if dot:
        part = next((one for one in _choices(wanted) if _is_struct(one)), None)
        parts = _types(part) if part is not None else {}
        if inner not in parts:
            raise DeskError(f"{outer} has no part {inner!r} to amend. Nothing was recorded.")
        return _fitted(inner, parts[inner], text)
    if text and outer in {"batch", "tissue", "hinge_tissue", "adhesive", "toning"}:
        return _named(studio, kind, outer, text)
    return _fitted(outer, wanted, text)


def _named(studio: Studio, kind: str, name: str, text: str) -> str:
    """Ids as when the record was written: of a batch or toning test, or of the catalogue."""
    from kb.desk.making.batches import named
    from kb.desk.records.work_records import ADHESIVE, TISSUE, batch_named, known_or_words
    from kb.desk.sheet.mends import toning_id

    if name == "batch":
        return named(studio, text) if kind == "reading" else batch_named(studio, {"batch": text})
    if name == "toning":
        return toning_id(studio, text)
    if name == "adhesive":
        return known_or_words(studio, ADHESIVE, text, loosely=False)
    return known_or_words(studio, TISSUE, text)


def _fitted(name: str, wanted: Any, text: str) -> Any:
    """The typed text as a value of the type that the field has."""
    choices = _choices(wanted)
    if any(get_origin(one) is Literal for one in choices):
        return _one_of(name, [value for one in choices for value in get_args(one)], text)
    if tuple in {get_origin(one) for one in choices}:
        return _several(name, get_args(choices[0])[0], text)
    if ColourReading in choices:
        return _colour(text)
    if any(_is_struct(one) for one in choices):
        raise DeskError(f"Say which part of {name} is meant, for instance {name}.words=lower edge.")
    if bool in choices:
        return _yes_or_no(name, text)
    if float in choices or int in choices:
        return _number(name, text, whole=float not in choices, empty=type(None) in choices)
    return text


def _one_of(name: str, values: list[str], text: str) -> str:
    if text.lower() not in values:
        shown = ", ".join(value for value in values if value)
        raise DeskError(f'"{text}" ({_plain(name)}) is not one of {shown}. Nothing was recorded.')
    return text.lower()


def _several(name: str, inner: Any, text: str) -> list[Any]:
    if inner is Portion:
        from kb.desk.sheet.toning import colourants

        return [msgspec.to_builtins(one) for one in colourants(text)]
    if inner in _ONLY_WHOLE:
        raise DeskError(
            f"The {_plain(name)} of a record are not amended this way: withdraw it and write it down again."
        )
    return [word.strip() for word in text.split(",") if word.strip()]


def _colour(text: str) -> Any:
    from kb.desk.sheet.toning import colour_reading

    found = colour_reading(text)
    return None if found is None else msgspec.to_builtins(found)


def _yes_or_no(name: str, text: str) -> bool:
    if text.lower() not in {"yes", "no"}:
        raise DeskError(f'"{text}" ({_plain(name)}) is neither yes nor no. Nothing was recorded.')
    return text.lower() == "yes"


def _number(name: str, text: str, *, whole: bool, empty: bool) -> float | int | None:
    if text in {"", "-"} and empty:
        return None
    reader = next((read for ending, read in _AMOUNTS.items() if name.endswith(ending)), None)
    if reader is not None:
        return reader(text)
    try:
        return int(text) if whole else float(text.replace(",", ".").removesuffix("%").strip())
    except ValueError:
        kind = "a whole number" if whole else "a number"
        raise DeskError(f'"{text}" ({_plain(name)}) is not {kind}. Nothing was recorded.') from None


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _choices(wanted: Any) -> tuple[Any, ...]:
    """The types that a field may have; a union is taken apart."""
    return get_args(wanted) if get_origin(wanted) in {Union, UnionType} else (wanted,)


def _is_struct(one: Any) -> bool:
    return isinstance(one, type) and issubclass(one, msgspec.Struct)


def _types(struct: type[Any]) -> dict[str, Any]:
    """The types of a record's fields."""
    hints = get_type_hints(struct)
    return {name: hints[name] for name in struct.__struct_fields__}
