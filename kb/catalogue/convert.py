"""Turn plain values into records, or say all that is wrong with their form."""

from __future__ import annotations

import re
from typing import Any, TypeVar

import msgspec

from kb.catalogue.explain import faults
from kb.catalogue.problems import Fault, NodePath

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
    steps: list[str | int] = []
    for key, number in _STEP.findall(place):
        steps.append(key or int(number))
    at: NodePath = tuple(steps)
    # Its back quotes are for programmers.
    return Fault(at, said[:1].lower() + said[1:].replace("`", ""))
