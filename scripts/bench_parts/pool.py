"""The counts of many other studios: what they add to the cost of an answer, and to room and memory."""

from __future__ import annotations

import itertools
import shutil
import time
from datetime import date
from functools import partial
from pathlib import Path

from kb.desk.choose.choose import choose
from kb.desk.pool.pool import add
from kb.desk.studio import Studio
from scripts.bench_parts.budgets import BARE, BARE_NAME, memory_of, questions
from scripts.bench_parts.measure import Case, Result, Spread, ratio, side_by_side, spread, timed, warmed
from scripts.bench_parts.pool_sim import simulate_pool
from scripts.bench_parts.stage import Stage
from scripts.bench_parts.typical import TYPICAL

ADDED = date(2026, 1, 1)
WITH, WITHOUT = "with the pool", "without"


def pooling(stage: Stage) -> list[Result]:
    """One studio with the pool and the same without, asked in turns."""
    sizes = stage.sizes
    roots = {WITHOUT: stage.with_book(sizes.middle_book)}
    roots[WITH], behind = _pooled(stage, roots[WITHOUT])
    what = f"{sizes.pooled_tests:,} pooled tests of {sizes.pooled_studios:,} studios"
    answers = _answers(stage, roots)
    commands = _commands(stage, roots)
    room = side_by_side({name: memory_of(stage, root) for name, root in roots.items()}, sizes.memories)
    return [
        Result(
            "pool",
            f"choose, {what} against none",
            ratio(answers[WITH], answers[WITHOUT]),
            None,
            "",
            {**{name: (spread(values), "s") for name, values in answers.items()}, **behind},
            f"own book: {sizes.middle_book:,} records",
        ),
        Result(
            "pool-command",
            f"benchleaf choose, {what}, warm index",
            ratio(commands[WITH], commands[BARE_NAME]),
            5.0,
            "",
            {name: (spread(values), "s") for name, values in commands.items()},
        ),
        Result(
            "pool-memory",
            f"resident memory, {what} against none",
            ratio(room[WITH], room[WITHOUT]),
            None,
            "",
            {name: (spread(values), "B") for name, values in room.items()},
        ),
    ]


def _pooled(stage: Stage, plain: Path) -> tuple[Path, dict[str, tuple[Spread, str]]]:
    """A copy of a studio that took the pool in, and what that cost."""
    files = simulate_pool(
        stage.folder / "counts", stage.sizes.pooled_studios, stage.sizes.pooled_tests, compiled=stage.compiled
    )
    root = stage.folder / "pooled"
    shutil.copytree(plain, root)
    studio = Studio(root)
    started = time.perf_counter()
    add(studio, files, ADDED)
    middle = time.perf_counter()
    studio.refresh()
    ended = time.perf_counter()
    studio.close()
    grown = (root / "index.db").stat().st_size - (plain / "index.db").stat().st_size
    stage.say(
        f"{len(files):,} counts files: added in {middle - started:.1f} s, read in {ended - middle:.1f} s"
    )
    return root, {
        "adding all files": (_once(middle - started), "s"),
        "taking them into the index": (_once(ended - middle), "s"),
        "more in the index file": (_once(float(grown)), "B"),
    }


def _once(value: float) -> Spread:
    return Spread(value, value, value)


def _answers(stage: Stage, roots: dict[str, Path]) -> dict[str, list[float]]:
    asked = questions(stage.compiled)
    studios = {name: Studio(root) for name, root in roots.items()}

    def case(studio: Studio) -> Case:
        choose(studio, asked[0], limit=12)
        turn = itertools.count()
        return timed(lambda: choose(studio, asked[next(turn) % len(asked)], limit=12))

    found = side_by_side({name: case(one) for name, one in studios.items()}, stage.sizes.questions)
    for studio in studios.values():
        studio.close()
    return found


def _commands(stage: Stage, roots: dict[str, Path]) -> dict[str, list[float]]:
    words = ["choose", *TYPICAL["choose"]]
    cases = {
        name: timed(partial(stage.run, [*stage.command, "--studio", str(root), *words]))
        for name, root in roots.items()
    }
    cases[BARE_NAME] = timed(partial(stage.run, BARE))
    return warmed(cases, max(1, stage.sizes.starts // 2))
