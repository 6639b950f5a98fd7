"""scripts/fuzz: tries made-up inputs on every reader for as long as one likes, and keeps what fails."""

from __future__ import annotations

import argparse
import os
import secrets
import sys
import tempfile
import time
from contextlib import AbstractContextManager
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).resolve().parent.parent.parent
if __name__ == "__main__":
    sys.path[0] = str(ROOT)

from scripts.fuzz_parts import hunt  # noqa: E402
from scripts.fuzz_parts.targets import TARGETS  # noqa: E402
from scripts.fuzz_parts.world import World  # noqa: E402

KEPT = ROOT / ".hypothesis" / "fuzz"
"""Where failing inputs go; the folder is not under version control."""
ENGINES = ("chance", "coverage")


def main(arguments: list[str]) -> int:
    """Hunt; 0 if nothing failed, 1 if something did, 3 if the wanted engine is not there."""
    with tempfile.TemporaryDirectory(prefix="benchleaf-fuzz-") as name, _own_world(name):
        world = World(Path(name))
        try:
            return _hunt(_parser().parse_args(arguments), world)
        finally:
            world.close()


def _own_world(folder: str) -> AbstractContextManager[object]:
    """Nobody's own studio is read or written."""
    own = {"XDG_DATA_HOME": folder, "XDG_CACHE_HOME": folder, "BENCHLEAF_BENCH": "bench-a"}
    return mock.patch.dict(os.environ, own)


def _parser() -> argparse.ArgumentParser:
    listed = "".join(f"  {name:<10} {target.about}\n" for name, target in TARGETS.items())
    parser = argparse.ArgumentParser(
        prog="scripts/fuzz",
        description="Try made-up inputs and report what fails.",
        epilog=f"targets:\n{listed}\nFailing inputs are kept in .hypothesis/fuzz.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("targets", nargs="*", metavar="target", help="which (default: all)")
    parser.add_argument("--minutes", type=float, default=1.0, metavar="N", help="in all (default: 1)")
    parser.add_argument("--seed", type=int, metavar="N", help="begin with this seed, to repeat a run")
    parser.add_argument(
        "--engine",
        choices=ENGINES,
        default="chance",
        help="coverage is led by the code that an input reaches; it needs the package atheris",
    )
    return parser


def _hunt(args: argparse.Namespace, world: World) -> int:
    if unknown := set(args.targets) - set(TARGETS):
        _parser().error(f"no such target: {', '.join(sorted(unknown))}; there are {', '.join(TARGETS)}")
    if args.engine == "coverage" and not hunt.has_coverage_engine():
        print("The package atheris is not installed; without it there is --engine chance.", file=sys.stderr)
        return 3
    names = args.targets or list(TARGETS)
    seconds = args.minutes * 60 / len(names)
    first = secrets.randbelow(2**32) if args.seed is None else args.seed
    print(f"{args.engine}, seed {first}, {seconds:.0f} s for each target")
    tried = failed = 0
    started = time.monotonic()
    for name in names:
        if args.engine == "coverage":
            found = hunt.by_coverage(name, seconds, KEPT)
        else:
            found = hunt.by_chance(name, TARGETS[name], world, seconds, first, KEPT)
        tried, failed = tried + found.tried, failed + len(found.failures)
        print(f"{name:<10} {found.tried:>9,} inputs, {len(found.failures)} distinct failures", flush=True)
        for what, path in found.failures.items():
            print(f"           {what}: {path.relative_to(ROOT)}")
    print(f"{'all':<10} {tried:>9,} inputs, {failed} distinct failures, {time.monotonic() - started:.0f} s")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
