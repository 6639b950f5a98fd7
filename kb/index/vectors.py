"""Sums of many liquids in one whole number.

A vector holds FIELDS numbers for each liquid, 64 bits each, as one big integer. Adding or subtracting two
vectors is then one operation of the machine's own arithmetic, exact in any order. Stored, a vector of
few liquids is compressed, so that it takes few bytes; one of many is stored as it is, because it would stay
more than a third as long and take ten times the time to read.
"""

from __future__ import annotations

import sys
import zlib
from array import array
from functools import cache

from kb.science.choose.pooling import FIELDS

BITS = 64
BYTES = BITS // 8
STRIDE = FIELDS * BYTES
"""Bytes of one liquid."""
# The lightest: vectors are mostly noughts, and a question unpacks dozens.
_LEVEL = 1
_PLAIN = b"\0"
"""First byte of a vector that is stored as it is; no compressed one begins with it."""
_DENSE = 0.75
"""Share of noughts among its bytes below which a vector is stored as it is."""


def packed(values: tuple[int, ...]) -> int:
    """The fields of one liquid as one number. They may be negative: adding undoes what they borrow."""
    return sum(value << 8 * BYTES * field for field, value in enumerate(values))


class Change:
    """What is to be added to a vector, liquid by liquid."""

    __slots__ = ("_by_place",)

    def __init__(self) -> None:
        self._by_place: dict[int, int] = {}

    def add(self, place: int, number: int) -> None:
        """Add to one liquid what :func:`packed` made."""
        self._by_place[place] = self._by_place.get(place, 0) + number

    def number(self) -> int:
        """The change as one number; negative where more falls than rises at the top."""
        # Bytes of a negative number would have to borrow from the next liquid; that is left to big
        # integers.
        if min(self._by_place.values()) < 0:
            return sum(number << 8 * STRIDE * place for place, number in self._by_place.items())
        # In place: adding shifted numbers one by one would copy the whole vector for each liquid.
        whole = bytearray(STRIDE * (max(self._by_place) + 1))
        for place, number in self._by_place.items():
            whole[STRIDE * place : STRIDE * (place + 1)] = number.to_bytes(STRIDE, "little")
        return int.from_bytes(whole, "little")


def _little(values: array[int]) -> array[int]:
    if sys.byteorder == "big":
        values = values[:]
        values.byteswap()
    return values


def pack(vector: int) -> bytes:
    """A vector as stored. Raises OverflowError if a sum fell below zero."""
    # Without sign: raw counts stand above the weighed fields, so a sound vector is never negative as a
    # whole.
    raw = vector.to_bytes((vector.bit_length() + 7) // 8, "little")
    return _PLAIN + raw if raw.count(0) < _DENSE * len(raw) else zlib.compress(raw, _LEVEL)


def unpack(stored: bytes) -> int:
    """A stored vector as a number."""
    raw = memoryview(stored)[1:] if stored.startswith(_PLAIN) else zlib.decompress(stored)
    return int.from_bytes(raw, "little")


@cache
def _signs(liquids: int) -> int:
    """The number in which the sign of every field is set."""
    return int.from_bytes(b"\0\0\0\0\0\0\0\x80" * (liquids * FIELDS), "little")


def whole(numbers: array[int]) -> int:
    """The vector with these numbers, FIELDS for each liquid: the inverse of :func:`fields`."""
    signs = _signs(len(numbers) // FIELDS)
    return (int.from_bytes(_little(numbers).tobytes(), "little") ^ signs) - signs


def fields(vector: int, liquids: int) -> array[int]:
    """The numbers of a vector, FIELDS for each liquid."""
    # A negative field borrowed one from the next; adding all signs and taking them off again gives it back.
    signs = _signs(liquids)
    return _little(array("q", ((vector + signs) ^ signs).to_bytes(liquids * FIELDS * BYTES, "little")))
