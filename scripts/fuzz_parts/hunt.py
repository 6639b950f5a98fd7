"""Look for failures for a time: by chance, or led by which code an input reaches."""

from __future__ import annotations

import hashlib
import subprocess
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from hypothesis import HealthCheck, Phase, given, seed, settings

from scripts.fuzz_parts.targets import Target
from scripts.fuzz_parts.world import World

BATCH = 100
"""Inputs tried before the clock is looked at and a new seed is taken."""


class Outcome(NamedTuple):
    """What came of one target: inputs tried, and a file with the input for each distinct failure."""

    tried: int
    failures: dict[str, Path]


def by_chance(
    name: str, target: Target, world: World, seconds: float, first_seed: int, folder: Path
) -> Outcome:
    """Try random inputs until the time is over; a failure is made small and its input is kept."""
    tried, last, failures = 0, None, dict[str, Path]()
    end = time.monotonic() + seconds

    def one(value: Any) -> None:
        nonlocal tried, last
        tried += 1
        try:
            target.check(world, value)
        except Exception as error:
            if where(error) in failures:
                return
            last = value
            raise

    number = first_seed
    while time.monotonic() < end:
        try:
            _test(target, one, number)()
        except Exception as error:
            failures[where(error)] = keep(folder, name, last, error)
        number += 1
    return Outcome(tried, failures)


def _test(target: Target, one: Callable[[Any], None], number: int) -> Callable[[], None]:
    wanted = settings(
        max_examples=BATCH,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
        report_multiple_bugs=False,
        phases=(Phase.generate, Phase.shrink),
    )
    test: Callable[[], None] = seed(number)(wanted(given(target.inputs)(one)))
    return test


def where(error: BaseException) -> str:
    """Type of an error and the last place in the project that it came through: what makes it distinct."""
    frames = [one for one in traceback.extract_tb(error.__traceback__) if "/kb/" in one.filename]
    frames = frames or traceback.extract_tb(error.__traceback__)[-1:]
    last = frames[-1]
    return f"{type(error).__name__} at {Path(last.filename).name}:{last.lineno}"


def keep(folder: Path, name: str, value: Any, error: BaseException) -> Path:
    """Write a failing input down, with what it led to."""
    folder.mkdir(parents=True, exist_ok=True)
    told = "".join(traceback.format_exception(error))
    mark = hashlib.sha256(where(error).encode()).hexdigest()[:12]
    path = folder / f"{name}-{mark}.txt"
    path.write_text(f"{value!r}\n\n{told}", encoding="utf-8", errors="backslashreplace")
    return path


def has_coverage_engine() -> bool:
    """Whether the package that leads by coverage is installed here."""
    from importlib.util import find_spec

    return find_spec("atheris") is not None


def by_coverage(name: str, seconds: float, folder: Path) -> Outcome:
    """The same led by coverage, in a process of its own because that engine never gives back control."""
    corpus = folder / "corpus" / name
    corpus.mkdir(parents=True, exist_ok=True)
    arguments = [str(corpus), f"-max_total_time={seconds:.0f}", f"-artifact_prefix={folder}/{name}-"]
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("led.py")), name, *arguments],
        capture_output=True,
        text=True,
        check=False,
    )
    tried = next(
        (int(one.split()[1]) for one in done.stderr.splitlines() if one.startswith("Done ")),
        max((int(one[1:].split()[0]) for one in done.stderr.splitlines() if _counts(one)), default=0),
    )
    if done.returncode == 0:
        return Outcome(tried, {})
    path = folder / f"{name}-led.txt"
    path.write_text(done.stdout + done.stderr, encoding="utf-8")
    return Outcome(tried, {f"see {path.name}": path})


def _counts(text: str) -> bool:
    return text.startswith("#") and text[1:].split("\t", maxsplit=1)[0].split(maxsplit=1)[0].isdigit()
