"""Add up the counts of other studios in memory, to be written once however many files there were."""

from __future__ import annotations

import sqlite3
from array import array
from collections.abc import Collection

from kb.index.compiled import Compiled
from kb.index.pool_file import ids_of, liquid_of
from kb.index.pool_queries import BY_FIELDS, pack_numbers, unpack_numbers
from kb.index.pool_state import THOUSAND
from kb.index.tally import (
    HARM,
    RELEASE,
    Event,
    Key,
    Tally,
    contribution,
    harm_base,
    harm_keys,
    release_base,
    release_keys,
)
from kb.index.vectors import BYTES, pack, unpack, whole
from kb.model.pool import HarmCount, ReleaseCount
from kb.science.choose.pooling import FIELDS, RAW

POOL_RELEASE = RELEASE._replace(cells="", sums="pool_release_sum")
POOL_HARM = HARM._replace(cells="", sums="pool_harm_sum")
BY = {
    "pool_release_sum": ("pool_release_by", "adhesive", "stage"),
    "pool_harm_sum": ("pool_harm_by", "medium", "paper"),
}
"""Where it is kept how many studios tested a liquid in one class, and by which key."""
Rows = tuple[ReleaseCount, ...] | tuple[HarmCount, ...]


class _Context:
    """Where rows go that differ in their liquid only: their sum, and the chemistry prior by slot."""

    __slots__ = ("by", "priors", "sums")

    def __init__(self, sums: array[int], by: int, slots: int) -> None:
        self.sums = sums
        self.by = by
        """Place of the first slot among the numbers of studios."""
        self.priors: list[float | None] = [None] * slots


class Adding:
    # Many contexts are alive at once; a dictionary of attributes for each would be most of their size.
    """Sums of one event over some files. ``places`` are the slots of the liquids that are counted."""

    def __init__(self, event: Event, tally: Tally, places: dict[str, int]) -> None:
        self.event = event
        self._tally = tally
        self._places = places
        self._is_release = event.threshold == RELEASE.threshold
        self._contexts: dict[tuple[str, ...], _Context | None] = {}
        self._sums: dict[Key, array[int]] = {}
        self._by_keys: dict[tuple[str, str], int] = {}
        self._by: dict[int, tuple[int, int]] = {}

    def studio(self, rows: Rows, weight: int) -> tuple[int, list[ReleaseCount | HarmCount]]:
        """Add all rows of one studio, ``weight`` in thousandths; the tests counted, and the rows not.

        Call it once for each studio: it also counts the studios behind a liquid.
        """
        threshold, contexts, places = self.event.threshold, self._contexts, self._places
        tests_by: dict[int, int] = {}
        counted, left = 0, list[ReleaseCount | HarmCount]()
        for row in rows:
            ids = ids_of(row)
            # Looked up once per context and not per row: a pool may hold a million rows.
            context = contexts[ids] if ids in contexts else self._context(ids)
            place = places.get(next(iter(row.parts)) if len(row.parts) == 1 else liquid_of(row))
            if context is None or place is None:
                left.append(row)
                continue
            # The prior is of chemistry, so it is the same for every studio and worked out once.
            p0 = context.priors[place]
            if p0 is None:
                p0 = context.priors[place] = self._prior(row)
            numbers = contribution(row.grades, threshold, p0)
            # Raw counts are numbers of tests that were made and are shown as such; only what weighs is
            # weighted.
            tests = numbers[RAW[0]]
            if weight != THOUSAND:
                numbers = (*(_weighted(one, weight) for one in numbers[: RAW[0]]), *numbers[RAW[0] :])
            sums = context.sums
            for field, number in enumerate(numbers, place * FIELDS):
                sums[field] += number
            by = context.by + place
            tests_by[by] = tests_by.get(by, 0) + tests
            counted += tests
        # Studios are counted apart from tests: many tests of one studio are one hand and one batch of
        # materials.
        for by, tests in tests_by.items():
            studios, most = self._by.get(by, (0, 0))
            self._by[by] = (studios + 1, max(most, tests))
        return counted, left

    def _context(self, ids: tuple[str, ...]) -> _Context | None:
        """Where rows with these ids count; None if one of them is not known here."""
        compiled, slots = self._tally.compiled, len(self._places)
        found = None
        if not unknown_of(ids, self._is_release, compiled):
            base = release_base(ids, compiled) if self._is_release else harm_base(ids, compiled)
            by = (ids[0], base[3] if self._is_release else ids[1])
            start = self._by_keys.setdefault(by, len(self._by_keys) * slots)
            sums = self._sums.get(base)
            if sums is None:
                # 64 bits signed: weighted billionths of 10^9 tests fit.
                sums = self._sums[base] = array("q", bytes(slots * FIELDS * BYTES))
            found = _Context(sums, start, slots)
        self._contexts[ids] = found
        return found

    def _prior(self, row: ReleaseCount | HarmCount) -> float:
        liquid = liquid_of(row)
        key = (*ids_of(row), liquid)
        return self._tally.prior(RELEASE if self._is_release else HARM, key, self._tally.named(liquid, {}))

    def write(self, conn: sqlite3.Connection) -> None:
        """Add everything to what the index holds."""
        self._write_sums(conn)
        self._write_by(conn)

    def _write_sums(self, conn: sqlite3.Connection) -> None:
        keys_of = release_keys if self._is_release else harm_keys
        totals: dict[Key, int] = {}
        for base, sums in self._sums.items():
            number = whole(sums)
            # Once for all files, so that a wide sum is packed and stored once.
            for key in keys_of(base, self._tally.compiled):
                totals[key] = totals.get(key, 0) + number
        columns = self.event.sum_columns
        where = " AND ".join(f"{column} = ?" for column in columns)
        select = f"SELECT vector FROM {self.event.sums} WHERE {where}"
        rows = []
        for key, total in totals.items():
            old = conn.execute(select, key).fetchone()
            rows.append((*key, pack(total + (unpack(old[0]) if old else 0))))
        marks = ", ".join("?" * (len(columns) + 1))
        conn.executemany(f"INSERT OR REPLACE INTO {self.event.sums} VALUES ({marks})", rows)

    def _write_by(self, conn: sqlite3.Connection) -> None:
        table, first, second = BY[self.event.sums]
        select = f"SELECT studios FROM {table} WHERE {first} = ? AND {second} = ?"
        rows = []
        slots = len(self._places)
        for key, start in self._by_keys.items():
            old = conn.execute(select, key).fetchone()
            numbers = unpack_numbers(old[0]) if old else array("q")
            # New blends have slots behind those that the stored row knows of.
            numbers.extend([0] * (slots * BY_FIELDS - len(numbers)))
            for place in range(slots):
                studios, most = self._by.get(start + place, (0, 0))
                at = place * BY_FIELDS
                numbers[at] += studios
                numbers[at + 1] = max(numbers[at + 1], most)
            rows.append((*key, pack_numbers(numbers)))
        conn.executemany(f"INSERT OR REPLACE INTO {table} VALUES (?, ?, ?)", rows)


def unknown_of(ids: tuple[str, ...], release: bool, compiled: Compiled) -> list[str]:
    """Those of a row's ids that the catalogue here does not know. What is not stated is not unknown."""
    known: list[Collection[str]]
    if release:
        known = [compiled.adhesives, compiled.stages, compiled.carriers, compiled.methods]
    else:
        known = [compiled.media, compiled.papers, compiled.methods]
    return [one for one, entries in zip(ids, known, strict=True) if one and one not in entries]


def _weighted(value: int, weight: int) -> int:
    """A whole share of a whole number, rounded half up."""
    # In whole numbers, so that the sum is the same in whatever order studios are added.
    return (value * weight + THOUSAND // 2) // THOUSAND
