"""Walk through all structs inside a record, with the place of each in its YAML."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

import msgspec

from kb.catalogue.problems import NodePath
from kb.model.base import Record


class Part(NamedTuple):
    """A struct inside an entry and its place there; the entry itself is the part at ``()``."""

    at: NodePath
    struct: Record


@cache
def fields(kind: type[msgspec.Struct]) -> tuple[tuple[str, str], ...]:
    """Names of the fields in Python and in YAML."""
    return tuple(zip(kind.__struct_fields__, kind.__struct_encode_fields__, strict=True))


def parts(record: Record, at: NodePath = ()) -> Iterator[Part]:
    """The record and every struct inside it, in the order of the file's fields."""
    yield Part(at, record)
    for name, key in fields(type(record)):
        value = getattr(record, name)
        if isinstance(value, Record):
            yield from parts(value, (*at, key))
        elif isinstance(value, tuple):
            for number, item in enumerate(value):
                if isinstance(item, Record):
                    yield from parts(item, (*at, key, number))
