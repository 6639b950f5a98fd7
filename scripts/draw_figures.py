"""Draw figures of the catalogue at random, for somebody who did not write them to check.

The same seed draws the same figures of the same catalogue. What was found is typed into a file, a line for
each: the number of the figure, one of right, unsupported, wrong, and a note. With that file the shares are
printed, and how often a figure that could be checked is wrong, with the 95 % interval of Wilson.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
from collections import Counter
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from kb.catalogue.load import Catalogue, load
from kb.catalogue.paths import shipped_data
from kb.catalogue.problems import parts
from kb.catalogue.summary import place_of, rests_on
from kb.model.base import Source
from kb.model.kinds import KINDS

SEED, NUMBER = 20261128, 150
VERDICTS = ("right", "unsupported", "wrong")


class Drawn(NamedTuple):
    """One figure or claim: where it stands, what it says, and the ids of its sources."""

    entry: str
    place: str
    says: dict[str, Any]
    sources: tuple[str, ...]


def every(catalogue: Catalogue) -> list[Drawn]:
    """All figures and claims that name their sources, in the order of the catalogue."""
    return [
        Drawn(f"{kind.word} {getattr(record, 'id', '')}", place_of(part) or "whole", said(part.struct), named)
        for kind in KINDS
        for record in catalogue.all(kind.key)
        for part in parts(record)
        if (named := tuple(getattr(part.struct, "sources", ())))
    ]


def said(struct: msgspec.Struct) -> dict[str, Any]:
    """What a figure says, without its sources and without what is empty."""
    plain: dict[str, Any] = msgspec.to_builtins(struct)
    return {key: value for key, value in plain.items() if key != "from" and value not in (None, "", [], {})}


def draw(figures: list[Drawn], number: int, seed: int) -> list[Drawn]:
    """As many figures, none twice."""
    return random.Random(seed).sample(figures, number)


def wilson(wrong: int, checked: int) -> tuple[float, float]:
    """The 95 % interval of a share."""
    if not checked:
        return 0.0, 1.0
    z, share = 1.96, wrong / checked
    middle = share + z * z / (2 * checked)
    half = z * math.sqrt(share * (1 - share) / checked + z * z / (4 * checked * checked))
    return tuple(max(0.0, (middle + sign * half) / (1 + z * z / checked)) for sign in (-1, 1))  # type: ignore[return-value]


def verdicts(text: str, number: int) -> Counter[str]:
    """How often each verdict was given. Raises SystemExit for a line or a figure that has none."""
    given: dict[int, str] = {}
    for row in filter(None, text.splitlines()):
        at, verdict, *_ = row.split(maxsplit=2)
        if verdict not in VERDICTS:
            raise SystemExit(f'"{row}": the second word is one of {", ".join(VERDICTS)}')
        given[int(at)] = verdict
    if missing := sorted(set(range(1, number + 1)) - set(given)):
        raise SystemExit(f"no verdict for {', '.join(map(str, missing))}")
    return Counter(given.values())


def main() -> int:
    """Print the figures that were drawn, or what was found of them."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--number", type=int, default=NUMBER)
    parser.add_argument("--judged", type=Path, help="file of verdicts; print their shares")
    args = parser.parse_args()
    if args.judged:
        counts = verdicts(args.judged.read_text("utf-8"), args.number)
        wrong, checked = counts["wrong"], counts["right"] + counts["wrong"]
        low, high = wilson(wrong, checked)
        print(", ".join(f"{counts[verdict]} {verdict}" for verdict in VERDICTS))
        share = wrong / max(checked, 1)
        print(f"wrong among the {checked} that could be checked: {share:.1%} ({low:.1%} to {high:.1%})")
        return 0
    catalogue, _ = load([shipped_data()])
    sources = catalogue.of("sources", Source)
    for at, one in enumerate(draw(every(catalogue), args.number, args.seed), 1):
        rests = ", ".join(f"{name} ({rests_on(sources[name])})" for name in one.sources)
        print(f"{at}. {one.entry}, {one.place}: {one.says}\n   {rests}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
