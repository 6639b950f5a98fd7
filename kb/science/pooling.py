"""Pool the counts of many tests for one question, at a cost that follows the catalogue.

The method is that of :mod:`kb.science.evidence` (kernel-weighted Beta-Binomial); this module only
arranges the sums. All tests that share the same similarity of adhesive, stage, carrier and method to
the question ("a class") have the same context weight, and every sum of the method is linear in the
counts. So the book is kept as sums per class and liquid, and a question costs
classes x liquids + liquids x neighbours, however long the book is.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from itertools import accumulate
from operator import mul
from typing import NamedTuple

from kb.science.evidence import OBSERVED_SHARE, RING_EDGES, Posterior, combine

SHOWN_FROM = 0.25
"""Tests of at least this weight are counted in the explanation."""
FIELDS = 7
"""Numbers per liquid in a class: discounted tests, events and prior-weighted tests; then raw tests, raw
events, tests expected to succeed by chemistry alone, and the variance of that expectation."""
_SLACK = 1e-12
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


Prefix = tuple[list[float], list[float], list[float]]
"""Running totals of weighted n, k and n p0 over the classes, the heaviest class first."""


class Pool:
    """The book's sums for one question and one event (release or harm).

    ``contexts`` are the classes in any order; ``vectors[c]`` the sums of class ``c``, FIELDS numbers per
    liquid, in whole units of 1/``scale`` for all but the raw counts; ``kernel[u][v]`` the similarity of
    two liquids; ``extras`` further single cells. Liquids are places in the kernel.
    """

    def __init__(
        self,
        contexts: Sequence[Context],
        vectors: Sequence[Sequence[int]],
        kernel: Sequence[Sequence[float]],
        extras: Iterable[Extra] = (),
        scale: float = 1.0,
    ) -> None:
        order = sorted(range(len(contexts)), key=lambda c: -contexts[c].weight)
        self._contexts = [contexts[c] for c in order]
        self._falling = [-context.weight for context in self._contexts]
        self._kernel = kernel
        self._extras = tuple(extras)
        self._scale = scale
        # A class of weight w lies within a ring's edge e for liquids of likeness e / w and more.
        self._inward = tuple([-edge / weight for weight in self._falling] for edge in _INWARD)
        ordered = [vectors[c] for c in order]
        self._fields = [
            list(zip(*[v[field::FIELDS] for v in ordered], strict=True)) for field in range(FIELDS)
        ]
        weights = [context.weight for context in self._contexts]
        owns = [context.weight if context.own else 0.0 for context in self._contexts]
        self._prefix: list[Prefix | None] = []
        self._own: list[tuple[float, float, float]] = []
        for liquid in range(len(kernel)):
            rows = [self._fields[field][liquid] for field in range(3)] if ordered else []
            if not rows or not any(rows[0]):
                self._prefix.append(None)
                self._own.append((0.0, 0.0, 0.0))
                continue
            self._prefix.append(self._running(weights, rows))
            n, k, np0 = (sum(map(mul, owns, row)) / scale for row in rows)
            self._own.append((n, k, np0))

    def _running(self, weights: list[float], rows: Sequence[Sequence[int]]) -> Prefix:
        scaled = [weight / self._scale for weight in weights]
        n, k, np0 = (list(accumulate(map(mul, scaled, row), initial=0.0)) for row in rows)
        return n, k, np0

    def posterior(self, liquid: int, p0: float) -> Posterior:
        """Posterior of the event for ``liquid`` whose chemistry prior in this question is ``p0``."""
        own_n, own_k, own_np0 = self._own[liquid]
        own_v = own_k + OBSERVED_SHARE * (p0 * own_n - own_np0)
        tests, rated = [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
        inmost, middle, outer = self._inward
        prefixes = self._prefix
        for other, likeness in enumerate(self._kernel[liquid]):
            if likeness < LEAST_WEIGHT:
                continue
            prefix = prefixes[other]
            if prefix is None:
                continue
            n_sum, k_sum, np0_sum = prefix
            reach = likeness + _SLACK
            first, second = bisect_right(inmost, reach), bisect_right(middle, reach)
            third = bisect_right(outer, reach)
            for ring, start, stop in ((2, 0, first), (1, first, second), (0, second, third)):
                if stop > start:
                    n = likeness * (n_sum[stop] - n_sum[start])
                    if n > 0.0:
                        tests[ring] += n
                        hits = likeness * (k_sum[stop] - k_sum[start])
                        expected = likeness * (np0_sum[stop] - np0_sum[start])
                        rated[ring] += hits + OBSERVED_SHARE * (p0 * n - expected)
        # The liquid's own class lies in the inmost ring, where its sums were just added: it counts apart.
        tests[2] -= own_n
        rated[2] -= own_v
        if tests[2] < LEAST_TESTS:
            tests[2] = rated[2] = 0.0
        for cell, weight in self._near(liquid):
            n = weight * cell.n
            v = weight * (cell.k + OBSERVED_SHARE * cell.n * (p0 - cell.p0))
            if cell.own and cell.liquid == liquid:
                own_n, own_v = own_n + n, own_v + v
            else:
                ring = bisect_right(RING_EDGES, weight) - 1
                tests[ring] += n
                rated[ring] += v
        return combine(p0, (own_n, own_v), list(zip(tests, rated, strict=True)))

    def _near(self, liquid: int) -> list[tuple[Extra, float]]:
        """Extra cells that bear on a liquid, with their weight."""
        row = self._kernel[liquid]
        near = ((cell, cell.weight * row[cell.liquid]) for cell in self._extras)
        return [(cell, weight) for cell, weight in near if weight >= RING_EDGES[0]]

    def extra_tests(self, liquid: int) -> float:
        """Tests' worth of extra cells of weight SHOWN_FROM or more."""
        return sum(cell.n for cell, weight in self._near(liquid) if weight >= SHOWN_FROM)

    def own_counts(self, liquid: int) -> Counts:
        """Raw counts of the liquid's own class."""
        return self._raw(liquid, [place for place, context in enumerate(self._contexts) if context.own])

    def similar_counts(self, liquid: int) -> Counts:
        """Raw counts of all other tests of weight SHOWN_FROM or more."""
        total = [0.0] * 4
        for other, likeness in enumerate(self._kernel[liquid]):
            if likeness < SHOWN_FROM or self._prefix[other] is None:
                continue
            stop = bisect_right(self._falling, _SLACK - SHOWN_FROM / likeness)
            places = range(stop)
            if other == liquid:
                places_left = [place for place in places if not self._contexts[place].own]
                found = self._raw(other, places_left)
            else:
                found = self._raw(other, places)
            total = [a + b for a, b in zip(total, found, strict=True)]
        return Counts(*total)

    def _raw(self, liquid: int, places: Iterable[int]) -> Counts:
        """Raw counts of one liquid over some classes."""
        if self._prefix[liquid] is None:
            return Counts()
        chosen = list(places)
        rows = [self._fields[field][liquid] for field in range(3, FIELDS)]
        tests, hits, expected, variance = (sum([row[place] for place in chosen]) for row in rows)
        return Counts(tests, hits, expected / self._scale, variance / self._scale)
