"""Read shelf.yaml against the ids of the catalogue. What is wrong in it is reported."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Mapping
from pathlib import Path

from kb.model.kinds import BY_KEY
from kb.model.studio import Shelf


def read_shelf_file(path: Path, known: Mapping[str, Collection[str]]) -> tuple[Shelf, list[str]]:
    """The studio's shelf and what is wrong in its file, each as one sentence with file and line.

    ``known`` holds the ids of the catalogue by kind key; see :func:`known_ids`.
    """
    if not path.exists():
        return Shelf(), []
    from kb.catalogue.shelf import read_shelf

    shelf, problems = read_shelf(path, known)
    return shelf, [str(problem) for problem in problems]


def known_ids(conn: sqlite3.Connection) -> dict[str, set[str]]:
    """The ids that a shelf may name, from an index that holds the catalogue."""
    return {
        key: {row[0] for row in conn.execute("SELECT id FROM entry WHERE kind = ?", (BY_KEY[key].word,))}
        for key in ("liquids", "families", "hazards")
    }
