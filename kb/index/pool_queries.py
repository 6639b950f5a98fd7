"""Reading what other studios counted."""

import sqlite3
import sys
import zlib
from array import array
from typing import NamedTuple

BY_FIELDS = 2
"""Numbers per liquid in what is kept of the studios behind it: how many, and the most tests of one."""


class Slot(NamedTuple):
    """A liquid or blend in the pool's vectors; ``parts`` as JSON, empty for a liquid of the catalogue."""

    liquid: str
    place: int
    parts: str


class Behind(NamedTuple):
    """Who stands behind the tests of one class and liquid: studios, and the most tests that one made."""

    studios: int = 0
    most: int = 0


def pool_slots(conn: sqlite3.Connection) -> list[Slot]:
    """Liquids and blends that other studios may have tested; empty where there is no pool."""
    return [Slot(*row) for row in conn.execute("SELECT liquid, place, parts FROM pool_slot")]


def blends_counted(conn: sqlite3.Connection) -> tuple[int, int]:
    """Blends of other studios that take part in a ranking, and all that their files hold."""
    (slots,) = conn.execute("SELECT count(*) FROM pool_slot WHERE parts <> ''").fetchone()
    (known,) = conn.execute("SELECT count(*) FROM pool_blend").fetchone()
    return int(slots), int(known)


def release_behind(conn: sqlite3.Connection, adhesive: str, position: str) -> list[Behind]:
    """By slot: the studios behind release tests of one adhesive at one stage (its position, 0 to 2)."""
    sql = "SELECT studios FROM pool_release_by WHERE adhesive = ? AND stage = ?"
    return _behind(conn.execute(sql, (adhesive, position)).fetchone())


def harm_behind(conn: sqlite3.Connection, medium: str, paper: str) -> list[Behind]:
    """By slot: the studios behind looks for harm to one medium on one paper."""
    sql = "SELECT studios FROM pool_harm_by WHERE medium = ? AND paper = ?"
    return _behind(conn.execute(sql, (medium, paper)).fetchone())


def _behind(row: tuple[bytes] | None) -> list[Behind]:
    if row is None:
        return []
    numbers = unpack_numbers(row[0])
    return [Behind(numbers[at], numbers[at + 1]) for at in range(0, len(numbers), BY_FIELDS)]


def pack_numbers(numbers: "array[int]") -> bytes:
    """Plain numbers of 64 bits as stored."""
    # Level 1: these are read at every question, and a tighter packing saves little on sparse counts.
    return zlib.compress(little(numbers).tobytes(), 1)


def unpack_numbers(stored: bytes) -> "array[int]":
    """Stored numbers of 64 bits."""
    numbers = array("q")
    numbers.frombytes(zlib.decompress(stored))
    return little(numbers)


def little(numbers: "array[int]") -> "array[int]":
    """The same numbers with their bytes in the order in which they are stored, or back from it."""
    # Stored the little-endian way, so that an index folder carried to another machine still reads.
    if sys.byteorder == "big":
        numbers = numbers[:]
        numbers.byteswap()
    return numbers
