"""What many records and many writers at once cost: memory, one more record, chained changes, questions."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import time
from pathlib import Path

from kb.book.append import append
from kb.desk.studio import Studio
from scripts.bench_parts.books import BENCH, Writer
from scripts.bench_parts.measure import Result, exactly
from scripts.bench_parts.stage import Stage
from scripts.bench_parts.typical import WRITING

MOST_BYTES, MOST_S, MOST_ANSWER_S = 120e6, 1.0, 0.5
CHAINED = 5_000
PEAK = """
import os, resource, subprocess, sys, time
started = time.perf_counter()
code = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL).returncode
took_s = time.perf_counter() - started
used = resource.getrusage(resource.RUSAGE_CHILDREN)
unit = 1 if sys.platform == "darwin" else 1024
print(code, took_s, used.ru_utime + used.ru_stime, used.ru_maxrss * unit)
"""
"""Runs a command; prints its exit code, seconds, seconds of the processor, and the peak of resident memory in
bytes: its own or that of what it starts, git above all."""


def loading(stage: Stage) -> list[Result]:
    """A book of the middle length, or with --full of the longest: verified, copied, shared, and asked."""
    count = stage.sizes.loaded
    root = stage.with_book(count)
    (hub := stage.folder / "hub.git").mkdir()
    subprocess.run(["git", "init", "-q", "--bare", str(hub)], check=True)
    results = [
        _peak(stage, f"verify, {count:,} tests", root, "verify"),
        _peak(stage, f"backup, {count:,} tests", root, "backup", str(stage.folder / "copies")),
        _peak(stage, f"share join, {count:,} tests", root, "share", "join", str(hub)),
    ]
    stage.run([*stage.command, "--studio", str(root), "test", "add", *WRITING["test add"]])
    _, took_s, busy_s, peak = _measured(stage, root, "share")
    parts = {"of the processor": (exactly(busy_s), "s"), "peak of memory": (exactly(peak), "B")}
    results.append(
        Result("load-share", f"one more record shared, {count:,} tests", exactly(took_s), MOST_S, "s", parts)
    )
    return [*results, _chained(stage), *_writers(stage)]


def _measured(stage: Stage, root: Path, *words: str) -> tuple[float, ...]:
    command = [*stage.command, "--studio", str(root), *words]
    return tuple(map(float, stage.run([sys.executable, "-c", PEAK, *command]).split()))


def _peak(stage: Stage, name: str, root: Path, *words: str) -> Result:
    _, took_s, busy_s, peak = _measured(stage, root, *words)
    parts = {"wall clock": (exactly(took_s), "s"), "of the processor": (exactly(busy_s), "s")}
    return Result("load-memory", f"{name}: peak of memory", exactly(peak), MOST_BYTES, "B", parts)


def _chained(stage: Stage) -> Result:
    """Withdrawals of withdrawals, which an attacker writes and the index once took minutes for."""
    studio = Studio(stage.folder / "chained")
    studio.make()
    first = next(line for line in map(json.loads, Writer(stage.compiled).lines(5)) if line["kind"] == "test")
    of = append(studio.book_dir, bench=BENCH, who="AB", kind="test", body=first["body"]).id
    studio.refresh()
    for _ in range(CHAINED):
        body = {"of": of, "why": "again"}
        of = append(studio.book_dir, bench=BENCH, who="AB", kind="withdraw", body=body).id
    started, busy = time.perf_counter(), time.process_time()
    studio.refresh()
    took_s, busy_s = time.perf_counter() - started, time.process_time() - busy
    studio.close()
    parts = {"of the processor": (exactly(busy_s), "s")}
    return Result(
        "load-chain", f"{CHAINED:,} chained withdrawals indexed", exactly(took_s), MOST_S, "s", parts
    )


def _writers(stage: Stage) -> list[Result]:
    """What questions take while eight writers append and the index is made anew, and what was lost."""
    script = Path(__file__).parents[1] / "writers.py"
    said = stage.run([sys.executable, str(script), "--seconds", f"{stage.sizes.writing_s:g}"])
    middle, high = map(float, re.findall(r"p50 ([\d.]+) s, p99 ([\d.]+) s", said)[0])
    counts = said.splitlines()[0]
    name = "choose while 8 writers append and the index is made anew, 99 of 100"
    parts = {"half of them": (exactly(middle), "s")}
    return [Result("load-choose", name, exactly(high), MOST_ANSWER_S, "s", parts, counts)]
