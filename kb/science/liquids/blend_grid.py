"""The search behind blend_finder: every grid point of every set of liquids, most by bounds.

Along a line on which only two shares change, the squared distance to a centre is a parabola. So the points of
a line that are inside one sphere and far enough outside the others are found without visiting the rest, and a
set whose liquids are all too near to a sphere is skipped whole: distance is convex, so no mixture is further
away than its furthest part. Bounds are widened by more than rounding can do, and what is left is judged point
by point: the answer is that of an exhaustive search.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from kb.science.liquids.solubility import Hsp

MARGIN_STEP = 0.01
"""Margins are compared in steps of this size."""
_HAIR = 1e-7
"""Kept off round figures, so that rounding decides neither a step of margin nor who is inside."""

Accept = Callable[[tuple[int, ...], tuple[int, ...]], bool]
Key = tuple[int, float, int, float, tuple[int, ...], tuple[int, ...]]


class Point(NamedTuple):
    """Which liquids, by number, and how many steps of the grid of each."""

    members: tuple[int, ...]
    counts: tuple[int, ...]


class _Ball(NamedTuple):
    """A sphere, the liquids as places around its centre (dispersion doubled), and their inner products."""

    r0: float
    around: list[tuple[float, float, float]]
    gram: list[list[float]]


class Grid:
    """Liquids and spheres. ``into`` and ``out_of`` are centres and radii; ``places`` Hansen parameters."""

    def __init__(
        self,
        places: Sequence[Hsp],
        into: Sequence[tuple[Hsp, float]],
        out_of: Sequence[tuple[Hsp, float]],
        steps: int,
        margin_cap: float,
    ) -> None:
        self.steps = steps
        self._into = [_ball(places, centre, r0) for centre, r0 in into]
        self._out_of = [_ball(places, centre, r0) for centre, r0 in out_of]
        self._cap = margin_cap
        self._furthest = [
            # No mixture is further from a centre than its furthest part, since distance is convex.
            [math.sqrt(ball.gram[i][i]) / ball.r0 for ball in self._out_of]
            for i in range(len(places))
        ]

    def best(self, sets: Iterable[tuple[tuple[int, ...], float]], accept: Accept, count: int) -> list[Point]:
        """The best point of each of the ``count`` best sets, best first; ``sets`` with their hazard."""
        ordered = sorted(
            ((-self._bound(members), hazard, len(members), members) for members, hazard in sets),
            # The best bounds first: then most sets are passed over without being looked into.
        )
        worst_first: list[_Reversed] = []
        for bound, hazard, size, members in ordered:
            least = None
            if len(worst_first) == count:
                limit = worst_first[0].key
                # Worse than the worst of the best so far, even if its bound were reached.
                if (bound, hazard, size) > limit[:3]:
                    continue
                # A set that loses the tie on hazard and size must win by a whole step of margin.
                least = -limit[0] + (1 if (hazard, size) > limit[1:3] else 0)
            found = self._best_of(members, hazard, accept, least)
            if found is not None:
                heapq.heappush(worst_first, _Reversed(found))
                if len(worst_first) > count:
                    heapq.heappop(worst_first)
        return [Point(one.key[4], one.key[5]) for one in sorted(worst_first, reverse=True)]

    def _bound(self, members: tuple[int, ...]) -> int:
        """No mixture of the set has a higher step of margin."""
        margin = self._cap
        for number in range(len(self._out_of)):
            margin = min(margin, max(self._furthest[i][number] for i in members) - 1.0)
        return self._step_of(margin + _HAIR)

    # Half a step is added before it is cut, so that equal margins are equal steps whatever the rounding.
    def _step_of(self, margin: float) -> int:
        return math.floor(min(margin, self._cap) / MARGIN_STEP + 0.5 + _HAIR)

    def _best_of(
        self, members: tuple[int, ...], hazard: float, accept: Accept, least: int | None
    ) -> Key | None:
        """The best accepted point of a set with at least ``least`` steps of margin."""
        best: Key | None = None
        for counts in self._lines(members):
            for mixed in self._on_line(members, counts, least):
                key = self._judged(members, mixed, hazard)
                if (
                    # What cannot win need not be asked whether it mixes, which is the dear question.
                    key is None
                    or (best is not None and key >= best)
                    or (least is not None and -key[0] < least)
                ):
                    continue
                if accept(members, mixed):
                    best, least = key, -key[0]
        return best

    def _lines(self, members: tuple[int, ...]) -> Iterable[tuple[int, ...]]:
        """All counts but those of the last two liquids, which then share the rest."""
        if len(members) == 1:
            return ()
        fixed = [range(1, self.steps) for _ in members[:-2]]
        # Each of the last two has at least one step.
        return (counts for counts in itertools.product(*fixed) if sum(counts) <= self.steps - 2)

    def _on_line(
        self, members: tuple[int, ...], fixed: tuple[int, ...], least: int | None
    ) -> Iterable[tuple[int, ...]]:
        """The points of a line that may be inside and far enough outside."""
        rest = self.steps - sum(fixed)
        low, high = 1, rest - 1
        for ball in self._into:
            a, b, c = _parabola(ball.gram, members, fixed, rest)
            inside = _below(a, b, c - (ball.r0 * self.steps) ** 2 * (1.0 + _HAIR))
            if inside is None:
                return
            # Outwards by a hair: what rounding lost here is judged exactly below.
            low = max(low, math.ceil(max(inside[0], 0.0) - 1e-6))
            high = min(high, math.floor(min(inside[1], rest) + 1e-6))
        holes = []
        if least is not None and low <= high:
            red = 1.0 + (least - 0.5) * MARGIN_STEP - 1e-6
            for ball in self._out_of if red > 0 else ():
                a, b, c = _parabola(ball.gram, members, fixed, rest)
                near = _below(a, b, c - (red * ball.r0 * self.steps) ** 2, hair=-1e-6)
                if near is not None:
                    holes.append((near[0] + 1e-6, near[1] - 1e-6))
        for count in range(low, high + 1):
            # Holes are widened inwards: a point on their edge is still judged.
            if not any(start < count < end for start, end in holes):
                yield (*fixed, count, rest - count)

    def _judged(self, members: tuple[int, ...], counts: tuple[int, ...], hazard: float) -> Key | None:
        """The place of a point in the order, smaller is better; None if it is not inside."""
        deepest = 0.0
        for ball in self._into:
            red = self._red(ball, members, counts)
            if red > 1.0 + _HAIR / 10:
                return None
            deepest = max(deepest, red)
        margin = self._cap
        for ball in self._out_of:
            margin = min(margin, self._red(ball, members, counts) - 1.0)
        # Rounded: depth decides only where it differs by more than noise.
        return (-self._step_of(margin), hazard, len(members), round(deepest, 9), members, counts)

    def _red(self, ball: _Ball, members: tuple[int, ...], counts: tuple[int, ...]) -> float:
        # By place, not by inner products: close to the centre these lose half the digits.
        x = y = z = 0.0
        for i, count in zip(members, counts, strict=True):
            one = ball.around[i]
            x += count * one[0]
            y += count * one[1]
            z += count * one[2]
        return math.hypot(x, y, z) / self.steps / ball.r0


class _Reversed(NamedTuple):
    """A key that sorts the other way round, so that a heap gives up the worst."""

    key: Key

    def __lt__(self, other: tuple[object, ...]) -> bool:
        return self.key > other[0]  # type: ignore[operator]


def _ball(places: Sequence[Hsp], centre: Hsp, r0: float) -> _Ball:
    # Dispersion doubled, as Hansen's distance has it; then plain geometry serves.
    around = [(2.0 * (d - centre[0]), p - centre[1], h - centre[2]) for d, p, h in places]
    gram = [[math.fsum(a * b for a, b in zip(one, two, strict=True)) for two in around] for one in around]
    return _Ball(r0, around, gram)


def _parabola(
    gram: Sequence[Sequence[float]], members: tuple[int, ...], fixed: tuple[int, ...], rest: int
) -> tuple[float, float, float]:
    """a, b, c of the squared distance a n^2 + 2 b n + c, for n steps of the last liquid but one."""
    j, k = members[-2:]
    a = gram[j][j] + gram[k][k] - 2.0 * gram[j][k]
    b = rest * (gram[j][k] - gram[k][k])
    c = rest * rest * gram[k][k]
    for i, count in zip(members, fixed, strict=False):
        b += count * (gram[i][j] - gram[i][k])
        c += count * (count * gram[i][i] + 2.0 * rest * gram[i][k])
    return a, b, c


def _below(a: float, b: float, c: float, hair: float = 1e-6) -> tuple[float, float] | None:
    """Where a n^2 + 2 b n + c is not above zero; a is never negative but for rounding."""
    if a <= 1e-9:
        # Two liquids at one place: the line is a point.
        return (-math.inf, math.inf) if c <= hair else None
    under = b * b - a * c
    if under < 0:
        return None
    root = math.sqrt(under)
    return ((-b - root) / a, (-b + root) / a)
