"""The beta distribution against SciPy, closed forms and its own symmetry."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from kb.science.choose import beta
from kb.science.choose.beta import Exceeding, cdf, interval, quantile

GRID = (0.03, 0.3, 0.9, 1.0, 1.7, 4.5, 20.0, 66.0, 700.0, 2000.0)
SHARES = (1e-6, 0.025, 0.05, 0.3, 0.5, 0.7, 0.95, 0.975, 1 - 1e-6)


@pytest.mark.parametrize("a", GRID)
def test_quantile_agrees_with_scipy(a):
    """Within 1e-9 over all shapes the method can produce, and far beyond."""
    from scipy import special

    for b in GRID:
        for p in SHARES:
            assert quantile(p, a, b) == pytest.approx(special.betaincinv(a, b, p), abs=1e-9), (p, a, b)


def test_quantile_agrees_with_scipy_at_random_points():
    """2000 seeded points, log-uniform in both parameters."""
    from scipy import special

    source = random.Random(20)
    for _ in range(2000):
        a, b = (math.exp(source.uniform(math.log(0.3), math.log(2000))) for _ in range(2))
        p = source.random()
        assert quantile(p, a, b) == pytest.approx(special.betaincinv(a, b, p), abs=1e-9), (p, a, b)


@pytest.mark.parametrize("a", GRID)
def test_cdf_agrees_with_scipy(a):
    """Within 1e-11 from one end to the other."""
    from scipy import special

    for b in GRID:
        for x in (1e-9, 0.01, 0.2, 0.5, 0.77, 0.99, 1 - 1e-9):
            assert cdf(x, a, b) == pytest.approx(special.betainc(a, b, x), abs=1e-11), (x, a, b)


PAIRS = st.tuples(st.floats(0.01, 60.0), st.floats(0.01, 60.0))
ON_AN_OBJECT = st.floats(0.01, 0.99).map(lambda mean: (6.0 * mean, 6.0 - 6.0 * mean))
"""As most are that a question asks of: six tests' worth each."""


@settings(deadline=None)
@given(st.floats(0.05, 0.95), st.floats(0.5, 0.99), st.lists(PAIRS | ON_AN_OBJECT, min_size=1, max_size=60))
@example(0.6, 0.95, [(6.0 * step / 100, 6.0 - 6.0 * step / 100) for step in (90, 10, 50, 20, 30, 28, 29, 27)])
def test_what_follows_from_other_pairs_is_what_the_sum_says(bound, share, pairs):
    """Whatever was asked before, a pair that may lie above the bound is one whose share below it is less."""
    exceeds = Exceeding(bound, share)
    for a, b in pairs:
        assert exceeds(a, b) == (cdf(bound, a, b) < share), (a, b)


def test_most_pairs_follow_from_others(monkeypatch):
    """Of a thousand pairs on an object a tenth is summed at most: that is what it is for."""
    summed = []
    monkeypatch.setattr(beta, "cdf", lambda *asked: summed.append(asked) or cdf(*asked))
    exceeds, source = Exceeding(0.6, 0.95), random.Random(5)
    for mean in (source.random() for _ in range(1000)):
        exceeds(6.0 * mean, 6.0 - 6.0 * mean)
    assert 2 <= len(summed) <= 100


def test_steps_settle_without_bisection():
    """The slow way out is not taken anywhere on the grid, so that the speed holds everywhere."""
    for a in GRID:
        for b in GRID:
            for p in SHARES:
                assert beta._log_odds(min(p, 1 - p), a, b) is not None


def test_bisection_agrees(monkeypatch):
    """The way out gives the same answer in both halves, when the steps are made to fail."""
    for p, a, b in [(0.05, 4.5, 3.5), (0.95, 0.9, 2.1), (0.5, 30.0, 2.0)]:
        expected = quantile(p, a, b)
        with monkeypatch.context() as patch:
            patch.setattr(beta, "_log_odds", lambda *_: None)
            assert quantile(p, a, b) == pytest.approx(expected, abs=1e-11)


def test_closed_forms():
    """Uniform, power and arcsine distributions have formulas."""
    assert cdf(0.3, 1, 1) == pytest.approx(0.3, abs=1e-14)
    assert cdf(0.3, 4, 1) == pytest.approx(0.3**4, abs=1e-14)
    assert quantile(0.2, 3, 1) == pytest.approx(0.2 ** (1 / 3), abs=1e-12)
    assert quantile(0.2, 0.5, 0.5) == pytest.approx(math.sin(math.pi * 0.1) ** 2, abs=1e-12)


def test_far_tails_stay_between_0_and_1():
    """Extreme shares and shapes give a number in range and no overflow."""
    for p, a, b in [
        (1e-300, 0.03, 5),
        (0.95, 0.03, 3),
        (0.5, 1e-300, 1),
        (0.05, 2000, 1e-9),
        (0.4, 1e6, 1e6),
    ]:
        assert 0 <= quantile(p, a, b) <= 1
    assert quantile(0.5, 1e6, 1e6) == pytest.approx(0.5, abs=1e-9)


def test_ends():
    """Nothing lies below 0, everything below 1."""
    assert (quantile(0, 2, 3), quantile(1, 2, 3)) == (0, 1)
    assert (cdf(-1, 2, 3), cdf(0, 2, 3), cdf(1, 2, 3), cdf(2, 2, 3)) == (0, 0, 1, 1)


def test_interval_cuts_equal_tails():
    """Five per cent on each side by default; 95 % is wider."""
    low, high = interval(4.5, 3.5)
    assert cdf(low, 4.5, 3.5) == pytest.approx(0.05, abs=1e-12)
    assert cdf(high, 4.5, 3.5) == pytest.approx(0.95, abs=1e-12)
    wide = interval(4.5, 3.5, level=0.95)
    assert wide[0] < low < high < wide[1]


@pytest.mark.parametrize(("a", "b"), [(0, 1), (1, 0), (-1, 1), (math.nan, 1), (1, math.inf)])
def test_wrong_parameters_are_refused(a, b):
    """Parameters must be finite and above zero."""
    for call in (lambda: cdf(0.5, a, b), lambda: quantile(0.5, a, b), lambda: interval(a, b)):
        with pytest.raises(ValueError, match="above zero"):
            call()


def test_wrong_shares_are_refused():
    """Shares outside 0..1, levels at the ends, and x that is no number."""
    for p in (-0.1, 1.1, math.nan):
        with pytest.raises(ValueError, match="share"):
            quantile(p, 1, 1)
    for level in (0.0, 1.0, math.nan):
        with pytest.raises(ValueError, match="level"):
            interval(1, 1, level)
    with pytest.raises(ValueError, match="not a number"):
        cdf(math.nan, 1, 1)


def test_parameters_too_large_are_an_error_not_a_wrong_number():
    """The fraction says that it did not settle."""
    with pytest.raises(ArithmeticError, match="too narrow"):
        cdf(0.5, 1e14, 1e14)
