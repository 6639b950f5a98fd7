"""Sums of many liquids in one whole number.

A vector holds FIELDS numbers for each liquid, 64 bits each, as one big integer. Adding or subtracting two
vectors is then one operation of the machine's own arithmetic, exact in any order. Stored, a vector is
compressed, so that a sum that knows few liquids takes few bytes.
"""

from __future__ import annotations

import sys
import zlib
from array import array

from kb.science.pooling import FIELDS

BITS = 64
BYTES = BITS // 8
_LEVEL = 1


class Change:
    """What is to be added to a vector, field by field; what falls is kept apart from what rises."""

    __slots__ = ("_fall", "_rise")

    def __init__(self, liquids: int) -> None:
        self._rise = array("q", bytes(liquids * FIELDS * BYTES))
        self._fall: array[int] | None = None

    def add(self, place: int, values: tuple[int, ...]) -> None:
        """Add to the fields of one liquid."""
        start = place * FIELDS
        for field, value in enumerate(values, start):
            if value > 0:
                self._rise[field] += value
            elif value < 0:
                if self._fall is None:
                    self._fall = array("q", bytes(len(self._rise) * BYTES))
                self._fall[field] -= value

    def number(self) -> int:
        """The change as one number; negative where more falls than rises at the top."""
        rise = _from_array(self._rise)
        return rise if self._fall is None else rise - _from_array(self._fall)


def _from_array(values: array[int]) -> int:
    return int.from_bytes(_little(values).tobytes(), "little")


def _little(values: array[int]) -> array[int]:
    if sys.byteorder == "big":
        values = values[:]
        values.byteswap()
    return values


def pack(vector: int) -> bytes:
    """A vector as stored. Raises OverflowError if a sum fell below zero."""
    return zlib.compress(vector.to_bytes((vector.bit_length() + 7) // 8, "little"), _LEVEL)


def unpack(stored: bytes) -> int:
    """A stored vector as a number."""
    return int.from_bytes(zlib.decompress(stored), "little")


def fields(vector: int, liquids: int) -> array[int]:
    """The numbers of a vector, FIELDS for each liquid."""
    return _little(array("q", vector.to_bytes(liquids * FIELDS * BYTES, "little")))
