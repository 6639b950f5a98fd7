"""Reading the index: entries of the catalogue and tests of the book."""

import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple, TypeVar

import msgspec

from kb.index.book_lines import changes_of
from kb.index.rows import TEST_COLUMNS, Row

FILTERS = ("sheet", "tape", "adhesive", "stage", "carrier", "medium", "paper", "liquid", "method", "who")
"""Columns of a test that a list can be narrowed by."""
CELL_KEYS: dict[str, tuple[str, ...]] = {
    "release_cell": ("adhesive", "stage", "carrier", "method", "liquid"),
    "harm_cell": ("medium", "paper", "method", "liquid"),
}
"""What names a class of tests in each table of sums."""
NO_LIMIT = -1
"""As the database has it."""
CHOICES = 5
"""Records of one beginning that are offered, at most."""
T = TypeVar("T")
Grades = tuple[int, int, int, int, int]
Connection = sqlite3.Connection
"""An open index, for those above who hand it on and ask it nothing themselves."""


class EntryRow(NamedTuple):
    """One catalogue entry as stored: JSON body, and the file and line it was read from."""

    kind: str
    id: str
    name: str
    also: str
    body: bytes
    file: str
    line: int
    origin: str


_ENTRY = f"SELECT {', '.join(EntryRow._fields)} FROM entry WHERE kind = ?"


def entry(conn: sqlite3.Connection, kind: str, entry_id: str) -> EntryRow | None:
    row = conn.execute(f"{_ENTRY} AND id = ?", (kind, entry_id)).fetchone()
    return EntryRow(*row) if row else None


def entries(conn: sqlite3.Connection, kind: str) -> list[EntryRow]:
    """All entries of a kind, by name."""
    rows = conn.execute(f"{_ENTRY} ORDER BY name COLLATE NOCASE, id", (kind,))
    return [EntryRow(*row) for row in rows]


def record(conn: sqlite3.Connection, kind: str, entry_id: str, type_: type[T]) -> T | None:
    """One entry as a record of its kind's type, or None."""
    row = entry(conn, kind, entry_id)
    return msgspec.json.decode(row.body, type=type_) if row else None


def records(conn: sqlite3.Connection, kind: str, type_: type[T]) -> list[T]:
    """All entries of a kind as records of its type, by name."""
    return [msgspec.json.decode(row.body, type=type_) for row in entries(conn, kind)]


def names(conn: Connection) -> dict[tuple[str, str], str]:
    """Name of each entry of the catalogue by the word of its kind and its id."""
    # One query for all names: lists would otherwise ask once a line.
    return {(row[0], row[1]): row[2] for row in conn.execute("SELECT kind, id, name FROM entry")}


def catalogue_problems(conn: Connection) -> list[str]:
    """What is wrong in the catalogue, shelf.yaml among it, each with its file."""
    return [row[0] for row in conn.execute("SELECT text FROM catalogue_problem")]


# By id and not by offset: a page begins at the same test while others write.
def spot_tests(
    conn: sqlite3.Connection,
    filters: dict[str, str],
    *,
    limit: int = 0,
    before: str = "",
    withdrawn: bool = True,
) -> list[Row]:
    """Tests, newest first. ``limit`` 0 means all; ``before`` is the id to go on from."""
    if filters.get("sheet"):
        filters = {**filters, "sheet": sheet_as_known(conn, filters["sheet"])}
    where, values = _where({f"{column} =": filters.get(column) for column in FILTERS} | {"id <": before})
    if filters.get("sheet"):
        # The index on sheets leaves out tests without one; only so is it known to serve here.
        where += " AND sheet <> ''"
    if not withdrawn:
        where += " AND state <> 2"
    sql = f"SELECT {TEST_COLUMNS} FROM test WHERE {where} ORDER BY id DESC LIMIT ?"
    return [Row(*row) for row in conn.execute(sql, (*values, limit or NO_LIMIT))]


def _where(wanted: Mapping[str, str | None]) -> tuple[str, list[str]]:
    """The condition that each column compares so with its value, for those that have one; and the values."""
    given = {comparison: value for comparison, value in wanted.items() if value}
    return " AND ".join(["1", *(f"{comparison} ?" for comparison in given)]), list(given.values())


def spot_test(conn: sqlite3.Connection, test_id: str) -> Row | None:
    row = conn.execute(f"SELECT {TEST_COLUMNS} FROM test WHERE id = ?", (test_id,)).fetchone()
    return Row(*row) if row else None


def ids_starting(conn: sqlite3.Connection, kind: str, start: str, limit: int = CHOICES) -> list[str]:
    """Ids of tests, or of kept records of a kind, that begin with ``start``, the short form of an id."""
    table, own = ("test", ()) if kind == "test" else ("kept WHERE kind = ?", (kind,))
    # A tilde sorts behind every letter and digit of an id.
    sql = f"SELECT id FROM {table} {'AND' if own else 'WHERE'} id >= ? AND id < ? ORDER BY id LIMIT ?"
    return [row[0] for row in conn.execute(sql, (*own, start, start + "~", limit))]


def count_tests(conn: sqlite3.Connection) -> tuple[int, int]:
    """Tests in the book, and how many of them were withdrawn."""
    row = conn.execute("SELECT count(*), coalesce(sum(state = 2), 0) FROM test").fetchone()
    return int(row[0]), int(row[1])


def cells(conn: Connection, table: str) -> Iterator[tuple[tuple[str, ...], Grades]]:
    """Own tests of each class: the ids that name it, its liquid last, and how many had each grade (0 to 4).

    ``table`` is release_cell or harm_cell.
    """
    keys = CELL_KEYS[table]
    # Grades are columns so that a class is one row however many tests it has.
    for row in conn.execute(f"SELECT {', '.join(keys)}, g0, g1, g2, g3, g4 FROM {table}"):
        yield row[: len(keys)], row[len(keys) :]


def graded(conn: Connection, table: str, where: Mapping[str, str]) -> Grades:
    """How many tests had each grade (0 to 4) among the classes of a table that agree with ``where``."""
    sums = ", ".join(f"coalesce(sum(g{grade}), 0)" for grade in range(5))
    columns = " AND ".join(f"{column} = ?" for column in where)
    found: Grades = conn.execute(
        f"SELECT {sums} FROM {table} WHERE {columns}", tuple(where.values())
    ).fetchone()
    return found


def parts_of(conn: sqlite3.Connection, adhesives: Sequence[str]) -> list[tuple[str, int]]:
    """Liquids with the grades, in thousandths, of tests on tapes that may bear one of these adhesives."""
    marks = ", ".join("?" * len(adhesives))
    # By liquid alone: on an unknown tape nobody asks for stage and carrier.
    sql = f"SELECT liquid, sum(g0 + g1 + g2 + g3 + g4) FROM part_cell WHERE adhesive IN ({marks}) GROUP BY 1"
    return [(row[0], row[1]) for row in conn.execute(sql, adhesives)]


def sheets(conn: sqlite3.Connection) -> list[tuple[str, int]]:
    """Sheets with tests and how many tests each has, the most recent first."""
    sql = "SELECT sheet, count(*) FROM test WHERE sheet <> '' GROUP BY sheet ORDER BY max(id) DESC"
    return [(row[0], row[1]) for row in conn.execute(sql)]


def subjects(conn: Connection, kinds: Sequence[str]) -> set[str]:
    """What records of these kinds, tests apart, are about: sheets, liquids or recipes."""
    sql = f"SELECT DISTINCT subject FROM kept WHERE kind IN ({', '.join('?' * len(kinds))}) AND subject <> ''"
    return {str(row[0]) for row in conn.execute(sql, kinds)}


def sheet_as_known(conn: sqlite3.Connection, typed: str) -> str:
    """The name of a sheet as records bear it, where it was typed in other capitals or with other accents.

    Names are stored composed (NFC). A name that no record bears comes back composed; nothing near in
    spelling is taken for it.
    """
    name = typed.strip()
    if not name.isascii():
        # Most names are plain; the tables of Unicode are loaded only for the others.
        from unicodedata import normalize

        name = normalize("NFC", name)
    if not name or any(conn.execute(sql, (name,)).fetchone() for sql in _ON_SHEET):
        return name
    # Case is folded here and not in SQL, whose comparison folds ASCII letters only.
    folded = name.casefold()
    alike = {row[0] for sql in _SHEETS for row in conn.execute(sql) if row[0].casefold() == folded}
    # Two sheets that differ in case alone are two sheets: then the name must be typed as it is.
    return alike.pop() if len(alike) == 1 else name


_ON_SHEET = (
    "SELECT 1 FROM test WHERE sheet = ? AND sheet <> '' LIMIT 1",
    "SELECT 1 FROM kept WHERE subject = ? AND kind NOT IN ('bottle', 'batch') LIMIT 1",
)
# A bottle's subject is its liquid and a batch's its recipe.
_SHEETS = (
    "SELECT DISTINCT sheet FROM test WHERE sheet <> ''",
    "SELECT DISTINCT subject FROM kept WHERE kind NOT IN ('bottle', 'batch')",
)


def state_of_index(conn: sqlite3.Connection) -> tuple[int, int]:
    """Another pair after anything was written to the index, by this program or by another."""
    return conn.execute("PRAGMA data_version").fetchone()[0], conn.total_changes


def blends(conn: sqlite3.Connection) -> list[tuple[str, str]]:
    """Blends that were tested: id and parts as JSON."""
    rows = conn.execute("SELECT liquid, parts FROM blend WHERE uses > 0 ORDER BY liquid").fetchall()
    return [(row[0], row[1]) for row in rows]


def vectors(
    conn: sqlite3.Connection, table: str, columns: Sequence[str], keys: Sequence[Sequence[str]]
) -> dict[tuple[str, ...], int]:
    """Sums whose leading key columns are among ``keys`` (one list of values per column)."""
    from kb.index.vectors import unpack

    # Not strict: the last columns of a key may be left open.
    where = " AND ".join(
        f"{column} IN ({', '.join('?' * len(values))})" for column, values in zip(columns, keys, strict=False)
    )
    values = [value for group in keys for value in group]
    listed = ", ".join(columns)
    rows = conn.execute(f"SELECT {listed}, vector FROM {table} WHERE {where}", values)
    return {row[:-1]: unpack(row[-1]) for row in rows}


def slots(conn: sqlite3.Connection) -> dict[str, int]:
    """The place of each liquid and blend in a vector."""
    return {row[0]: row[1] for row in conn.execute("SELECT liquid, place FROM slot")}


def masks(conn: sqlite3.Connection) -> dict[str, int]:
    """For each liquid the set of (adhesive, stage, carrier) it was tested on, as bits of a number."""
    rows = conn.execute("SELECT liquid, mask FROM liquid_mask")
    return {row[0]: int.from_bytes(row[1], "little") for row in rows}


class BookRow(NamedTuple):
    """One record of any kind in a list. A spot test has its ``row``, a kept record its ``body`` as JSON.

    ``file`` is the name of the bench's file; ``sheet`` is empty where a record has none.
    """

    id: str
    kind: str
    at: str
    who: str
    file: str
    state: int
    sheet: str
    row: Row | None
    body: bytes


def book_rows(
    conn: sqlite3.Connection,
    kinds: Sequence[str],
    *,
    sheet: str = "",
    who: str = "",
    limit: int = 0,
    before: str = "",
) -> list[BookRow]:
    """Records of the named kinds, ``test`` among them, newest first. ``limit`` 0 means all.

    Each kind is read by its own index, from the newest on, so that a page costs the same in a long book.
    """
    # Paths are kept as the file system gave them, which need not be UTF-8.
    files = {row[0]: os.fsdecode(row[1]) for row in conn.execute("SELECT rowid, path FROM book_file")}
    found: list[BookRow] = []
    for kind in dict.fromkeys(kinds):
        wanted = {"sheet": sheet, "who": who}
        if kind == "test":
            for row in spot_tests(conn, wanted, limit=limit, before=before):
                file = files.get(row.file, "")
                found.append(BookRow(row.id, kind, row.at, row.who, file, row.state, row.sheet, row, b""))
        else:
            found += _kept_rows(conn, kind, files, wanted, limit, before)
    # Each kind came sorted and cut; only together do they make the page.
    found.sort(key=lambda one: one.id, reverse=True)
    return found[:limit] if limit else found


def _kept_rows(
    conn: sqlite3.Connection,
    kind: str,
    files: dict[int, str],
    wanted: dict[str, str],
    limit: int,
    before: str,
) -> list[BookRow]:
    from kb.book.kinds.table import KEPT

    # A bottle's subject is its liquid and a batch's its recipe: neither lies on a sheet.
    on_sheet = kind in KEPT and KEPT[kind].subject == "sheet"
    if wanted["sheet"] and not on_sheet:
        return []
    sheet = sheet_as_known(conn, wanted["sheet"])
    where, values = _where({"kind =": kind, "subject =": sheet, "who =": wanted["who"], "id <": before})
    sql = f"SELECT id, at, who, file, state, subject, body FROM kept WHERE {where} ORDER BY id DESC LIMIT ?"
    rows = conn.execute(sql, (*values, limit or NO_LIMIT))
    return [
        BookRow(id, kind, at, who, files.get(file, ""), state, subject if on_sheet else "", None, body)
        for id, at, who, file, state, subject, body in rows
    ]


class OtherRow(NamedTuple):
    """A record of a kind that this version does not know: where it stands, and whether it was changed."""

    id: str
    kind: str
    at: str
    who: str
    place: tuple[int, int, int]
    file: str
    changed: bool


def other_rows(
    conn: sqlite3.Connection, kinds: Sequence[str] = (), *, who: str = "", limit: int = 0, before: str = ""
) -> list[OtherRow]:
    """Records of kinds that this version does not know, newest first; of any such kind if none is named."""
    where, values = _where({"who =": who, "id <": before})
    if kinds:
        where += f" AND kind IN ({', '.join('?' * len(kinds))})"
    sql = (
        "SELECT id, kind, at, who, file, offset, length, (SELECT path FROM book_file WHERE rowid = file), "
        # Whether it was changed is shown; what the change means only a version that knows the kind can say.
        "EXISTS (SELECT 1 FROM change WHERE change.of = other_record.id) FROM other_record "
        f"WHERE {where} ORDER BY id DESC LIMIT ?"
    )
    rows = conn.execute(sql, (*values, *kinds, limit or NO_LIMIT))
    return [
        OtherRow(id, kind, at, who, (file, offset, length), os.fsdecode(path or ""), bool(changed))
        for id, kind, at, who, file, offset, length, path, changed in rows
    ]


def records_starting(conn: sqlite3.Connection, start: str, kinds: Sequence[str]) -> list[tuple[str, str]]:
    """Kind and id of records of any kind, changes too, whose id begins with ``start``."""
    found = [(kind, one) for kind in ("test", *kinds) for one in ids_starting(conn, kind, start)]
    for table in ("other_record", "change"):
        sql = f"SELECT kind, id FROM {table} WHERE id >= ? AND id < ? ORDER BY id LIMIT ?"
        found += conn.execute(sql, (start, start + "~", CHOICES)).fetchall()
    return sorted(found, key=lambda one: one[1])[:CHOICES]


def root_of(conn: sqlite3.Connection, of: str) -> str:
    """The id of the record that a change is about, following changes of changes."""
    seen: set[str] = set()
    above = changes_of(conn)
    # A book that was damaged may hold changes that point at each other.
    while of not in seen:
        seen.add(of)
        of = above(of) or of
    return of
