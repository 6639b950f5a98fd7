"""Invented studios that share their counts: as many as wanted, quickly. Same seed, same files."""

from __future__ import annotations

from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import NamedTuple

from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from kb.index.pool_file import HarmCount, ReleaseCount, counts_file, text_of
from kb.index.rows import NO_CARRIER
from kb.index.tally import GRADES

SEED = 20_260_102
RELEASE_ROWS, HARM_ROWS = 400, 240
"""Rows of one studio at most: its own tapes, liquids and methods again and again."""
BLENDS = 6
Grades = tuple[int, int, int, int, int]


class Kit(NamedTuple):
    """What one studio meets and uses."""

    adhesives: list[str]
    stages: list[str]
    carriers: list[str]
    media: list[str]
    papers: list[str]
    methods: list[str]
    liquids: list[dict[str, float]]


def simulate_pool(
    folder: Path, studios: int, tests: int, seed: int = SEED, compiled: Compiled | None = None
) -> list[Path]:
    """Write the counts files of that many studios with ``tests`` release tests in all, about; returns them.

    Studios differ in size by a factor of ten. Each tests what it meets, with the liquids it holds; how often
    a liquid releases or harms leans one way for all of them, as it does in the world.
    """
    if compiled is None:
        with TemporaryDirectory() as nowhere:
            studio = Studio(Path(nowhere))
            compiled = studio.compiled
            studio.close()
    folder.mkdir(parents=True, exist_ok=True)
    rng = Random(seed)
    sizes = [10 ** rng.uniform(-0.5, 0.5) for _ in range(studios)]
    whole = sum(sizes)
    blends = _some_blends(compiled, rng)
    paths = []
    for number, size in enumerate(sizes, start=1):
        kit = _kit(compiled, blends, rng)
        count = max(1, round(tests * size / whole))
        release = _release(kit, count, rng)
        harm = _harm(kit, round(count * 0.8), rng)
        named = f"{rng.getrandbits(128):032x}"
        path = folder / f"studio-{number:05}.json"
        path.write_bytes(text_of(counts_file(named, f"Invented studio {number}", release, harm)))
        paths.append(path)
    return paths


def _some_blends(compiled: Compiled, rng: Random) -> list[dict[str, float]]:
    liquids = sorted(compiled.by_id)
    found = []
    for number in range(BLENDS):
        one, other = rng.sample(liquids, 2)
        share = (50.0, 25.0, 75.0)[number % 3]
        found.append({one: share, other: 100.0 - share})
    return found


def _kit(compiled: Compiled, blends: list[dict[str, float]], rng: Random) -> Kit:
    def some(values: list[str], most: int) -> list[str]:
        return rng.sample(values, min(len(values), rng.randint(2, most)))

    liquids = [{one: 100.0} for one in some(sorted(compiled.by_id), 14)]
    return Kit(
        some(sorted(compiled.adhesives), 6),
        some(sorted(compiled.stages), 4),
        [*some(sorted(compiled.carriers), 5), NO_CARRIER],
        some(sorted(compiled.media), 9),
        some(sorted(compiled.papers), 4),
        some(sorted(compiled.methods), 4),
        [*liquids, rng.choice(blends)],
    )


def _release(kit: Kit, count: int, rng: Random) -> list[ReleaseCount]:
    rows: dict[tuple[object, ...], ReleaseCount] = {}
    for tests in _split(count, RELEASE_ROWS, rng):
        ids = [rng.choice(one) for one in (kit.adhesives, kit.stages, kit.carriers, kit.methods)]
        parts = rng.choice(kit.liquids)
        lean = (len(ids[0]) * 7 + len(next(iter(parts))) * 5) % 10 / 10
        rows[(*ids, *parts)] = ReleaseCount(ids[0], ids[1], ids[2], ids[3], parts, _grades(tests, lean, rng))
    return list(rows.values())


def _harm(kit: Kit, count: int, rng: Random) -> list[HarmCount]:
    rows: dict[tuple[object, ...], HarmCount] = {}
    for tests in _split(count, HARM_ROWS, rng):
        ids = [rng.choice(one) for one in (kit.media, kit.papers, kit.methods)]
        parts = rng.choice(kit.liquids)
        lean = (len(ids[0]) * 3 + len(next(iter(parts))) * 11) % 5 / 10
        rows[(*ids, *parts)] = HarmCount(ids[0], ids[1], ids[2], parts, _grades(tests, lean, rng))
    return list(rows.values())


def _split(count: int, rows: int, rng: Random) -> list[int]:
    """Tests spread over rows, a few of them met every week and most of them once or twice."""
    weights = [rng.random() ** 3 for _ in range(min(rows, count))]
    whole = sum(weights)
    return [max(1, round(count * weight / whole)) for weight in weights]


def _grades(tests: int, lean: float, rng: Random) -> Grades:
    """Grades around a lean from 0 to 1; a great number is dealt out in shares."""
    found = [0] * GRADES
    left = tests
    while left > 0:
        dealt = max(1, left // 6)
        found[min(GRADES - 1, max(0, round(rng.gauss(lean * (GRADES - 1), 1.2))))] += dealt
        left -= dealt
    return found[0], found[1], found[2], found[3], found[4]
