"""What an unquoted word in a catalogue file means: text, unless it is plainly something else."""

from __future__ import annotations

import math
import re

Scalar = str | int | float | bool | None

_NUMBER = re.compile(r"[-+]?(?:\.[0-9]+|(?:0|[1-9][0-9]*)(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?\.(?:inf|Inf|INF|nan|NaN|NAN)")
_WORDS: dict[str, bool | None] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}
_MOST_DIGITS = 40
_LARGEST = 2**63 - 1


def resolve(text: str) -> Scalar:
    """The value of an unquoted scalar.

    Only whole numbers, decimal numbers, true, false and null are not text. ``no``, ``12:30``, ``010``,
    ``1_000`` and ``2024-05-01`` stay text, because YAML readers disagree on them.

    Raises ValueError if it is a number that is infinite, not a number, or too long to be meant.
    """
    if text in _WORDS:
        return _WORDS[text]
    if text[0] not in "+-.0123456789":
        return text
    match = _NUMBER.fullmatch(text)
    if match is None:
        if _NOT_FINITE.fullmatch(text):
            raise ValueError("the number is not finite")
        return text
    if len(text) > _MOST_DIGITS:
        raise ValueError("the number has more digits than can be meant")
    if match.group(1) is None and match.group(2) is None and not text.lstrip("+-").startswith("."):
        whole = int(text)
        if abs(whole) > _LARGEST:
            raise ValueError("the number is too large")
        return whole
    number = float(text)
    if not math.isfinite(number):
        raise ValueError("the number is not finite")
    return number
