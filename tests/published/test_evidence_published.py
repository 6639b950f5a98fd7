"""Posterior means, the index and the scores against published examples. The source stands beside each."""

from __future__ import annotations

import pytest

from kb.science.choose.evidence import Posterior, index
from tests.choose.test_science_calibration import brier, calibration_error

pytestmark = pytest.mark.published


def test_births_mean():
    """437 of 980 with a uniform prior: Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, ch. 2."""
    assert Posterior(1 + 437, 1 + 980 - 437).mean == pytest.approx(0.44602851, abs=5e-9)


def test_rat_tumours_shrinkage():
    """4 of 14 with Beta(1.4, 8.6): prior from memory (the same book, ch. 5), the rest arithmetic."""
    assert Posterior(1.4 + 4, 8.6 + 10).mean == pytest.approx(0.225, abs=1e-12)


def test_grade_at_least_second():
    """Counts 220, 140, 40 of a public ordinal-regression example (UCLA OARC graduate-school data).

    With one added to each grade, P(grade >= 2nd) is the mean of Beta(182, 221): arithmetic, not in print.
    """
    assert Posterior(140 + 40 + 2, 220 + 1).mean == pytest.approx(0.451613, abs=5e-7)


def test_one_shot_index():
    """Reward 240 with probability 0.2 at cost 20 has reservation price 240 - 20 / 0.2 = 140.

    M. L. Weitzman, Optimal search for the best alternative, Econometrica 47(3), 1979: 240 and 0.2 as
    printed there, the cost as read from the title of a page; undiscounted arithmetic. The index counts in
    units of one harmless spot, here worth 20.
    """
    spot = 20
    assert spot * index(0.2, 0.0, 0.0, harm_aversion=16, worth=240 / spot) == pytest.approx(140, abs=1e-9)


def test_brier():
    """scikit-learn 1.9, docstring of brier_score_loss. Checks the scorer of the calibration test."""
    assert brier([0.1, 0.9, 0.8, 0.3], [0, 1, 1, 0]) == pytest.approx(0.0375, abs=1e-12)


def test_calibration_error():
    """Binning of Guo et al., ICML 2017; the table as a public calculator prints it. Checks the scorer."""
    bins = [(1, 0.55, 1.0), (4, 0.6675, 0.5), (5, 0.896, 1.0)]
    assert calibration_error(bins) == pytest.approx(0.1640, abs=5e-5)
