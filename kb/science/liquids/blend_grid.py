"""The search behind blend_finder: every grid point of every set of liquids, most by bounds.

Along a line on which only two shares change, the squared distance to a centre is a parabola. So the points of
a line that are inside one sphere and far enough outside the others are found without visiting the rest, and
most sets are never made (_Reach). Bounds are widened by more than rounding can do, and what is left is judged
point by point: the answer is that of an exhaustive search.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Callable, Collection, Iterable, Sequence
from typing import NamedTuple

from kb.science.liquids.solubility import Hsp

MARGIN_STEP = 0.01
"""Margins are compared in steps of this size."""
_HAIR = 1e-7
"""Kept off round figures, so that rounding decides neither a step of margin nor who is inside."""

Allow = Callable[[tuple[int, ...]], bool]
Accept = Callable[[tuple[int, ...], tuple[int, ...]], bool]
Key = tuple[int, float, int, float, tuple[int, ...], tuple[int, ...]]


class Point(NamedTuple):
    """Which liquids, by number, and how many steps of the grid of each."""

    members: tuple[int, ...]
    counts: tuple[int, ...]


class Wanted(NamedTuple):
    """What is looked for: the ``how_many`` best sets of 2 to ``most_parts`` liquids.

    ``hazards`` of the liquids; ``allow`` says whether a set is wanted, ``accept`` whether a point is.
    """

    hazards: Sequence[float]
    most_parts: int
    allow: Allow
    accept: Accept
    how_many: int


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
        first = self._into[0]
        self._reach = [_Reach(first, ball, steps) for ball in self._out_of]

    def best(self, wanted: Wanted, first: Collection[int] = ()) -> list[Point]:
        """The best point of each set, best first; before all others those of ``first`` alone."""
        worst_first: list[_Reversed] = []
        self._search(sorted(first), wanted, worst_first)
        of_first = _points(worst_first)
        # Those are among the best of all or beaten by what is, and need not be made again.
        known = frozenset(first)
        others = wanted._replace(allow=lambda some: not known.issuperset(some) and wanted.allow(some))
        self._search(range(len(wanted.hazards)), others, worst_first)
        return list(dict.fromkeys((*of_first, *_points(worst_first))))

    def _search(self, liquids: Sequence[int], wanted: Wanted, worst_first: list[_Reversed]) -> None:
        """Keep the best of what is there and of the sets of these liquids."""
        # Pairs first: they are few, and what they reach says which threes are worth making.
        for size in range(2, wanted.most_parts + 1):
            sets: Iterable[tuple[int, ...]] = itertools.combinations(liquids, size)
            if self._reach and len(worst_first) == wanted.how_many:
                red = max(self._least_red(-worst_first[0].key[0]), 0.0)
                reaching = (one.pairs if size == 2 else one.threes for one in self._reach)
                sets = set.intersection(*(those(liquids, red) for those in reaching))
            self._try(sets, wanted, worst_first)

    def _try(self, sets: Iterable[tuple[int, ...]], wanted: Wanted, worst_first: list[_Reversed]) -> None:
        """Keep the best of what is there and of these sets."""
        ordered = sorted(
            # The best bounds first: then most sets are passed over without being looked into.
            (-self._bound(members), max([wanted.hazards[i] for i in members]), len(members), members)
            for members in sets
            if wanted.allow(members)
        )
        for bound, hazard, size, members in ordered:
            least = None
            if len(worst_first) == wanted.how_many:
                limit = worst_first[0].key
                # Worse than the worst of the best so far, even if its bound were reached.
                if (bound, hazard, size) > limit[:3]:
                    continue
                # A set that loses the tie on hazard and size must win by a whole step of margin.
                least = -limit[0] + (1 if (hazard, size) > limit[1:3] else 0)
            found = self._best_of(members, (bound, hazard), wanted.accept, least)
            if found is not None:
                heapq.heappush(worst_first, _Reversed(found))
                if len(worst_first) > wanted.how_many:
                    heapq.heappop(worst_first)

    def _bound(self, members: tuple[int, ...]) -> int:
        """No mixture of the set has a higher step of margin."""
        margin = min([reach.red(members) - 1.0 for reach in self._reach], default=self._cap)
        return self._step_of(margin + _HAIR)

    def _least_red(self, step: int) -> float:
        """From where on a distance counts as so many steps of margin, a hair less."""
        return 1.0 + (step - 0.5) * MARGIN_STEP - 1e-6

    # Half a step is added before it is cut, so that equal margins are equal steps whatever the rounding.
    def _step_of(self, margin: float) -> int:
        return math.floor(min(margin, self._cap) / MARGIN_STEP + 0.5 + _HAIR)

    def _best_of(
        self, members: tuple[int, ...], promise: tuple[int, float], accept: Accept, least: int | None
    ) -> Key | None:
        """The best accepted point of a set with at least ``least`` steps of margin.

        ``promise`` are the first two of its key: no margin is wider, and the hazard is that of the set.
        """
        best: Key | None = None
        widest, hazard = promise
        # Nearly every set keeps its promise, and then nothing else of it need be looked at.
        for aim in dict.fromkeys((-widest, least)):
            at_least, within = aim, 1.0
            for fixed in self._lines(members):
                for mixed in self._on_line(members, fixed, at_least, within):
                    key = self._judged(members, mixed, hazard)
                    if key is None or (at_least is not None and -key[0] < at_least):
                        continue
                    if best is not None and key >= best:
                        if len(self._into) == 1 and best[0] == widest and key[3] > best[3]:
                            # The rest of this line lies less deep.
                            break
                        continue
                    # What cannot win need not be asked whether it mixes, which is the dear question.
                    if accept(members, mixed):
                        best, at_least = key, -key[0]
                        if key[0] == widest:
                            # From here on only what lies deeper inside is better.
                            within = key[3]
            if best is not None:
                break
        return best

    def _lines(self, members: tuple[int, ...]) -> Iterable[tuple[int, ...]]:
        """All counts but those of the last two liquids, which then share the rest."""
        fixed = [range(1, self.steps) for _ in members[:-2]]
        # Each of the last two has at least one step.
        return (counts for counts in itertools.product(*fixed) if sum(counts) <= self.steps - 2)

    def _on_line(
        self, members: tuple[int, ...], fixed: tuple[int, ...], least: int | None, within: float
    ) -> Iterable[tuple[int, ...]]:
        """The points of a line that may be this deep inside (RED) and far enough outside.

        Where there is one sphere to go into, the deepest come first.
        """
        rest = self.steps - sum(fixed)
        low, high, deepest = 1, rest - 1, 0.0
        for ball in self._into:
            a, b, c = _parabola(ball.gram, members, fixed, rest)
            inside = _below(a, b, c - ((within + _HAIR) * ball.r0 * self.steps) ** 2)
            if inside is None:
                return
            # Outwards by a hair: what rounding lost here is judged exactly below.
            low = max(low, math.ceil(max(inside[0], 0.0) - 1e-6))
            high = min(high, math.floor(min(inside[1], rest) + 1e-6))
            deepest = -b / a if a > 0 else 0.0
        holes = []
        if least is not None and low <= high:
            red = self._least_red(least)
            for ball in self._out_of if red > 0 else ():
                a, b, c = _parabola(ball.gram, members, fixed, rest)
                near = _below(a, b, c - (red * ball.r0 * self.steps) ** 2, hair=-1e-6)
                if near is None:
                    continue
                # Holes are widened inwards: a point on their edge is still judged.
                start, end = near[0] + 1e-6, near[1] - 1e-6
                if start < low and high < end:
                    return
                holes.append((start, end))
        for count in sorted(range(low, high + 1), key=lambda count: abs(count - deepest)):
            # Written out: it is asked of some ten thousand points.
            for start, end in holes:
                if start < count < end:
                    break
            else:
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


class _Reach:
    """How far out of one sphere the mixtures of a set can lie while they are inside another.

    With f and g the squared distances to the two centres and r the radius to stay inside, a mixture that is
    inside has f = min(f, f - g + r^2). The first is convex and the second linear in the shares, so over all
    mixtures this is largest on an edge, between two liquids: at its ends, or where it crosses the sphere.
    """

    def __init__(self, into: _Ball, out_of: _Ball, steps: int) -> None:
        self._least = 1.0 / steps
        """Every part has at least this share."""
        self._r0 = out_of.r0
        self._inside = (into.r0 * (1.0 + _HAIR)) ** 2
        self._crossings: dict[tuple[int, int], float] = {}
        self._in = [into.gram[i][i] for i in range(len(into.gram))]
        self._out = [out_of.gram[i][i] for i in range(len(out_of.gram))]
        self._apart = [
            [a + b - 2.0 * both for b, both in zip(self._in, row, strict=True)]
            for a, row in zip(self._in, into.gram, strict=True)
        ]

    def red(self, members: tuple[int, ...]) -> float:
        """No mixture of these that is inside has a larger RED; all of them in it."""
        # As each has its share, a set reaches no further than a smaller figure of the same shape.
        least, size = self._least, len(members)
        own = 1.0 - size * least
        if size == 2:
            return self._of_pair(members[0], members[1], own)
        apart = [[self._apart[i][j] for j in members] for i in members]
        out = least * sum(self._out[i] for i in members)
        within = least * sum(self._in[i] for i in members)
        corners = []
        for i, row in zip(members, apart, strict=True):
            bent = least * (own * sum(row) + least * sum(map(sum, apart)) / 2.0)
            corners.append((out + own * self._out[i] - bent, within + own * self._in[i] - bent))
        highest = max(
            max(self._edge(*corners[i], *corners[j], own * own * apart[i][j]))
            for i, j in itertools.combinations(range(size), 2)
        )
        return math.sqrt(max(highest, 0.0)) / self._r0

    def _of_pair(self, i: int, j: int, own: float) -> float:
        """The same of two, which most sets are, to the same figures."""
        least, apart = self._least, self._apart[i][j]
        out, within = least * (self._out[i] + self._out[j]), least * (self._in[i] + self._in[j])
        bent = least * (own * apart + least * apart)
        highest = max(
            self._edge(
                out + own * self._out[i] - bent,
                within + own * self._in[i] - bent,
                out + own * self._out[j] - bent,
                within + own * self._in[j] - bent,
                own * own * apart,
            )
        )
        return math.sqrt(max(highest, 0.0)) / self._r0

    def pairs(self, liquids: Sequence[int], red: float) -> set[tuple[int, ...]]:
        """All pairs with a mixture inside at this RED or further out, and some without one."""
        level = (red * self._r0) ** 2
        far = self._far(liquids, level)
        return {
            (i, j)
            for i, j in itertools.combinations(liquids, 2)
            if i in far or j in far or self._crossed(i, j) >= level
        }

    def threes(self, liquids: Sequence[int], red: float) -> set[tuple[int, ...]]:
        """The same of three liquids."""
        level = (red * self._r0) ** 2
        far = self._far(liquids, level)
        found = {
            # An edge that crosses the sphere far out may do so with any third.
            tuple(sorted((i, j, k)))
            for i, j in itertools.combinations(liquids, 2)
            if self._crossed(i, j) >= level
            for k in liquids
            if k not in (i, j)
        }
        for i in far:
            # Beyond the chord between the points of two edges where these come too near, all is too near, as
            # the near is convex: so the shares of two others, over what each edge bears, add up to 1 at most.
            used = sorted(
                (0.0 if j in far else self._least / self._share(i, j, level), j) for j in liquids if j != i
            )
            for place, (one, j) in enumerate(used):
                for two, k in used[place + 1 :]:
                    if one + two > 1.0:
                        break
                    found.add(tuple(sorted((i, j, k))))
        return found

    def _linear(self, i: int) -> float:
        return self._out[i] - self._in[i] + self._inside

    def _far(self, liquids: Iterable[int], level: float) -> set[int]:
        return {i for i in liquids if min(self._out[i], self._linear(i)) >= level}

    def _crossed(self, i: int, j: int) -> float:
        """The largest bound where an edge crosses the sphere; both searches ask, for pairs and for threes."""
        if (i, j) not in self._crossings:
            edge = self._edge(self._out[i], self._in[i], self._out[j], self._in[j], self._apart[i][j])
            self._crossings[i, j] = max(edge[2:], default=-math.inf)
        return self._crossings[i, j]

    def _edge(self, f_i: float, g_i: float, f_j: float, g_j: float, apart: float) -> tuple[float, ...]:
        """The bound at both ends of an edge of this squared length, and f where it crosses the sphere."""
        inside = self._inside
        ends = (min(f_i, f_i - g_i + inside), min(f_j, f_j - g_j + inside))
        # Both ends inside: so is all between.
        if (g_i <= inside and g_j <= inside) or apart <= _HAIR:
            return ends
        half, slope = (g_j - g_i - apart) / 2.0, f_j - f_i - apart
        under = half * half - apart * (g_i - inside)
        if under < 0:
            return ends
        root = math.sqrt(under)
        places = ((-half - root) / apart, (-half + root) / apart)
        return (*ends, *(f_i + t * (slope + t * apart) for t in places if 0.0 <= t <= 1.0))

    def _share(self, i: int, j: int, level: float) -> float:
        """How much of j, from i on, keeps the bound at ``level`` at least; at least a hair."""
        apart, over = self._apart[i][j], self._out[i] - level
        half = (self._out[j] - self._out[i] - apart) / 2.0
        under = half * half - apart * over
        most = 1.0
        if under >= 0 and half < 0:
            most = min(most, over / (math.sqrt(under) - half))
        linear, other = self._linear(i), self._linear(j)
        if other < level:
            most = min(most, (linear - level) / (linear - other))
        return max(most, 0.0) + _HAIR


class _Reversed(NamedTuple):
    """A key that sorts the other way round, so that a heap gives up the worst."""

    key: Key

    def __lt__(self, other: tuple[object, ...]) -> bool:
        return self.key > other[0]  # type: ignore[operator]


def _points(worst_first: Iterable[_Reversed]) -> list[Point]:
    return [Point(one.key[4], one.key[5]) for one in sorted(worst_first, reverse=True)]


def _ball(places: Sequence[Hsp], centre: Hsp, r0: float) -> _Ball:
    # Dispersion doubled, as Hansen's distance has it; then plain geometry serves.
    around = [(2.0 * (d - centre[0]), p - centre[1], h - centre[2]) for d, p, h in places]
    gram = [[x * u + y * v + z * w for u, v, w in around] for x, y, z in around]
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
