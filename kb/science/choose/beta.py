"""The beta distribution: share below a value, and the value below which a share lies.

The continued fraction is DLMF 8.17.22 (NIST Digital Library of Mathematical Functions), summed by Lentz's
method. Quantiles are found on the scale of log odds, where every beta density is log-concave, so that
steps towards log p settle quickly from any start.
"""

from __future__ import annotations

import math
from functools import lru_cache

_SETTLED = 1e-13
_MOST_TERMS = 20_000
_MOST_STEPS = 12
_CLOSE = 2e-3
"""A step from this relative error of the share leaves less than 1e-10 in the quantile (measured)."""
_CLEAR = 1e-9
"""More than the error of a share."""
_FAR_ODDS = 700.0
"""Log odds beyond which exp overflows; such a quantile is 0 or 1 to all figures."""


@lru_cache(maxsize=16_384)
def cdf(x: float, a: float, b: float) -> float:
    """Regularised incomplete beta I_x(a, b): the probability that a Beta(a, b) value is at most ``x``.

    Good to about 1e-12 for a and b up to some thousands. Raises ValueError for parameters that are not
    above zero and finite, ArithmeticError if they are so large that the fraction does not settle.
    """
    _check(a, b)
    if math.isnan(x):
        raise ValueError("x is not a number")
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    # In logarithms: for large parameters each factor alone would overflow or vanish.
    front = math.exp(a * math.log(x) + b * math.log1p(-x) - _log_beta(a, b))
    # Past the turn the other tail is summed: that fraction settles in a few terms.
    if x <= _turn(a, b):
        return front * _fraction(x, a, b) / a
    return 1.0 - front * _fraction(1.0 - x, b, a) / b


@lru_cache(maxsize=16_384)
def quantile(p: float, a: float, b: float) -> float:
    """The value below which the share ``p`` of a Beta(a, b) lies, good to 1e-9.

    Raises ValueError for p outside 0..1 and for parameters that are not above zero and finite.
    """
    _check(a, b)
    if not 0.0 <= p <= 1.0:
        raise ValueError(f"a quantile needs a share from 0 to 1, not {p}")
    if p in {0.0, 1.0}:
        return p
    # Always from the lower half: there the share can be compared on a log scale without loss.
    if p <= 0.5:
        odds = _log_odds(p, a, b)
        return _bisect(p, a, b) if odds is None else 1.0 / (1.0 + math.exp(-odds))
    # The other half is the lower half of the mirrored distribution.
    odds = _log_odds(1.0 - p, b, a)
    return 1.0 - _bisect(1.0 - p, b, a) if odds is None else 1.0 / (1.0 + math.exp(odds))


class Exceeding:
    """Whether what a beta distribution says may lie above ``bound``: less than ``share`` of it lies below.

    More yes and no more no lie higher. So most pairs are decided by one of the last two that were summed, one
    that exceeds and one that does not; only what lies between them is summed.
    """

    def __init__(self, bound: float, share: float) -> None:
        self.bound, self.share = bound, share
        self._above, self._below = (math.inf, 0.0), (0.0, math.inf)
        """The lowest pair that is known to exceed, and the highest that is known not to."""

    def __call__(self, a: float, b: float) -> bool:
        if a >= self._above[0] and b <= self._above[1]:
            return True
        if a <= self._below[0] and b >= self._below[1]:
            return False
        over = self.share - cdf(self.bound, a, b)
        # So near to the share rounding could decide, and nothing may follow from it.
        if over > _CLEAR:
            self._above = (a, b)
        elif over < -_CLEAR:
            self._below = (a, b)
        return over > 0.0


def interval(a: float, b: float, level: float = 0.90) -> tuple[float, float]:
    """The central interval that holds the share ``level`` of a Beta(a, b), equal tails outside."""
    if not 0.0 < level < 1.0:
        raise ValueError(f"the level of an interval must lie between 0 and 1, not {level}")
    tail = (1.0 - level) / 2.0
    return quantile(tail, a, b), quantile(1.0 - tail, a, b)


def _check(a: float, b: float) -> None:
    if not (0.0 < a < math.inf and 0.0 < b < math.inf):
        raise ValueError(f"a beta distribution needs two finite parameters above zero, not {a} and {b}")


def _log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)


def _turn(a: float, b: float) -> float:
    """Up to here the fraction settles fast; beyond, that of the other side does."""
    return (a + 1.0) / (a + b + 2.0)


def _fraction(x: float, a: float, b: float) -> float:
    """The continued fraction h in I_x(a, b) = x^a (1-x)^b h / (a B(a, b))."""
    # No guard against zero denominators as in Lentz's general form: for x up to the turn there is none.
    total, c = a + b, 1.0
    d = h = 1.0 / (1.0 - total * x / (a + 1.0))
    # Counted in floats: to add and multiply whole numbers with them takes twice as long.
    m, most, settled = 1.0, float(_MOST_TERMS), _SETTLED
    while m < most:
        middle = a + 2.0 * m
        term = m * (b - m) * x / ((middle - 1.0) * middle)
        d = 1.0 / (1.0 + term * d)
        c = 1.0 + term / c
        h *= c * d
        term = -(a + m) * (total + m) * x / (middle * (middle + 1.0))
        d = 1.0 / (1.0 + term * d)
        c = 1.0 + term / c
        change = c * d
        h *= change
        if -settled < change - 1.0 < settled:
            return h
        m += 1.0
    raise ArithmeticError(f"the beta distribution with {a} and {b} is too narrow to be worked out here")


def _log_odds(p: float, a: float, b: float) -> float | None:
    """Log odds of the quantile for p <= 0.5, or None if the steps do not settle.

    With L(y) = log F(y) - log p, F the share below log odds y, a step is the inverse Taylor series of L to
    third order: -u (1 + u (k2/2 + u (k2^2/2 - k3/6))), where u = L/L', k2 = L''/L' and k3 = L'''/L'.
    """
    log_beta = _log_beta(a, b)
    log_p = math.log(p)
    y = _start(log_p, a, b, log_beta)
    for _ in range(_MOST_STEPS):
        y = max(-_FAR_ODDS, min(y, _FAR_ODDS))
        x = 1.0 / (1.0 + math.exp(-y))
        error, slope = _at(y, x, a, b, log_beta, log_p)
        # All figures were lost in rounding; halving the range finds the quantile without slopes.
        if not slope > 0.0:
            return None
        u = error / slope
        bend = a - (a + b) * x - slope
        if -0.3 < error < 0.3:
            third = bend * (bend - slope) - (a + b) * x * (1.0 - x)
            y -= u * (1.0 + u * (bend / 2.0 + u * (bend * bend / 2.0 - third / 6.0)))
            if -_CLOSE < error < _CLOSE:
                return max(-_FAR_ODDS, min(y, _FAR_ODDS))
        else:
            # Far out the series may run away: Halley's step, held within half and twice Newton's.
            y -= u / max(0.5, min(1.0 - u * bend / 2.0, 2.0))
    return None


def _at(y: float, x: float, a: float, b: float, log_beta: float, log_p: float) -> tuple[float, float]:
    """log(F/p) at log odds y, and its slope there; slope 0 if F is lost in rounding."""
    log_x = -math.log1p(math.exp(-y)) if y > 0 else y - math.log1p(math.exp(y))
    log_front = a * log_x + b * (log_x - y) - log_beta
    if x <= _turn(a, b):
        h = _fraction(x, a, b) / a
        return log_front + math.log(h) - log_p, 1.0 / h
    front = math.exp(log_front)
    share = 1.0 - front * _fraction(math.exp(log_x - y), b, a) / b
    if share <= 0.0:
        return 0.0, 0.0
    return math.log(share) - log_p, front / share


def _start(log_p: float, a: float, b: float, log_beta: float) -> float:
    """A first guess of the log odds, for p <= 0.5."""
    if a > 1.0 and b > 1.0:
        return _normal_start(log_p, a, b)
    log_x = (log_p + math.log(a) + log_beta) / a
    # Not in the far tail: the mean is near enough to start from.
    if log_x > -0.7:
        return math.log(a / b)
    # x^a / (a B) = p for the far tail, then the first term of the power series in x.
    log_x -= math.log1p(max(-0.9, a * (1.0 - b) / (a + 1.0) * math.exp(log_x))) / a
    return log_x - math.log1p(-min(math.exp(log_x), 0.999))


def _normal_start(log_p: float, a: float, b: float) -> float:
    """Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.5.22 with 26.2.23."""
    # Only a first guess, so that the printed four-figure approximation is enough.
    t = math.sqrt(-2.0 * log_p)
    z = t - (2.515517 + t * (0.802853 + t * 0.010328)) / (
        1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308))
    )
    inverse_a, inverse_b = 1.0 / (2.0 * a - 1.0), 1.0 / (2.0 * b - 1.0)
    h = 2.0 / (inverse_a + inverse_b)
    k = (z * z - 3.0) / 6.0
    if h + k <= 0.0:
        return math.log(a / b)
    w = z * math.sqrt(h + k) / h - (inverse_b - inverse_a) * (k + 5.0 / 6.0 - 2.0 / (3.0 * h))
    return math.log(a / b) - 2.0 * w


def _bisect(p: float, a: float, b: float) -> float:
    """The quantile by halving the range: slow, cannot fail."""
    low, high = 0.0, 1.0
    # Fine enough for the promise of 1e-9 with room to spare.
    while high - low > 1e-12:
        middle = (low + high) / 2.0
        if cdf(middle, a, b) < p:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
