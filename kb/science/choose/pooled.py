"""What other studios counted, beside what was counted here.

Pooled tests enter the method of :mod:`~.evidence` as own ones do, in the same groups and under the
same ceilings, but each weighs less; and however many they are, own tests that say otherwise hold them back.
All figures in capitals are this project's own.
"""

from __future__ import annotations

from math import inf, sqrt

from kb.science.choose.evidence import OWN_CEILING, RING_CEILINGS, Posterior, combine
from kb.science.choose.pooling import Group, Groups, Pool, any_count

POOLED_WEIGHT = 0.55
"""A further factor of similarity: another studio's test of the very same class against an own one.

Below 0.6, so that it weighs less than an own test one step away (a neighbouring stage, another adhesive of
the group). A similar class then weighs at most 0.55 x 0.6 = 0.33, which lies outside the inmost ring: endless
similar tests from elsewhere add 0.6 and 1.8 tests at most. High enough that an own class stays in the inmost
ring whatever carrier and method (0.55 x 0.95 x 0.97 = 0.507), as :class:`~.pooling.Pool` needs, and
that 2,000 tests of 2,000 studios at 90 % count 56.9 tests: mean 0.87 from a prior of 0.30, 90 % interval 0.14
wide. The 0.06 and 0.20 that the method promises hold from any prior.
"""
LATITUDE = 0.75
"""How far from what own tests say others may carry the chance: LATITUDE / sqrt(tests' worth of own tests).

One and a half standard deviations of a proportion at its most uncertain (0.5 / sqrt(n)). One own test leaves
0.75, four leave 0.375, twenty-five 0.15.
"""

_CEILINGS = (OWN_CEILING, *RING_CEILINGS)


class Joined:
    """Own tests and those of other studios for one question and one event; answers as a Pool does."""

    def __init__(self, own: Pool, pooled: Pool) -> None:
        self._own = own
        self.pooled = pooled
        """Sums of other studios, whose classes weigh POOLED_WEIGHT of what they would weigh here."""
        self.bears = own.bears
        self.own_counts = own.own_counts
        self.similar_counts = own.similar_counts
        self.extra_tests = own.extra_tests

    def posterior(self, liquid: int, p0: float, start: float | None = None) -> Posterior:
        """As :meth:`~.pooling.Pool.posterior`."""
        return self._judged(liquid, p0, start)[0]

    def held_back(self, liquid: int, p0: float) -> bool:
        """Whether own tests kept the others from moving the chance as far as they would have."""
        return self._judged(liquid, p0, None)[1]

    def _judged(self, liquid: int, p0: float, start: float | None) -> tuple[Posterior, bool]:
        begin = p0 if start is None else start
        # Kept apart from the extras: what own tests say must not be mixed with print when others are held
        # to it.
        counted = self._own.counted(liquid, p0)
        groups = self._own.with_extras(liquid, p0, counted)
        alone = combine(begin, *groups)
        theirs = self.pooled.counted(liquid, p0)
        # Where nobody else tested what counts here, nothing is paid for the pool.
        if not any_count(theirs):
            return alone, False
        joined = combine(begin, *together(groups, theirs))
        bounded = within(alone, joined, *worth(counted))
        return bounded, bounded is not joined


def worth(groups: Groups) -> tuple[float, float]:
    """What groups of tests count together under their ceilings, in tests, and the rate of the event over
    them, each with what it counts; 0 where nothing counts."""
    own, rings = groups
    total = hits = 0.0
    for (tests, rated), ceiling in zip((own, *rings), _CEILINGS, strict=True):
        if tests > 0.0:
            total += ceiling * tests / (ceiling + tests)
            hits += ceiling * rated / (ceiling + tests)
    return total, hits / total if total > 0.0 else 0.0


def together(ours: Groups, theirs: Groups) -> Groups:
    """Groups of two sources, added up: the ceilings hold for both as one."""
    # As one group: two studios under two ceilings would count more than one studio with as many tests.
    return _sum(ours[0], theirs[0]), [_sum(a, b) for a, b in zip(ours[1], theirs[1], strict=True)]


def _sum(a: Group, b: Group) -> Group:
    return a[0] + b[0], a[1] + b[1]


def within(alone: Posterior, joined: Posterior, own_worth: float, own_rate: float) -> Posterior:
    """``joined`` unless it lies too far from what own tests say; then as much of it as may be.

    ``alone`` is the posterior without other studios, ``own_rate`` the rate in own tests, which count
    ``own_worth``. Others never carry the mean out of own_rate +- LATITUDE / sqrt(own_worth), nor further out
    than it was without them; the fewer of them are let in, the wider the interval. A success recorded
    anywhere in place of a failure never lowers the mean.
    """
    # Without own tests there is nothing to hold the others to.
    room = LATITUDE / sqrt(own_worth) if own_worth > 0.0 else inf
    start, end = alone.mean, joined.mean
    # The start is always within: own evidence alone is never pulled back by the rule.
    mean = max(min(own_rate - room, start), min(end, max(own_rate + room, start)))
    if mean == end:
        return joined
    # As many of their tests, at the rate at which all of them pull, as bring the mean just there.
    share = (mean - start) / (end - start)
    total = alone.total * joined.total / (joined.total - share * (joined.total - alone.total))
    return Posterior(mean * total, (1.0 - mean) * total)
