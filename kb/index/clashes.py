"""One id for two contents: seen when the second arrives, and settled as the book settles it.

Only an altered file or a copied id makes such a pair. The one written first counts, on every machine and in
whichever order the files came (:func:`kb.book.fold.union`).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from pathlib import Path

from kb.book.contested import Contested, content, contested, is_contested
from kb.book.read import read_file
from kb.index.book_lines import line_at
from kb.model.record import Line

Spot = tuple[str, int]
"""A line by its file and where it begins there."""


class Clash(Exception):
    """A line has the id of a record that says something else."""


def same_or_clash(conn: sqlite3.Connection, table: str, line: Line | None) -> None:
    """A repeat of a record is no news. Raises Clash if the record of this id says something else."""
    if line is None:
        return
    row = conn.execute(f"SELECT file, offset, length FROM {table} WHERE id = ?", (line.id,)).fetchone()
    there = line_at(conn, *row) if row else None
    # A line that cannot be read back may say anything: then the whole book decides.
    if there is None or content(there) != content(line):
        raise Clash(line.id)


def passed_over(paths: Iterable[Path]) -> frozenset[Spot]:
    """The lines of these files that do not count because another of their id was written first."""
    best: dict[str, tuple[tuple[object, ...], Spot]] = {}
    paths = list(paths)
    against: Contested = frozenset().union(*(contested(folder) for folder in {path.parent for path in paths}))
    lost: set[Spot] = set()
    for path in paths:
        for read in read_file(path):
            if read.line is None:
                continue
            spot = (str(path), read.offset)
            # Contested ones last, then by content: any machine with the same lines ranks them alike.
            rank = ((is_contested(read.line, against), content(read.line)), read.line.prev)
            known = best.get(read.line.id)
            if known is None:
                best[read.line.id] = (rank, spot)
            # The same content twice is a repeat and no clash: files that were merged share lines.
            elif rank[0] != known[0][0]:
                first, later = sorted((known, (rank, spot)))
                best[read.line.id] = first
                lost.add(later[1])
    return frozenset(lost)
