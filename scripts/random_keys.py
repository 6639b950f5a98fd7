"""Presses random keys in the app on a copy of the demo: nothing may crash it, and its memory may not grow.

    python scripts/random_keys.py --keys 20000 --seeds 1 2 3

Each key is awaited, so a run says the same each time. It prints how many keys were pressed, how often the app
was left by one of them and begun anew, and by how much the memory grew from the first tenth to the end, every
place having been opened before.
"""

from __future__ import annotations

import argparse
import asyncio
import importlib
import os
import pkgutil
import random
import shutil
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
if __name__ == "__main__":
    sys.path[0] = str(ROOT)

import kb  # noqa: E402
from kb.desk.demo import shipped_demo  # noqa: E402
from kb.desk.studio import Studio  # noqa: E402
from kb.tui.app import BenchleafApp  # noqa: E402

SIZE = (80, 24)
MOST_GROWTH = 1.3
"""How much more memory may be in use at the end than after the first tenth of the keys."""
PLACES_FIRST = (*(f"f{number}" for number in range(2, 11)), *("escape",) * 3, "f2")
"""Pressed before any random key: what is made once, when a screen is first opened, is no growth, and chance
alone would open some of them late."""
NAMED = (
    *("up", "down", "left", "right", "home", "end", "pageup", "pagedown", "tab", "shift+tab", "enter"),
    *("escape", "space", "backspace", "delete", *(f"f{number}" for number in range(1, 13))),
    *(f"ctrl+{letter}" for letter in "abdefghijklnoprstuwxyz"),
)
PLAIN = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 ?/.,-+=%()[]"
NAMED_SHARE = 0.6


class Played(NamedTuple):
    """One run. ``growth`` is 1.0 where the memory stayed as it was; ``left`` counts the times it was quit."""

    keys: int
    left: int
    growth: float


def key(chance: random.Random) -> str:
    """Any key of the keyboard, those that lead about more often than letters."""
    return chance.choice(NAMED) if chance.random() < NAMED_SHARE else chance.choice(PLAIN)


async def play(root: Path, seed: int, count: int) -> Played:
    """Press that many keys. Raises whatever the app raises."""
    chance, pressed, left, first = random.Random(seed), 0, 0, 0.0
    while pressed < count:
        studio = Studio(root)
        app = BenchleafApp(studio)
        _load_all()
        async with app.run_test(size=SIZE) as pilot:
            await pilot.press(*PLACES_FIRST)
            while pressed < count and app.is_running and not app._exit:
                await pilot.press(key(chance))
                pressed += 1
                if pressed == max(1, count // 10):
                    first = _memory_mb()
        studio.close()
        left += pressed < count
    return Played(pressed, left, _memory_mb() / first if first else 1.0)


def _load_all() -> None:
    """Load every module of the program: loaded late by a key one would count as growth."""
    for one in pkgutil.walk_packages(kb.__path__, "kb."):
        # Its __main__ would start the program, and what reads photographs brings libraries of 40 MB, beside
        # which any growth would look small.
        if not one.name.endswith("__main__") and not one.name.startswith("kb.science.photo"):
            importlib.import_module(one.name)


def _memory_mb() -> float:
    """Resident memory of this program now; 0 where the system does not say."""
    try:
        pages = int(Path("/proc/self/statm").read_text().split()[1])
    except (OSError, ValueError, IndexError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def main(arguments: list[str]) -> int:
    """Play each seed; 1 if the memory grew too much."""
    parser = argparse.ArgumentParser(description="Press random keys in the app.")
    parser.add_argument("--keys", type=int, default=20_000)
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    args = parser.parse_args(arguments)
    grew = False
    for seed in args.seeds:
        with tempfile.TemporaryDirectory(prefix="benchleaf-keys-") as folder:
            # What is made on the way - cards, exports, drafts - lies in there and goes with it.
            os.environ["XDG_DATA_HOME"] = os.environ["XDG_CACHE_HOME"] = folder
            os.chdir(folder)
            root = Path(folder, "studio")
            shutil.copytree(shipped_demo(), root)
            done = asyncio.run(play(root, seed, args.keys))
        words = f"{done.keys} keys, left {done.left} times, memory x {done.growth:.2f}"
        print(f"seed {seed}: {words}", flush=True)
        grew |= done.growth > MOST_GROWTH
    return int(grew)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
