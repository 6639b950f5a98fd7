"""Pool the counts of many tests for one question, at a cost that follows the catalogue.

The method is that of :mod:`kb.science.choose.evidence` (kernel-weighted Beta-Binomial); this module only
arranges the sums. All tests that share the same similarity of adhesive, stage, carrier and method to
the question ("a class") have the same context weight, and every sum of the method is linear in the
counts. So the book is kept as sums per class and liquid, and a question costs
classes x liquids + liquids x neighbours, however long the book is.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from itertools import accumulate
from operator import getitem, mul
from typing import NamedTuple

from kb.science.choose.evidence import EDGE_SLACK, OBSERVED_SHARE, RING_EDGES, Posterior, combine

SHOWN_FROM = 0.25
"""Tests of at least this weight are counted in the explanation."""
FIELDS = 8
"""Numbers per liquid in a class: discounted tests, events, prior-weighted tests, and events by partial
credit, which alone may be negative; then raw tests, raw events, tests expected to succeed by chemistry alone,
and the variance of that expectation."""
CREDIT = 3
RAW = range(4, FIELDS)
"""Places of the raw fields."""
_INWARD = RING_EDGES[::-1]
"""Edges of the rings from the inmost outward, the order in which falling weights meet them."""
LEAST_WEIGHT = RING_EDGES[0]
LEAST_TESTS = 1e-9
"""Less than this is what rounding leaves of nothing: counts are kept in whole billionths."""


class Context(NamedTuple):
    """One class of tests: its similarity to the question without the liquid, and if it is own class.

    An own class weighs at least half, so that it lies in the inmost ring of its own liquid.
    """

    weight: float
    own: bool


class Extra(NamedTuple):
    """A cell outside the book's sums, such as a report in print: liquid index, context, counts."""

    liquid: int
    weight: float
    own: bool
    n: float
    k: float
    p0: float


class Counts(NamedTuple):
    """Raw counts: tests, events, events that chemistry alone expected, variance of that."""

    tests: float = 0.0
    hits: float = 0.0
    expected: float = 0.0
    variance: float = 0.0


Group = tuple[float, float]
"""Weighted tests of one group, and the sum of their weighted corrected rates."""
Groups = tuple[Group, list[Group]]
"""The own class, and the three rings, widest first; what combine() wants."""


class Reach(NamedTuple):
    """Those other liquids of which a class counts for one liquid, column by column."""

    others: tuple[int, ...]
    likenesses: tuple[float, ...]
    stops: tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]
    """How many classes, the heaviest first, lie within each ring, the inmost first."""


Raw = tuple[list[int], list[int], list[int], list[int]]
"""Running totals of the raw fields over the classes, the heaviest class first."""


class Kernel:
    """Similarity of every two liquids, ``rows[u][v]``, and what it means for classes of given weights.

    The latter is kept for the last KEPT sets of weights, because questions share them.
    """

    KEPT = 16

    def __init__(self, rows: Sequence[Sequence[float]]) -> None:
        self._rows = rows
        self._reaches: dict[tuple[float, ...], list[Reach]] = {}
        self._shown: dict[int, list[tuple[int, float]]] = {}

    def __len__(self) -> int:
        return len(self._rows)

    def __getitem__(self, liquid: int) -> Sequence[float]:
        return self._rows[liquid]

    def shown(self, liquid: int) -> list[tuple[int, float]]:
        """Those liquids, itself among them, of which tests may be counted in the explanation."""
        found = self._shown.get(liquid)
        if found is None:
            row = enumerate(self._rows[liquid])
            found = self._shown[liquid] = [(other, like) for other, like in row if like >= SHOWN_FROM]
        return found

    def reaches(self, weights: tuple[float, ...]) -> list[Reach]:
        """For each liquid those others of which a class counts. ``weights`` of the classes fall."""
        found = self._reaches.get(weights)
        if found is None:
            if len(self._reaches) >= self.KEPT:
                del self._reaches[next(iter(self._reaches))]
            found = self._reaches[weights] = _reaches(self._rows, weights)
        return found


def _reaches(rows: Sequence[Sequence[float]], weights: tuple[float, ...]) -> list[Reach]:
    # Below this likeness not even the heaviest class counts.
    least = LEAST_WEIGHT / max(weights[0] if weights else 1.0, LEAST_WEIGHT) - EDGE_SLACK
    # A class of weight w lies within a ring's edge e for liquids of likeness e / w and more.
    inmost, middle, outer = ([edge / weight for weight in weights] for edge in _INWARD)
    found = []
    for row in rows:
        others = tuple([other for other, likeness in enumerate(row) if likeness >= least])
        likenesses = tuple([row[other] for other in others])
        wide = [likeness + EDGE_SLACK for likeness in likenesses]
        first, second, third = (
            tuple([bisect_right(edges, reach) for reach in wide]) for edges in (inmost, middle, outer)
        )
        found.append(Reach(others, likenesses, (first, second, third)))
    return found


class Pool:
    """The book's sums for one question and one event (release or harm).

    ``contexts`` are the classes in any order; ``vectors[c]`` the sums of class ``c``, FIELDS numbers per
    liquid, in whole units of 1/``scale`` for all but the raw counts; ``extras`` further single cells.
    Liquids are places in the kernel.
    """

    def __init__(
        self,
        contexts: Sequence[Context],
        vectors: Sequence[Sequence[int]],
        kernel: Kernel | Sequence[Sequence[float]],
        extras: Iterable[Extra] = (),
        scale: float = 1.0,
    ) -> None:
        # The heaviest first: then a ring is a beginning of the list, and running totals answer for it.
        order = sorted(range(len(contexts)), key=lambda c: -contexts[c].weight)
        self._contexts = [contexts[c] for c in order]
        self._falling = [-context.weight for context in self._contexts]
        self._kernel = kernel if isinstance(kernel, Kernel) else Kernel(kernel)
        self._extras = tuple(extras)
        self._scale = scale
        self._vectors = ordered = [vectors[c] for c in order]
        weighed = [list(zip(*[v[field::FIELDS] for v in ordered], strict=True)) for field in range(CREDIT)]
        weights = tuple([context.weight for context in self._contexts])
        self._reaches = self._kernel.reaches(weights)
        self._own_places = [place for place, context in enumerate(self._contexts) if context.own]
        self._raws: dict[int, Raw] = {}
        owns = [context.weight if context.own else 0.0 for context in self._contexts]
        self._sums = [[0j] * (len(ordered) + 1)] * len(kernel)
        """By liquid: running totals over the classes, the heaviest first. The real part is weighted tests,
        the imaginary one weighted events less what the chemistry of the test's own place takes off: as one
        number the two are added up in half the time, and to the same figures."""
        # Own class apart: it has its own ceiling and must not count as similar to itself as well.
        self._own = [(0.0, 0.0)] * len(kernel)
        scaled = [weight / scale for weight in weights]
        self._tested = [bool(ordered) and any(weighed[0][liquid]) for liquid in range(len(kernel))]
        # An empty book answers from chemistry at once.
        self._empty = not any(self._tested)
        for liquid in range(len(kernel)):
            if self._tested[liquid]:
                n, k, np0 = (column[liquid] for column in weighed)
                rated = [hits - OBSERVED_SHARE * expected for hits, expected in zip(k, np0, strict=True)]
                self._sums[liquid] = list(accumulate(map(mul, scaled, map(complex, n, rated)), initial=0j))
                self._own[liquid] = (sum(map(mul, owns, n)) / scale, sum(map(mul, owns, rated)) / scale)

    def posterior(self, liquid: int, p0: float, start: float | None = None) -> Posterior:
        """Posterior of the event for ``liquid`` whose chemistry prior in this question is ``p0``.

        ``start`` is the same prior as the book has taught it: tests are compared by chemistry alone, so that
        what they taught is not taken off them again.
        """
        groups = self.with_extras(liquid, p0, self.counted(liquid, p0))
        return combine(p0 if start is None else start, *groups)

    def counted(self, liquid: int, p0: float) -> Groups:
        """The groups of ``liquid`` from the sums alone, without the extra cells."""
        # The usual case in a new studio.
        if self._empty:
            return (0.0, 0.0), [(0.0, 0.0)] * 3
        # What a test counts, k + s (p0 n - p0_there n), is linear: the part that knows p0 comes in last.
        own_n, own_r = self._own[liquid]
        shift = OBSERVED_SHARE * p0
        own_v = own_r + shift * own_n
        others, likenesses, stops = self._reaches[liquid]
        sums_of = [self._sums[other] for other in others]
        tests, rated = [], []
        before = 0j
        for stop in stops:
            found = sum(map(mul, likenesses, map(getitem, sums_of, stop)), 0j)
            here = found - before
            # Rings are nested; each takes what the one inside it has not.
            tests.append(here.real)
            rated.append(here.imag + shift * here.real)
            before = found
        # combine() wants the widest first, and they were met from the inmost.
        tests.reverse()
        rated.reverse()
        # The liquid's own class lies in the inmost ring, where its sums were just added: it counts apart.
        tests[2] -= own_n
        rated[2] -= own_v
        # What rounding leaves would be divided by itself and give a rate of anything.
        if tests[2] < LEAST_TESTS:
            tests[2] = rated[2] = 0.0
        return (own_n, own_v), list(zip(tests, rated, strict=True))

    def with_extras(self, liquid: int, p0: float, groups: Groups) -> Groups:
        """The same groups with the extra cells added to them."""
        # Most questions have reports, but not for each liquid.
        if not self._extras:
            return groups
        (own_n, own_v), rings = groups
        tests, rated = map(list, zip(*rings, strict=True))
        for cell, weight in self._near(liquid):
            n = weight * cell.n
            v = weight * (cell.k + OBSERVED_SHARE * cell.n * (p0 - cell.p0))
            if cell.own and cell.liquid == liquid:
                own_n, own_v = own_n + n, own_v + v
            else:
                ring = bisect_right(RING_EDGES, weight) - 1
                tests[ring] += n
                rated[ring] += v
        return (own_n, own_v), list(zip(tests, rated, strict=True))

    def _near(self, liquid: int) -> list[tuple[Extra, float]]:
        """Extra cells that bear on a liquid, with their weight."""
        row = self._kernel[liquid]
        return [
            (cell, weight)
            for cell in self._extras
            if (weight := cell.weight * row[cell.liquid]) >= RING_EDGES[0]
        ]

    def extra_tests(self, liquid: int) -> float:
        """Tests' worth of extra cells of weight SHOWN_FROM or more."""
        return sum(cell.n for cell, weight in self._near(liquid) if weight >= SHOWN_FROM)

    def own_counts(self, liquid: int) -> Counts:
        """Raw counts of the liquid's own class."""
        return self._counts(self._own_raw(liquid))

    def similar_counts(self, liquid: int) -> Counts:
        """Raw counts of all other tests of weight SHOWN_FROM or more."""
        # Own classes weigh at least half, so that all of them are among those that are taken off again.
        total = [-one for one in self._own_raw(liquid)]
        for other, likeness in self._kernel.shown(liquid):
            if self._tested[other]:
                stop = bisect_right(self._falling, EDGE_SLACK - SHOWN_FROM / likeness)
                for field, running in enumerate(self._raw(other)):
                    total[field] += running[stop]
        return self._counts(total)

    def _own_raw(self, liquid: int) -> list[int]:
        """Raw fields of the liquid's own class."""
        own = [self._vectors[place] for place in self._own_places]
        # Few classes are own ones, so picking is cheaper than keeping totals for all.
        return [sum([vector[liquid * FIELDS + field] for vector in own]) for field in RAW]

    def _raw(self, liquid: int) -> Raw:
        """Running totals of the raw fields of one liquid."""
        # Made when an explanation asks: a ranking needs none of them.
        found = self._raws.get(liquid)
        if found is None:
            rows = ([vector[liquid * FIELDS + field] for vector in self._vectors] for field in RAW)
            tests, hits, expected, variance = (list(accumulate(row, initial=0)) for row in rows)
            found = self._raws[liquid] = (tests, hits, expected, variance)
        return found

    def _counts(self, raw: Sequence[int]) -> Counts:
        tests, hits, expected, variance = raw
        return Counts(tests, hits, expected / self._scale, variance / self._scale)
