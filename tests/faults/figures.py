"""Figures of the fault tests: printed, and kept as JSON lines in the file that BENCHLEAF_FIGURES names."""

from __future__ import annotations

import json
import os

ENV_FIGURES = "BENCHLEAF_FIGURES"


def add(test: str, **counts: int) -> None:
    """Note what one test tried and what came of it.

    Usual counts are ``tried`` (appends or faults), ``acknowledged``, ``lost`` and ``crashes``; others
    may be added. One write per line, so that tests that run side by side do not mix their lines.
    """
    print(f"{test}: " + ", ".join(f"{name} {count:,}" for name, count in counts.items()))
    target = os.environ.get(ENV_FIGURES, "")
    if not target:
        return
    line = json.dumps({"test": test, **counts}) + "\n"
    fd = os.open(target, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o644)
    try:
        os.write(fd, line.encode())
    finally:
        os.close(fd)
