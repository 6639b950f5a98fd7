"""All lines of some book files, laid out on disk so that each record can be made up by itself.

A book of any length needs the same memory: where each line stands is kept in a private database that
SQLite removes by itself, and a record is folded from its own line and those that point at it.
"""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from kb.book.check import decode_amend, decode_record, decode_withdraw
from kb.book.contested import contested
from kb.book.fold import Change, Fold, fold, say, union
from kb.book.kinds.table import KINDS
from kb.book.line import decode_line
from kb.book.read import Watch, Way, raw_lines, read_of, unwatched
from kb.book.storage import CLOSED_ON_EXEC, pread
from kb.model.record import Line

CURRENT, AMENDED, WITHDRAWN, UNREAD = "current", "amended", "withdrawn", "unread"
STATES = (CURRENT, AMENDED, WITHDRAWN, UNREAD)
_BATCH = 5_000
MOST_OPEN = 16
"""Book files open at a time: a long book has hundreds of pieces, and some systems let a program open 250."""
_TABLES = """
PRAGMA cache_size = -8000;
CREATE TABLE line (id TEXT, kind TEXT, at TEXT, who TEXT, bench TEXT, file INTEGER, number INTEGER,
    offset INTEGER, length INTEGER, sha TEXT, of TEXT, why TEXT);
CREATE TABLE damage (file TEXT, number INTEGER, offset INTEGER, length INTEGER, problem TEXT);
CREATE TABLE state (id TEXT PRIMARY KEY, state TEXT) WITHOUT ROWID;
CREATE TABLE change_state (id TEXT PRIMARY KEY, root TEXT, in_force INTEGER, note TEXT) WITHOUT ROWID;
"""


class Standing(NamedTuple):
    """A record of a known kind as it stands, and as it was first written."""

    line: Line
    body: Any
    first: Any
    state: str
    why: str
    """The reason of the withdrawal, if it is withdrawn."""


class Listed(NamedTuple):
    """One record of any kind, and where it stands. ``root`` and what follows is told of changes only."""

    id: str
    at: str
    who: str
    bench: str
    kind: str
    state: str
    file: str
    number: int
    sha256: str
    of: str
    root: str
    in_force: bool
    note: str


class Other(NamedTuple):
    """A record that no table holds: of a kind that is not known here, or damaged in its body."""

    line: Line
    state: str
    note: str


class Damage(NamedTuple):
    """Bytes in a book file that are no record. ``number`` counts lines from 1."""

    file: str
    number: int
    offset: int
    length: int
    problem: str


class Walk:
    """The lines of book files. Use as a context; the files must not change meanwhile."""

    def __init__(self, paths: Iterable[Path], watch: Watch = unwatched) -> None:
        self.paths = tuple(paths)
        self._way = Way(self.paths, watch)
        self._conn = sqlite3.connect("")
        self._open: dict[int, int] = {}
        """Descriptors by the number of the file, the one used last at the end."""
        self._inodes: list[int] = []
        try:
            self._conn.executescript(_TABLES)
            for number, path in enumerate(self.paths):
                self._inodes.append(path.stat().st_ino)
                self._load(number, path)
            self._conn.execute("CREATE INDEX line_id ON line(id)")
            self._settle_repeats()
            self._conn.execute("CREATE INDEX line_of ON line(of) WHERE of IS NOT NULL")
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Walk:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the files and the database back."""
        self._conn.close()
        while self._open:
            os.close(self._open.popitem()[1])

    def standing(self, kind: str) -> Iterator[Standing]:
        """The records of a kind that can be read, in the order of ids. What became of them is kept."""
        sql = (
            "SELECT id, file, offset, length, EXISTS (SELECT 1 FROM line AS other WHERE other.of = line.id) "
            "FROM line WHERE kind = ? ORDER BY id"
        )
        for id, file, offset, length, changed in self._conn.execute(sql, (kind,)):
            line = self._line(file, offset, length)
            try:
                first = decode_record(line)
            except ValueError as error:
                self._note(id, UNREAD)
                self._settle(id, line, say(error))
                continue
            if changed:
                yield self._folded(line, first)
            else:
                yield Standing(line, first, first, CURRENT, "")

    def others(self) -> Iterator[Other]:
        """Records that no table holds, in the order of ids. Read after all of `standing`."""
        marks = ", ".join("?" * len(KINDS))
        sql = (
            f"SELECT line.id, file, offset, length, why FROM line LEFT JOIN state USING (id) "
            f"WHERE (kind NOT IN ({marks}, 'amend', 'withdraw') OR state = 'unread' OR why <> '') "
            "ORDER BY line.id"
        )
        for id, file, offset, length, why in self._conn.execute(sql, tuple(KINDS)):
            line = self._line(file, offset, length)
            if line.kind in KINDS:
                note = self._conn.execute("SELECT note FROM change_state WHERE id = ?", (id,)).fetchone()
                state = self._conn.execute("SELECT state FROM state WHERE id = ?", (id,)).fetchone()
                yield Other(line, state[0] if state else CURRENT, note[0] if note else "")
            elif line.kind in {"amend", "withdraw"}:
                yield Other(line, UNREAD, why)
            else:
                book = self._settle(id, line, "")
                if id in book.withdrawn:
                    self._note(id, WITHDRAWN)
                state = WITHDRAWN if id in book.withdrawn else UNREAD
                yield Other(line, state, "This version does not know this kind of record.")

    def listed(self, *, changes: bool = False) -> Iterator[Listed]:
        """All records or only changes, in the order of ids. Read after `standing` and `others`."""
        if changes:
            self._settle_rest()
        sql = (
            "SELECT line.id, at, who, bench, kind, "
            "coalesce(state, CASE WHEN why <> '' OR kind NOT IN ({known}) THEN 'unread' ELSE 'current' END), "
            "file, number, sha, coalesce(of, ''), "
            "coalesce(root, ''), coalesce(in_force, 0), coalesce(note, '') "
            "FROM line LEFT JOIN state USING (id) LEFT JOIN change_state USING (id) {where} ORDER BY line.id"
        )
        known = ", ".join(f"'{kind}'" for kind in (*KINDS, "amend", "withdraw"))
        where = "WHERE kind IN ('amend', 'withdraw') AND why = ''" if changes else ""
        for row in self._conn.execute(sql.format(known=known, where=where)):
            yield Listed._make((*row[:6], self.paths[row[6]].name, *row[7:11], bool(row[11]), row[12]))

    def change_line(self, id: str) -> Line:
        row = self._conn.execute("SELECT file, offset, length FROM line WHERE id = ?", (id,)).fetchone()
        return self._line(*row)

    def here(self, id: str) -> bool:
        """Whether a record has this id."""
        return self._conn.execute("SELECT 1 FROM line WHERE id = ?", (id,)).fetchone() is not None

    def damage(self) -> Iterator[Damage]:
        """Bytes that are no record, in the order of files."""
        yield from map(Damage._make, self._conn.execute("SELECT * FROM damage ORDER BY file, number"))

    def latest(self) -> str:
        """The time of the newest record as it is written in the book; empty if there is none."""
        return str(self._conn.execute("SELECT coalesce(max(at), '') FROM line").fetchone()[0])

    def _load(self, file: int, path: Path) -> None:
        rows: list[tuple[Any, ...]] = []
        for number, raw in enumerate(raw_lines(path), 1):
            self._way.went(raw.length)
            line, _, _, _, problem = read_of(raw)
            if line is None:
                values = (path.name, number, raw.offset, raw.length, problem)
                self._conn.execute("INSERT INTO damage VALUES (?, ?, ?, ?, ?)", values)
                continue
            of, why = _target(line)
            head = (line.id, line.kind, line.at, line.who, line.bench)
            rows.append((*head, file, number, raw.offset, raw.length, raw.digest, of, why))
            if len(rows) >= _BATCH:
                self._store(rows)
        self._store(rows)

    def _store(self, rows: list[tuple[Any, ...]]) -> None:
        self._conn.executemany(f"INSERT INTO line VALUES ({', '.join('?' * 12)})", rows)
        rows.clear()

    def _settle_repeats(self) -> None:
        """Of lines with the same id keep the one that counts, by the rule of the book itself."""
        against = contested(self.paths[0].parent) if self.paths else frozenset()
        repeated = self._conn.execute("SELECT id FROM line GROUP BY id HAVING count(*) > 1").fetchall()
        for (id,) in repeated:
            rows = self._conn.execute(
                "SELECT rowid, file, offset, length FROM line WHERE id = ? ORDER BY file, number", (id,)
            ).fetchall()
            lines = [self._line(*row[1:]) for row in rows]
            kept = union(lines, against)[0][0]
            winner = next(row[0] for row, line in zip(rows, lines, strict=True) if line is kept)
            self._conn.execute("DELETE FROM line WHERE id = ? AND rowid <> ?", (id, winner))

    def _line(self, file: int, offset: int, length: int) -> Line:
        return decode_line(pread(self._opened(file), length, offset).rstrip(b"\n"))

    def _opened(self, file: int) -> int:
        fd = self._open.pop(file, -1)
        if fd < 0:
            path = self.paths[file]
            fd = os.open(path, os.O_RDONLY | CLOSED_ON_EXEC)
            # Another file under the name holds other records at these places.
            if os.fstat(fd).st_ino != self._inodes[file]:
                os.close(fd)
                raise OSError(errno.ESTALE, "it was replaced while it was read", str(path))
            if len(self._open) >= MOST_OPEN:
                os.close(self._open.pop(next(iter(self._open))))
        self._open[file] = fd
        return fd

    def _below(self, id: str) -> list[Line]:
        """The changes that point at a record, at one of those, and so on."""
        found: dict[str, Line] = {}
        queue = [id]
        while queue:
            sql = "SELECT id, file, offset, length FROM line WHERE of = ?"
            for row in self._conn.execute(sql, (queue.pop(),)).fetchall():
                if row[0] not in found:
                    found[row[0]] = self._line(*row[1:])
                    queue.append(row[0])
        return list(found.values())

    def _folded(self, line: Line, first: Any) -> Standing:
        below = self._below(line.id)
        book = fold([line, *below])
        now = book.current(line.kind, line.id)
        state = WITHDRAWN if now.withdrawn else AMENDED if now.history else CURRENT
        if state != CURRENT:
            self._note(line.id, state)
        self._keep_changes(line.id, below, book, now.history)
        return Standing(line, now.body, first, state, now.why)

    def _settle(self, id: str, line: Line, note: str) -> Fold:
        """Fold a record that no table holds; keeps what became of its changes."""
        below = self._below(id)
        book = fold([line, *below])
        self._keep_changes(id, below, book, ())
        if note:
            self._keep_change(id, "", in_force=False, note=note)
            for one in below:
                if one.kind == "amend":
                    said = "The record that it is about cannot be read."
                    self._keep_change(one.id, id, in_force=False, note=said)
        return book

    def _settle_rest(self) -> None:
        """Changes that lead to no record here, and those that lead round in a circle."""
        sql = (
            "SELECT file, offset, length FROM line LEFT JOIN change_state USING (id) "
            "WHERE kind IN ('amend', 'withdraw') AND why = '' AND change_state.id IS NULL"
        )
        lines = [self._line(*row) for row in self._conn.execute(sql).fetchall()]
        self._keep_changes("", lines, fold(lines), ())

    def _keep_changes(self, root: str, lines: list[Line], book: Fold, history: Iterable[Change]) -> None:
        told = {one.line.id: one for one in history}
        for line in lines:
            if line.id in book.withdrawn:
                self._note(line.id, WITHDRAWN)
            change = told.get(line.id)
            if change is not None:
                self._keep_change(line.id, root, in_force=change.in_force, note=change.note)
                continue
            note = book.troubles.get(line.id, "")
            if not note and line.id in book.withdrawn:
                note = f"Withdrawn: {book.withdrawn[line.id]}"
            if not note and not root:
                note = "The record that it is about is not here (yet)."
            self._keep_change(line.id, root, in_force=not note, note=note)

    def _keep_change(self, id: str, root: str, *, in_force: bool, note: str) -> None:
        values = (id, root, int(in_force), note)
        self._conn.execute("INSERT OR REPLACE INTO change_state VALUES (?, ?, ?, ?)", values)

    def _note(self, id: str, state: str) -> None:
        self._conn.execute("INSERT OR REPLACE INTO state VALUES (?, ?)", (id, state))


def _target(line: Line) -> tuple[str | None, str]:
    """What a change points at, and why it cannot be read; None and empty for other records."""
    try:
        if line.kind == "amend":
            return decode_amend(line).of, ""
        if line.kind == "withdraw":
            return decode_withdraw(line).of, ""
    except ValueError as error:
        return None, say(error)
    return None, ""
