"""scripts/bench: measures the budgets and prints what it found."""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
if __name__ == "__main__":
    sys.path[0] = str(ROOT)

from scripts.bench_parts import blends, budgets, stores  # noqa: E402
from scripts.bench_parts.measure import Result  # noqa: E402
from scripts.bench_parts.report import as_json, as_page, as_text, surroundings  # noqa: E402
from scripts.bench_parts.sizes import FULL, QUICK  # noqa: E402
from scripts.bench_parts.stage import Stage  # noqa: E402

PARTS = {
    "paint": budgets.first_paint,
    "commands": budgets.commands,
    "append": stores.appending,
    "find": stores.finding,
    "rebuild": stores.rebuilding,
    "choose": budgets.ranking,
    "blends": blends.blending,
    "memory": budgets.memory,
}


def main(arguments: list[str]) -> int:
    """Measure; 0 even if a budget is missed, for a busy machine must not break a build."""
    parser = argparse.ArgumentParser(prog="scripts/bench", description="Measure the budgets as ratios.")
    parser.add_argument(
        "parts", nargs="*", metavar="part", help=f"which of {', '.join(PARTS)} (default: all)"
    )
    parser.add_argument("--quick", action="store_true", help="small sizes: only shows that everything runs")
    parser.add_argument("--json", type=Path, metavar="FILE", help="also write the figures to a file")
    parser.add_argument("--save", action="store_true", help="also write docs/bench.md")
    args = parser.parse_args(arguments)
    if unknown := set(args.parts) - set(PARTS):
        parser.error(f"no such part: {', '.join(sorted(unknown))}; there are {', '.join(PARTS)}")
    started = time.perf_counter()
    about = surroundings()
    results: list[Result] = []
    with tempfile.TemporaryDirectory(prefix="benchleaf-bench-") as folder:
        os.environ["XDG_DATA_HOME"] = os.environ["XDG_CACHE_HOME"] = folder
        stage = Stage(Path(folder), QUICK if args.quick else FULL, _say)
        for name in args.parts or PARTS:
            _say(f"measuring: {name}")
            results += PARTS[name](stage)
    took_s = time.perf_counter() - started
    text = as_text(about, results, quick=args.quick)
    print(f"{text}\nmeasured in {took_s:.0f} s")
    if args.json:
        args.json.write_text(
            json.dumps(as_json(about, results, quick=args.quick), indent=1) + "\n", encoding="utf-8"
        )
    if args.save:
        (ROOT / "docs" / "bench.md").write_text(as_page(text, took_s), encoding="utf-8")
    return 0


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
