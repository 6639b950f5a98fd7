"""Reading the pool: whether its folder is still what the index has read, and what other studios counted.

Light to import: every answer asks the first of these.
"""

import os
import re
import sqlite3
import stat
import zlib
from array import array
from pathlib import Path
from typing import NamedTuple

from kb.index.schema import little

WEIGHTS = "weights.yaml"
OWN_ID = "this-studio.json"
"""Holds the random id that this studio's counts bear; made once, with the first export."""
THOUSAND = 1000
"""Weights are kept in whole thousandths, so that weighted sums stay whole numbers."""
_NAME = re.compile(r"([0-9a-f]{32})\.json")
_LENGTH = 32 + len(".json")
_LINE = r"\s*[\"']?([0-9a-f]{32})[\"']?\s*:\s*([^#]*?)\s*(?:#.*)?"


class PoolFile(NamedTuple):
    """A counts file in the pool as the disk has it now."""

    studio: str
    size: int
    mtime_ns: int


def pool_files(pool_dir: Path) -> list[PoolFile]:
    """The counts files of the pool by studio id: ordinary files with the name that ``pool add`` gives."""
    return [
        PoolFile(named[1], size, mtime_ns)
        for name, size, mtime_ns in _states(pool_dir)
        if (named := _NAME.fullmatch(name))
    ]


def _states(pool_dir: Path) -> list[tuple[str, int, int]]:
    states, folder = [], f"{pool_dir}{os.sep}"
    try:
        # Names are sorted and judged before anything is made of them: every answer looks at a thousand.
        for name in sorted(os.listdir(pool_dir)):
            if (len(name) == _LENGTH and name.endswith(".json")) or name == WEIGHTS:
                found = os.lstat(folder + name)
                if stat.S_ISREG(found.st_mode):
                    states.append((name, found.st_size, found.st_mtime_ns))
    except OSError:
        return []
    return states


def stamp_of(pool_dir: Path) -> bytes:
    """What tells one state of the folder from another; empty where there is no pool."""
    # As it is and not as a check sum, which loads a library that an answer does not need.
    states = _states(pool_dir)
    return repr(states).encode() if states else b""


def pool_changed(conn: sqlite3.Connection, pool_dir: Path) -> bool:
    """Whether the folder differs from what was read, without writing anything."""
    row = conn.execute("SELECT value FROM meta WHERE key = 'pool'").fetchone()
    return (bytes(row[0]) if row else b"") != stamp_of(pool_dir)


def left_out(conn: sqlite3.Connection) -> list[tuple[str, str, str]]:
    """Files of the pool of which nothing is counted though they have a weight: studio, label, why."""
    sql = "SELECT studio, label, problem FROM pool_file WHERE problem <> '' AND weight > 0 ORDER BY studio"
    return conn.execute(sql).fetchall()


def read_weights(pool_dir: Path) -> tuple[dict[str, int], list[str]]:
    """Weights in thousandths by studio id, and what is wrong in their file, in sentences.

    A studio without a line counts in full. One whose weight cannot be read does not count at all: whoever
    wrote a line wanted it to count less.
    """
    try:
        text = (pool_dir / WEIGHTS).read_text(encoding="utf-8", errors="replace")
    except OSError:
        return {}, []
    weights, problems = {}, []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#") or line.strip() == "{}":
            continue
        found = re.fullmatch(_LINE, line)
        weight = _weight(found[2]) if found else None
        if found:
            weights[found[1]] = weight or 0
        if weight is None:
            problems.append(
                f"{WEIGHTS}:{number}: expected a studio's id, a colon and a weight from 0 to 1"
                + ("; until then the studio does not count." if found else ".")
            )
    return weights, problems


def _weight(text: str) -> int | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return round(value * THOUSAND) if 0 <= value <= 1 else None


BY_FIELDS = 2
"""Numbers per liquid in what is kept of the studios behind it: how many, and the most tests of one."""


Slot = tuple[str, int, str]
"""A liquid or blend in the pool's vectors, its place there, and its parts as JSON, empty for a liquid of the
catalogue."""


class Behind(NamedTuple):
    """Who stands behind the tests of one class and liquid: studios, and the most tests that one made."""

    studios: int = 0
    most: int = 0


def pool_slots(conn: sqlite3.Connection) -> list[Slot]:
    """Liquids and blends that other studios may have tested; empty where there is no pool."""
    rows = conn.execute("SELECT liquid, place, parts FROM pool_slot")
    return [(row[0], row[1], row[2]) for row in rows]


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
    numbers = array("q")
    numbers.frombytes(zlib.decompress(stored))
    return little(numbers)
