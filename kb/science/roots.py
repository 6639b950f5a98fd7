"""Finding where a function crosses zero between two points that enclose the crossing."""

from __future__ import annotations

from collections.abc import Callable

MAX_STEPS = 200


def bracketed_root(
    function: Callable[[float], float], low: float, high: float, tolerance: float = 1e-12
) -> float:
    """A point between ``low`` and ``high`` where ``function`` changes sign, to within ``tolerance``.

    Works for jumps as well as for crossings, since the two ends always keep opposite signs. Raises
    ValueError if the signs at the two ends are the same.
    Source of the method: Chandrupatla T.R. (1997), Adv. Eng. Softw. 28, 145-149 (from memory).
    """
    a, b = low, high
    fa, fb = function(a), function(b)
    if fa == 0.0:
        return a
    if fb == 0.0:
        return b
    if (fa > 0) == (fb > 0):
        raise ValueError(f"the function does not change sign between {low} and {high}")
    share = 0.5
    for _ in range(MAX_STEPS):
        x = a + share * (b - a)
        fx = function(x)
        if (fx > 0) == (fa > 0):
            c, fc, a, fa = a, fa, x, fx
        else:
            c, fc, b, fb, a, fa = b, fb, a, fa, x, fx
        best = a if abs(fa) < abs(fb) else b
        width = abs(b - a)
        if fx == 0.0 or width <= 2.0 * tolerance:
            return x if fx == 0.0 else best
        share = min(max(_next_share(a, fa, b, fb, c, fc), tolerance / width), 1.0 - tolerance / width)
    return best


def _next_share(a: float, fa: float, b: float, fb: float, c: float, fc: float) -> float:
    """Inverse quadratic interpolation where it can be trusted, else half way."""
    if c == b or len({fa, fb, fc}) < 3:
        return 0.5
    xi = (a - b) / (c - b)
    phi = (fa - fb) / (fc - fb)
    if not (phi * phi < xi and (1.0 - phi) ** 2 < 1.0 - xi):
        return 0.5
    return fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
