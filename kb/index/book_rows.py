"""Bring the bench book into the index: only what is new, or all of it after a change of the past."""

from __future__ import annotations

import gc
import sqlite3
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from functools import partial
from itertools import pairwise
from pathlib import Path

from kb.book.check import pointed_at
from kb.book.files import Watch, Way, unwatched
from kb.book.kinds.spot_test import SpotTest
from kb.book.kinds.table import KEPT
from kb.book.read import TORN, Read, decode_test, fold, read_file
from kb.book.seen import tip_of
from kb.index.book_lines import changes_of, line_at, lines_about, roots_of
from kb.index.book_state import (
    BookFile,
    files_of,
    grew,
    known_files,
    rewritten,
    shown_name,
    storable,
)
from kb.index.clashes import Clash, Spot, passed_over, same_or_clash
from kb.index.compiled import Compiled
from kb.index.kept_rows import apply_to_kept, store_kept
from kb.index.patch_rows import SPEAKING, recount_patches
from kb.index.rows import (
    AMENDED,
    CURRENT,
    NO_CARRIER,
    TEST_COLUMNS,
    WITHDRAWN,
    Row,
    shares_of,
    shares_of_tape,
    shares_text,
)
from kb.index.tally import HARM, PART, RELEASE, Tally, stored_parts
from kb.model.kinds import plain_id
from kb.model.record import Line
from kb.science.liquids.blends import blend_id, normalise

# Many rows at a time cost less each; without a bound a long book would wait in memory as a whole.
BATCH = 5_000
PASSED_OVER = "another record has this id; the one written first counts"
BOOK_TABLES = (
    "test",
    "change",
    "other_record",
    "kept",
    "blend",
    "liquid_mask",
    "slot",
    "release_cell",
    "part_cell",
    "patch_evidence",
    "patch_cell",
    "harm_patch_cell",
    "harm_cell",
    "release_sum",
    "harm_sum",
    "problem",
    "book_file",
)


def refresh_book(
    conn: sqlite3.Connection, book_dir: Path, compiled: Compiled, watch: Watch = unwatched
) -> bool:
    """Read what the book has gained since last time. True if anything changed.

    If a file shrank, vanished or was altered in place, the whole book is read again.
    """
    # An amendment is applied to the record it points at; that record is looked up in the index and in its
    # file.
    try:
        return _take_in(conn, book_dir, compiled, watch)
    except (LookupError, StopIteration):
        # A record that was read before is no longer there: it was altered while its file grew.
        clear_book(conn)
        return _take_in(conn, book_dir, compiled, watch)


def _take_in(conn: sqlite3.Connection, book_dir: Path, compiled: Compiled, watch: Watch) -> bool:
    known = known_files(conn)
    present = files_of(book_dir)
    # Counts were added up from lines that may no longer be there, and sums cannot tell which: all anew.
    if any(rewritten(known[name]) for name in known) or set(known) - {str(path) for path in present}:
        clear_book(conn)
        known = {}
    changed = False
    new = [(path, known.get(str(path))) for path in present if grew(path, known.get(str(path)))]
    if new:
        changed = True
        try:
            _load(conn, new, compiled, watch)
        except Clash:
            # Which of two lines with one id counts is settled over all files, so both must be read again.
            clear_book(conn)
            _load(conn, [(path, None) for path in present], compiled, watch, passed_over(present))
    return changed


def clear_book(conn: sqlite3.Connection) -> None:
    """Forget everything that came from the book."""
    for table in BOOK_TABLES:
        conn.execute(f"DELETE FROM {table}")


class _Loading:
    """What is kept while new lines are read."""

    def __init__(self, conn: sqlite3.Connection, compiled: Compiled, without: Collection[Spot] = ()) -> None:
        self.conn = conn
        self.without = without
        """Lines that do not count, because another of their id was written first."""
        self.compiled = compiled
        self.tally = Tally(compiled)
        self.waiting = {row[0] for row in conn.execute("SELECT of FROM change")}
        """Ids that earlier changes point at; a test that arrives later finds its change there."""
        self.touched: set[str] = set()
        self.sheets: set[str] = set()
        """Sheets of which the patches are to be counted anew."""
        self.highest: str = conn.execute("SELECT coalesce(max(id), '') FROM test").fetchone()[0]
        self.rows: list[Row] = []

    def take(self, row: Row, parts: dict[str, float]) -> None:
        """Keep one test until a batch is full."""
        self.rows.append(row)
        # Pure liquids stand in the catalogue; the parts of a blend are known only from the tests that name
        # it.
        if len(parts) > 1:
            self.tally.use(row.liquid, parts, 1)
        if len(self.rows) >= BATCH:
            self.store()

    def store(self) -> None:
        """Store and count the rows kept. A repeated id is stored and counted once."""
        rows, self.rows = self.rows, []
        if not rows:
            return
        sql = f"INSERT OR IGNORE INTO test ({TEST_COLUMNS}) VALUES ({', '.join('?' * len(Row._fields))})"
        if self._all_new(rows):
            # One row at a time only where ids may repeat: whether a row was new has to be asked of each.
            self.conn.executemany(sql, rows)
        else:
            rows = [row for row in rows if self._is_new(sql, row)]
        for row in rows:
            count_row(self.tally, row, 1)
            # Its amendment came first - from another bench's file, say - and can be applied only now.
            if row.id in self.waiting:
                self.touched.add(row.id)

    def _is_new(self, sql: str, row: Row) -> bool:
        if self.conn.execute(sql, row).rowcount:
            return True
        same_or_clash(self.conn, "test", line_at(self.conn, row.file, row.offset, row.length))
        return False

    def add(self, table: str, line: Line, values: tuple[object, ...]) -> None:
        """Store a row that is not a test."""
        marks = ", ".join("?" * len(values))
        if not self.conn.execute(f"INSERT OR IGNORE INTO {table} VALUES ({marks})", values).rowcount:
            same_or_clash(self.conn, table, line)

    def _all_new(self, rows: list[Row]) -> bool:
        """Ids that rise beyond the highest known one cannot be repeats, which is the usual case."""
        ids = [row.id for row in rows]
        # Ids begin with the time, so a bench's own file rises; merged files may interleave.
        rising = ids[0] > self.highest and all(a < b for a, b in pairwise(ids))
        self.highest = max(self.highest, *ids)
        return rising


def _load(
    conn: sqlite3.Connection,
    new: list[tuple[Path, BookFile | None]],
    compiled: Compiled,
    watch: Watch,
    without: Collection[Spot] = (),
) -> None:
    """Read the new part of each file, count it, then apply amendments. Raises Clash."""
    loading = _Loading(conn, compiled, without)
    way = Way([path for path, _ in new], watch)
    with _no_collection():
        for path, known in new:
            _load_file(loading, path, known, way)
        _apply_changes(conn, loading.touched, compiled, loading.tally)
        sheets = loading.sheets | apply_to_kept(conn, loading.touched)
        recount_patches(conn, compiled, loading.tally, sheets)
        loading.tally.write(conn)


@contextmanager
def _no_collection() -> Iterator[None]:
    """Many small rows and no cycles: looking for cycles would only cost time."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


def _load_file(loading: _Loading, path: Path, known: BookFile | None, way: Way) -> None:
    """Read one file from where the index left off and remember how far it got."""
    conn = loading.conn
    # Taken before reading: what is appended meanwhile makes the size differ, and the next refresh reads it.
    before = path.stat()
    if known is None:
        cursor = conn.execute("INSERT INTO book_file VALUES (?, 0, 0, 0, 0, 0, '')", (storable(path),))
        known = BookFile(int(cursor.lastrowid or 0), str(path), 0, 0, 0, 0, 0, "")
    end, count = known.offset, known.lines
    way.went(end)
    # A line without an end may have been finished since; if not, it is noted again.
    conn.execute("DELETE FROM problem WHERE file = ? AND text = ?", (shown_name(path), TORN))
    for read in read_file(path, known.offset):
        end = read.resume
        way.went(read.length)
        if read.line is None:
            _note(conn, path, count + 1, read.problem)
            # A torn last line has no number yet: the line that is finished later takes it.
            count += read.problem != TORN
            continue
        count += 1
        if loading.without and (str(path), read.offset) in loading.without:
            _note(conn, path, count, PASSED_OVER)
            continue
        problem = _take(loading, read, read.line, known.rowid)
        if problem:
            _note(conn, path, count, problem)
    loading.store()
    conn.execute(
        "UPDATE book_file SET size=?, mtime_ns=?, ctime_ns=?, offset=?, lines=?, tip=? WHERE rowid=?",
        (before.st_size, before.st_mtime_ns, before.st_ctime_ns, end, count, tip_of(path, end), known.rowid),
    )


def _note(conn: sqlite3.Connection, path: Path, number: int, text: str) -> None:
    conn.execute("INSERT INTO problem VALUES (?, ?, ?)", (shown_name(path), number, text))


def _take(loading: _Loading, read: Read, line: Line, file: int) -> str:
    """Take in one record; what is wrong with it in words, or nothing."""
    place = (file, read.offset, read.length)
    if line.kind == "test":
        # Whatever one line holds, it must not keep the others from being read.
        try:
            test = decode_test(line)
            parts = plain_parts(test.parts)
            row = row_of(line, test, parts, place, loading.compiled)
        except Exception as error:
            return f"a test that cannot be read: {error}"
        loading.take(row, parts)
    elif line.kind in {"amend", "withdraw"}:
        # What it points at is kept even if the rest cannot be read, so that its record can tell of it.
        of, problem = pointed_at(line)
        loading.add("change", line, (line.id, of, line.kind, *place))
        loading.touched.add(of)
        return problem
    elif line.kind in KEPT:
        # Only if an earlier line pointed at it: touching every record would fold each of them anew.
        loading.touched.update({line.id} & loading.waiting)
        problem, subject = store_kept(loading.conn, line, place)
        # Patches draw on strip and sheet, in whatever order these records arrive.
        loading.sheets.update({subject} if line.kind in SPEAKING else ())
        return problem
    else:
        loading.add("other_record", line, (line.id, line.kind, line.at, line.who, *place))
    return ""


def plain_parts(parts: dict[str, float]) -> dict[str, float]:
    """Volume shares by canonical id. Nearly every test is of one liquid, so that case is kept short."""
    if len(parts) == 1:
        return {plain_id(next(iter(parts))): 1.0}
    return normalise({plain_id(name): share for name, share in parts.items()})


def row_of(
    line: Line, test: SpotTest, parts: dict[str, float], place: tuple[int, int, int], compiled: Compiled
) -> Row:
    """The columns of one test. A tape fills in its adhesive and carrier where they are not given."""
    tape = tape_adhesive = tape_carrier = ""
    if test.tape:
        tape = plain_id(test.tape)
        _, tape_adhesive, tape_carrier = compiled.tapes.get(tape, ("", "", ""))
    carrier = NO_CARRIER if test.carrier_present is False else plain_id(test.carrier) or tape_carrier
    return Row(
        line.id,
        *place,
        test.tested_at or line.at,
        line.who,
        test.sheet,
        tape,
        plain_id(test.adhesive) or tape_adhesive,
        plain_id(test.stage),
        carrier,
        plain_id(test.medium),
        plain_id(test.paper),
        # What was left out is written as what was seen to come of it: none on paper that carries no film.
        next(iter(parts)) if len(parts) == 1 else blend_id(parts),
        plain_id(test.method),
        test.release,
        # The worst kind of harm is what the ranking avoids; the kinds are read from the book where they are
        # shown.
        max(test.harm.values()) if test.harm else None,
        int(test.control),
        CURRENT,
        test.batch and test.batch.strip().upper(),
        # A tape that was named beats chances: the writer knew, and what it may be is a guess from earlier.
        ""
        if test.adhesive or tape_adhesive or not test.may_be
        else shares_text(shares_of_tape(test.may_be, test.stage, carrier)),
    )


def count_row(tally: Tally, row: Row, step: int) -> None:
    """Count one test in its cells. What was not looked at is not counted as harmless."""
    if row.state == WITHDRAWN:
        return
    # A control has no adhesive under it, so it says nothing of release; its harm counts below.
    if row.release is not None and row.adhesive and not row.control:
        key = (row.adhesive, row.stage, row.carrier, row.method, row.liquid)
        tally.count(key, RELEASE, row.release, step)
    if row.release is not None and row.may_be and not row.control:
        # A test on an unknown tape counts for each thing that the tape may be, in proportion.
        for (adhesive, stage, carrier), share in shares_of(row.may_be):
            part = (adhesive, stage, carrier, row.method, row.liquid)
            tally.count(part, PART, row.release, step * share)
    if row.harm is not None:
        tally.count((row.medium, row.paper, row.method, row.liquid), HARM, row.harm, step)


def _apply_changes(conn: sqlite3.Connection, touched: set[str], compiled: Compiled, tally: Tally) -> None:
    """Re-derive each test that an amendment or withdrawal points at."""
    # Sorted, so that the rows are put in the same order whatever order the set has.
    for root in sorted(set(roots_of(touched, changes_of(conn), partial(_is_test, conn)).values())):
        old = Row(*conn.execute(f"SELECT {TEST_COLUMNS} FROM test WHERE id = ?", (root,)).fetchone())
        new, parts = effective(conn, old, compiled)
        # Take out, put in: sums then need no reading of the other tests in the same cell.
        count_row(tally, old, -1)
        count_row(tally, new, 1)
        tally.use(old.liquid, _stored_parts(conn, tally, old.liquid), -1)
        tally.use(new.liquid, parts, 1)
        # DELETE and INSERT, because the amendment may have changed any of the columns.
        conn.execute("DELETE FROM test WHERE id = ?", (root,))
        marks = ", ".join("?" * len(Row._fields))
        conn.execute(f"INSERT INTO test ({TEST_COLUMNS}) VALUES ({marks})", new)


def _stored_parts(conn: sqlite3.Connection, tally: Tally, liquid: str) -> dict[str, float]:
    if liquid in tally.blends:
        return tally.blends[liquid][0]
    row = conn.execute("SELECT parts FROM blend WHERE liquid = ?", (liquid,)).fetchone()
    return stored_parts(row[0]) if row else {liquid: 1.0}


def _is_test(conn: sqlite3.Connection, record_id: str) -> bool:
    return conn.execute("SELECT 1 FROM test WHERE id = ?", (record_id,)).fetchone() is not None


def effective(conn: sqlite3.Connection, old: Row, compiled: Compiled) -> tuple[Row, dict[str, float]]:
    """The test after all its amendments, as a row, and its parts."""
    lines = lines_about(conn, old.id)
    current = fold(lines).tests[old.id]
    parts = plain_parts(current.test.parts)
    first = next(line for line in lines if line.id == old.id)
    row = row_of(first, current.test, parts, (old.file, old.offset, old.length), compiled)
    state = WITHDRAWN if current.withdrawn else AMENDED if current.history else CURRENT
    return row._replace(state=state), parts
