"""Pool the counts of many tests for one question, at a cost that follows the catalogue.

The method is that of :mod:`kb.science.choose.evidence` (kernel-weighted Beta-Binomial); this module only
arranges the sums. All tests that share the same similarity of adhesive, stage, carrier and method to
the question ("a class") have the same context weight, and every sum of the method is linear in the
counts. So the book is kept as sums per class and liquid, and a question costs
classes x liquids + liquids x neighbours, however long the book is.
"""

import math
import sys
from array import array
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from itertools import accumulate, repeat
from operator import itemgetter, mul
from typing import NamedTuple

from kb.science.choose.evidence import EDGE_SLACK, OBSERVED_SHARE, RING_EDGES, Posterior, combine

SHOWN_FROM = 0.25
"""Tests of at least this weight are counted in the explanation."""
FIELDS = 8
"""Numbers per liquid in a class: discounted tests, what they are rated, prior-weighted tests, and events by
partial credit, which alone may be negative; then raw tests, raw events, tests expected to succeed by
chemistry alone, and the variance of that expectation."""
RATED, PRIOR, CREDIT = 1, 2, 3
RAW = range(4, FIELDS)
"""Places of the raw fields."""
_BYTES = array("q").itemsize
"""Of one field."""
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


def rating(tests: int, events: int, foreseen: int) -> int:
    """What discounted tests are rated, ``events`` of which happened where chemistry had ``foreseen`` some.

    Events less the share of what was foreseen that is taken off, in units of that share, and the tests
    besides: so it is a whole number, and never negative.
    """
    return tests + round(events / OBSERVED_SHARE) - foreseen


Group = tuple[float, float]
"""Weighted tests of one group, and the sum of their weighted corrected rates."""
Groups = tuple[Group, list[Group]]
"""The own class, and the three rings, widest first; what combine() wants."""
Tested = tuple[tuple[int, int], ...]
"""Liquids of which tests are known, each with where it stands in the sums."""
Ring = tuple[tuple[complex, ...], Callable[[Sequence[complex]], Sequence[complex]]]
"""What lies in one ring of a liquid, or further in: likenesses, and what takes from the running totals of a
:class:`Pool` those behind the classes, the heaviest first, that still lie there, in the same order.

Likenesses are complex numbers, because turning them into such at each product would take a third more time.
"""


class Kernel:
    """Similarity of every two liquids, ``rows[u][v]``, and what it means for classes of given weights.

    The latter is kept for the last KEPT sets of weights, because questions share them.
    """

    KEPT = 16

    def __init__(self, rows: Sequence[Sequence[float]]) -> None:
        self._rows = rows
        self._reaches: dict[tuple[tuple[float, ...], Tested, int], Reaches] = {}
        self._shown: dict[int, list[tuple[int, float]]] = {}
        self._near: dict[int, list[tuple[int, float]]] = {}

    def __len__(self) -> int:
        return len(self._rows)

    def __getitem__(self, liquid: int) -> Sequence[float]:
        return self._rows[liquid]

    def shown(self, liquid: int) -> list[tuple[int, float]]:
        """Those liquids, itself among them, of which tests may be counted in the explanation."""
        found = self._shown.get(liquid)
        if found is None:
            found = self._shown[liquid] = self._from(liquid, SHOWN_FROM)
        return found

    def near(self, liquid: int) -> list[tuple[int, float]]:
        """Those liquids, itself among them, of which tests of the heaviest class count."""
        found = self._near.get(liquid)
        if found is None:
            found = self._near[liquid] = self._from(liquid, LEAST_WEIGHT - EDGE_SLACK)
        return found

    def _from(self, liquid: int, least: float) -> list[tuple[int, float]]:
        return [(other, like) for other, like in enumerate(self._rows[liquid]) if like >= least]

    def reaches(self, weights: tuple[float, ...], tested: Tested, size: int) -> "Reaches":
        """What counts for each liquid of those ``tested``. ``weights`` of the classes fall."""
        key = (weights, tested, size)
        found = self._reaches.get(key)
        if found is None:
            if len(self._reaches) >= self.KEPT:
                del self._reaches[next(iter(self._reaches))]
            found = self._reaches[key] = Reaches(self, weights, tested, size)
        return found


class Reaches:
    """Of which classes of these weights and other liquids tests count, worked out for a liquid when asked.

    ``size`` is how many liquids a row of running totals holds.
    """

    def __init__(self, kernel: Kernel, weights: tuple[float, ...], tested: Tested, size: int) -> None:
        self._kernel = kernel
        self._slots: list[int | None] = [None] * len(kernel)
        for liquid, slot in tested:
            self._slots[liquid] = slot
        self._size = size
        # Below this likeness not even the heaviest class counts.
        self._least = LEAST_WEIGHT / max(weights[0] if weights else 1.0, LEAST_WEIGHT) - EDGE_SLACK
        # A class of weight w lies within a ring's edge e for liquids of likeness e / w and more.
        self._edges = [[edge / weight for weight in weights] for edge in _INWARD]
        self._falling = [-weight for weight in weights]
        self._rings: list[tuple[Ring, ...] | None] = [None] * len(kernel)
        self._shown: dict[int, list[slice]] = {}

    def rings(self, liquid: int) -> tuple[Ring, ...]:
        """The three rings, the inmost first."""
        found = self._rings[liquid]
        if found is None:
            slots, least = self._slots, self._least
            near = [
                (slot, like + EDGE_SLACK, complex(like))
                for other, like in self._kernel.near(liquid)
                if like >= least and (slot := slots[other]) is not None
            ]
            found = self._rings[liquid] = tuple([_ring(near, edge, self._size) for edge in self._edges])
        return found

    def shown(self, liquid: int) -> list[slice]:
        """Where the running totals of raw fields lie that are counted in the explanation."""
        found = self._shown.get(liquid)
        if found is None:
            places = (
                bisect_right(self._falling, EDGE_SLACK - SHOWN_FROM / like) * self._size + slot
                for other, like in self._kernel.shown(liquid)
                if (slot := self._slots[other]) is not None
            )
            found = self._shown[liquid] = [_raw_of(place) for place in places if place >= self._size]
        return found


def _ring(near: Sequence[tuple[int, float, complex]], edge: Sequence[float], liquids: int) -> Ring:
    # Below the edge of the heaviest class none counts: half of them are passed by unsought.
    least = edge[0] if edge else math.inf
    found = [one for one in near if one[1] >= least]
    places = [bisect_right(edge, reach) * liquids + slot for slot, reach, _ in found]
    # The first totals are those of no class, noughts. Two of them stand in front all the same, for a pick of
    # one place would not give a sequence.
    return (0j, 0j, *[likeness for _, _, likeness in found]), itemgetter(0, 0, *places)


def _raw_of(place: int) -> slice:
    """Where the raw fields of one liquid lie in running totals as bytes."""
    return slice((place * FIELDS + RAW[0]) * _BYTES, (place + 1) * FIELDS * _BYTES)


class Pool:
    """The book's sums for one question and one event (release or harm).

    ``contexts`` are the classes in any order; ``vectors[c]`` the sums of class ``c``, FIELDS numbers per
    liquid, in whole units of 1/``scale`` for all but the raw counts (empty: no tests at all); ``extras``
    further single cells. Liquids are places in the kernel; ``slots`` says where each stands in the vectors
    (None: nowhere, it has no tests), if not at that very place.
    """

    def __init__(
        self,
        contexts: Sequence[Context],
        vectors: Sequence[Sequence[int]],
        kernel: Kernel | Sequence[Sequence[float]],
        extras: Iterable[Extra] = (),
        scale: float = 1.0,
        slots: Sequence[int | None] | None = None,
    ) -> None:
        # The heaviest first: then a ring is a beginning of the list, and running totals answer for it.
        order = sorted(range(len(contexts)), key=lambda c: -contexts[c].weight)
        self._contexts = [contexts[c] for c in order]
        self._kernel = kernel if isinstance(kernel, Kernel) else Kernel(kernel)
        self._extras = self._near(extras)
        """By liquid, the extra cells that bear on it, with their weight."""
        self._scale = scale
        self._vectors = [vectors[c] for c in order]
        self._own_vectors = [
            vector
            for vector, context in zip(self._vectors, self._contexts, strict=True)
            if context.own and vector
        ]
        self._raws: bytes | None = None
        self._rings: dict[int, list[complex]] = {}
        self._same: dict[int, Counts] = {}
        self._similar: dict[int, Counts] = {}
        """Sums of the nested rings and counts by liquid, as far as they were asked for."""
        self._size = max((len(vector[::FIELDS]) for vector in self._vectors), default=0)
        self._slots = range(len(self._kernel)) if slots is None else slots
        # An empty book answers from chemistry at once.
        self._empty = not any(any(vector[::FIELDS]) for vector in self._vectors)
        if not self._empty:
            self._add_up()

    def _add_up(self) -> None:
        running = own = [0j] * self._size
        self._sums = list(running)
        """Running totals over the classes, the heaviest first, liquid by liquid; the first are those of no
        class. The real part is weighted tests, the imaginary one what they are rated: as one number the two
        are added up in half the time, and to the same figures."""
        for (weight, is_own), vector in zip(self._contexts, self._vectors, strict=True):
            # A class without tests leaves the totals as they are.
            if vector:
                share = weight / self._scale
                running = _more(running, vector, share)
                if is_own:
                    own = _more(own, vector, share)
            self._sums += running
        # Own class apart: it has its own ceiling and must not count as similar to itself as well.
        self._own = [(one.real, one.imag) for one in own]
        # In a young book few liquids were tested, and the others add nothing to anybody.
        tested = tuple(
            [(at, slot) for at, slot in enumerate(self._slots) if slot is not None and running[slot]]
        )
        weights = tuple([one.weight for one in self._contexts])
        self._reaches = self._kernel.reaches(weights, tested, self._size)

    def posterior(self, liquid: int, p0: float, start: float | None = None) -> Posterior:
        """Posterior of the event for ``liquid`` whose chemistry prior in this question is ``p0``.

        ``start`` is the same prior as the book has taught it: tests are compared by chemistry alone, so that
        what they taught is not taken off them again.
        """
        own, rings = self.with_extras(liquid, p0, self.counted(liquid, p0))
        return combine(p0 if start is None else start, own, rings)

    def counted(self, liquid: int, p0: float) -> Groups:
        """The groups of ``liquid`` from the sums alone, without the extra cells."""
        # The usual case in a new studio.
        if self._empty:
            return (0.0, 0.0), [(0.0, 0.0)] * 3
        # What a test counts, k + s (p0 n - p0_there n), is linear: the part that knows p0 comes in last, and
        # takes off again the s n that it was rated above.
        slot = self._slots[liquid]
        own_n, own_r = (0.0, 0.0) if slot is None else self._own[slot]
        shift = OBSERVED_SHARE * (p0 - 1.0)
        own_v = own_r + shift * own_n
        found = self._rings.get(liquid)
        if found is None:
            sums = self._sums
            rings = self._reaches.rings(liquid)
            found = self._rings[liquid] = [sum(map(mul, likes, picks(sums)), 0j) for likes, picks in rings]
        inmost, second, third = found
        # Rings are nested; each takes what the one inside it has not.
        middle, outer = second - inmost, third - second
        # The liquid's own class lies in the inmost ring, where its sums were just added: it counts apart.
        tests, rated = inmost.real - own_n, inmost.imag + shift * inmost.real - own_v
        # What rounding leaves would be divided by itself and give a rate of anything.
        if tests < LEAST_TESTS:
            tests = rated = 0.0
        # combine() wants the widest first.
        return (own_n, own_v), [
            (outer.real, outer.imag + shift * outer.real),
            (middle.real, middle.imag + shift * middle.real),
            (tests, rated),
        ]

    def with_extras(self, liquid: int, p0: float, groups: Groups) -> Groups:
        """The same groups with the extra cells added to them."""
        near = self._extras.get(liquid)
        # Most questions have reports, but not for each liquid.
        if near is None:
            return groups
        (own_n, own_v), rings = groups
        rings = list(rings)
        for (at, _, own, tests, hits, there), weight in near:
            n = weight * tests
            v = weight * (hits + OBSERVED_SHARE * tests * (p0 - there))
            if own and at == liquid:
                own_n, own_v = own_n + n, own_v + v
            else:
                ring = bisect_right(RING_EDGES, weight + EDGE_SLACK) - 1
                counted, rated = rings[ring]
                rings[ring] = (counted + n, rated + v)
        return (own_n, own_v), rings

    def _near(self, extras: Iterable[Extra]) -> dict[int, list[tuple[Extra, float]]]:
        found: dict[int, list[tuple[Extra, float]]] = {}
        for cell in extras:
            # Likeness is the same in both directions: the row of the cell's liquid tells of all others.
            for liquid, likeness in self._kernel.near(cell.liquid):
                weight = cell.weight * likeness
                if weight >= LEAST_WEIGHT - EDGE_SLACK:
                    found.setdefault(liquid, []).append((cell, weight))
        return found

    def extra_tests(self, liquid: int) -> float:
        """Tests' worth of extra cells of weight SHOWN_FROM or more."""
        return sum(cell.n for cell, weight in self._extras.get(liquid, ()) if weight >= SHOWN_FROM)

    def bears(self, liquid: int) -> bool:
        """Whether any test counts for the liquid, however little: counts name those of SHOWN_FROM or more."""
        return any_count(self.counted(liquid, 0.0))

    def own_counts(self, liquid: int) -> Counts:
        """Raw counts of the liquid's own class."""
        found = self._same.get(liquid)
        if found is None:
            found = self._same[liquid] = self._counts(self._own_raw(liquid))
        return found

    def similar_counts(self, liquid: int) -> Counts:
        """Raw counts of all other tests of weight SHOWN_FROM or more."""
        if self._empty:
            return Counts()
        found = self._similar.get(liquid)
        if found is None:
            found = self._similar[liquid] = self._similar_counts(liquid)
        return found

    def _similar_counts(self, liquid: int) -> Counts:
        raws = self._running_raws()
        cells = map(raws.__getitem__, self._reaches.shown(liquid))
        # The four raw fields of a cell as one number: adding it up is one step and not four.
        total = sum(map(int.from_bytes, cells, repeat(sys.byteorder)))
        fields = array("q", total.to_bytes(len(RAW) * _BYTES, sys.byteorder))
        # Own classes weigh at least half, so that all of them are among those that are taken off again.
        return self._counts([all_of - own for all_of, own in zip(fields, self._own_raw(liquid), strict=True)])

    def _own_raw(self, liquid: int) -> list[int]:
        """Raw fields of the liquid's own class."""
        slot = self._slots[liquid]
        if slot is None:
            return [0] * len(RAW)
        # Few classes are own ones, so picking is cheaper than keeping totals for all.
        return [sum([vector[slot * FIELDS + field] for vector in self._own_vectors]) for field in RAW]

    def _running_raws(self) -> bytes:
        """Running totals of the raw fields over the classes, in the order of the sums."""
        # Made when an explanation asks: a ranking needs none of them.
        if self._raws is None:
            mask = _whole([-1 if field in RAW else 0 for field in range(FIELDS)] * self._size)
            # Lighter classes are not shown, whatever the liquid.
            heavy = bisect_right(self._contexts, EDGE_SLACK - SHOWN_FROM, key=lambda one: -one.weight)
            # Raw fields are never negative, so that as parts of one number they do not borrow.
            totals = accumulate((_whole(vector) & mask for vector in self._vectors[:heavy]), initial=0)
            size = self._size * FIELDS * _BYTES
            self._raws = b"".join([total.to_bytes(size, sys.byteorder) for total in totals])
        return self._raws

    def _counts(self, raw: Sequence[int]) -> Counts:
        tests, hits, expected, variance = raw
        return Counts(tests, hits, expected / self._scale, variance / self._scale)


def any_count(groups: Groups) -> bool:
    """Whether there are tests in any group."""
    (own, _), ((widest, _), (middle, _), (inmost, _)) = groups
    return own > 0.0 or widest > 0.0 or middle > 0.0 or inmost > 0.0


def _more(totals: Sequence[complex], vector: Sequence[int], share: float) -> list[complex]:
    """Totals by liquid with a share of what a class holds added to them."""
    # Class by class and not liquid by liquid: long rows are added up in fewer calls. To multiply by an
    # imaginary number takes less time than to make a complex one of two.
    unit = share * OBSERVED_SHARE * 1j
    rows = zip(totals, vector[::FIELDS], vector[RATED::FIELDS], strict=True)
    return [total + share * tests + unit * worth for total, tests, worth in rows]


def _whole(vector: Iterable[int]) -> int:
    """All fields of a vector as one number."""
    return int.from_bytes(array("q", vector).tobytes(), sys.byteorder)
