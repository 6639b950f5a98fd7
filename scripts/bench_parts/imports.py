"""What each command imports, how long that takes, and which modules of the project it loads in vain."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from statistics import median
from typing import NamedTuple

from scripts.bench_parts.budgets import home_words
from scripts.bench_parts.paint import painted
from scripts.bench_parts.stage import Stage
from scripts.bench_parts.typical import TYPICAL, WHOLE, WRITING, command

START = "import sys; from kb.cli.main import run; run()"
WATCH = """
import json, sys
before, used = set(sys.modules), set()
def saw(frame, event, _):
    # Bodies of modules and classes run while importing; only functions count as use.
    if event == "call" and frame.f_code.co_flags & 1:
        used.add(frame.f_globals.get("__name__"))
note, watched, *words = sys.argv[1:]
sys.setprofile(saw if watched else None)
from kb.cli.main import main
code = main(words)
sys.setprofile(None)
loaded = sorted(sys.modules.keys() - before)
with open(note, "w") as handle:
    json.dump({"code": code, "loaded": loaded, "used": sorted(filter(None, used))}, handle)
"""
_TOLD = re.compile(r"import time:\s+(\d+) \|\s+\d+ \|\s*(\S+)")


class Loaded(NamedTuple):
    """What one run of a command loaded beside what Python loads itself, and where a function was called."""

    code: int
    loaded: frozenset[str]
    used: frozenset[str]

    @property
    def idle(self) -> set[str]:
        """Modules of the project of which no function ran."""
        return {name for name in self.loaded - self.used if name.startswith("kb.") and name.count(".") > 1}


def loaded_by(
    arguments: Sequence[str], environment: Mapping[str, str], note: Path, *, watched: bool = True
) -> Loaded:
    """Run a command in an interpreter of its own. ``note`` is a file to write to. Raises RuntimeError.

    Unless ``watched``, which slows long work down, nothing is told of what was called.
    """
    program = [sys.executable, "-c", WATCH, str(note), "watched" if watched else "", *arguments]
    done = subprocess.run(program, env=dict(environment), capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"benchleaf {' '.join(arguments)}: {done.stderr.strip()[-500:]}")
    found = json.loads(note.read_text(encoding="utf-8"))
    return Loaded(found["code"], frozenset(found["loaded"]), frozenset(found["used"]))


def self_times_us(told: str) -> dict[str, int]:
    """From what ``-X importtime`` prints, the microseconds that each module took by itself."""
    return {name: int(time) for time, name in _TOLD.findall(told)}


def middle_us(runs: Iterable[Mapping[str, int]]) -> dict[str, float]:
    """The median over several runs, module by module."""
    times: dict[str, list[int]] = defaultdict(list)
    for one in runs:
        for name, time in one.items():
            times[name].append(time)
    return {name: median(values) for name, values in times.items()}


class Command(NamedTuple):
    """One command's imports: microseconds by module, and modules of the project loaded in vain."""

    times_us: dict[str, float]
    idle: set[str]


def profile(stage: Stage) -> str:
    """For each command what it imports and how long that takes, and the dearest modules of all."""
    stage.demo()
    rounds = max(1, stage.sizes.memories)
    bare = _profiled(stage, ["-c", "pass"], rounds)
    found = {name: _command(stage, name, rounds) for name in (*TYPICAL, *WRITING, *WHOLE)}
    found["first paint"] = Command(_painted(stage, rounds), set())
    lines = ["modules and milliseconds of importing, without what Python itself loads", ""]
    for name, one in found.items():
        new = {module: cost for module, cost in one.times_us.items() if module not in bare}
        own = sum(cost for module, cost in new.items() if module.startswith("kb"))
        lines.append(
            f"{name:<14}{len(new):>5} modules{sum(new.values()) / 1000:>8.1f} ms, "
            f"of it the project's own{own / 1000:>6.1f} ms; loaded in vain: {len(one.idle)}"
        )
    return "\n".join([*lines, "", *_dearest(found, set(bare)), "", *_in_vain(found)])


def _dearest(found: Mapping[str, Command], bare: set[str], shown: int = 60) -> list[str]:
    """Modules by the time that they take by themselves, and how many commands load them."""
    costs: dict[str, dict[str, float]] = defaultdict(dict)
    for name, one in found.items():
        for module in one.times_us.keys() - bare:
            costs[module][name] = one.times_us[module]
    middle = {module: median(each.values()) for module, each in costs.items()}
    order = sorted(middle, key=lambda one: -middle[one])[:shown]
    return [
        "the dearest modules, by themselves",
        *(f"{middle[one] / 1000:>7.2f} ms  {one:<40}{_some(costs[one])}" for one in order),
    ]


def _in_vain(found: Mapping[str, Command]) -> list[str]:
    commands: dict[str, list[str]] = defaultdict(list)
    for name, one in found.items():
        for module in one.idle:
            commands[module].append(name)
    lines = ["modules of which no function ran (types and constants do not run)"]
    return [*lines, *(f"{module:<32}{_some(commands[module])}" for module in sorted(commands))]


def _some(names: Iterable[str]) -> str:
    each = list(names)
    return f"{len(each)} commands" if len(each) > 6 else ", ".join(each)


def _command(stage: Stage, name: str, rounds: int) -> Command:
    words = ["--demo", *command(name)]
    loaded = loaded_by(words, stage.environment, stage.folder / "note.json")
    return Command(_profiled(stage, ["-c", START, *words], rounds), loaded.idle)


def _profiled(stage: Stage, arguments: Sequence[str], rounds: int) -> dict[str, float]:
    program = [sys.executable, "-X", "importtime", *arguments]
    return middle_us(self_times_us(stage.told(program)) for _ in range(rounds))


def _painted(stage: Stage, rounds: int) -> dict[str, float]:
    """What the app imports until its first picture is whole; it is told in the same terminal."""
    words, _ = home_words()
    program = [sys.executable, "-X", "importtime", "-c", START, "--demo"]
    runs = (painted(program, words, stage.environment).written for _ in range(rounds))
    return middle_us(self_times_us(one.decode(errors="replace")) for one in runs)
