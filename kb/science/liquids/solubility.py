"""Hansen solubility: how far a liquid lies from a polymer, and where it sits on the triangular plot.

Source of the formulas: C. M. Hansen, Hansen Solubility Parameters: A User's Handbook, CRC Press, 2007.
"""

from __future__ import annotations

import math
from typing import NamedTuple

Hsp = tuple[float, float, float]
"""Hansen parameters in MPa^0.5: dispersion, polar, hydrogen bonding."""


class Sphere(NamedTuple):
    """A Hansen sphere, with radius ``r0`` in MPa^0.5."""

    name: str
    centre: Hsp
    r0: float


def distance(a: Hsp, b: Hsp) -> float:
    """Hansen's distance Ra between two points, in MPa^0.5; a step in dispersion counts double."""
    return math.hypot(2.0 * (a[0] - b[0]), a[1] - b[1], a[2] - b[2])


def red(liquid: Hsp, centre: Hsp, r0: float) -> float:
    """Relative energy difference Ra / R0 (no unit). Below 1 the liquid lies inside the polymer's sphere.

    ``r0`` is the sphere's radius in MPa^0.5. Raises ValueError if it is not above zero.
    """
    if not r0 > 0:
        raise ValueError(f"the radius of a sphere must be above zero, not {r0}")
    return distance(liquid, centre) / r0


def hildebrand(hansen: Hsp) -> float:
    """Hildebrand's total parameter, MPa^0.5: the length of the three of Hansen."""
    return math.hypot(*hansen)


def fractional(hansen: Hsp) -> tuple[float, float, float]:
    """The share of each parameter in the sum of the three, in per cent: the axes of the triangular plot.

    A fitted centre may have a slightly negative parameter, which has no place on the plot; it counts as
    zero. Raises ValueError if nothing above zero is left.
    """
    dispersion, polar, bonding = (max(part, 0.0) for part in hansen)
    total = dispersion + polar + bonding
    if not 0 < total < math.inf:
        raise ValueError(f"no fractions can be formed from the Hansen parameters {hansen}")
    return (100.0 * dispersion / total, 100.0 * polar / total, 100.0 * bonding / total)
