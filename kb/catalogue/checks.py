"""What is checked of an entry by itself, once its form is right. A check is a plain function."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import cache

import msgspec

from kb.catalogue.figures import FIGURE_CHECKS
from kb.catalogue.parts import Part, fields
from kb.catalogue.problems import Fault, printable, quoted
from kb.catalogue.signs import SIGN_CHECKS
from kb.model.guidance import Hazard
from kb.model.kinds import plain_id
from kb.model.liquid import Classification, Liquid
from kb.model.protection import Authority

Check = Callable[[Part], Iterator[Fault]]

_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_HAZARD_ID = re.compile(r"(?:EU)?H[0-9]{3}[A-Za-z]*")
_MOST_ID = 80
_CAS = re.compile(r"([0-9]{2,7})-([0-9]{2})-([0-9])")


def check_id(part: Part) -> Iterator[Fault]:
    """Ids are in the canonical form; a hazard's is its statement code."""
    one = part.struct
    if part.at or not hasattr(one, "id"):
        return
    found: str = one.id
    if isinstance(one, Hazard):
        if not _HAZARD_ID.fullmatch(found):
            yield Fault(("id",), f"the id {quoted(found)} is no code of a statement", "a code", "id: H336")
    elif isinstance(one, Authority):
        # Parts of an entry have no id of their own.
        # Names of countries and bodies are written in capitals everywhere else, so also as ids.
        if not _ID.fullmatch(found.lower()):
            yield Fault(("id",), f"the id {quoted(found)} is no code of an authority", "a code", "id: UK")
    elif found != plain_id(found):
        said = f"the id {quoted(found)} is not in plain form"
        expected = "lower case, with hyphens for blanks and underscores"
        yield Fault(("id",), said, expected, f"id: {printable(plain_id(found))[:_MOST_ID]}")
    elif not _ID.fullmatch(found) or len(found) > _MOST_ID:
        expected = f"letters a-z, digits and single hyphens, at most {_MOST_ID}"
        yield Fault(("id",), f"the id {quoted(found)} is not in plain form", expected, "id: white-spirit")


@cache
def _needed_texts(kind: type[msgspec.Struct]) -> tuple[tuple[str, str], ...]:
    """Fields of text that must be given, by their names in Python and in YAML."""
    return tuple(
        (field.name, field.encode_name)
        for field in msgspec.structs.fields(kind)
        if field.required and field.type is str and field.name != "id"
    )


def check_texts(part: Part) -> Iterator[Fault]:
    """A text that must be given says something."""
    for name, key in _needed_texts(type(part.struct)):
        if not getattr(part.struct, name).strip():
            yield Fault((*part.at, key), f"the text of {key} is blank", "some words")


def check_sources(part: Part) -> Iterator[Fault]:
    """Every list of sources that must be there names one."""
    expected, example = "at least one id of a source", "from: [memory]"
    for name, key in fields(type(part.struct)):
        if name == "sources" and not getattr(part.struct, name):
            yield Fault((*part.at, key), "no source is given (from is empty)", expected, example)
    one = part.struct
    if isinstance(one, Liquid) and one.cas and not one.cas_sources:
        yield Fault(("cas",), "no source is given for the CAS number", expected, "cas_sources: [memory]")
    if isinstance(one, Classification) and one.supplier_statements and not one.supplier_sources:
        at = (*part.at, "supplier_statements")
        said = "no source is given for the suppliers' statements"
        yield Fault(at, said, expected, "supplier_sources: [memory]")


def check_cas(part: Part) -> Iterator[Fault]:
    """A CAS number has its form and its check digit."""
    one = part.struct
    if not isinstance(one, Liquid) or not one.cas:
        return
    match = _CAS.fullmatch(one.cas)
    if match is None:
        said = f"{quoted(one.cas)} is not in the form of a CAS number"
        yield Fault(("cas",), said, "digits, hyphen, two digits, hyphen, check digit", "cas: 67-64-1")
        return
    digits = match[1] + match[2]
    # The check digit: places from the right times digits, modulo ten (the registry's rule).
    due = sum(place * int(digit) for place, digit in enumerate(reversed(digits), 1)) % 10
    if due != int(match[3]):
        said = f"the CAS number {one.cas} has a wrong check digit; a figure is mistyped"
        yield Fault(("cas",), said, f"the check digit {due} if all else is right", "cas: 67-64-1")


CHECKS: tuple[Check, ...] = (check_id, check_texts, check_sources, check_cas, *FIGURE_CHECKS, *SIGN_CHECKS)
"""All checks of one part of an entry. To add one, write the function and name it here."""


def check(parts: tuple[Part, ...]) -> list[Fault]:
    """All faults that the checks find in one entry, given as its parts."""
    return [fault for part in parts for look in CHECKS for fault in look(part)]
