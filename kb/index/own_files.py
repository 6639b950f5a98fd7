"""Read studio.yaml and shelf.yaml by the rules of the catalogue. What is wrong in them is reported."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from kb.model.studio import Settings, Shelf

if TYPE_CHECKING:
    import sqlite3


def read_settings(path: Path) -> tuple[Settings, list[str]]:
    """The studio's settings and what could not be read of them, each as one sentence."""
    if not path.exists():
        return Settings(), []
    from kb.catalogue.load import read_one

    found, problems = read_one(path, Settings, path.name)
    said = [str(problem) for problem in problems]
    # A studio must open with a spoilt settings file; what it says is told and not obeyed in part.
    if found is None:
        return Settings(), [*said, f"{path.name}: default settings are used until it is mended."]
    return found, said


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
    from kb.model.kinds import BY_KEY

    return {
        key: {row[0] for row in conn.execute("SELECT id FROM entry WHERE kind = ?", (BY_KEY[key].word,))}
        for key in ("liquids", "families", "hazards")
    }
