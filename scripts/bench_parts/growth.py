"""How costs grow with the length of the book: from a hundred own tests to a million."""

from __future__ import annotations

import itertools
import json
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from kb.book.append import append
from kb.desk.choose.choose import choose
from kb.desk.keep import rebuild, verify
from kb.desk.materials.lookup import find
from kb.desk.records.record import list_tests
from kb.desk.studio import Studio
from scripts.bench_parts.books import BENCH, Writer
from scripts.bench_parts.budgets import memory_of, questions
from scripts.bench_parts.measure import (
    Case,
    Curve,
    Spread,
    exactly,
    middle_of,
    side_by_side,
    spread,
    timed,
    warmed,
)
from scripts.bench_parts.stage import Stage
from scripts.bench_parts.stores import TYPED
from scripts.bench_parts.typical import TYPICAL, WRITING

ANSWERS, KEEPING, WHOLE_BOOK, ROOM = "Answers", "Writing one test", "The whole book", "Room"
PAGE = 50
"""Rows of the first page of the book."""
REPEATED = 10_000
"""Books up to this length are verified and rebuilt several times, longer ones once."""


def growing(stage: Stage) -> list[Curve]:
    """Every curve, books of all lengths taking turns."""
    roots = {length: stage.with_book(length) for length in stage.sizes.lengths}
    room = [
        Curve(ROOM, "book file", "B", {n: _size(root / "book") for n, root in roots.items()}),
        Curve(ROOM, "index file", "B", {n: _size(root / "index.db") for n, root in roots.items()}),
        _resident(stage, roots),
    ]
    studios = {length: Studio(root) for length, root in roots.items()}
    curves = [*_answers(stage, studios), *_additions(stage, studios)]
    for studio in studios.values():
        studio.close()
    curves += _commands(stage, roots)
    return [*curves, *_whole(stage, roots), *room]


def _size(path: Path) -> Spread:
    """Bytes of a file, or of the files in a folder."""
    files = path.iterdir() if path.is_dir() else [path]
    return exactly(float(sum(one.stat().st_size for one in files)))


def _resident(stage: Stage, roots: dict[int, Path]) -> Curve:
    cases = {length: memory_of(stage, root) for length, root in roots.items()}
    return Curve(
        ROOM, "memory of an open studio", "B", middle_of(side_by_side(cases, min(3, stage.sizes.memories)))
    )


def _answers(stage: Stage, studios: dict[int, Studio]) -> list[Curve]:
    asked = questions(stage.compiled)
    verbs: dict[str, Callable[[Studio, int], object]] = {
        "choose": lambda studio, turn: choose(studio, asked[turn % len(asked)], limit=12),
        "find": lambda studio, turn: find(studio, TYPED[turn % len(TYPED)]),
        "first page of the book": lambda studio, _: list_tests(studio, limit=PAGE),
    }
    return [
        Curve(ANSWERS, name, "s", middle_of(_in_turns(studios, verb, stage.sizes.questions)))
        for name, verb in verbs.items()
    ]


def _in_turns(
    studios: dict[int, Studio], verb: Callable[[Studio, int], object], rounds: int
) -> dict[int, list[float]]:
    def case(studio: Studio) -> Case:
        turn = itertools.count()
        return timed(lambda: verb(studio, next(turn)))

    for studio in studios.values():
        verb(studio, 0)
    return side_by_side({length: case(studio) for length, studio in studios.items()}, rounds)


def _additions(stage: Stage, studios: dict[int, Studio]) -> list[Curve]:
    """One record more, and then the index that takes it in."""
    lines = [json.loads(raw) for raw in Writer(stage.compiled).lines(60)]
    bodies = itertools.cycle([line["body"] for line in lines if line["kind"] == "test"])
    refreshed: dict[int, list[float]] = {length: [] for length in studios}

    def case(length: int, studio: Studio) -> Case:
        def once() -> float:
            started = time.perf_counter()
            append(studio.book_dir, bench=BENCH, who="AB", kind="test", body=next(bodies))
            middle = time.perf_counter()
            studio.refresh()
            refreshed[length].append(time.perf_counter() - middle)
            return middle - started

        return once

    cases = {length: case(length, studio) for length, studio in studios.items()}
    side_by_side(cases, 1)
    for values in refreshed.values():
        values.clear()
    appended = side_by_side(cases, stage.sizes.additions)
    return [
        Curve(KEEPING, "append", "s", middle_of(appended)),
        Curve(KEEPING, "refresh of the index", "s", middle_of(refreshed)),
    ]


def _commands(stage: Stage, roots: dict[int, Path]) -> list[Curve]:
    def curve(panel: str, name: str, verb: str, rounds: int) -> Curve:
        words = [*verb.split(), *(TYPICAL | WRITING)[verb]]
        cases = {
            length: timed(partial(stage.run, [*stage.command, "--studio", str(root), *words]))
            for length, root in roots.items()
        }
        return Curve(panel, name, "s", middle_of(warmed(cases, rounds)))

    return [
        curve(ANSWERS, "the command choose", "choose", max(1, stage.sizes.starts // 2)),
        curve(KEEPING, "the command test add", "test add", max(1, stage.sizes.additions // 2)),
    ]


def _whole(stage: Stage, roots: dict[int, Path]) -> list[Curve]:
    """The hash chain walked from end to end, and the index derived anew."""
    short = {n: root for n, root in roots.items() if n <= REPEATED}
    verified, rebuilt = (
        {**side_by_side({n: _opened(verb, root) for n, root in short.items()}, stage.sizes.rebuilds)}
        for verb in (verify, rebuild)
    )
    for length in roots.keys() - short.keys():
        verified[length] = [_opened(verify, roots[length])()]
        rebuilt[length] = [stage.derived_s[length]]
    return [
        Curve(WHOLE_BOOK, "verify", "s", {n: spread(verified[n]) for n in roots}),
        Curve(WHOLE_BOOK, "index derived anew", "s", {n: spread(rebuilt[n]) for n in roots}),
    ]


def _opened(verb: Callable[[Studio], object], root: Path) -> Case:
    """The verb on a studio of its own, which is closed again."""

    def case() -> float:
        studio = Studio(root)
        cost = timed(lambda: verb(studio))()
        studio.close()
        return cost

    return case
