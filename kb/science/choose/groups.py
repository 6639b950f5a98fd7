"""Liquids that act alike on one line, and which of them leads: the least hazardous among equals.

At the end the series of their spots, planned before the sheet is touched: how many it takes, how it may end.
"""

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from kb.science.liquids.solubility import Hsp

ALIKE_IN_FAMILY, ALIKE_ACROSS = 0.30, 0.60
"""Likeness (evidence.liquid_weight) from which two liquids are one line: Hansen distances 5.6 and 3.0."""
EQUAL_RELEASE = 0.05
"""Chances of a safe release this near are equal."""
EQUAL_UNPOLAR, UNPOLAR = 0.10, 5.0
"""The same of two that are no more polar than this, MPa^0.5: an aliphatic is tried before an aromatic that is
no likelier than by this, since the spot that may be lost costs less than the vapour of the aromatic and what
else that dissolves. In words such chances do not differ either."""
HAZARD_STEP = 0.25
"""Hazards within one step are equal: finer steps let a rare liquid displace a usual one."""
LEAST_RELEASE = 0.25
"""A held-back liquid less likely to release than this fills no line."""
# As many as one reads before going to the bench.
MOST_LINES = 7


def polarity(hansen: Hsp | None) -> float:
    """Polar and hydrogen-bonding part of a liquid together, MPa^0.5; beyond all others where not known."""
    return math.inf if hansen is None else math.hypot(hansen[1], hansen[2])


class Member(NamedTuple):
    """A liquid as grouping sees it.

    ``safe`` is its chance of a safe release, ``barred`` says that it has long-term effects or forms
    peroxides, ``named`` how many reports and tests know it, and ``opens`` whether it may open a group.
    """

    place: int
    family: str
    free: bool
    safe: float
    release: float
    hazard: float
    named: float
    barred: bool
    value: float
    opens: bool


Alike = Sequence[tuple[int, float]]
"""Places of liquids and how like they are, the most alike first."""


def of_one_line(family: str, row: Sequence[float], families: Sequence[str]) -> Alike:
    """Those with which a liquid of that ``family`` may stand in one line, itself among them.

    ``row`` is its likeness to every other, ``families`` theirs.
    """
    found = [
        (place, like)
        for place, (like, other) in enumerate(zip(row, families, strict=True))
        # Of no family is not of one family.
        if like >= ALIKE_ACROSS or (like >= ALIKE_IN_FAMILY and family and family == other)
    ]
    return sorted(found, key=lambda one: -one[1])


def grouped(members: Sequence[Member], alike: Sequence[Alike]) -> list[list[Member]]:
    """Groups in the order they are opened; ``members`` best first.

    ``alike`` gives by place those with which a liquid may stand in one line.

    A liquid joins the group whose opener is most like it, if alike enough; else it opens one, if it may.
    What may not and is like nothing stands in a group of its own behind.
    """
    groups: list[list[Member]] = []
    loose: list[Member] = []
    opened: dict[int, int] = {}
    """By place of its opener, the number of a group."""
    # Those that may open a group first, or a liquid that may not would stand alone before its opener came.
    for one in [*(one for one in members if one.opens), *(one for one in members if not one.opens)]:
        best, most = -1, 0.0
        for place, like in alike[one.place]:
            if like < most:
                break
            number = opened.get(place, -1)
            # Of two as much alike the one that was opened first.
            if number >= 0 and (best < 0 or number < best):
                best, most = number, like
        if best >= 0:
            groups[best].append(one)
        elif one.opens:
            opened[one.place] = len(groups)
            groups.append([one])
        else:
            loose.append(one)
    return groups + [[one] for one in loose]


def head(group: Sequence[Member]) -> Member:
    """Who leads: of those as usable as the best, the least hazardous equal, then the best known.

    A liquid with long-term effects, or one that forms peroxides, leads only where no milder known one acts.
    """
    if len(group) == 1:
        return group[0]
    # A liquid that nobody ever named leads only if nobody named any of them.
    known = [one for one in group if one.named >= 1]
    milder = [one for one in known if not one.barred and one.release >= LEAST_RELEASE]
    pool = milder or known or list(group)
    # What is on the shelf leads before what would have to be bought.
    usable = [one for one in pool if one.free] or pool
    if len(usable) == 1:
        return usable[0]
    best = max(one.safe for one in usable)
    # In whole per cent, as chances are shown: half a per cent must not put a rare liquid before a usual one.
    equals = [one for one in usable if round(best - one.safe, 2) <= EQUAL_RELEASE]
    least = min(one.hazard for one in equals)
    return min(
        equals,
        # Small differences of hazard fall into one step; then the better known goes first.
        key=lambda one: (int((one.hazard - least) / HAZARD_STEP + 1e-9), -one.named, -one.value, one.place),
    )


class Step(NamedTuple):
    """A liquid in the series: looks at a margin first, the chance that all are clean, then its chances."""

    looks: int
    clean: float
    release: float
    harm: float


def expected(steps: Iterable[Step]) -> tuple[float, float, float]:
    """What a series costs and yields on average: spots and looks made, and the chances of a safe release and
    of harm on the way.

    A step is reached if all before it failed without harm. A harmed look skips the step; harm on a spot ends
    the series.
    """
    reach, spots, release, harm = 1.0, 0.0, 0.0, 0.0
    for one in steps:
        spots += reach * (one.looks + one.clean)
        release += reach * one.clean * one.release * (1 - one.harm)
        harm += reach * one.clean * one.harm
        # Reached further on if the spot failed without harm, or was skipped for a harmed look.
        reach *= one.clean * (1 - one.release) * (1 - one.harm) + 1 - one.clean
    return spots, release, harm
