"""Bring the pool into the index: new files only, or all of it after a weight changed or a file went.

Counts are added up in memory and written once, however many files there were.
"""

from __future__ import annotations

import json
import sqlite3
from array import array
from collections.abc import Collection, Iterable
from itertools import chain
from pathlib import Path
from typing import NamedTuple

import msgspec

from kb.book.text import clean_text
from kb.index.compiled import Compiled
from kb.index.pool_file import (
    MOST_STUDIOS,
    Counted,
    CountsFile,
    HarmCount,
    NotCounts,
    ReleaseCount,
    ids_of,
    liquid_of,
    parse,
    read_bytes,
    shares_of,
)
from kb.index.pool_queries import (
    BY_FIELDS,
    THOUSAND,
    PoolFile,
    pack_numbers,
    pool_files,
    read_weights,
    stamp_of,
    unpack_numbers,
)
from kb.index.tally import HARM, RELEASE, Event, Key, Tally, contribution, no_collection
from kb.index.vectors import BYTES, pack, unpack, whole
from kb.science.choose.pooling import FIELDS, RAW

MOST_BLENDS = 24
"""Blends that are counted: those that most studios tested. A question weighs every liquid against every
other, so its cost would follow the number of studios if all their blends were let in."""
UNKNOWN_SHOWN = 50
POOL_TABLES = (
    *("pool_file", "pool_blend", "pool_slot"),
    *("pool_release_sum", "pool_harm_sum", "pool_release_by", "pool_harm_by"),
)
# A studio without a weight of its own counts in full.
ALL = THOUSAND
# Most pools fit; a large one is read from the disk twice, so that memory does not grow with the pool.
HELD_ROWS = 50_000
"""Rows of counts that are kept in memory between the two readings of new files."""
POOL_RELEASE = RELEASE._replace(cells="", sums="pool_release_sum")
POOL_HARM = HARM._replace(cells="", sums="pool_harm_sum")
BY = {
    "pool_release_sum": ("pool_release_by", "adhesive", "stage"),
    "pool_harm_sum": ("pool_harm_by", "medium", "paper"),
}
"""Where it is kept how many studios tested a liquid in one class, and by which key."""
Rows = tuple[ReleaseCount, ...] | tuple[HarmCount, ...]


class Known(NamedTuple):
    """What the index remembers of one counts file; ``weight`` in thousandths, ``unknown`` ids as JSON.

    ``counted`` are tests of release and of harm together that entered the sums.
    """

    studio: str
    size: int
    mtime_ns: int
    sha256: str
    weight: int
    label: str = ""
    added: str = ""
    rows: int = 0
    release_tests: int = 0
    harm_tests: int = 0
    counted: int = 0
    unknown: str = "[]"
    problem: str = ""


def clear_pool(conn: sqlite3.Connection) -> None:
    for table in POOL_TABLES:
        conn.execute(f"DELETE FROM {table}")
    conn.execute("DELETE FROM meta WHERE key = 'pool'")


def known_studios(conn: sqlite3.Connection) -> list[Known]:
    """All studios in the pool, counted or not, by id."""
    return [Known(*row) for row in conn.execute("SELECT * FROM pool_file ORDER BY studio")]


def refresh_pool(conn: sqlite3.Connection, pool_dir: Path, compiled: Compiled) -> bool:
    """Make the index say what the pool's folder says. True if anything changed."""
    stamp = stamp_of(pool_dir)
    weights, _ = read_weights(pool_dir)
    found = {one.studio: (one, weights.get(one.studio, ALL)) for one in pool_files(pool_dir)}
    known = {one.studio: one for one in known_studios(conn)}
    # What was added for a file is not kept apart from the rest, so a changed file cannot be taken out again.
    stale = any(not _still(one, found.get(one.studio), pool_dir) for one in known.values())
    new = [found[one] for one in sorted(found) if one not in known]
    with no_collection():
        # A new file may change which blends are counted, and then the sums of all files are others.
        if stale or not _take(conn, new, pool_dir, compiled, whole=False):
            clear_pool(conn)
            _take(conn, sorted(found.values()), pool_dir, compiled, whole=True)
    # Noted for every file, also the unchanged: a copy with new times need not be hashed at the next question.
    stands = [(one.size, one.mtime_ns, one.studio) for one, _ in found.values()]
    conn.executemany("UPDATE pool_file SET size = ?, mtime_ns = ? WHERE studio = ?", stands)
    conn.execute("INSERT OR REPLACE INTO meta VALUES ('pool', ?)", (stamp,))
    return True


# By its bytes only where size or time differ: this is asked at every start.
def _still(known: Known, found: tuple[PoolFile, int] | None, pool_dir: Path) -> bool:
    """Whether what was counted is what the file and its weight say now."""
    if found is None or known.weight != found[1]:
        return False
    if (found[0].size, found[0].mtime_ns) == (known.size, known.mtime_ns):
        return True
    try:
        raw = read_bytes(pool_dir / f"{known.studio}.json")
    except NotCounts:
        return False
    return _digest(raw) == known.sha256


def _digest(raw: bytes) -> str:
    # Loaded only where a file is new or touched: this module is read at every start.
    from hashlib import sha256

    return sha256(raw).hexdigest()


class _Blends:
    """Which blends are counted: a rule that does not depend on the order in which files were added."""

    def __init__(self, conn: sqlite3.Connection) -> None:
        self.totals = {row[0]: (row[1], row[2], row[3]) for row in conn.execute("SELECT * FROM pool_blend")}
        self._before = frozenset(self.totals)

    def add(self, tests: dict[str, tuple[str, int]]) -> None:
        """Take in the blends of one studio: parts as JSON, and how often it tested them."""
        for liquid, (parts, number) in tests.items():
            _, studios, total = self.totals.get(liquid, (parts, 0, 0))
            self.totals[liquid] = (parts, studios + 1, total + number)

    def chosen(self) -> list[str]:
        """The blends that most studios tested, then those with most tests."""
        # By studios first: one studio that tests one blend a thousand times must not crowd out what many use.
        ranked = sorted(self.totals, key=lambda one: (-self.totals[one][1], -self.totals[one][2], one))
        return sorted(ranked[:MOST_BLENDS])

    def fits(self, counted: set[str]) -> bool:
        """Whether what was counted before may stay, so that only new files need be added."""
        chosen = set(self.chosen())
        # A blend that is newly counted may stand in an earlier file, whose tests of it were passed over.
        return counted <= chosen and not (chosen - counted) & self._before

    def write(self, conn: sqlite3.Connection) -> None:
        rows = [(liquid, *found) for liquid, found in self.totals.items()]
        conn.executemany("INSERT OR REPLACE INTO pool_blend VALUES (?, ?, ?, ?)", rows)


class _Reader:
    """Reads files twice, for their blends and then for their sums, and holds only small ones in between."""

    def __init__(self, pool_dir: Path) -> None:
        self._dir = pool_dir
        self._held: dict[str, CountsFile] = {}
        self._rows = 0

    def look(self, at: PoolFile, weight: int) -> tuple[Known, CountsFile | None]:
        """Read and check a file, not counted yet; of one with something wrong nothing is used."""
        digest = ""
        try:
            raw = read_bytes(self._dir / f"{at.studio}.json")
            digest = _digest(raw)
            counts = parse(raw)
            # The name decides the weight, so a file under another's name would count with another's weight.
            if counts.studio != at.studio:
                raise NotCounts("The file bears the name of another studio than the one in it.")
        except NotCounts as error:
            label = clean_text(error.label, multiline=False)
            return Known(*at, digest, weight, label, problem=str(error)), None
        rows = len(counts.release) + len(counts.harm)
        self._rows += rows
        if self._rows <= HELD_ROWS:
            self._held[at.studio] = counts
        label = clean_text(counts.label, multiline=False)
        release, harm = (
            sum(map(sum, [row.grades for row in part])) for part in (counts.release, counts.harm)
        )
        return Known(*at, digest, weight, label, counts.added, rows, release, harm), counts

    def again(self, file: Known) -> CountsFile | None:
        """The same file once more; None if it was unsound, or has changed in between."""
        if file.problem:
            return None
        held = self._held.pop(file.studio, None)
        if held is not None:
            return held
        try:
            # It may have been exchanged between the two readings; then its totals no longer fit.
            raw = read_bytes(self._dir / f"{file.studio}.json")
        except NotCounts:
            return None
        # Nothing was wrong with these bytes when they were first read.
        return msgspec.json.decode(raw, type=CountsFile) if _digest(raw) == file.sha256 else None


def _take(
    conn: sqlite3.Connection,
    new: list[tuple[PoolFile, int]],
    pool_dir: Path,
    compiled: Compiled,
    *,
    whole: bool,
) -> bool:
    """Add files with their weights. False, with nothing added, if all at once would give something else."""
    blends, reader = _Blends(conn), _Reader(pool_dir)
    counted = conn.execute("SELECT count(*) FROM pool_file WHERE weight > 0 AND problem = ''").fetchone()[0]
    files = []
    for at, weight in new:
        file, counts = reader.look(at, weight)
        # A studio of weight 0 is listed and read, so that one sees what it would bring, and counts nothing.
        if counts is not None and file.weight:
            counted += 1
            # Adding beyond the limit would depend on which file came first; counting anew goes by id.
            if counted > MOST_STUDIOS:
                if not whole:
                    return False
                file = Known(*file[:5], problem=f"Only {MOST_STUDIOS:,} studios are counted.")
            else:
                blends.add(_blends_of(counts, compiled))
        files.append(file)
    if not blends.fits({row[0] for row in conn.execute("SELECT liquid FROM pool_slot WHERE parts <> ''")}):
        return False
    counting = any(file.weight and not file.problem for file in files)
    places = _places(conn, blends, compiled) if counting else {}
    tally = Tally(compiled)
    for liquid in places:
        parts = json.loads(blends.totals[liquid][0]) if liquid in blends.totals else {liquid: 1.0}
        tally.named(liquid, parts)
    release, harm = Adding(POOL_RELEASE, tally, places), Adding(POOL_HARM, tally, places)
    rows = [_counted(file, reader.again(file), release, harm, compiled) for file in files]
    release.write(conn)
    harm.write(conn)
    blends.write(conn)
    conn.executemany(f"INSERT INTO pool_file VALUES ({', '.join('?' * len(Known._fields))})", rows)
    return True


def _counted(
    file: Known, counts: CountsFile | None, release: Adding, harm: Adding, compiled: Compiled
) -> Known:
    """Add one file to the sums, and what to remember of it."""
    tests, left = 0, list[Counted]()
    if counts is not None and file.weight:
        for adding, part in ((release, counts.release), (harm, counts.harm)):
            found, not_counted = adding.studio(part, file.weight)
            tests += found
            left += not_counted
    elif counts is not None:
        left += [*counts.release, *counts.harm]
    unknown = sorted({id for row in left for id in _unknown(row, compiled)})[:UNKNOWN_SHOWN]
    problem = file.problem or ("" if counts else "It changed while it was read.")
    return file._replace(counted=tests, unknown=json.dumps(unknown), problem=problem)


def _blends_of(counts: CountsFile, compiled: Compiled) -> dict[str, tuple[str, int]]:
    """Blends of known liquids in a file: shares as JSON and tests, of release and harm together."""
    found: dict[str, tuple[str, int]] = {}
    rows: Iterable[Counted] = chain(counts.release, counts.harm)
    for row in rows:
        # Rows with an id that is not known here cannot be placed and so do not make a blend counted.
        if len(row.parts) < 2 or _unknown(row, compiled):
            continue
        # What two studios call a blend may be one liquid of the catalogue after rounding.
        liquid = liquid_of(row)
        if liquid in compiled.by_id:
            continue
        known = found.get(liquid)
        tests = sum(row.grades)
        found[liquid] = (known[0], known[1] + tests) if known else (json.dumps(shares_of(row)), tests)
    return found


def _places(conn: sqlite3.Connection, blends: _Blends, compiled: Compiled) -> dict[str, int]:
    # New ones behind known ones: the numbers stored so far keep their places.
    """Slots: the liquids of the catalogue, then the blends that are counted, new ones behind known ones."""
    known = {row[0]: row[1] for row in conn.execute("SELECT liquid, place FROM pool_slot")}
    wanted = [liquid.id for liquid in compiled.liquids] + blends.chosen()
    fresh = [liquid for liquid in wanted if liquid not in known]
    places = known | {liquid: len(known) + number for number, liquid in enumerate(fresh)}
    rows = [(one, places[one], blends.totals[one][0] if one in blends.totals else "") for one in fresh]
    conn.executemany("INSERT INTO pool_slot VALUES (?, ?, ?)", rows)
    return places


def _unknown(row: Counted, compiled: Compiled) -> list[str]:
    """Ids in a row that the catalogue here does not know."""
    parts = [part for part in row.parts if part not in compiled.by_id]
    return [*parts, *unknown_of(ids_of(row), compiled)]


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
        self._contexts: dict[tuple[str, ...], _Context | None] = {}
        self._sums: dict[Key, array[int]] = {}
        self._by_keys: dict[tuple[str, str], int] = {}
        self._by: dict[int, tuple[int, int]] = {}

    def studio(self, rows: Rows, weight: int) -> tuple[int, list[Counted]]:
        """Add all rows of one studio, ``weight`` in thousandths; the tests counted, and the rows not.

        Call it once for each studio: it also counts the studios behind a liquid.
        """
        threshold, contexts, places = self.event.threshold, self._contexts, self._places
        tests_by: dict[int, int] = {}
        counted, left = 0, list[Counted]()
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
                liquid = liquid_of(row)
                named = self._tally.named(liquid, {})
                p0 = context.priors[place] = self._tally.prior(self.event, (*ids, liquid), named)
            numbers = contribution(row.grades, threshold, p0)
            # Raw counts are tests that were made and are shown as such; only what weighs is weighted.
            tests = numbers[RAW[0]]
            if weight != THOUSAND:
                numbers = (*(_weighted(one, weight) for one in numbers[: RAW[0]]), *numbers[RAW[0] :])
            sums = context.sums
            for field, number in enumerate(numbers, place * FIELDS):
                sums[field] += number
            by = context.by + place
            tests_by[by] = tests_by.get(by, 0) + tests
            counted += tests
        # Studios are counted apart from tests: many tests of one are one hand and one batch of materials.
        for by, tests in tests_by.items():
            studios, most = self._by.get(by, (0, 0))
            self._by[by] = (studios + 1, max(most, tests))
        return counted, left

    def _context(self, ids: tuple[str, ...]) -> _Context | None:
        """Where rows with these ids count; None if one of them is not known here."""
        compiled, slots = self._tally.compiled, len(self._places)
        found = None
        if not unknown_of(ids, compiled):
            base = self.event.base(ids, compiled)
            by = (ids[0], ids[1] if self.event.of_harm else base[3])
            start = self._by_keys.setdefault(by, len(self._by_keys) * slots)
            sums = self._sums.get(base)
            if sums is None:
                # 64 bits signed: weighted billionths of 10^9 tests fit.
                sums = self._sums[base] = array("q", bytes(slots * FIELDS * BYTES))
            found = _Context(sums, start, slots)
        self._contexts[ids] = found
        return found

    def write(self, conn: sqlite3.Connection) -> None:
        totals: dict[Key, int] = {}
        for base, sums in self._sums.items():
            number = whole(sums)
            # Once for all files, so that a wide sum is packed and stored once.
            for key in self.event.keys(base, self._tally.compiled):
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
        self._write_by(conn)

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


def unknown_of(ids: tuple[str, ...], compiled: Compiled) -> list[str]:
    """Those of a row's ids that the catalogue here does not know. What is not stated is not unknown."""
    known: list[Collection[str]] = [compiled.adhesives, compiled.stages, compiled.carriers, compiled.methods]
    # A row of harm has one id less.
    if len(ids) < len(known):
        known = [compiled.media, compiled.papers, compiled.methods]
    return [one for one, entries in zip(ids, known, strict=True) if one and one not in entries]


def _weighted(value: int, weight: int) -> int:
    """A whole share of a whole number, rounded half up."""
    # In whole numbers, so that the sum is the same in whatever order studios are added.
    return (value * weight + THOUSAND // 2) // THOUSAND
