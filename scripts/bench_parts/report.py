"""What a run found, in words and as JSON."""

from __future__ import annotations

import os
import platform
import sqlite3
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

from scripts.bench_parts.measure import Result, Spread

PACKAGES = ("benchleaf", "msgspec", "rapidfuzz", "textual", "rich", "sqlite-utils")


def surroundings() -> dict[str, str]:
    """When, on what, and with which versions."""
    packages = ", ".join(f"{name} {version(name)}" for name in PACKAGES)
    machine = f"{platform.system()} {platform.machine()}, {_processor()}, {os.cpu_count()} cores, {_memory()}"
    return {
        "when": datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        "machine": machine,
        "load": _load(),
        "versions": f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, {packages}",
    }


def as_text(about: dict[str, str], results: Sequence[Result], *, quick: bool) -> str:
    """The report as it is printed: one line per budget, and under it the figures behind it."""
    lines = [f"{name + ':':<10}{words}" for name, words in about.items()]
    if quick:
        lines.append("quick run: shows that everything runs; its figures say nothing")
    lines += ["", "median (quartiles); a ratio is of medians measured in turns in this run", ""]
    for one in results:
        verdict = "within" if one.within else "MISSED"
        lines.append(f"{verdict}  {one.name}")
        lines.append(f"          {shown(one.value, one.unit)}, budget {_figure(one.budget, one.unit)}")
        lines += [f"            {name}: {shown(value, unit)}" for name, (value, unit) in one.parts.items()]
        if one.note:
            lines.append(f"            {one.note}")
    kept = sum(one.within for one in results)
    lines += ["", f"{kept} of {len(results)} budgets kept"]
    return "\n".join(lines)


def as_json(about: dict[str, str], results: Sequence[Result], *, quick: bool) -> dict[str, object]:
    """The same for a program: seconds, bytes or plain ratios."""
    return {
        **about,
        "quick": quick,
        "results": [
            {
                "name": one.name,
                "value": one.value._asdict(),
                "unit": one.unit or "ratio",
                "budget": one.budget,
                "within": one.within,
                "note": one.note,
                "parts": {n: {**value._asdict(), "unit": unit} for n, (value, unit) in one.parts.items()},
            }
            for one in results
        ],
    }


def as_page(text: str, took_s: float) -> str:
    """docs/bench.md."""
    return (
        "# Measurements\n\n"
        f"One run of `scripts/bench`, {took_s / 60:.0f} minutes. Ratios carry over to another machine; "
        "times do not.\n\n"
        f"```text\n{text}\n```\n"
    )


def shown(value: Spread, unit: str) -> str:
    """A median with its quartiles, in a unit that fits it."""
    return f"{_figure(value.middle, unit)} ({_figure(value.low, unit)} to {_figure(value.high, unit)})"


def _figure(value: float, unit: str) -> str:
    if unit == "s":
        return f"{value:.2f} s" if value >= 1 else f"{value * 1000:.3g} ms"
    if unit == "B":
        return f"{value / 2**20:.1f} MiB"
    return f"{value:.2f} x"


def _processor() -> str:
    try:
        for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    except OSError:
        pass
    return platform.processor() or "unknown processor"


def _memory() -> str:
    try:
        return f"{os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GiB"
    except (ValueError, OSError, AttributeError):
        return "memory unknown"


def _load() -> str:
    if sys.platform == "win32":
        return "unknown"
    return f"{os.getloadavg()[0]:.1f} at the start (other work on the machine widens the quartiles)"
