"""Tables of the index. All of them are derived; nothing is stored only here."""

from __future__ import annotations

import sqlite3
import sys
from array import array
from typing import TypeVar

_N = TypeVar("_N", int, float)

VERSION = 34
"""Raised whenever a table or a rule of derivation changes: an older index is then rebuilt."""

SCALE = 1_000_000_000
"""Sums are kept as whole numbers of 1e-9 tests: integer sums do not depend on the order of addition."""
ANY = "*"
"""Stands in the key of a sum for whatever it may be."""

# Grades counted by what was tested, and sums over them: of the book, of patches, of other studios alike.
RELEASE_CELL = """(
    adhesive TEXT, stage TEXT, carrier TEXT, method TEXT, liquid TEXT,
    g0 INTEGER, g1 INTEGER, g2 INTEGER, g3 INTEGER, g4 INTEGER,
    PRIMARY KEY (adhesive, stage, carrier, method, liquid)
) WITHOUT ROWID"""
HARM_CELL = """(
    medium TEXT, paper TEXT, method TEXT, liquid TEXT,
    g0 INTEGER, g1 INTEGER, g2 INTEGER, g3 INTEGER, g4 INTEGER,
    PRIMARY KEY (medium, paper, method, liquid)
) WITHOUT ROWID"""
RELEASE_SUM = """(
    adhesive TEXT, carrier TEXT, method TEXT, stage TEXT, vector BLOB NOT NULL,
    PRIMARY KEY (adhesive, carrier, method, stage)
)"""
HARM_SUM = """(
    medium TEXT, paper TEXT, method TEXT, vector BLOB NOT NULL,
    PRIMARY KEY (medium, paper, method)
)"""


def little(numbers: array[_N]) -> array[_N]:
    """The same numbers with their bytes in the order in which they are stored, or back from it."""
    # Stored the little-endian way, so that an index folder carried to another machine still reads.
    if sys.byteorder == "big":
        numbers = numbers[:]
        numbers.byteswap()
    return numbers


def create(conn: sqlite3.Connection) -> None:
    """Make all tables in an empty database."""
    # The library spares a second list of columns here; it is loaded only where tables are made.
    from sqlite_utils import Database

    db = Database(conn)
    db.table("meta").create({"key": str, "value": bytes}, pk="key")
    db.table("source_file").create({"path": str, "size": int, "mtime_ns": int, "sha256": str}, pk="path")
    db.table("entry").create(
        {
            "kind": str,
            "id": str,
            "name": str,
            "also": str,
            "text": str,
            "body": bytes,
            "file": str,
            "line": int,
            "origin": str,
        },
        pk=("kind", "id"),
    )
    db.table("name").create({"norm": str, "kind": str, "id": str, "name": str, "main": int})
    # Found by name at every letter typed.
    db.table("name").create_index(["norm"])
    db.table("catalogue_problem").create({"text": str})
    db.table("problem").create({"file": str, "line": int, "text": str})
    db.table("book_file").create(
        {"path": str, "size": int, "mtime_ns": int, "ctime_ns": int, "offset": int, "lines": int, "tip": str},
        pk="path",
    )
    _create_book_tables(conn)
    _create_pool_tables(conn)
    conn.executescript(
        """
        CREATE TABLE mention (
            kind TEXT, id TEXT, field TEXT, to_kind TEXT, to_id TEXT,
            PRIMARY KEY (kind, id, field, to_kind, to_id)
        ) WITHOUT ROWID;
        CREATE INDEX mention_to ON mention(to_kind, to_id);
        """
    )
    # Without accents, so that "naphtha" and a name with an accent are found by the same letters.
    conn.execute(
        "CREATE VIRTUAL TABLE entry_fts USING fts5(kind UNINDEXED, id UNINDEXED, name, also, text, "
        "tokenize='unicode61 remove_diacritics 2', prefix='1 2 3')"
    )
    # Trigrams: a name that is misspelt still shares most of its threes with the right one.
    conn.execute("CREATE VIRTUAL TABLE name_tri USING fts5(norm, tokenize='trigram', detail=none)")
    conn.execute("CREATE VIRTUAL TABLE name_tri_in USING fts5vocab(name_tri, row)")


def _create_book_tables(conn: sqlite3.Connection) -> None:
    """Tables of the book, made by hand for their WITHOUT ROWID clustering."""
    conn.executescript(
        f"""
        CREATE TABLE test (
            id TEXT PRIMARY KEY, file INTEGER NOT NULL, offset INTEGER NOT NULL, length INTEGER NOT NULL,
            at TEXT NOT NULL, who TEXT NOT NULL, sheet TEXT NOT NULL, tape TEXT NOT NULL,
            adhesive TEXT NOT NULL, stage TEXT NOT NULL, carrier TEXT NOT NULL, medium TEXT NOT NULL,
            paper TEXT NOT NULL, liquid TEXT NOT NULL, method TEXT NOT NULL, release INTEGER, harm INTEGER,
            control INTEGER NOT NULL, state INTEGER NOT NULL,
            batch TEXT NOT NULL, may_be TEXT NOT NULL, harms TEXT NOT NULL
        ) WITHOUT ROWID;
        CREATE INDEX test_batch ON test(batch) WHERE batch <> '';
        CREATE INDEX test_sheet ON test(sheet) WHERE sheet <> '';
        CREATE TABLE change (
            id TEXT PRIMARY KEY, of TEXT NOT NULL, kind TEXT NOT NULL,
            file INTEGER NOT NULL, offset INTEGER NOT NULL, length INTEGER NOT NULL
        ) WITHOUT ROWID;
        CREATE INDEX change_of ON change(of);
        CREATE TABLE other_record (
            id TEXT PRIMARY KEY, kind TEXT NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL,
            file INTEGER NOT NULL, offset INTEGER NOT NULL, length INTEGER NOT NULL
        ) WITHOUT ROWID;
        CREATE TABLE kept (
            kind TEXT NOT NULL, id TEXT NOT NULL, file INTEGER NOT NULL, offset INTEGER NOT NULL,
            length INTEGER NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, subject TEXT NOT NULL,
            body BLOB NOT NULL, state INTEGER NOT NULL,
            PRIMARY KEY (kind, id)
        ) WITHOUT ROWID;
        CREATE TABLE blend (
            liquid TEXT PRIMARY KEY, parts TEXT NOT NULL, uses INTEGER NOT NULL
        ) WITHOUT ROWID;
        CREATE TABLE liquid_mask (liquid TEXT PRIMARY KEY, mask BLOB NOT NULL) WITHOUT ROWID;
        CREATE TABLE release_cell {RELEASE_CELL};
        CREATE TABLE part_cell {RELEASE_CELL};
        CREATE TABLE patch_evidence (
            id TEXT PRIMARY KEY, sheet TEXT NOT NULL, strip TEXT NOT NULL, liquid TEXT NOT NULL,
            parts TEXT NOT NULL, method TEXT NOT NULL, medium TEXT NOT NULL, paper TEXT NOT NULL,
            release INTEGER, harm INTEGER, tapes TEXT NOT NULL, harm_share INTEGER NOT NULL
        ) WITHOUT ROWID;
        CREATE INDEX patch_sheet ON patch_evidence(sheet);
        CREATE TABLE patch_cell {RELEASE_CELL};
        CREATE TABLE harm_patch_cell {HARM_CELL};
        CREATE TABLE harm_cell {HARM_CELL};
        CREATE TABLE slot (liquid TEXT PRIMARY KEY, place INTEGER NOT NULL) WITHOUT ROWID;
        CREATE TABLE release_sum {RELEASE_SUM};
        CREATE TABLE harm_sum {HARM_SUM};
        """
    )


def _create_pool_tables(conn: sqlite3.Connection) -> None:
    """Tables of what other studios counted. Their vectors have slots of their own, so that a change of
    the book leaves them as they are."""
    conn.executescript(
        f"""
        CREATE TABLE pool_file (
            studio TEXT PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL, sha256 TEXT NOT NULL,
            weight INTEGER NOT NULL, label TEXT NOT NULL, added TEXT NOT NULL, rows INTEGER NOT NULL,
            release_tests INTEGER NOT NULL, harm_tests INTEGER NOT NULL, counted INTEGER NOT NULL,
            unknown TEXT NOT NULL, problem TEXT NOT NULL
        ) WITHOUT ROWID;
        -- Asked at every question, and nearly always of none of a thousand files.
        CREATE INDEX pool_file_problem ON pool_file(problem) WHERE problem <> '';
        CREATE TABLE pool_blend (
            liquid TEXT PRIMARY KEY, parts TEXT NOT NULL, studios INTEGER NOT NULL, tests INTEGER NOT NULL
        ) WITHOUT ROWID;
        CREATE TABLE pool_slot (
            liquid TEXT PRIMARY KEY, place INTEGER NOT NULL, parts TEXT NOT NULL
        ) WITHOUT ROWID;
        CREATE TABLE pool_release_sum {RELEASE_SUM};
        CREATE TABLE pool_harm_sum {HARM_SUM};
        CREATE TABLE pool_release_by (
            adhesive TEXT, stage TEXT, studios BLOB NOT NULL, PRIMARY KEY (adhesive, stage)
        );
        CREATE TABLE pool_harm_by (
            medium TEXT, paper TEXT, studios BLOB NOT NULL, PRIMARY KEY (medium, paper)
        );
        """
    )
