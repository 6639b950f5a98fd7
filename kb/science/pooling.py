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
from operator import add
from typing import NamedTuple

from kb.science.evidence import Posterior, combine

RING_EDGES = (0.1, 0.25, 0.5)
"""Least weight of the three rings of similar tests; below the first, a test is ignored."""
SHOWN_FROM = 0.25
"""Tests of at least this weight are counted in the explanation."""
FIELDS = 7


class Sums(NamedTuple):
    """Sums over cells: discounted tests, events and prior-weighted tests; then raw counts.

    ``expected`` is the sum of raw tests times their own chemistry prior, ``variance`` the sum of
    raw tests times p0 (1 - p0).
    """

    n: float = 0.0
    k: float = 0.0
    np0: float = 0.0
    tests: float = 0.0
    hits: float = 0.0
    expected: float = 0.0
    variance: float = 0.0


ZERO = Sums()


class Context(NamedTuple):
    """One class of tests: its similarity to the question without the liquid, and if it is own class."""

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


class Pooled(NamedTuple):
    """The posterior for one liquid and the raw counts behind it."""

    posterior: Posterior
    own: Sums
    similar: Sums
    extra_n: float
    extra_k: float


class Pool:
    """The book's sums for one question and one event (release or harm).

    ``contexts`` are the classes in any order; ``sums[j][c]`` the sums of liquid ``j`` in class ``c``;
    ``kernel[u][v]`` the similarity of two liquids; ``extras`` further single cells.
    """

    def __init__(
        self,
        contexts: Sequence[Context],
        sums: Sequence[Sequence[Sums]],
        kernel: Sequence[Sequence[float]],
        extras: Iterable[Extra] = (),
    ) -> None:
        order = sorted(range(len(contexts)), key=lambda c: -contexts[c].weight)
        self._falling = [-contexts[c].weight for c in order]
        self._kernel = kernel
        self._extras = tuple(extras)
        self._prefix: list[list[tuple[float, ...]] | None] = []
        self._others: list[list[tuple[float, ...]] | None] = []
        self._own: list[Sums] = []
        for row in sums:
            weighted = [_weigh(row[c], contexts[c].weight) for c in order]
            others = [ZERO if contexts[c].own else w for c, w in zip(order, weighted, strict=True)]
            own = [row[c] for c in order if contexts[c].own]
            own_weighted = [_weigh(row[c], contexts[c].weight) for c in order if contexts[c].own]
            empty = not any(w.n for w in weighted)
            self._prefix.append(None if empty else _running(weighted))
            self._others.append(None if empty else _running(others))
            self._own.append(_total(own_weighted, own))

    def posterior(self, liquid: int, p0: float) -> Pooled:
        """Posterior of the event for ``liquid`` whose chemistry prior in this question is ``p0``."""
        own = self._own[liquid]
        own_e, own_v = own.n, own.k + 0.5 * (p0 * own.n - own.np0)
        rings = [[0.0, 0.0], [0.0, 0.0], [0.0, 0.0]]
        similar = [0.0, 0.0, 0.0, 0.0]
        for other, likeness in enumerate(self._kernel[liquid]):
            if likeness < RING_EDGES[0]:
                continue
            prefix = self._others[other] if other == liquid else self._prefix[other]
            if prefix is not None:
                self._add_rings(prefix, likeness, p0, rings, similar)
        extra_n = extra_k = 0.0
        for cell in self._extras:
            weight = cell.weight * self._kernel[liquid][cell.liquid]
            if weight < RING_EDGES[0]:
                continue
            e = weight * cell.n
            v = weight * (cell.k + 0.5 * cell.n * (p0 - cell.p0))
            if cell.own and cell.liquid == liquid:
                own_e, own_v = own_e + e, own_v + v
            else:
                ring = rings[bisect_right(RING_EDGES, weight) - 1]
                ring[0] += e
                ring[1] += v
            if weight >= SHOWN_FROM:
                extra_n += cell.n
                extra_k += cell.k
        posterior = combine(p0, (own_e, own_v), [(e, v) for e, v in rings])
        return Pooled(posterior, own, Sums(0.0, 0.0, 0.0, *similar), extra_n, extra_k)

    def _add_rings(
        self,
        prefix: list[tuple[float, ...]],
        likeness: float,
        p0: float,
        rings: list[list[float]],
        similar: list[float],
    ) -> None:
        """Add one neighbouring liquid's classes to the rings that their weights fall into."""
        start = 0
        for ring, edge in zip((2, 1, 0), (0.5, 0.25, 0.1), strict=True):
            stop = bisect_right(self._falling, -edge / likeness + 1e-12)
            if stop > start:
                low, high = prefix[start], prefix[stop]
                n = likeness * (high[0] - low[0])
                if n > 0.0:
                    rings[ring][0] += n
                    expected = 0.5 * (p0 * n - likeness * (high[2] - low[2]))
                    rings[ring][1] += likeness * (high[1] - low[1]) + expected
                if edge >= SHOWN_FROM:
                    for field in range(4):
                        similar[field] += high[3 + field] - low[3 + field]
            start = stop


def _weigh(sums: Sums, weight: float) -> Sums:
    """Discounted sums times the context weight; raw counts stay as they are."""
    return Sums(sums.n * weight, sums.k * weight, sums.np0 * weight, *sums[3:])


def _running(rows: Sequence[Sums]) -> list[tuple[float, ...]]:
    """Running totals, starting from zero, one longer than ``rows``."""
    return list(accumulate(rows, lambda total, row: tuple(map(add, total, row)), initial=tuple(ZERO)))


def _total(weighted: Sequence[Sums], raw: Sequence[Sums]) -> Sums:
    """Sum of the weighted discounted fields and of the raw counts."""
    if not raw:
        return ZERO
    columns = [sum(column) for column in zip(*weighted, strict=True)]
    counts = [sum(column) for column in zip(*raw, strict=True)]
    return Sums(*columns[:3], *counts[3:])
