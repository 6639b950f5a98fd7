"""Bring the catalogue into the index: entries, names for finding, which names which, compiled numbers."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from kb.index.compiled import Compiled
from kb.index.search import normal
from kb.model.base import Record
from kb.model.kinds import BY_KEY

if TYPE_CHECKING:
    from kb.catalogue.load import Catalogue

FINDABLE = {
    *("liquids", "polymers", "adhesives", "carriers", "stages", "tapes", "media", "papers", "methods"),
    *("recipes", "tissues"),
}
"""Kinds whose names can fill a blank of the question or be looked up as a material."""


def write_catalogue(conn: sqlite3.Connection, catalogue: Catalogue, compiled: Compiled) -> None:
    """Replace everything that came from the catalogue."""
    from kb.index.identify_table import write_table

    for table in ("entry", "name", "entry_fts", "name_tri"):
        conn.execute(f"DELETE FROM {table}")
    rows = list(_entries(catalogue))
    conn.executemany(
        "INSERT INTO entry (kind, id, name, also, text, body, file, line, origin) "
        "VALUES (:kind, :id, :name, :also, :text, :body, :file, :line, :origin)",
        rows,
    )
    conn.executemany(
        "INSERT INTO entry_fts (kind, id, name, also, text) VALUES (:kind, :id, :name, :also, :text)", rows
    )
    conn.executemany(
        "INSERT INTO name (norm, kind, id, name, main) VALUES (:norm, :kind, :id, :name, :main)",
        list(_names(catalogue)),
    )
    # By row number, so that a near spelling found in the trigram table leads to its name.
    conn.execute("INSERT INTO name_tri(rowid, norm) SELECT rowid, norm FROM name")
    conn.execute("DELETE FROM mention")
    conn.executemany("INSERT OR IGNORE INTO mention VALUES (?, ?, ?, ?, ?)", list(_mentions(catalogue)))
    write_table(conn, catalogue)
    write_compiled(conn, compiled)


def write_compiled(conn: sqlite3.Connection, compiled: Compiled) -> None:
    conn.execute("INSERT OR REPLACE INTO meta VALUES ('compiled', ?)", (msgspec.msgpack.encode(compiled),))


def _entries(catalogue: Catalogue) -> Iterator[dict[str, object]]:
    for key, entries in catalogue.entries.items():
        for entry_id, entry in entries.items():
            file, line = catalogue.where[key, entry_id]
            body = msgspec.json.encode(entry)
            yield {
                "kind": BY_KEY[key].word,
                "id": entry_id,
                "name": title_of(entry),
                "also": " | ".join((*getattr(entry, "also", ()), *getattr(entry, "shared_names", ()))),
                "text": " ".join(_strings(msgspec.to_builtins(entry))),
                "body": body,
                "file": file,
                "line": line,
                "origin": catalogue.origin.get((key, entry_id), "shipped"),
            }


def title_of(entry: Record) -> str:
    """What to call an entry in a list."""
    # Kinds differ in what they are called by; the first of these that an entry has is what people say.
    for field in ("name", "title", "cite", "text"):
        found = getattr(entry, field, "")
        if isinstance(found, str) and found:
            return found
    claim = getattr(entry, "claim", None)
    return str(getattr(claim, "text", "") or getattr(entry, "id", ""))


def _strings(value: object) -> Iterator[str]:
    """All words of an entry except the ids of its sources."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            # Ids of sources would make every entry that cites a handbook a hit for the handbook's name.
            if key != "from":
                yield from _strings(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _strings(inner)


def _names(catalogue: Catalogue) -> Iterator[dict[str, object]]:
    for key, entries in catalogue.entries.items():
        if key not in FINDABLE:
            continue
        word = BY_KEY[key].word
        for entry_id, entry in entries.items():
            name = title_of(entry)
            known: dict[str, int] = {normal(entry_id): 1, normal(name): 1}
            for alias in (*getattr(entry, "also", ()), *getattr(entry, "shared_names", ())):
                # A name that is both main and alias stays main, so that it is no alias of itself.
                known.setdefault(normal(alias), 0)
            cas = getattr(entry, "cas", "")
            if cas:
                known.setdefault(normal(cas), 0)
            for norm, main in known.items():
                yield {"norm": norm, "kind": word, "id": entry_id, "name": name, "main": main}


class Mention(NamedTuple):
    """Entry ``kind``/``id`` names ``to_kind``/``to_id`` in the field ``field``; kinds are words."""

    kind: str
    id: str
    field: str
    to_kind: str
    to_id: str


def mentions_of(conn: sqlite3.Connection, kind: str, entry_id: str) -> list[Mention]:
    """What an entry names."""
    sql = "SELECT * FROM mention WHERE kind = ? AND id = ? ORDER BY 3, 4, 5"
    return [Mention(*row) for row in conn.execute(sql, (kind, entry_id))]


def mentioned_by(conn: sqlite3.Connection, kind: str, entry_id: str) -> list[Mention]:
    """What names an entry."""
    sql = "SELECT * FROM mention WHERE to_kind = ? AND to_id = ? ORDER BY 1, 2, 3"
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


def known_ids(conn: sqlite3.Connection) -> dict[str, set[str]]:
    """The ids that a shelf may name, by the key of their kind."""
    return {
        key: {row[0] for row in conn.execute("SELECT id FROM entry WHERE kind = ?", (BY_KEY[key].word,))}
        for key in ("liquids", "families", "hazards")
    }
