"""A series of spots planned before the sheet is touched: how many it takes and how it may end."""

from collections.abc import Iterable
from typing import NamedTuple


class Step(NamedTuple):
    """A liquid in the series: looks at a margin first, the chance that all are clean, then its chances."""

    looks: int
    clean: float
    release: float
    harm: float


class Expected(NamedTuple):
    """Of a whole series: spots and looks made, and the chances of a safe release and of harm on the way."""

    spots: float
    release: float
    harm: float


def expected(steps: Iterable[Step]) -> Expected:
    """What a series costs and yields on average.

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
    return Expected(spots, release, harm)
