"""scripts/bench: measures the budgets and prints what it found."""

from __future__ import annotations

import argparse
import functools
import json
import os
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
if __name__ == "__main__":
    sys.path[0] = str(ROOT)

from kb.catalogue import load as catalogue  # noqa: E402
from scripts.bench_parts import (  # noqa: E402
    blends,
    budgets,
    growth,
    imports,
    keys,
    load,
    patches,
    photographs,
    pool,
    stores,
)
from scripts.bench_parts.chart import chart  # noqa: E402
from scripts.bench_parts.machine import surroundings  # noqa: E402
from scripts.bench_parts.measure import Curve, Result  # noqa: E402
from scripts.bench_parts.page import PICTURE, as_page, with_load  # noqa: E402
from scripts.bench_parts.report import as_json, as_text  # noqa: E402
from scripts.bench_parts.sizes import FULL, QUICK  # noqa: E402
from scripts.bench_parts.stage import Stage  # noqa: E402

PARTS: dict[str, Callable[[Stage], Sequence[Result | Curve]]] = {
    "paint": budgets.first_paint,
    "commands": budgets.commands,
    "append": stores.appending,
    "find": stores.finding,
    "keys": keys.typing,
    "rebuild": stores.rebuilding,
    "choose": budgets.ranking,
    "blends": blends.blending,
    "patches": patches.patching,
    "photographs": photographs.comparing,
    "memory": budgets.memory,
    "growth": growth.growing,
    "pool": pool.pooling,
}
IMPORTS, LOAD = "imports", "load"
EVERY = {**PARTS, LOAD: load.loading}
"""Load is measured on request: it keeps the machine busy for minutes, and all else beside it would suffer."""


def main(arguments: list[str]) -> int:
    """Measure; 0 even if a budget is missed, for a busy machine must not break a build."""
    args = _parsed(arguments)
    started = time.perf_counter()
    if args.save is not None:
        # Before minutes are spent on what could then not be kept.
        args.save.mkdir(parents=True, exist_ok=True)
    found: list[Result | Curve] = []
    with tempfile.TemporaryDirectory(prefix="benchleaf-bench-") as folder:
        os.environ["XDG_DATA_HOME"] = os.environ["XDG_CACHE_HOME"] = folder
        about = surroundings(Path(folder))
        sizes = QUICK if args.quick else FULL
        if args.quick:
            # Nothing here writes in a catalogue, and nobody judges what reading it took: the first time does.
            once = functools.cache(catalogue.load)
            catalogue.load = lambda folders: once(tuple(one for one in folders if one.exists()))
        if args.full:
            sizes = sizes._replace(loaded=FULL.long_book, writing_s=120.0)
        stage = Stage(Path(folder), sizes, _say)
        if args.parts == [IMPORTS]:
            print(imports.profile(stage))
            return 0
        for name in args.parts or PARTS:
            begun = time.perf_counter()
            found += EVERY[name](stage)
            _say(f"measured: {name} ({time.perf_counter() - begun:.0f} s)")
    took_s = time.perf_counter() - started
    results = [one for one in found if isinstance(one, Result)]
    curves = [one for one in found if isinstance(one, Curve)]
    text = as_text(about, results, curves, quick=args.quick)
    print(f"{text}\nmeasured in {took_s:.0f} s")
    if args.json:
        told = as_json(about, results, curves, quick=args.quick)
        args.json.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    if args.save is not None and args.parts == [LOAD]:
        page = args.save / "bench.md"
        page.write_text(with_load(page.read_text(encoding="utf-8"), about, results), encoding="utf-8")
    elif args.save is not None:
        page = as_page(about, results, curves, text, took_s)
        (args.save / "bench.md").write_text(page, encoding="utf-8")
        if curves:
            (args.save / PICTURE).write_text(chart(curves), encoding="utf-8")
    return 0


def _parsed(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="scripts/bench", description="Measure the budgets as ratios.")
    parser.add_argument(
        "parts",
        nargs="*",
        metavar="part",
        help=f"which of {', '.join(PARTS)} (default: all); or, alone, {IMPORTS}: what each command loads, "
        f"{LOAD}: many records and many writers at once",
    )
    parser.add_argument("--full", action="store_true", help="load on a million tests and for two minutes")
    parser.add_argument("--quick", action="store_true", help="small sizes: only shows that everything runs")
    parser.add_argument("--json", type=Path, metavar="FILE", help="also write the figures to a file")
    parser.add_argument(
        "--save",
        nargs="?",
        type=Path,
        const=ROOT / "docs",
        metavar="FOLDER",
        help="also write bench.md and bench.svg (default folder: docs)",
    )
    args = parser.parse_args(arguments)
    unknown = set(args.parts) - set(EVERY)
    if unknown and args.parts != [IMPORTS]:
        parser.error(f"no such part: {', '.join(sorted(unknown))}; there are {', '.join(PARTS)}")
    return args


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
