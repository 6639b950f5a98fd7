"""Whether the folder of pooled counts is still what the index has read, and each studio's weight.

Light to import: every answer asks the first of these.
"""

from __future__ import annotations

import os
import re
import sqlite3
import stat
from pathlib import Path
from typing import NamedTuple

WEIGHTS = "weights.yaml"
OWN_ID = "this-studio.json"
"""Holds the random id that this studio's counts bear; made once, with the first export."""
THOUSAND = 1000
"""Weights are kept in whole thousandths, so that weighted sums stay whole numbers."""
_NAME = r"([0-9a-f]{32})\.json"
_LINE = r"\s*[\"']?([0-9a-f]{32})[\"']?\s*:\s*([^#]*?)\s*(?:#.*)?"


class PoolFile(NamedTuple):
    """A counts file in the pool as the disk has it now."""

    studio: str
    size: int
    mtime_ns: int


def pool_files(pool_dir: Path) -> list[PoolFile]:
    """The counts files of the pool by studio id: ordinary files with the name that ``pool add`` gives."""
    found = []
    for name, size, mtime_ns in _states(pool_dir):
        named = re.fullmatch(_NAME, name)
        if named:
            found.append(PoolFile(named[1], size, mtime_ns))
    return found


def _states(pool_dir: Path) -> list[tuple[str, int, int]]:
    states = []
    try:
        with os.scandir(pool_dir) as entries:
            for entry in entries:
                if entry.name == WEIGHTS or re.fullmatch(_NAME, entry.name):
                    status = entry.stat(follow_symlinks=False)
                    if stat.S_ISREG(status.st_mode):
                        states.append((entry.name, status.st_size, status.st_mtime_ns))
    except OSError:
        return []
    states.sort()
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
