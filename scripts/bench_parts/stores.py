"""The budgets of what lies on the disk: finding names, deriving the index, adding a record."""

from __future__ import annotations

import json
import os
import sqlite3
import time
from pathlib import Path

from kb.book.append import append
from kb.book.files import files
from kb.desk.keep import rebuild
from kb.desk.materials.lookup import find
from kb.desk.studio import Studio
from scripts.bench_parts.books import BENCH, Writer
from scripts.bench_parts.measure import Case, Result, Spread, ratio, side_by_side, spread, timed
from scripts.bench_parts.names import some_names
from scripts.bench_parts.stage import Stage

TYPED = ("isopropanol", "celofane tap yelow", "67-64-1", "natural rubber")
BASE_COLUMNS = (
    *("id", "at", "who", "bench", "kind", "sheet", "adhesive", "stage", "carrier", "medium", "paper"),
    *("liquid", "method", "release", "harm"),
)


def finding(stage: Stage) -> list[Result]:
    """Every key stroke of a few words, with and without mistakes, beside a scan of all names in memory."""
    from rapidfuzz import fuzz, process

    count = stage.sizes.names
    studio = Studio(stage.with_names(count))
    names = some_names(count)
    strokes = [word[:end] for word in typed_words(count) for end in range(1, len(word) + 1)]
    rounds = 3 if stage.sizes.questions > 5 else 1
    costs: dict[str, list[float]] = {stroke: [] for stroke in strokes}
    scans: list[float] = []
    find(studio, "acetone")
    for _ in range(rounds):
        for number, stroke in enumerate(strokes):
            started = time.perf_counter()
            find(studio, stroke)
            middle = time.perf_counter()
            costs[stroke].append(middle - started)
            if number % 10 == 0:
                process.extract(stroke, names, scorer=fuzz.WRatio, limit=20)
                scans.append(time.perf_counter() - middle)
    studio.close()
    each = {stroke: spread(values).middle for stroke, values in costs.items()}
    slowest = sorted(each, key=lambda stroke: each[stroke])
    high = each[slowest[round(0.95 * (len(slowest) - 1))]]
    parts = {
        "middle stroke": (spread(list(each.values())), "s"),
        f"slowest stroke ({slowest[-1]!r})": (
            Spread(each[slowest[-1]], min(costs[slowest[-1]]), max(costs[slowest[-1]])),
            "s",
        ),
        "scan of all names in memory": (spread(scans), "s"),
    }
    value = Spread(high, each[slowest[len(slowest) // 2]], each[slowest[-1]])
    name = f"fuzzy find over {count:,} names, 95 of 100 key strokes"
    return [Result("find", name, value, 0.030, "s", parts, "beside the value: middle and slowest stroke")]


def typed_words(count: int) -> list[str]:
    """What is typed: words with and without mistakes, and a few of that many names without a letter."""
    names = some_names(count)
    some = names[:: max(1, len(names) // 4)][:4]
    return [*TYPED, *(name[: len(name) // 2] + name[len(name) // 2 + 1 :] for name in some)]


def rebuilding(stage: Stage) -> list[Result]:
    """Deriving the index, less the share of the catalogue, against reading and inserting the same lines."""
    count = stage.sizes.rebuilt
    full, empty = Studio(stage.with_book(count)), Studio(stage.empty())
    book = files(full.book_dir)
    found = side_by_side(
        {
            "whole rebuild": timed(lambda: rebuild(full)),
            "catalogue alone": timed(lambda: rebuild(empty)),
            "json.loads and executemany": lambda: _plain(book, stage.folder / "plain.db"),
        },
        stage.sizes.rebuilds,
    )
    full.close()
    empty.close()
    pairs = zip(found["whole rebuild"], found["catalogue alone"], strict=True)
    book_part = [max(whole - alone, 1e-9) for whole, alone in pairs]
    parts = {name: (spread(values), "s") for name, values in found.items()}
    value = ratio(book_part, found["json.loads and executemany"])
    return [Result("rebuild", f"index rebuild, {count:,} book records", value, 2.5, "", parts)]


def _plain(book: list[Path], target: Path) -> float:
    """What anyone would write who wanted the tests of all pieces in a table."""
    for suffix in ("", "-wal", "-shm"):
        Path(f"{target}{suffix}").unlink(missing_ok=True)
    started = time.perf_counter()
    conn = sqlite3.connect(target)
    conn.execute("PRAGMA journal_mode=WAL")
    conn.execute("PRAGMA synchronous=NORMAL")
    columns = ", ".join(BASE_COLUMNS[1:])
    conn.execute(f"CREATE TABLE test (id TEXT PRIMARY KEY, {columns}) WITHOUT ROWID")
    marks = ", ".join("?" * len(BASE_COLUMNS))
    with conn:
        for piece in book:
            with piece.open("rb") as handle:
                rows = (_row(json.loads(line)) for line in handle)
                conn.executemany(f"INSERT INTO test VALUES ({marks})", rows)
    conn.close()
    return time.perf_counter() - started


def _row(line: dict[str, object]) -> tuple[object, ...]:
    body = line["body"]
    assert isinstance(body, dict)
    harm = body.get("harm")
    return (
        *(line[name] for name in BASE_COLUMNS[:5]),
        *(body.get(name, "") for name in BASE_COLUMNS[5:11]),
        json.dumps(body.get("parts")),
        body.get("method", ""),
        body.get("release"),
        max(harm.values()) if harm else None,
    )


def appending(stage: Stage) -> list[Result]:
    """One record, kept when the call returns, against one write and fsync of the same bytes."""
    book = stage.folder / "append" / "book"
    book.mkdir(parents=True)
    lines = [json.loads(raw) for raw in Writer(stage.compiled).lines(60)]
    bodies = [line["body"] for line in lines if line["kind"] == "test"]
    raw = b"x" * (len(json.dumps(lines[0])) - 1) + b"\n"
    plain = os.open(book.parent / "plain", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    turn = iter(range(10**9))

    def record() -> float:
        body = bodies[next(turn) % len(bodies)]
        started = time.perf_counter()
        append(book, bench=BENCH, who="AB", kind="test", body=body)
        return time.perf_counter() - started

    def write() -> None:
        os.write(plain, raw)
        os.fsync(plain)

    def whole() -> None:
        handle = os.open(book.parent / "plain", os.O_WRONLY | os.O_APPEND)
        os.write(handle, raw)
        os.fsync(handle)
        os.close(handle)

    cases: dict[str, Case] = {
        "append": record,
        "write and fsync": timed(write),
        "open, write, fsync, close": timed(whole),
    }
    side_by_side(cases, 2)
    found = side_by_side(cases, stage.sizes.appends)
    os.close(plain)
    parts = {name: (spread(values), "s") for name, values in found.items()}
    value = ratio(found["append"], found["write and fsync"])
    return [Result("append", "append of one record", value, 1.5, "", parts)]
