"""The budgets of processes and of answers: first paint, commands, the ranking, memory."""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from kb.desk.choose.choose import choose
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from kb.model.question import Question
from scripts.bench_parts import bare_app
from scripts.bench_parts.measure import Case, Result, Spread, ratio, side_by_side, spread, timed, warmed
from scripts.bench_parts.paint import painted
from scripts.bench_parts.stage import Stage
from scripts.bench_parts.typical import TYPICAL, WRITING, command

BARE_NAME = "import sqlite3, json"
BARE = [sys.executable, "-c", BARE_NAME]
Parts = dict[str, tuple[Spread, str]]
OFTEN = ("choose", "find", "test list")
MEMORY = """
import sys
from pathlib import Path
from kb.desk.choose.choose import choose
from kb.desk.studio import Studio
from kb.model.question import Question
studio = Studio(Path(sys.argv[1]))
choose(studio, Question(adhesive=sys.argv[2], medium=sys.argv[3]))
try:
    status = Path("/proc/self/status").read_text()
    print(int(status.split("VmRSS:")[1].split()[0]) * 1024)
except OSError:
    import resource
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024))
"""


def first_paint(stage: Stage) -> list[Result]:
    """From the command to the first whole picture, against an app that has one label to draw."""
    stage.demo()
    words, opened = home_words()
    app, bare = [*stage.command, "--demo"], [sys.executable, bare_app.__file__]
    worked: dict[str, list[float]] = {}

    def case(name: str, command: list[str], shown: list[str]) -> Case:
        def once() -> float:
            seen = painted(command, shown, stage.environment)
            worked.setdefault(name, []).append(seen.processor_s)
            return seen.took_s

        return once

    cases = {
        "home screen": case("home screen", app, words),
        "home screen with its studio open": case("home screen with its studio open", app, opened),
        "one label": case("one label", bare, [bare_app.WORDS]),
    }
    found = side_by_side(cases, stage.sizes.paints)
    name = "first paint of the home screen, demo studio, warm index"
    results = [_paint_result(name, found)]
    if all(min(values) for values in worked.values()):
        # Other work on the machine falls less on this than on the time by the wall.
        results.append(_paint_result(f"{name}: time of the processor", worked))
    return results


def _paint_result(name: str, found: dict[str, list[float]]) -> Result:
    parts = {one: (spread(values), "s") for one, values in found.items()}
    return Result("paint", name, ratio(found["home screen"], found["one label"]), 1.3, "", parts)


def home_words() -> tuple[list[str], list[str]]:
    """What shows that the home screen is whole, and what shows that the demo studio is open.

    The first is the hint under the blanks and the end of the first line.
    """
    from kb.tui.screens.choose.home import HINT
    from kb.tui.widgets.frame import INVENTED, LEAST, LINE

    last = [word for _, key, word, _ in LINE if key not in LEAST][-1]
    return [" ".join(HINT.split()[:4]), last], [INVENTED]


def commands(stage: Stage) -> list[Result]:
    """Whole commands, from the shell's side, against the least that Python can do with what they use.

    Three that stand for the others are measured often, all others a few times.
    """
    stage.demo()
    few = max(1, stage.sizes.starts // 3)
    often = _against_bare(stage, OFTEN, stage.sizes.starts)
    others = [name for name in TYPICAL if name not in OFTEN][: stage.sizes.others]
    seldom = _against_bare(stage, others, few)
    # Apart, for what one command writes the next one takes into the index.
    seldom |= _against_bare(stage, list(WRITING), few)
    results = []
    for name, (value, parts) in often.items():
        results.append(Result("command", f"benchleaf {name}, warm index", value, 5.0, "", parts))
    order = sorted(seldom, key=lambda name: -seldom[name][0].middle)
    value, parts = seldom[order[0]]
    note = "then " + ", ".join(f"{name} {seldom[name][0].middle:.2f}" for name in order[1:])
    title = f"benchleaf {order[0]}, warm index, the slowest of {len(order)} others"
    return [*results, Result("command-slowest", title, value, 5.0, "", parts, note)]


def _against_bare(stage: Stage, names: Sequence[str], rounds: int) -> dict[str, tuple[Spread, Parts]]:
    """For each command the ratio, and the figures behind it."""
    cases = {name: timed(partial(stage.run, [*stage.command, "--demo", *command(name)])) for name in names}
    cases[BARE_NAME] = timed(partial(stage.run, BARE))
    found = warmed(cases, rounds)
    bare = found[BARE_NAME]
    return {
        name: (ratio(found[name], bare), {one: (spread(found[one]), "s") for one in (name, BARE_NAME)})
        for name in names
    }


def ranking(stage: Stage) -> list[Result]:
    """One question to books of different length: the cost follows the catalogue, not the book."""
    sizes = stage.sizes
    lengths = [sizes.long_book, sizes.middle_book, sizes.short_book]
    studios = {f"{count:,} records": Studio(stage.with_book(count)) for count in lengths}
    asked = questions(stage.compiled)
    for studio in studios.values():
        choose(studio, asked[0], limit=12)
    turn: dict[str, int] = {}

    def case(name: str, studio: Studio, asked: Sequence[Question]) -> Case:
        def once() -> float:
            question = asked[turn.setdefault(name, 0) % len(asked)]
            turn[name] += 1
            # Of the processor: an answer waits for nothing, and what else a machine does is not its cost.
            started = time.process_time()
            choose(studio, question, limit=12)
            return time.process_time() - started

        return once

    cases = {name: case(name, studio, asked) for name, studio in studios.items()}
    # Apart, for the questions of a day share their tapes and media, and what follows from those is kept.
    first = f"{lengths[0]:,} records, of a tape and media that were not asked of"
    fresh = Studio(stage.with_book(lengths[0]))
    cases[first] = case(first, fresh, questions(stage.compiled, sizes.questions + len(asked))[len(asked) :])
    choose(fresh, asked[0], limit=12)
    found = side_by_side(cases, sizes.questions)
    fresh.close()
    counts = {
        name: studio.index.conn.execute("SELECT count(*) FROM test").fetchone()[0]
        for name, studio in studios.items()
    }
    for studio in studios.values():
        studio.close()
    long, middle, short = studios
    parts = {name: (spread(values), "s") for name, values in found.items()}
    note = f"tests in the long book after corrections: {counts[long]:,}; every book holds the same blends"
    against_short, against_middle = ratio(found[long], found[short]), ratio(found[long], found[middle])
    return [
        Result("choose", f"choose, {long} against {short}", against_short, 1.2, "", parts, note),
        Result("choose", f"choose, {long} against {middle}", against_middle, 1.2, "", {}),
        Result("choose-absolute", f"choose, {long}, processor", spread(found[long]), 0.025, "s", {}),
        Result("choose-absolute", f"choose, {first}, processor", spread(found[first]), 0.025, "s", {}),
    ]


def questions(compiled: Compiled, count: int = 8) -> list[Question]:
    """Questions that differ in everything; the last ones leave something open."""
    adhesives, stages, carriers = (
        sorted(compiled.adhesives),
        sorted(compiled.stages),
        sorted(compiled.carriers),
    )
    media, papers = sorted(compiled.media), sorted(compiled.papers)
    found = []
    for number in range(count):
        open_ended = number >= count - 2
        found.append(
            Question(
                adhesive=adhesives[number * 5 % len(adhesives)],
                stage=stages[number % len(stages)],
                carrier="" if open_ended else carriers[number * 3 % len(carriers)],
                medium=media[number * 7 % len(media)],
                paper="" if open_ended else papers[number * 2 % len(papers)],
            )
        )
    return found


def memory(stage: Stage) -> list[Result]:
    """Resident memory of a program that opened the studio and answered one question."""
    long, empty = stage.with_book(stage.sizes.long_book), stage.empty()
    cases = {"long book": memory_of(stage, long), "empty studio": memory_of(stage, empty)}
    found = side_by_side(cases, stage.sizes.memories)
    value = ratio(found["long book"], found["empty studio"])
    parts = {name: (spread(values), "B") for name, values in found.items()}
    name = f"resident memory, {stage.sizes.long_book:,} records against an empty studio"
    return [Result("memory", name, value, 1.3, "", parts)]


def memory_of(stage: Stage, root: Path) -> Case:
    """Measures the bytes of one program that opens the studio and answers one question."""
    asked = questions(stage.compiled)[0]
    program = [sys.executable, "-c", MEMORY, str(root), asked.adhesive, asked.medium]
    return lambda: float(stage.run(program))
