"""Sums of many liquids in one whole number.

A vector holds FIELDS numbers for each liquid, 64 bits each, as one big integer. Adding or subtracting two
vectors is then one operation of the machine's own arithmetic, exact in any order. Stored, it names the
liquids that it counts and leaves out the upper bytes that no number needs. Compressed it would take half
as much room and twice the time, of which deriving an index had a tenth.
"""

from __future__ import annotations

from array import array
from collections.abc import Mapping, Sequence
from functools import cache

from kb.index.schema import little
from kb.science.choose.pooling import CREDIT, FIELDS

BITS = 64
BYTES = BITS // 8
STRIDE = FIELDS * BYTES
"""Bytes of one liquid."""
_PLACE = array("I").itemsize
_EVERY = 0x80
"""Set in the first byte of a vector that holds all liquids up to its last one."""
_MOST = 0.5
"""Share of them that it must count: noughts take room, but are read without being put apart."""
_WIDTHS = (*((wide, 1 << 8 * (BYTES * CREDIT + wide) - 1) for wide in (5, 6)), (BYTES, 0))
"""Bytes of a number as it is stored, and what is added to a liquid so that its credit is no negative one,
of which all bytes are set. The first that all numbers of a vector fit is taken."""


def packed(values: tuple[int, ...]) -> int:
    """The fields of one liquid as one number. They may be negative: adding undoes what they borrow."""
    return sum(value << 8 * BYTES * field for field, value in enumerate(values))


def by_place(vector: int) -> dict[int, int]:
    """What :func:`packed` made of each liquid that a vector counts, by its place."""
    raw = vector.to_bytes((vector.bit_length() + 7) // 8, "little")
    pieces = (raw[at : at + STRIDE] for at in range(0, len(raw), STRIDE))
    numbers = (int.from_bytes(piece, "little") for piece in pieces)
    return {place: number for place, number in enumerate(numbers) if number}


def pack(vector: int) -> bytes:
    """A vector as stored. Raises OverflowError if a sum fell below zero."""
    # Without sign: raw counts stand above the weighed fields, so a sound vector is never negative as a whole.
    return pack_places(by_place(vector))


def pack_places(numbers: Mapping[int, int]) -> bytes:
    """The same of its liquids by place."""
    places: Sequence[int] = sorted(numbers)
    # Most sums of a long book count nearly every liquid, and need not name them.
    every = not places or len(places) > _MOST * places[-1]
    if every and places:
        places = range(places[-1] + 1)
    for wide, more in _WIDTHS:
        try:
            raw = b"".join([(numbers.get(place, 0) + more).to_bytes(STRIDE, "little") for place in places])
        except OverflowError:
            if wide == BYTES:
                raise
            continue
        count = FIELDS * len(places)
        if all(raw[at::BYTES].count(0) == count for at in range(wide, BYTES)):
            break
    named = b"" if every else little(array("I", places)).tobytes()
    # All first bytes, all second ones ...: whole columns are left out.
    columns = [raw[at::BYTES] for at in range(wide)]
    return b"".join((bytes((wide | _EVERY * every,)), named, *columns))


def unpack(stored: bytes) -> int:
    """A stored vector as a number."""
    every, wide = stored[0] & _EVERY, stored[0] & ~_EVERY
    count = (len(stored) - 1) // (FIELDS * wide + (0 if every else _PLACE))
    at = 1 + (0 if every else _PLACE * count)
    raw = bytearray(STRIDE * count)
    for column in range(wide):
        raw[column::BYTES] = stored[at : at + FIELDS * count]
        at += FIELDS * count
    vector = int.from_bytes(raw, "little") - _added(count, wide)
    if every:
        return vector
    places = little(array("I", stored[1 : 1 + _PLACE * count]))
    apart = vector.to_bytes(STRIDE * count, "little")
    whole = bytearray(STRIDE * (places[-1] + 1))
    for number, place in enumerate(places):
        whole[STRIDE * place : STRIDE * (place + 1)] = apart[STRIDE * number : STRIDE * (number + 1)]
    return int.from_bytes(whole, "little")


@cache
def _added(count: int, wide: int) -> int:
    more = dict(_WIDTHS)[wide]
    return sum(more << 8 * STRIDE * number for number in range(count))


@cache
def _signs(liquids: int) -> int:
    """The number in which the sign of every field is set."""
    return int.from_bytes(b"\0\0\0\0\0\0\0\x80" * (liquids * FIELDS), "little")


def whole(numbers: array[int]) -> int:
    """The vector with these numbers, FIELDS for each liquid: the inverse of :func:`fields`."""
    signs = _signs(len(numbers) // FIELDS)
    return (int.from_bytes(little(numbers).tobytes(), "little") ^ signs) - signs


def fields(vector: int, liquids: int) -> array[int]:
    """The numbers of a vector, FIELDS for each liquid."""
    # A negative field borrowed one from the next; adding all signs and taking them off again gives it back.
    signs = _signs(liquids)
    return little(array("q", ((vector + signs) ^ signs).to_bytes(liquids * FIELDS * BYTES, "little")))
