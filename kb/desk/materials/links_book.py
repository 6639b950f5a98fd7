"""What the bench book says of an entry, in one line. Sums are read, never the tests themselves."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from kb.desk.materials.related import Link
from kb.desk.studio import Studio
from kb.index.kept_rows import kept
from kb.index.queries import Connection, blends, graded

_CELLS = {
    "liquid": ("release_cell", "harm_cell"),
    "method": ("release_cell", "harm_cell"),
    "adhesive": ("release_cell",),
    "stage": ("release_cell",),
    "carrier": ("release_cell",),
    "medium": ("harm_cell",),
    "paper": ("harm_cell",),
}
"""For each kind the sums that are kept by it."""


class _Graded(NamedTuple):
    tests: int
    highest: int | None


def in_book(studio: Studio, kind: str, entry_id: str) -> Iterator[Link]:
    """How many tests of the book bear on the entry, the best release and the worst harm; its bottles."""
    conn = studio.index.conn
    if kind == "tape" and entry_id in studio.compiled.tapes:
        _, adhesive, carrier = studio.compiled.tapes[entry_id]
        where = {"adhesive": adhesive, "carrier": carrier}
        yield from _line(
            "tests here on such a tape", [("release_cell", _graded(conn, "release_cell", where))]
        )
    elif kind in _CELLS:
        found = [(table, _graded(conn, table, {kind: entry_id})) for table in _CELLS[kind]]
        yield from _line("tests here", found)
    if kind == "liquid":
        mixed = [id for id, parts in blends(conn) if entry_id in json.loads(parts)]
        found = [
            (table, _sum([_graded(conn, table, {kind: one}) for one in mixed])) for table in _CELLS[kind]
        ]
        yield from _line("tests here in blends", found)
        for row in kept(conn, "bottle", entry_id):
            if not row.body.finished:
                name = row.body.label or f"opened {row.body.opened or '(not known)'}"
                yield Link(kind="bottle", id=row.id, name=name, relation="on the shelf")


def _graded(conn: Connection, table: str, where: dict[str, str]) -> _Graded:
    """How many tests have a grade, and the highest grade among them."""
    row = graded(conn, table, where)
    return _Graded(sum(row), max((grade for grade, count in enumerate(row) if count > 0), default=None))


def _sum(parts: Sequence[_Graded]) -> _Graded:
    highest = [one.highest for one in parts if one.highest is not None]
    return _Graded(sum(one.tests for one in parts), max(highest, default=None))


def _line(name: str, found: Sequence[tuple[str, _Graded]]) -> Iterator[Link]:
    words = {"release_cell": ("release graded", "best"), "harm_cell": ("harm looked at", "worst")}
    said = [
        f"{words[table][0]} in {one.tests}, {words[table][1]} {one.highest} of 4"
        for table, one in found
        if one.tests
    ]
    if said:
        yield Link(kind="test", id="", name=name, relation="in the bench book", note="; ".join(said))
