"""Which entry names which: kept with the catalogue, so that links are read in both directions."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from kb.model.kinds import BY_KEY

if TYPE_CHECKING:
    from kb.catalogue.load import Catalogue


class Mention(NamedTuple):
    """Entry ``kind``/``id`` names ``to_kind``/``to_id`` in the field ``field``; kinds are words."""

    kind: str
    id: str
    field: str
    to_kind: str
    to_id: str


def write_mentions(conn: sqlite3.Connection, catalogue: Catalogue) -> None:
    """Replace all mentions by those of a catalogue."""
    conn.execute("DELETE FROM mention")
    conn.executemany("INSERT OR IGNORE INTO mention VALUES (?, ?, ?, ?, ?)", list(_mentions(catalogue)))


def mentions_of(conn: sqlite3.Connection, kind: str, entry_id: str) -> list[Mention]:
    """What an entry names."""
    sql = "SELECT kind, id, field, to_kind, to_id FROM mention WHERE kind = ? AND id = ? ORDER BY 3, 4, 5"
    return [Mention(*row) for row in conn.execute(sql, (kind, entry_id))]


def mentioned_by(conn: sqlite3.Connection, kind: str, entry_id: str) -> list[Mention]:
    """What names an entry."""
    sql = (
        "SELECT kind, id, field, to_kind, to_id FROM mention WHERE to_kind = ? AND to_id = ? ORDER BY 1, 2, 3"
    )
    return [Mention(*row) for row in conn.execute(sql, (kind, entry_id))]


def _mentions(catalogue: Catalogue) -> Iterator[Mention]:
    from kb.catalogue.problems import parts
    from kb.catalogue.references import references, statement_code

    # Labels write H360FD, the catalogue explains H360: the link must lead to an entry that exists.
    hazards = catalogue.entries.get("hazards", {})
    for key, entries in catalogue.entries.items():
        for entry_id, entry in entries.items():
            # The same walk that checks references on loading, so that no link is known there and not here.
            for at, kind, named in references(tuple(parts(entry))):
                if kind not in BY_KEY:
                    continue
                to_id = statement_code(named) if kind == "hazards" and named not in hazards else named
                # The last word of the place that is a field and not an id: parts of a blend are a map.
                field = next(step for step in reversed(at) if isinstance(step, str) and step != named)
                yield Mention(BY_KEY[key].word, entry_id, field, BY_KEY[kind].word, to_id)


def named_most(conn: sqlite3.Connection, to_kind: str) -> list[tuple[str, str, int]]:
    """Id of an entry of ``to_kind``, a kind that names it, and how many entries of that kind do."""
    sql = (
        "SELECT to_id, kind, count(DISTINCT id) FROM mention WHERE to_kind = ? GROUP BY to_id, kind "
        "ORDER BY to_id, kind"
    )
    return [(row[0], row[1], row[2]) for row in conn.execute(sql, (to_kind,))]
