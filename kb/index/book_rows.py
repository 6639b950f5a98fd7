"""Bring the bench book into the index: only what is new, or all of it after a change of the past.

One id for two contents is seen when the second arrives, and settled as the book settles it. Only an altered
file or a copied id makes such a pair. The one written first counts, on every machine and in whichever order
the files came (:func:`kb.book.fold.union`).
"""

from __future__ import annotations

import sqlite3
from collections import deque
from collections.abc import Collection, Sequence
from itertools import pairwise
from pathlib import Path

from kb.book.check import decode_test, pointed_at
from kb.book.contested import Contested, content, contested, is_contested
from kb.book.files import TORN
from kb.book.fold import fold
from kb.book.kinds.table import KEPT
from kb.book.read import RawLine, Read, Watch, Way, read_file, read_of, unwatched
from kb.book.seen import tip_of
from kb.index.book_lines import (
    BookFile,
    changes_of,
    files_of,
    grew,
    known_files,
    line_at,
    lines_about,
    rewritten,
    roots_of,
    shown_name,
    storable,
)
from kb.index.compiled import Compiled
from kb.index.kept_rows import apply_to_kept, as_kept
from kb.index.patch_rows import SPEAKING, recount_patches
from kb.index.reading import Batch, Lost, SecondProcess, batches, stood
from kb.index.rows import TEST_COLUMNS, WITHDRAWN, Row, plain_parts, row_of, shares_of, state_of, with_tape
from kb.index.tally import HARM, PART, RELEASE, Tally, no_collection, stored_parts
from kb.model.record import Line

# Many rows at a time cost less each; without a bound a long book would wait in memory as a whole.
BATCH = 5_000
PASSED_OVER = "another record has this id; the one written first counts"
BOOK_TABLES = (
    *("test", "change", "other_record", "kept", "blend", "problem", "book_file", "patch_evidence"),
    *("liquid_mask", "slot", "release_sum", "harm_sum"),
    *("release_cell", "part_cell", "patch_cell", "harm_cell", "harm_patch_cell"),
)
Spot = tuple[str, int]
"""A line by its file and where it begins there."""


def refresh_book(
    conn: sqlite3.Connection,
    book_dir: Path,
    compiled: Compiled,
    watch: Watch = unwatched,
    second: SecondProcess | None = None,
) -> bool:
    """Read what the book has gained since last time. True if anything changed.

    If a file shrank, vanished or was altered in place, the whole book is read again. ``second`` is one that
    has begun to read all of a book of which nothing is known here.
    """
    # An amendment is applied to the record it points at, which is looked up in the index and in its file.
    try:
        return _take_in(conn, book_dir, compiled, watch, second)
    except (LookupError, StopIteration, Lost):
        # A record that was read before is no longer there: it was altered while its file grew. Or the second
        # process has gone with what it counted.
        clear_book(conn)
        return _take_in(conn, book_dir, compiled, watch)


def _take_in(
    conn: sqlite3.Connection,
    book_dir: Path,
    compiled: Compiled,
    watch: Watch,
    second: SecondProcess | None = None,
) -> bool:
    known = known_files(conn)
    present = files_of(book_dir)
    # Counts were added up from lines that may no longer be there, and sums cannot tell which: all anew.
    again = any(map(rewritten, known.values())) or bool(set(known) - {str(path) for path in present})
    if again:
        clear_book(conn)
        known = {}
    new = [(path, known.get(str(path))) for path in present if grew(path, known.get(str(path)))]
    if not new:
        return again
    try:
        _load(_Loading(conn, compiled, second=second), new, watch)
    except Clash:
        # Which of two lines with one id counts is settled over all files, so both must be read again.
        clear_book(conn)
        loading = _Loading(conn, compiled, _passed_over(present))
        _load(loading, [(path, None) for path in present], watch)
    return True


def clear_book(conn: sqlite3.Connection) -> None:
    for table in BOOK_TABLES:
        conn.execute(f"DELETE FROM {table}")


class _Loading:
    """What is kept while new lines are read."""

    def __init__(
        self,
        conn: sqlite3.Connection,
        compiled: Compiled,
        without: Collection[Spot] = (),
        second: SecondProcess | None = None,
    ) -> None:
        self.conn = conn
        self.without = without
        """Lines that do not count, because another of their id was written first."""
        self.second = second
        """What reads the lines and counts the harm in them."""
        self.compiled = compiled
        self.tally = Tally(compiled)
        self.waiting = {row[0] for row in conn.execute("SELECT of FROM change")}
        """Ids that earlier changes point at; a test that arrives later finds its change there."""
        self.touched: set[str] = set()
        self.sheets: set[str] = set()
        """Sheets of which the patches are to be counted anew."""
        self.highest: str = conn.execute("SELECT coalesce(max(id), '') FROM test").fetchone()[0]
        self.rows: list[Row] = []

    def take(self, rows: Sequence[Row]) -> None:
        """Keep some tests until a batch is full."""
        self.rows += rows
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
            count_release(self.tally, row, 1)
            if self.second is None:
                count_harm(self.tally, row, 1)
            # Its amendment came first - from another bench's file, say - and can be applied only now.
            if row.id in self.waiting:
                self.touched.add(row.id)

    def _is_new(self, sql: str, row: Row) -> bool:
        if self.conn.execute(sql, row).rowcount:
            return True
        _same_or_clash(self.conn, "test", line_at(self.conn, row.file, row.offset, row.length))
        if self.second is not None:
            # It was counted when it was read.
            count_harm(self.tally, row, -1)
        return False

    def add(self, table: str, line: Line, values: tuple[object, ...]) -> None:
        """Store a row that is not a test."""
        sql = f"INSERT OR IGNORE INTO {table} VALUES ({', '.join('?' * len(values))})"
        if not self.conn.execute(sql, values).rowcount:
            _same_or_clash(self.conn, table, line)

    def _all_new(self, rows: list[Row]) -> bool:
        """Ids that rise beyond the highest known one cannot be repeats, which is the usual case."""
        ids = [row.id for row in rows]
        # Ids begin with the time, so a bench's own file rises; merged files may interleave.
        rising = ids[0] > self.highest and all(a < b for a, b in pairwise(ids))
        self.highest = max(self.highest, *ids)
        return rising


def _load(loading: _Loading, new: list[tuple[Path, BookFile | None]], watch: Watch) -> None:
    """Read the new part of each file, count it, then apply amendments. Raises Clash and Lost."""
    conn, compiled, tally = loading.conn, loading.compiled, loading.tally
    way = Way([path for path, _ in new], watch)
    with no_collection():
        for path, known in new:
            _load_file(loading, path, known, way)
        _apply_changes(conn, loading.touched, compiled, tally)
        sheets = loading.sheets | apply_to_kept(conn, loading.touched)
        recount_patches(conn, compiled, tally, sheets)
        harm = None
        if (second := loading.second) is not None:
            harm = second.sums_of_harm(tally.give_away(conn, second.liquids_harming()))
        tally.write(conn, harm)


def _load_file(loading: _Loading, path: Path, known: BookFile | None, way: Way) -> None:
    """Read one file from where the index left off and remember how far it got."""
    conn = loading.conn
    # Taken before reading: what is appended meanwhile makes the size differ, and the next refresh reads it.
    before = stood(path)
    if known is None:
        cursor = conn.execute("INSERT INTO book_file VALUES (?, 0, 0, 0, 0, 0, '')", (storable(path),))
        known = BookFile(int(cursor.lastrowid or 0), str(path), 0, 0, 0, 0, 0, "")
    way.went(known.offset)
    # A line without an end may have been finished since; if not, it is noted again.
    conn.execute("DELETE FROM problem WHERE file = ? AND text = ?", (shown_name(path), TORN))
    if loading.second is None:
        passed = {offset for name, offset in loading.without if name == str(path)}
        read = batches(path, known.rowid, known.offset, passed, way.went)
    else:
        before, read = loading.second.file(path, known.rowid, way.went)
    end, count = known.offset, known.lines
    for batch in read:
        end, count = batch.end, known.lines + batch.lines
        _take_batch(loading, path, known, batch)
    loading.store()
    conn.execute(
        "UPDATE book_file SET size=?, mtime_ns=?, ctime_ns=?, offset=?, lines=?, tip=? WHERE rowid=?",
        (*before, end, count, tip_of(path, end), known.rowid),
    )


def _take_batch(loading: _Loading, path: Path, known: BookFile, batch: Batch) -> None:
    """Take in some lines of a file, in their order."""
    tapes, done, blends = loading.compiled.tapes, 0, deque(batch.blends)
    rows = [with_tape(row, tapes) if row.tape else row for row in batch.rows]
    for apart in (*batch.apart, None):
        end = len(rows) if apart is None else apart.after
        while blends and blends[0][0] < end:
            at, parts = blends.popleft()
            loading.tally.use(rows[at].liquid, parts, 1)
        loading.take(rows[done:end])
        done = end
        if apart is not None and (problem := _take_apart(loading, path, known, apart.raw)):
            told = (shown_name(path), known.lines + apart.number, problem)
            loading.conn.execute("INSERT INTO problem VALUES (?, ?, ?)", told)


def _take_apart(loading: _Loading, path: Path, known: BookFile, raw: RawLine) -> str:
    """Take in a line that is no plain test; what is wrong with it in words, or nothing."""
    read = read_of(raw)
    if read.line is None:
        return read.problem
    if (str(path), read.offset) in loading.without:
        return PASSED_OVER
    return _take(loading, read, read.line, known.rowid)


def _take(loading: _Loading, read: Read, line: Line, file: int) -> str:
    """Take in one record; what is wrong with it in words, or nothing."""
    place = (file, read.offset, read.length)
    if line.kind == "test":
        # Whatever one line holds, it must not keep the others from being read.
        try:
            test = decode_test(line)
            parts = plain_parts(test.parts)
            row = row_of(line, test, parts, place, loading.compiled.tapes)
        except Exception as error:
            return f"a test that cannot be read: {error}"
        if len(parts) > 1:
            loading.tally.use(row.liquid, parts, 1)
        loading.take([row])
        if loading.second is not None:
            count_harm(loading.tally, row, 1)
    elif line.kind in {"amend", "withdraw"}:
        # What it points at is kept even if the rest cannot be read, so that its record can tell of it.
        of, problem = pointed_at(line)
        loading.add("change", line, (line.id, of, line.kind, *place))
        loading.touched.add(of)
        return problem
    elif line.kind in KEPT:
        # Only if an earlier line pointed at it: touching every record would fold each of them anew.
        loading.touched.update({line.id} & loading.waiting)
        values, problem, subject = as_kept(line, place)
        if values:
            loading.add("kept", line, values)
        # Patches draw on strip and sheet, in whatever order these records arrive.
        loading.sheets.update({subject} if line.kind in SPEAKING else ())
        return problem
    else:
        loading.add("other_record", line, (line.id, line.kind, line.at, line.who, *place))
    return ""


def count_row(tally: Tally, row: Row, step: int) -> None:
    """Count one test in its cells. What was not looked at is not counted as harmless."""
    if row.state == WITHDRAWN:
        return
    count_release(tally, row, step)
    count_harm(tally, row, step)


def count_release(tally: Tally, row: Row, step: int) -> None:
    """Count what a test says of release, for each thing that its tape may be."""
    # A control has no adhesive under it, so it says nothing of release; its harm counts below.
    if row.release is not None and row.adhesive and not row.control:
        key = (row.adhesive, row.stage, row.carrier, row.method, row.liquid)
        tally.count(key, RELEASE, row.release, step)
    if row.release is not None and row.may_be and not row.control:
        # A test on an unknown tape counts for each thing that the tape may be, in proportion.
        for (adhesive, stage, carrier), share in shares_of(row.may_be):
            part = (adhesive, stage, carrier, row.method, row.liquid)
            tally.count(part, PART, row.release, step * share)


def count_harm(tally: Tally, row: Row, step: int) -> None:
    for medium, grade in row.harm_looks:
        tally.count((medium, row.paper, row.method, row.liquid), HARM, grade, step)


def _apply_changes(conn: sqlite3.Connection, touched: set[str], compiled: Compiled, tally: Tally) -> None:
    """Re-derive each test that an amendment or withdrawal points at."""

    def is_test(record_id: str) -> bool:
        return conn.execute("SELECT 1 FROM test WHERE id = ?", (record_id,)).fetchone() is not None

    # Sorted, so that the rows are put in the same order whatever order the set has.
    for root in sorted(set(roots_of(touched, changes_of(conn), is_test).values())):
        old = Row(*conn.execute(f"SELECT {TEST_COLUMNS} FROM test WHERE id = ?", (root,)).fetchone())
        new, parts = effective(conn, old, compiled)
        # Take out, put in: sums then need no reading of the other tests in the same cell.
        count_row(tally, old, -1)
        count_row(tally, new, 1)
        # What was withdrawn was not tested, so it is proposed by nothing.
        if old.state != WITHDRAWN:
            tally.use(old.liquid, _stored_parts(conn, tally, old.liquid), -1)
        if new.state != WITHDRAWN:
            tally.use(new.liquid, parts, 1)
        # DELETE and INSERT, because the amendment may have changed any of the columns.
        conn.execute("DELETE FROM test WHERE id = ?", (root,))
        conn.execute(f"INSERT INTO test ({TEST_COLUMNS}) VALUES ({', '.join('?' * len(new))})", new)


def _stored_parts(conn: sqlite3.Connection, tally: Tally, liquid: str) -> dict[str, float]:
    if liquid in tally.blends:
        return tally.blends[liquid][0]
    row = conn.execute("SELECT parts FROM blend WHERE liquid = ?", (liquid,)).fetchone()
    return stored_parts(row[0]) if row else {liquid: 1.0}


def effective(conn: sqlite3.Connection, old: Row, compiled: Compiled) -> tuple[Row, dict[str, float]]:
    """The test after all its amendments, as a row, and its parts."""
    current = fold(lines_about(conn, old.id)).tests[old.id]
    parts = plain_parts(current.body.parts)
    row = row_of(current.line, current.body, parts, (old.file, old.offset, old.length), compiled.tapes)
    return row._replace(state=state_of(current)), parts


class Clash(Exception):
    """A line has the id of a record that says something else."""


def _same_or_clash(conn: sqlite3.Connection, table: str, line: Line | None) -> None:
    """A repeat of a record is no news. Raises Clash if the record of this id says something else."""
    if line is None:
        return
    row = conn.execute(f"SELECT file, offset, length FROM {table} WHERE id = ?", (line.id,)).fetchone()
    there = line_at(conn, *row) if row else None
    # A line that cannot be read back may say anything: then the whole book decides.
    if there is None or content(there) != content(line):
        raise Clash(line.id)


def _passed_over(paths: Sequence[Path]) -> frozenset[Spot]:
    """The lines of these files that do not count because another of their id was written first."""
    best: dict[str, tuple[tuple[object, ...], Spot]] = {}
    against: Contested = frozenset().union(*(contested(folder) for folder in {path.parent for path in paths}))
    lost: set[Spot] = set()
    for path in paths:
        for read in read_file(path):
            if read.line is None:
                continue
            spot = (str(path), read.offset)
            # Contested ones last, then by content: any machine with the same lines ranks them alike.
            rank = ((is_contested(read.line, against), content(read.line)), read.line.prev)
            known = best.get(read.line.id)
            if known is None:
                best[read.line.id] = (rank, spot)
            # The same content twice is a repeat and no clash: files that were merged share lines.
            elif rank[0] != known[0][0]:
                first, later = sorted((known, (rank, spot)))
                best[read.line.id] = first
                lost.add(later[1])
    return frozenset(lost)
