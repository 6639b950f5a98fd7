"""Counts of the book, kept so that a question reads sums and never tests.

A test adds one grade to one *cell* (adhesive, stage, carrier, method, liquid, studio). From a cell come
its discounted counts, and those are added to every *sum* the cell belongs to: the sum for its adhesive,
for its adhesive group and for all; with its carrier and with any; with its method and with any. A
question picks the twelve sums it needs and finds "same group but another adhesive" by subtraction, which
is exact because all sums are whole numbers.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from kb.index.compiled import Compiled, Named
from kb.index.schema import COUNT_FIELDS, SCALE
from kb.science.evidence import discount

ANY = "*"
RELEASE_FROM = 3
"""Release grade from which a test counts as released."""
HARM_FROM = 2
"""Harm grade from which a test counts as harm."""
GRADES = 5
Key = tuple[str, ...]


class Event(NamedTuple):
    """The two events differ only in their tables and in what their keys mean."""

    cells: str
    sums: str
    columns: tuple[str, ...]
    sum_columns: tuple[str, ...]
    threshold: int


RELEASE = Event(
    "release_cell",
    "release_sum",
    ("adhesive", "stage", "carrier", "method", "liquid", "studio"),
    ("adhesive", "carrier", "method", "stage", "liquid"),
    RELEASE_FROM,
)
HARM = Event(
    "harm_cell",
    "harm_sum",
    ("medium", "paper", "method", "liquid", "studio"),
    ("medium", "paper", "method", "liquid"),
    HARM_FROM,
)


def release_keys(key: Key, compiled: Compiled) -> list[Key]:
    """The sums that a release cell belongs to. Stages are told apart by position, not by name."""
    adhesive, stage, carrier, method, liquid, _ = key
    made_of = compiled.adhesives.get(adhesive)
    levels = dict.fromkeys((f"a:{adhesive}", f"g:{made_of.group if made_of else adhesive}", ANY))
    position = str(compiled.stages.get(stage, ""))
    return [(a, c, m, position, liquid) for a in levels for c in (carrier, ANY) for m in (method, ANY)]


def harm_keys(key: Key, compiled: Compiled) -> list[Key]:
    """The sums that a harm cell belongs to."""
    medium, paper, method, liquid, _ = key
    found = compiled.media.get(medium)
    kin = found.kin if found and found.kin else f"only {medium}"
    levels = dict.fromkeys((f"a:{medium}", f"g:{kin}", ANY))
    return [(a, p, m, liquid) for a in levels for p in (paper, ANY) for m in (method, ANY)]


def contribution(grades: Sequence[int], threshold: int, p0: float) -> tuple[int, ...]:
    """What one cell of one studio adds to each of its sums, in whole billionths."""
    tests = sum(grades)
    if tests == 0:
        return (0,) * len(COUNT_FIELDS)
    hits = sum(grades[threshold:])
    n = discount(tests)
    return (
        round(n * SCALE),
        round(n * hits / tests * SCALE),
        round(n * p0 * SCALE),
        tests,
        hits,
        round(tests * p0 * SCALE),
        round(tests * p0 * (1 - p0) * SCALE),
    )


class Tally:
    """Collects changes of counts and writes them in one go."""

    def __init__(self, compiled: Compiled) -> None:
        self._compiled = compiled
        self._release: dict[Key, list[int]] = {}
        self._harm: dict[Key, list[int]] = {}
        self.blends: dict[str, tuple[dict[str, float], int]] = {}
        self._named: dict[str, Named] = {}

    def count(self, key: Key, event: Event, grade: int, step: int) -> None:
        """Add (step 1) or take away (step -1) one test of this grade."""
        pending = self._release if event is RELEASE else self._harm
        cell = pending.get(key)
        if cell is None:
            cell = pending[key] = [0] * GRADES
        cell[grade] += step

    def use(self, liquid: str, parts: dict[str, float], step: int) -> None:
        """Note that a blend was tested, so that it can be proposed again."""
        if len(parts) > 1 or liquid not in self._compiled.by_id:
            known, uses = self.blends.get(liquid, (parts, 0))
            self.blends[liquid] = (known, uses + step)

    def named(self, liquid: str, parts: dict[str, float]) -> Named:
        """The liquid with its mixed properties; kept, because cells repeat it."""
        found = self._named.get(liquid)
        if found is None:
            found = self._named[liquid] = self._compiled.candidate(liquid, parts)
        return found

    def write(self, conn: sqlite3.Connection) -> None:
        """Write cells, sums and blends; leaves the tally empty."""
        self._write_blends(conn)
        parts = {row[0]: _parts(row[1]) for row in conn.execute("SELECT liquid, parts FROM blend")}
        for event, pending in ((RELEASE, self._release), (HARM, self._harm)):
            _write_event(conn, event, pending, self, parts)
        _write_masks(conn, self._release, self._compiled)
        self._release.clear()
        self._harm.clear()

    def prior(self, event: Event, key: Key, parts: dict[str, dict[str, float]]) -> float:
        """Chemistry prior of a cell."""
        liquid = key[-2]
        what = self.named(liquid, parts.get(liquid) or {liquid: 1.0})
        if event is RELEASE:
            return self._compiled.release_p0(key[0], key[1], key[2], key[3], what)
        return self._compiled.harm_p0(key[0], key[1], key[2], what)

    def keys(self, event: Event, key: Key) -> list[Key]:
        """The sums a cell belongs to."""
        return (release_keys if event is RELEASE else harm_keys)(key, self._compiled)

    def _write_blends(self, conn: sqlite3.Connection) -> None:
        import json

        rows = [(name, json.dumps(parts), uses) for name, (parts, uses) in self.blends.items()]
        conn.executemany(
            "INSERT INTO blend VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET uses = uses + excluded.uses", rows
        )
        self.blends.clear()


def _parts(text: str) -> dict[str, float]:
    import json

    return {str(name): float(share) for name, share in json.loads(text).items()}


def _write_event(
    conn: sqlite3.Connection,
    event: Event,
    pending: dict[Key, list[int]],
    tally: Tally,
    parts: dict[str, dict[str, float]],
) -> None:
    """Turn pending grade changes into new cells and into differences of the sums."""
    if not pending:
        return
    where = " AND ".join(f"{column} = ?" for column in event.columns)
    select = f"SELECT g0, g1, g2, g3, g4 FROM {event.cells} WHERE {where}"
    fresh = conn.execute(f"SELECT 1 FROM {event.cells} LIMIT 1").fetchone() is None
    cells: list[tuple[object, ...]] = []
    sums: dict[Key, list[int]] = {}
    for key, change in pending.items():
        old = None if fresh else conn.execute(select, key).fetchone()
        old_grades = list(old) if old else [0] * GRADES
        new_grades = [a + b for a, b in zip(old_grades, change, strict=True)]
        cells.append((*key, *new_grades))
        p0 = tally.prior(event, key, parts)
        before = contribution(old_grades, event.threshold, p0)
        after = contribution(new_grades, event.threshold, p0)
        delta = [b - a for a, b in zip(before, after, strict=True)]
        for target in tally.keys(event, key):
            total = sums.get(target)
            if total is None:
                sums[target] = delta[:]
            else:
                for field, value in enumerate(delta):
                    total[field] += value
    _upsert(conn, event, cells, sums.items())


def _upsert(
    conn: sqlite3.Connection,
    event: Event,
    cells: list[tuple[object, ...]],
    sums: Iterable[tuple[Key, list[int]]],
) -> None:
    """Write cells whole and add the differences to the sums; rows that fell to nothing are removed."""
    width = len(event.columns)
    marks = ", ".join("?" * (width + GRADES))
    conn.executemany(f"INSERT OR REPLACE INTO {event.cells} VALUES ({marks})", cells)
    _remove(conn, event.cells, event.columns, [cell[:width] for cell in cells if not any(cell[width:])], "1")
    changes = [(key, values) for key, values in sums if any(values)]
    rows = [(*key, *values) for key, values in changes]
    width = len(event.sum_columns)
    marks = ", ".join("?" * (width + len(COUNT_FIELDS)))
    adding = ", ".join(f"{field} = {field} + excluded.{field}" for field in COUNT_FIELDS)
    conn.executemany(f"INSERT INTO {event.sums} VALUES ({marks}) ON CONFLICT DO UPDATE SET {adding}", rows)
    tests = COUNT_FIELDS.index("tests")
    fell = [key for key, values in changes if values[tests] < 0]
    _remove(conn, event.sums, event.sum_columns, fell, "tests = 0")


def _remove(
    conn: sqlite3.Connection,
    table: str,
    columns: Sequence[str],
    keys: Sequence[tuple[object, ...]],
    condition: str,
) -> None:
    """Delete the rows with these keys where the condition holds."""
    where = " AND ".join(f"{column} = ?" for column in columns)
    conn.executemany(f"DELETE FROM {table} WHERE {where} AND {condition}", keys)


def _write_masks(conn: sqlite3.Connection, changes: dict[Key, list[int]], compiled: Compiled) -> None:
    """Note on which (adhesive, stage, carrier) each liquid was tested, one bit each.

    Counting distinct tapes behind a suggestion then needs no look at the cells.
    """
    found = {row[0]: int.from_bytes(row[1], "little") for row in conn.execute("SELECT * FROM liquid_mask")}
    touched, fell = set[str](), set[str]()
    for key, change in changes.items():
        adhesive, stage, carrier, _, liquid, _ = key
        if not any(change):
            continue
        touched.add(liquid)
        if min(change) < 0:
            fell.add(liquid)
        found[liquid] = found.get(liquid, 0) | compiled.context_bit(adhesive, stage, carrier)
    for liquid in fell:
        found[liquid] = 0
        sql = "SELECT DISTINCT adhesive, stage, carrier FROM release_cell WHERE liquid = ?"
        for row in conn.execute(sql, (liquid,)):
            found[liquid] |= compiled.context_bit(*row)
    rows = [(liquid, found[liquid].to_bytes(compiled.context_bytes, "little")) for liquid in touched]
    conn.executemany("INSERT OR REPLACE INTO liquid_mask VALUES (?, ?)", rows)
