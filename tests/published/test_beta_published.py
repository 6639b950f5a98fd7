"""The beta distribution against published intervals. The source stands beside each value."""

from __future__ import annotations

import pytest

from kb.science.choose.beta import interval, quantile

pytestmark = pytest.mark.published


def exact(events, trials, level):
    """Exact binomial limits after Clopper and Pearson, as beta quantiles."""
    tail = (1 - level) / 2
    return quantile(tail, events, trials - events + 1), quantile(1 - tail, events + 1, trials - events)


def test_births_posterior():
    """437 of 980, uniform prior: 95 % interval of Beta(438, 544).

    Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, ch. 2; the digits as a public course page prints
    them from a grid, hence the tolerance.
    """
    assert interval(438, 544, level=0.95) == pytest.approx((0.41506549, 0.47719977), abs=1e-6)


@pytest.mark.parametrize(
    ("level", "limits", "digits"),
    [(0.90, (0.1447182, 0.3596557), 1e-7), (0.95, (0.130610, 0.381691), 1e-6)],
)
def test_exact_binomial_12_of_50(level, limits, digits):
    """R mailing list, thread on binom.test, read in a public collection of mathematical web pages."""
    assert exact(12, 50, level) == pytest.approx(limits, abs=digits)


def test_exact_binomial_7_of_50():
    """SciPy 1.17, docstring of BinomTestResult.proportion_ci, as read by the project's reference notes."""
    assert exact(7, 50, 0.95) == pytest.approx((0.0581917, 0.2673960), abs=1e-7)


def test_exact_binomial_4_of_20():
    """NIST/SEMATECH e-Handbook 7.2.4.2 gives the example; the limits were computed apart from this code."""
    assert exact(4, 20, 0.90) == pytest.approx((0.071354, 0.401028), abs=1e-6)


def test_jeffreys_4_of_20():
    """Quantiles of Beta(4.5, 16.5): computed with statsmodels 0.15, proportion_confint; not in print."""
    assert interval(4.5, 16.5) == pytest.approx((0.0873350, 0.3727393), abs=1e-7)
