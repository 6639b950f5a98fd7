"""Advice for text that stands where a number is due."""

from __future__ import annotations

import re
from typing import NamedTuple

from kb.catalogue.examples import unit
from kb.catalogue.problems import quoted

_N = r"[-+]?\d+(?:\.\d+)?"
_NUMBER = re.compile(rf"({_N}|[-+]?\.\d+)")
_COMMA = re.compile(r"([-+]?\d+),(\d+)(\D.*)?")
_RANGE = re.compile(rf"({_N})\s*(?:-|–|—|\.\.|to|and)\s*({_N})(\D.*)?")
_BOUND = re.compile(rf"([<>≤≥]=?)\s*({_N})(.*)?")
_ABOUT = re.compile(rf"(?:~|≈|c\.|ca\.?|about)\s*({_N})(.*)?")
_ZEROS = re.compile(r"[-+]?0+(\d+(?:\.\d*)?)")
_WITH_UNIT = re.compile(rf"({_N})\s*([^\d:/_.].*)")


class Advice(NamedTuple):
    """What is wrong with the text, what is due, and the YAML to write."""

    message: str
    expected: str
    example: str


def advice(text: str, key: str) -> Advice:
    """How to write the number that ``text`` seems to mean as the value of ``key``.

    ``key`` is the field whose name carries the unit.
    """
    given = text.strip()
    said = f"{quoted(text)} is text where a number is due"
    named = f"the unit ({unit(key)}) is in the field's name" if unit(key) else "no unit"
    if match := _ZEROS.fullmatch(given):
        return Advice(f"{said}: it begins with a zero", "no leading zero", f"{key}: {match[1]}")
    if match := _NUMBER.fullmatch(given):
        return Advice(f"{said}: it stands in quotes", "the number without quotes", f"{key}: {match[1]}")
    if match := _COMMA.fullmatch(given):
        number = f"{match[1]}.{match[2]}"
        return Advice(f"{said}: it has a decimal comma", "a decimal point", f"{key}: {number}")
    if match := _RANGE.fullmatch(given):
        return Advice(f"{said}: it is a range", "low and high", f"{{low: {match[1]}, high: {match[2]}}}")
    if match := _BOUND.fullmatch(given):
        side = "high" if match[1][0] in "<≤" else "low"
        return Advice(f"{said}: it is a bound", f"only {side}", f"{side}: {match[2]}")
    if match := _ABOUT.fullmatch(given):
        return Advice(said, "only the number, and any doubt in the note", f"{key}: {match[1]}")
    if match := _WITH_UNIT.fullmatch(given):
        return Advice(f"{said}: write only the number", f"only the number; {named}", f"{key}: {match[1]}")
    return Advice(said, f"a number; {named}; leave the line out if none is known", "")
