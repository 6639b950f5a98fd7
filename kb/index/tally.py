"""Counts of the book, kept so that a question reads sums and never tests.

A test adds one grade to one *cell* (adhesive, stage, carrier, method, liquid). From a cell come
its discounted counts, and those are added to every *sum* the cell belongs to: the sum for its adhesive,
for its adhesive group and for all; with its carrier and with any; with its method and with any. A
question picks the twelve sums it needs and finds "same group but another adhesive" by subtraction, which
is exact because all sums are whole numbers. One sum holds all liquids (:mod:`kb.index.vectors`).
"""

import gc
import sqlite3
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from itertools import groupby
from math import fsum
from operator import add, itemgetter, mul
from typing import Any, NamedTuple

import msgspec

from kb.index.compiled import Compiled, Named
from kb.index.queries import CELL_KEYS, slots
from kb.index.rows import HARM_FROM, RELEASE_FROM, WHOLE
from kb.index.schema import ANY, SCALE
from kb.index.vectors import by_place, pack_places, packed, unpack
from kb.science.choose.evidence import discount
from kb.science.choose.learnt import HARM_CREDIT, RELEASE_CREDIT
from kb.science.choose.pooling import FIELDS, PRIOR, RATED, rating

GRADES = 5
CREDITS = {RELEASE_FROM: RELEASE_CREDIT, HARM_FROM: HARM_CREDIT}
"""What each grade counts by partial credit, by the grade from which the event counts."""
Key = tuple[str, ...]
Grades = tuple[int, ...]
"""How many tests of a cell had each grade."""
Rows = list[tuple[Any, ...]]
HarmGiven = tuple[bytes, dict[str, int], dict[str, dict[str, float]], list[tuple[Key, Grades]]]
"""The catalogue as the index keeps it, liquids by place, blends by parts, and what more is to be counted."""
PUT_AT_ONCE = 10_000
"""Rows that another process hands over together."""
NOTHING: Grades = (0,) * GRADES


class Event(NamedTuple):
    """The two events differ only in their tables and in what their keys mean."""

    cells: str
    sums: str
    columns: tuple[str, ...]
    sum_columns: tuple[str, ...]
    threshold: int
    whole: int = 1
    """How many of what a cell counts make one test."""
    of_harm: bool = False

    def base(self, key: Key, compiled: Compiled) -> Key:
        """The narrowest sum a cell belongs to. Stages are told apart by position, not by name."""
        if self.of_harm:
            return key[:3]
        adhesive, stage, carrier, method = key[:4]
        return adhesive, carrier, method, str(compiled.stages.get(stage, ""))

    def levels(self, first: str, compiled: Compiled) -> Key:
        """Where the sums of an adhesive or medium stand: its own, those of its group or kin, those of any."""
        if self.of_harm:
            medium = compiled.media.get(first)
            kin = medium.kin if medium and medium.kin else f"only {first}"
        else:
            kin = compiled.adhesives[first].group if first in compiled.adhesives else first
        return f"a:{first}", f"g:{kin}", ANY

    def keys(self, base: Key, compiled: Compiled) -> list[Key]:
        """All sums that a narrowest one belongs to: adhesive, group or any; carrier or any; method or any."""
        # Of harm medium, kin and paper stand where release has adhesive, group and carrier.
        _, one, method, *rest = base
        levels = self.levels(base[0], compiled)
        wider = [(o, m) for o in dict.fromkeys((one, ANY)) for m in dict.fromkeys((method, ANY))]
        return [(level, *more, *rest) for level in levels for more in wider]


RELEASE = Event(
    "release_cell",
    "release_sum",
    CELL_KEYS["release_cell"],
    ("adhesive", "carrier", "method", "stage"),
    RELEASE_FROM,
)
PART = RELEASE._replace(cells="part_cell", whole=WHOLE)
"""Parts of tests on tapes that are not known for sure. They add to the same sums as whole tests do."""
HARM = Event(
    "harm_cell",
    "harm_sum",
    CELL_KEYS["harm_cell"],
    ("medium", "paper", "method"),
    HARM_FROM,
    of_harm=True,
)
PATCH = PART._replace(cells="patch_cell")
HARM_PATCH = HARM._replace(cells="harm_patch_cell", whole=WHOLE)
"""Patches that were lifted, each as a part of a test; like PART they move the chances and no raw count."""


EVENTS = (RELEASE, PART, PATCH, HARM, HARM_PATCH)


# Cells repeat: a book of a million tests has few different sets of grades under one prior.
@lru_cache(maxsize=65_536)
def contribution(grades: tuple[int, ...], threshold: int, p0: float, whole: int = 1) -> tuple[int, ...]:
    """What one cell of one studio adds to each of its sums, in whole billionths.

    ``whole`` of what the cell counts make one test. Parts of tests move the chances and leave the raw counts
    alone: nobody can point at four tenths of a test.
    """
    tests = sum(grades)
    if tests == 0:
        # Discounting divides by the tests.
        return (0,) * FIELDS
    hits = sum(grades[threshold:])
    n = discount(tests / whole)
    credit = n * fsum(map(mul, grades, CREDITS[threshold])) / tests
    if whole > 1:
        # With no raw count above it a vector may not end in a negative number.
        credit = max(credit, 0.0)
    # The fields add up over cells, so what does not add up - a share, a mean - is worked out when asked.
    counted, events, foreseen, credited = (
        round(one * SCALE) for one in (n, n * hits / tests, n * p0, credit)
    )
    weighed = (counted, rating(counted, events, foreseen), foreseen, credited)
    if whole > 1:
        return (*weighed, *(0,) * (FIELDS - len(weighed)))
    return (*weighed, tests, hits, *_expected(tests, p0))


def _expected(tests: int, p0: float) -> tuple[int, int]:
    """Tests that chemistry alone expects to succeed, and the variance of that, in whole billionths."""
    return round(tests * p0 * SCALE), round(tests * p0 * (1 - p0) * SCALE)


def _number(grades: Grades, threshold: int, p0: float, whole: int) -> int:
    """The same as one number."""
    number, n, tests = _without_prior(grades, threshold, whole)
    foreseen = round(n * p0 * SCALE)
    number += (foreseen << _PRIOR) - (foreseen << _RATED)
    if whole > 1:
        return number
    successes, variance = _expected(tests, p0)
    return number + (successes << _SUCCESSES) + (variance << _VARIANCE)


@lru_cache(maxsize=65_536)
def _without_prior(grades: Grades, threshold: int, whole: int) -> tuple[int, float, int]:
    """The number under a prior of nothing, and the discounted and the raw tests: a book has few such sets."""
    tests = sum(grades)
    n = discount(tests / whole) if tests else 0.0
    return packed(contribution(grades, threshold, 0.0, whole)), n, tests


_RATED, _PRIOR, _SUCCESSES, _VARIANCE = (
    packed((0,) * field + (1,)).bit_length() - 1 for field in (RATED, PRIOR, 6, 7)
)
"""Where the fields that a prior bears on begin in a number, in bits."""


@lru_cache(maxsize=65_536)
def regraded(grades: Grades, grade: int, step: int) -> Grades:
    """The counts of a cell after a test more or less. Few are different, and equal ones are one in memory."""
    return (*grades[:grade], grades[grade] + step, *grades[grade + 1 :])


@contextmanager
def no_collection() -> Iterator[None]:
    """Many small rows and no cycles: looking for cycles would only cost time."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


Context = tuple[Key, dict[str, float]]
"""What cells share that differ in their liquid only: their narrowest sum, and the priors by liquid."""
Liquids = tuple[dict[str, int], dict[str, Named]]
"""The liquids and blends that are counted: their places in a vector, and what chemistry knows of them."""


class Tally:
    """Collects changes of counts and writes them in one go."""

    def __init__(self, compiled: Compiled) -> None:
        self.compiled = compiled
        # Changes are gathered and written at the end: many tests fall into one cell.
        self._pending: dict[str, dict[Key, Grades]] = {event.cells: {} for event in EVENTS}
        self.blends: dict[str, tuple[dict[str, float], int]] = {}
        self._named: dict[str, Named] = {}
        self._priors: dict[tuple[object, ...], dict[str, float]] = {}
        self._contexts: dict[Key, Context] = {}

    def count(self, key: Key, event: Event, grade: int, step: int) -> None:
        """Add (step 1) or take away (step -1) one test of this grade; of a PART so many WHOLE-ths."""
        pending = self._pending[event.cells]
        # Grade by grade and not as sums: an amended test must be taken out as it was put in.
        pending[key] = regraded(pending.get(key, NOTHING), grade, step)

    def pending(self, event: Event) -> dict[Key, Grades]:
        """What was counted and is not written."""
        return self._pending[event.cells]

    def use(self, liquid: str, parts: dict[str, float], step: int) -> None:
        """Note that a blend was tested, so that it can be proposed again."""
        if len(parts) > 1 or liquid not in self.compiled.by_id:
            known, uses = self.blends.get(liquid, (parts, 0))
            self.blends[liquid] = (known, uses + step)

    def named(self, liquid: str, parts: dict[str, float]) -> Named:
        """The liquid with its mixed properties; kept, because cells repeat it."""
        found = self._named.get(liquid)
        if found is None:
            found = self._named[liquid] = self.compiled.candidate(liquid, parts)
        return found

    def write(self, conn: sqlite3.Connection, harm: Iterable[tuple[str, Rows]] | None = None) -> None:
        """Write cells, sums and blends; leaves the tally empty.

        ``harm`` are the rows of its tables where another process adds it up.
        """
        self._write_blends(conn)
        for event in EVENTS:
            if event is HARM and harm is not None:
                for table, rows in harm:
                    _put(conn, table, rows)
            else:
                _write_event(conn, event, self._pending[event.cells], self)
        # Masks from whole tests alone: a part of a test is no tape that one could point at.
        _write_masks(conn, self._pending[RELEASE.cells], self.compiled)
        for pending in self._pending.values():
            pending.clear()

    def give_away(self, conn: sqlite3.Connection, harming: Collection[str]) -> HarmGiven:
        """What :func:`harm_anew` needs besides its own counts, which are of these liquids."""
        self._write_blends(conn)
        before = EVENTS[: EVENTS.index(HARM)]
        wanted = [{key[-1] for key in self._pending[event.cells]} for event in before]
        # Places in the same order as if harm were added up here, when its turn comes.
        for liquids in (*wanted, {*harming, *(key[-1] for key in self._pending[HARM.cells])}):
            if liquids:
                _places(conn, liquids, self.compiled)
        (compiled,) = conn.execute("SELECT value FROM meta WHERE key = 'compiled'").fetchone()
        return compiled, slots(conn), _parts(conn), list(self._pending[HARM.cells].items())

    def liquids(self, places: dict[str, int], parts: dict[str, dict[str, float]]) -> Liquids:
        """What is counted, by its place; of blends the parts are told."""
        return places, {one: self.named(one, parts.get(one) or {one: 1.0}) for one in places}

    def context(self, event: Event, key: Key) -> Context:
        """What the cells of one context share; kept, because there are many of them."""
        cell = key[:-1]
        found = self._contexts.get(cell)
        if found is None:
            # Contexts that chemistry cannot tell apart share priors: most carriers let liquid through alike.
            priors = self._priors.setdefault(self._known(event, cell), {})
            found = self._contexts[cell] = (event.base(key, self.compiled), priors)
        return found

    def _known(self, event: Event, cell: Key) -> tuple[object, ...]:
        """All that a prior depends on besides the liquid."""
        compiled = self.compiled
        if event.of_harm:
            medium, paper, method = cell
            return medium, paper, compiled.methods.get(method)
        adhesive, stage, carrier, method = cell
        through = compiled.carriers.get(carrier)
        return adhesive, compiled.stages.get(stage), through, compiled.methods.get(method)

    def prior(self, event: Event, key: Key, what: Named) -> float:
        _, priors = self.context(event, key)
        found = priors.get(key[-1])
        if found is None:
            made: Callable[..., float] = self.compiled.harm_p0 if event.of_harm else self.compiled.release_p0
            found = priors[key[-1]] = made(*key[:-1], what)
        return found

    def _write_blends(self, conn: sqlite3.Connection) -> None:
        if not self.blends:
            return
        import json

        # Uses are added to and never set: only what is new was counted here.
        rows = [(name, json.dumps(parts), uses) for name, (parts, uses) in self.blends.items()]
        conn.executemany(
            "INSERT INTO blend VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET uses = uses + excluded.uses", rows
        )
        self.blends.clear()


def stored_parts(text: str) -> dict[str, float]:
    """The shares of a blend as the index keeps them."""
    return msgspec.json.decode(text, type=dict[str, float])


def _parts(conn: sqlite3.Connection) -> dict[str, dict[str, float]]:
    """The parts of each blend that was tested."""
    return {row[0]: stored_parts(row[1]) for row in conn.execute("SELECT liquid, parts FROM blend")}


def _places(conn: sqlite3.Connection, wanted: Iterable[str], compiled: Compiled) -> dict[str, int]:
    """Places for all wanted liquids; new ones are put behind those that have a place."""
    known = slots(conn)
    # The whole catalogue at once in the first round: liquids then stand in its order.
    fresh = [liquid.id for liquid in compiled.liquids if liquid.id not in known] if not known else []
    fresh += sorted(set(wanted) - set(known) - set(fresh))
    new = {liquid: len(known) + number for number, liquid in enumerate(fresh)}
    conn.executemany("INSERT INTO slot VALUES (?, ?)", list(new.items()))
    return {**known, **new}


def _write_event(conn: sqlite3.Connection, event: Event, pending: dict[Key, Grades], tally: Tally) -> None:
    """Turn pending grade changes into new cells and into differences of the sums."""
    if not pending:
        return
    places = _places(conn, {key[-1] for key in pending}, tally.compiled)
    liquids = tally.liquids(places, _parts(conn))
    # An empty table need not be asked for old rows, which is the whole of a rebuild.
    known = {} if _is_empty(conn, event.cells) else _known_cells(conn, event, pending)
    fresh = _is_empty(conn, event.sums)
    cells, changes = _differences(event, pending, known, tally, liquids)
    _put(conn, event.cells, cells)
    width = len(event.columns)
    _remove(conn, event.cells, event.columns, [cell[:width] for cell in cells if cell[width:] == NOTHING])
    for totals in _totals(event, changes, tally.compiled):
        _add_to_sums(conn, event, totals, fresh)


def _is_empty(conn: sqlite3.Connection, table: str) -> bool:
    return conn.execute(f"SELECT 1 FROM {table} LIMIT 1").fetchone() is None


def _known_cells(conn: sqlite3.Connection, event: Event, keys: Iterable[Key]) -> dict[Key, Grades]:
    """Those of these cells that are there, as they stand."""
    where = " AND ".join(f"{column} = ?" for column in event.columns)
    select = f"SELECT g0, g1, g2, g3, g4 FROM {event.cells} WHERE {where}"
    return {key: old for key in keys if (old := conn.execute(select, key).fetchone())}


def _differences(
    event: Event, pending: dict[Key, Grades], known: dict[Key, Grades], tally: Tally, liquids: Liquids
) -> tuple[Rows, dict[Key, dict[int, int]]]:
    """The rows of cells as they are to be, and what is to be added to their narrowest sums, by place."""
    (places, named), (threshold, whole) = liquids, (event.threshold, event.whole)
    cells: Rows = []
    changes: dict[Key, dict[int, int]] = {}
    context: Key = ()
    priors: dict[str, float] = {}
    target: dict[int, int] = {}
    # In the order of the table's key: its pages fill one after the other, and what cells that differ in
    # their liquid only have in common is looked up once.
    for key, change in sorted(pending.items(), key=itemgetter(0)):
        liquid = key[-1]
        if key[:-1] != context:
            context = key[:-1]
            base, priors = tally.context(event, key)
            target = changes.setdefault(base, {})
        old = known.get(key) if known else None
        grades = tuple(map(add, old, change)) if old else change
        cells.append(key + grades)
        p0 = priors.get(liquid)
        if p0 is None:
            p0 = tally.prior(event, key, named[liquid])
        number = _number(grades, threshold, p0, whole)
        if old:
            # The old contribution goes out and the new one comes in: discounting is not linear in the tests.
            number -= _number(old, threshold, p0, whole)
        place = places[liquid]
        target[place] = target.get(place, 0) + number
    return cells, changes


def harm_anew(counted: dict[tuple[Any, ...], int], given: HarmGiven) -> Iterator[tuple[str, Rows]]:
    """The rows of the cells and sums of harm, by table, as they are if there were none before.

    ``counted``: tests by the key of their cell and their grade, which are used up.
    """
    compiled, places, parts, more = given
    tally = Tally(msgspec.msgpack.decode(compiled, type=Compiled))
    while counted:
        (*key, grade), tests = counted.popitem()
        tally.count(tuple(key), HARM, grade, tests)
    for cell, grades in more:
        for grade, tests in enumerate(grades):
            tally.count(cell, HARM, grade, tests)
    pending, width = tally.pending(HARM), len(HARM.columns)
    cells, changes = _differences(HARM, pending, {}, tally, tally.liquids(places, parts))
    pending.clear()
    for start in range(0, len(cells), PUT_AT_ONCE):
        yield HARM.cells, [cell for cell in cells[start : start + PUT_AT_ONCE] if cell[width:] != NOTHING]
    cells.clear()
    for totals in _totals(HARM, changes, tally.compiled):
        yield HARM.sums, _rows_of(totals)


def _totals(
    event: Event, changes: dict[Key, dict[int, int]], compiled: Compiled
) -> Iterator[dict[Key, dict[int, int]]]:
    """What is to be added to every sum, in pieces; ``changes`` is used up.

    One adhesive or medium after the other: the sums of a long book are hundreds of megabytes, and those of
    one adhesive are done with when its last cell is.
    """
    kin: dict[Key, dict[int, int]] = {}
    for first, bases in groupby(sorted(changes), key=itemgetter(0)):
        own: dict[Key, dict[int, int]] = {}
        for base in bases:
            numbers = changes.pop(base)
            # A correction may leave everything as it was.
            if any(numbers.values()):
                own[base[1:]] = numbers
        # From the narrow sums come those of any method, and from all of these those of any carrier (or
        # paper): a cell is added to few sums, and these to those above them.
        for place in (1, 0):
            for rest in list(own):
                if rest[place] != ANY:
                    _add_up(own, (*rest[:place], ANY, *rest[place + 1 :]), own[rest])
        level, group, _ = event.levels(first, compiled)
        for rest, numbers in own.items():
            _add_up(kin, (group, *rest), numbers)
        yield {(level, *rest): numbers for rest, numbers in own.items()}
    for key in list(kin):
        _add_up(kin, (ANY, *key[1:]), kin[key])
    yield kin


def _add_up(sums: dict[Key, dict[int, int]], key: Key, numbers: dict[int, int]) -> None:
    """Add to one sum, liquid by liquid."""
    found = sums.get(key)
    if found is None:
        sums[key] = numbers.copy()
        return
    for place, number in numbers.items():
        found[place] = found.get(place, 0) + number


def _add_to_sums(
    conn: sqlite3.Connection, event: Event, totals: dict[Key, dict[int, int]], fresh: bool
) -> None:
    """Add to these sums; ``fresh``: none of them is there yet. Those that fell to nothing are removed."""
    gone: list[Key] = []
    if not fresh:
        where = " AND ".join(f"{column} = ?" for column in event.sum_columns)
        select = f"SELECT vector FROM {event.sums} WHERE {where}"
        for key, total in totals.items():
            if old := conn.execute(select, key).fetchone():
                _add_up(totals, key, by_place(unpack(old[0])))
            # A sum of nothing is removed: with its last test withdrawn the index is as before the first.
            if not any(total.values()):
                gone.append(key)
    _put(conn, event.sums, _rows_of(totals))
    _remove(conn, event.sums, event.sum_columns, gone)


def _rows_of(totals: dict[Key, dict[int, int]]) -> Rows:
    """These sums as they are stored, in the order of the table's key; ``totals`` is used up."""
    rows: Rows = []
    while totals:
        key, total = totals.popitem()
        if 0 in total.values():
            total = {place: number for place, number in total.items() if number}
        if total:
            rows.append((*key, pack_places(total)))
    rows.sort()
    return rows


def _put(conn: sqlite3.Connection, table: str, rows: Rows) -> None:
    if rows:
        conn.executemany(f"INSERT OR REPLACE INTO {table} VALUES ({', '.join('?' * len(rows[0]))})", rows)


def _remove(
    conn: sqlite3.Connection, table: str, columns: Sequence[str], keys: Sequence[tuple[object, ...]]
) -> None:
    where = " AND ".join(f"{column} = ?" for column in columns)
    conn.executemany(f"DELETE FROM {table} WHERE {where}", keys)


def _write_masks(conn: sqlite3.Connection, changes: dict[Key, Grades], compiled: Compiled) -> None:
    """Note on which (adhesive, stage, carrier) each liquid was tested, one bit each.

    Counting distinct tapes behind a suggestion then needs no look at the cells.
    """
    found = {row[0]: int.from_bytes(row[1], "little") for row in conn.execute("SELECT * FROM liquid_mask")}
    tested: dict[str, int] = {}
    fell = set[str]()
    bits: dict[Key, int] = {}
    for key, change in changes.items():
        if change == NOTHING:
            continue
        liquid, context = key[-1], key[:3]
        bit = bits.get(context)
        if bit is None:
            bit = bits[context] = compiled.context_bit(*context)
        tested[liquid] = tested.get(liquid, 0) | bit
        # A bit can be set from the change alone; whether one is to be taken off only the cells can say.
        if min(change) < 0:
            fell.add(liquid)
    for liquid, found_bits in tested.items():
        found[liquid] = found.get(liquid, 0) | found_bits
    for liquid in fell:
        found[liquid] = 0
        sql = "SELECT DISTINCT adhesive, stage, carrier FROM release_cell WHERE liquid = ?"
        for row in conn.execute(sql, (liquid,)):
            found[liquid] |= compiled.context_bit(*row)
    rows = [(liquid, found[liquid].to_bytes(compiled.context_bytes, "little")) for liquid in tested]
    conn.executemany("INSERT OR REPLACE INTO liquid_mask VALUES (?, ?)", rows)
