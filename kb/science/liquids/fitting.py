"""Fit a Hansen sphere to observations of what dissolves, with the published desirability function.

Source: C. M. Hansen, Hansen Solubility Parameters: A User's Handbook, CRC Press, 2007 (from memory): the
fit is the geometric mean of one factor for each liquid, 1 where a good liquid lies inside the sphere or a
poor one outside, else exp(-error), error being its distance from the surface in MPa^0.5. That errors are
such distances, and that the factors' product is taken to the power of one over their number, was read in
excerpts of the book Cleaning with Solvents (2014), appendices C1 and C2. Of spheres that fit alike the
smallest is taken (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import product
from typing import NamedTuple

from kb.science.liquids.solubility import Hsp, distance

LEAST_GOOD, LEAST_POOR, LEAST_LIQUIDS = 2, 2, 6
"""Fewer tell too little of four numbers; this project's own."""
AS_GOOD = 0.99
"""A sphere fits as well as the best from this share of its fit on; this project's own."""
SMALLEST = 1e-3
"""What a step of one MPa^0.5 in radius costs against the mean error: it decides between equals only."""
LEAST_RADIUS, MOST_RADIUS = 1.0, 25.0
STEPS = (3.0, 1.0, 0.3, 0.1, 0.03)
"""Steps of the search, MPa^0.5."""
MOST_STARTS = 8
REACH = 6.0
"""How far from the best centre spheres that fit as well are looked for, MPa^0.5."""
_WAYS = tuple(way for way in product((-1, 0, 1), repeat=3) if any(way))


class Seen(NamedTuple):
    """One liquid: its Hansen parameters, and whether it dissolved the material."""

    hansen: Hsp
    good: bool


class Fit(NamedTuple):
    """A fitted sphere: ``quality`` 0..1 is the desirability; ``ranges`` hold what fits as well.

    The ranges are those of dispersion, polar, hydrogen bonding and radius, lowest and highest.
    """

    centre: Hsp
    r0: float
    quality: float
    ranges: tuple[tuple[float, float], ...]
    wrong: tuple[int, ...]
    """Places of the observations that lie on the wrong side."""


def quality(seen: Iterable[Seen], centre: Hsp, r0: float) -> float:
    """The desirability of a sphere, 0 to 1: 1 if every liquid lies on its own side."""
    return math.exp(-_mean_error(_distances(seen, centre), r0))


def fit_sphere(seen: Sequence[Seen]) -> Fit:
    """The sphere that fits best, the smallest of those that fit alike.

    Raises ValueError, in a sentence, if too few liquids were seen to dissolve, or not to, or in all.
    """
    good = [one.hansen for one in seen if one.good]
    if len(good) < LEAST_GOOD or len(seen) - len(good) < LEAST_POOR or len(seen) < LEAST_LIQUIDS:
        raise ValueError(
            f"a sphere needs {LEAST_LIQUIDS} liquids, at least {LEAST_GOOD} that dissolve and {LEAST_POOR} "
            f"that do not; there are {len(good)} that do and {len(seen) - len(good)} that do not"
        )
    middle: Hsp = tuple(math.fsum(column) / len(good) for column in zip(*good, strict=True))  # type: ignore[assignment]
    best = min(
        (_searched(seen, start) for start in (middle, *good[:MOST_STARTS])),
        key=lambda found: (found[0], found[1]),
    )
    _, centre, r0 = best
    wrong = tuple(at for at, one in enumerate(seen) if (distance(one.hansen, centre) <= r0) != one.good)
    return Fit(centre, r0, quality(seen, centre, r0), _ranges(seen, centre, r0), wrong)


def _distances(seen: Iterable[Seen], centre: Hsp) -> list[tuple[float, bool]]:
    return [(distance(one.hansen, centre), one.good) for one in seen]


def _mean_error(distances: Sequence[tuple[float, bool]], r0: float) -> float:
    wrong = (away - r0 if good else r0 - away for away, good in distances)
    return math.fsum(error for error in wrong if error > 0) / len(distances)


def _radius(distances: Sequence[tuple[float, bool]]) -> float:
    """The smallest of the best radii for a centre: the error is convex and bends only where a liquid lies."""
    outside = sum(good for _, good in distances)
    inside = 0
    for away, good in sorted(distances):
        outside -= good
        inside += not good
        # From here on a larger sphere takes in as many poor liquids as it gains good ones.
        if inside >= outside:
            return min(max(away, LEAST_RADIUS), MOST_RADIUS)
    return MOST_RADIUS


def _cost(seen: Sequence[Seen], centre: Hsp) -> tuple[float, float]:
    distances = _distances(seen, centre)
    r0 = _radius(distances)
    return _mean_error(distances, r0) + SMALLEST * r0, r0


def _searched(seen: Sequence[Seen], start: Hsp) -> tuple[float, Hsp, float]:
    """Step by step downhill from a start, with ever finer steps: the cost has kinks and no slope to trust."""
    centre, (cost, r0) = start, _cost(seen, start)
    for step in STEPS:
        better = True
        while better:
            better = False
            for way in _WAYS:
                near = _moved(centre, way, step)
                found, radius = _cost(seen, near)
                if found < cost - 1e-12:
                    centre, cost, r0, better = near, found, radius, True
    return cost, centre, r0


def _ranges(seen: Sequence[Seen], centre: Hsp, r0: float) -> tuple[tuple[float, float], ...]:
    """How far the centre may be moved, the radius with it, before the fit falls below that of AS_GOOD."""
    least = AS_GOOD * quality(seen, centre, r0)
    kept = [(*centre, r0)]
    for way in _WAYS:
        step = STEPS[-2]
        for number in range(1, int(REACH / step) + 1):
            near = _moved(centre, way, number * step)
            distances = _distances(seen, near)
            radius = _radius(distances)
            if math.exp(-_mean_error(distances, radius)) < least:
                break
            kept.append((*near, radius))
    return tuple((min(column), max(column)) for column in zip(*kept, strict=True))


def _moved(centre: Hsp, way: tuple[int, ...], step: float) -> Hsp:
    # Half as far in dispersion, in which Hansen's distance counts double; no parameter below zero.
    d, p, h = (max(0.0, at + step * unit) for at, unit in zip(centre, (way[0] / 2, *way[1:]), strict=True))
    return d, p, h
