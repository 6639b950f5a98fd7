"""docs/bench.md: one run for readers, and what is known of the budgets that it missed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from scripts.bench_parts.measure import Curve, Result
from scripts.bench_parts.report import allowed, figure, growth_rows, shown

PICTURE = "bench.svg"
UNDER_LOAD = "## Under load"


class Known(NamedTuple):
    """Why a budget may be missed, and what is to be done."""

    reason: str
    plan: str


KNOWN: dict[str, Known] = {
    "paint": Known(
        "what differs from one label is loading and laying out the home screen; the studio is opened later",
        "see `scripts/bench imports` for what the first paint loads, and put off what it does not draw",
    ),
    "command": Known(
        "most of a command is loading: Python itself, the record library and what that library asks for",
        "see `scripts/bench imports`; import inside the function that uses it what not every answer needs",
    ),
    "command-slowest": Known(
        "the time goes into computing and not into loading: `blend` bounds every pair of the liquids at hand "
        "and asks of each whether it mixes, `bath` solves the equilibrium again for each step of its drift",
        "`bath`: keep only what charge and carbon need while it searches; `blend`: keep which pairs part",
    ),
    "append": Known(
        "profiled: 0.02 ms of our own where one record follows another without waiting, 0.035 ms after an "
        "fsync, which leaves the processor cold (check of the record a third, looking for the file, what "
        "follows it and its end, id), beside one that a disk answers within 0.06 to 0.2 ms; on one that "
        "takes milliseconds the ratio falls to 1",
        "none: the look is what notices a torn line, and the check what keeps a bad record out",
    ),
    "rebuild": Known(
        "where there are two processors two processes share it: one reads and checks each line and adds up "
        "harm (2.2 s of the processor for 100,000 records), the other stores rows and adds up release (3.1 "
        "s, of which 0.9 s is the database itself); beside other busy programs they share one processor",
        "the invented book has nearly a cell for each test, which real books do not; next is what the other "
        "process could take over of release, and the 180 microseconds of each correction",
    ),
    "choose": Known(
        "the short book has tested few liquids, so fewer of its sums are there to be unpacked and fewer "
        "counts are put into words; from 1,000 records on it no longer grows",
        "none needed while the ratio against 1,000 records is kept",
    ),
    "pool-command": Known(
        "sums of the pool are read and unpacked beside those of the own book, which doubles the computing "
        "within the command, however many studios there are",
        "read only those sums of the pool that bear on the question",
    ),
    "choose-absolute": Known(
        "profiled, of a tape and media not asked of before: a quarter is reading and adding up sums, a "
        "quarter the likenesses of each liquid, a sixth weighing, a sixth saying why; where nothing milder "
        "is free with a carrier on, the same question is asked a second time without it",
        "arrays would halve it, but loading their library costs a command more than the answer does",
    ),
}
"""By the key of a result. Shown only while the budget is missed."""
UNKNOWN = Known("not looked into yet", "measure it alone on a quiet machine, then profile it")


def as_page(
    about: dict[str, str], results: Sequence[Result], curves: Sequence[Curve], text: str, took_s: float
) -> str:
    """The page, dated, with the whole printed report at its end."""
    parts = [
        "# Measurements",
        f"One run of `scripts/bench` on {about['when']}, {took_s / 60:.0f} minutes. Ratios were measured "
        "side by side in that run and carry over to another machine; times do not.",
        _table([["", ""], *([name, words] for name, words in about.items() if name != "when")]),
        "## Budgets",
        _table(
            [
                ["what", "measured, median (quartiles)", "budget", ""],
                *(
                    [
                        one.name,
                        shown(one.value, one.unit),
                        allowed(one),
                        _verdict(one),
                    ]
                    for one in results
                ),
            ]
        ),
        *_missed(results),
    ]
    if curves:
        parts += [
            "## Growth",
            f"![How costs grow with the number of tests in the book]({PICTURE})",
            _table(growth_rows(curves)),
        ]
    parts += ["## All figures", f"```text\n{text}\n```"]
    return "\n\n".join(parts) + "\n"


def with_load(page: str, about: Mapping[str, str], results: Sequence[Result]) -> str:
    """The page with what was measured under load in its own section, in place of what stood there."""
    head, _, rest = page.partition(UNDER_LOAD)
    if rest:
        rest = rest[rest.index("\n## ") + 1 :]
    else:
        head, _, rest = page.partition("## Growth")
        rest = f"## Growth{rest}"
    rows = [
        [one.name, figure(one.value.middle, one.unit), allowed(one), _verdict(one), _behind(one)]
        for one in results
    ]
    said = f"`scripts/bench load` on {about['when']}, {about['machine']}; load {about['load']}."
    table = _table([["what", "measured", "budget", "", "behind it"], *rows])
    return "\n\n".join((head.rstrip(), UNDER_LOAD, said, table, rest))


def _behind(one: Result) -> str:
    said = [f"{name} {figure(value.middle, unit)}" for name, (value, unit) in one.parts.items()]
    return "; ".join([*said, one.note] if one.note else said)


def _verdict(one: Result) -> str:
    if one.budget is None:
        return ""
    return "kept" if one.within else "**missed**"


def _missed(results: Sequence[Result]) -> list[str]:
    missed = {one.key: one for one in results if not one.within}
    if not missed:
        return []
    lines = []
    for key, one in missed.items():
        known = KNOWN.get(key, UNKNOWN)
        lines.append(f"- **{one.name}**: {known.reason}. Plan: {known.plan}.")
    return ["### Missed", "\n".join(lines)]


def _table(rows: Sequence[Sequence[str]]) -> str:
    head, *body = rows
    lines = [head, ["---"] * len(head), *body]
    return "\n".join("| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in lines)
