"""The expected behaviours of the ranking method, over random logs."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from kb.science.choose import beta
from kb.science.choose import evidence as ev
from kb.science.choose.evidence import Posterior
from tests.plain_forms import Cell, corrected_rate, from_cells, ring

# No time limit: a busy machine is not a failure.
steady = settings(deadline=None)

PRIORS = st.floats(0.03, 0.94)
CHANCES = st.floats(0.001, 0.999)


@st.composite
def cells(draw, own=None):
    """A cell with whole tests, as a log would give it."""
    n = draw(st.integers(1, 60))
    mine = draw(st.booleans()) if own is None else own
    weight = draw(st.floats(0.6, 1.0)) if mine else draw(st.floats(0.0, 1.0))
    return Cell(weight, float(n), float(draw(st.integers(0, n))), draw(PRIORS), mine)


LOGS = st.lists(cells(), max_size=12)
SPOTS = st.lists(st.tuples(st.floats(0, 1), st.booleans()), max_size=6)
POSTERIORS = st.builds(from_cells, PRIORS, LOGS)


def width(posterior):
    """Width of the 90 % interval."""
    low, high = beta.interval(*posterior)
    return high - low


@steady
@given(PRIORS)
def test_an_empty_log_is_chemistry_alone(p0):
    """Mean p0 and the interval of Beta(3 p0, 3 (1 - p0))."""
    posterior = from_cells(p0, [])
    assert posterior.mean == pytest.approx(p0, abs=1e-15)
    assert posterior == pytest.approx((3 * p0, 3 * (1 - p0)), abs=1e-14)


@steady
@given(st.lists(st.floats(0, 4), min_size=2, max_size=8), st.integers(0, 2))
def test_chemistry_ranks_by_red(reds, stage):
    """The nearer liquid never has the lower prior of release, nor of harm."""
    ordered = sorted(reds)
    release = [ev.release_prior(red, stage, "porous", "free") for red in ordered]
    harm = [ev.harm_prior(red, 0.2, "free") for red in ordered]
    assert release == sorted(release, reverse=True)
    assert harm == sorted(harm, reverse=True)


@steady
@given(PRIORS, LOGS, st.randoms())
def test_order_leaves_no_trace(p0, log, source):
    """Any permutation gives the same bits."""
    shuffled = list(log)
    source.shuffle(shuffled)
    assert from_cells(p0, shuffled) == from_cells(p0, log)


@steady
@given(PRIORS, LOGS, cells(), st.integers(1, 59))
def test_batches_leave_no_trace(p0, log, cell, first):
    """A cell that arrives in two parts counts like the whole."""
    assume(first < cell.n)
    k_first = min(cell.k, first)
    parts = [cell._replace(n=first, k=k_first), cell._replace(n=cell.n - first, k=cell.k - k_first)]
    assert from_cells(p0, [*log, *parts]) == pytest.approx(from_cells(p0, [*log, cell]), abs=1e-10)


@steady
@given(PRIORS, LOGS, cells())
def test_flipping_a_failure_never_lowers_the_mean(p0, log, cell):
    """One recorded outcome changed from failure to success, in any cell."""
    assume(cell.k < cell.n)
    before = from_cells(p0, [*log, cell]).mean
    after = from_cells(p0, [*log, cell._replace(k=cell.k + 1)]).mean
    assert after >= before - 1e-12


@steady
@given(PRIORS, LOGS, st.floats(0.6, 1.0), st.integers(0, 40), st.integers(0, 40))
def test_a_test_in_the_own_cell_moves_the_mean_its_way(p0, log, weight, happened, failed):
    """One more success raises, one more failure lowers, when the question's own cell is the own class."""
    others = [cell for cell in log if not cell.own]  # another own cell with a twisted rate may tip it

    def mean(k, m):
        own = [Cell(weight, m, k, p0, True)] if m else []
        return from_cells(p0, [*others, *own]).mean

    now = mean(happened, happened + failed)
    up, down = mean(happened + 1, happened + failed + 1), mean(happened, happened + failed + 1)
    assert up >= now - 1e-12
    assert down <= now + 1e-12
    if 0.02 < now < 0.98:
        assert down < now < up


@steady
@given(PRIORS, LOGS)
def test_the_mean_lies_between_chemistry_and_the_rates(p0, log):
    """Shrinkage: within the range of p0 and the corrected rates, once clipped."""
    posterior = from_cells(p0, log)
    rates = [
        corrected_rate(cell.k, cell.n, p0, cell.p0)
        for cell in log
        if cell.own or ring(cell.weight) is not None
    ]
    low, high = min([p0, *rates]), max([p0, *rates])
    assert min(max(low, 0.01), 0.99) - 1e-12 <= posterior.mean <= max(min(high, 0.99), 0.01) + 1e-12


@steady
@given(PRIORS, cells(own=True), st.floats(1.01, 50))
def test_more_own_tests_at_the_chemical_rate_never_widen_the_interval(p0, cell, factor):
    """With the mean held still, more tests only narrow."""
    steady = cell._replace(k=cell.n * p0, p0=p0)
    more = steady._replace(n=steady.n * factor, k=steady.k * factor)
    assert width(from_cells(p0, [more])) <= width(from_cells(p0, [steady])) + 1e-9


@steady
@given(PRIORS, LOGS)
def test_the_total_stays_under_the_ceilings(p0, log):
    """Chemistry's 3, and at most 60 + 0.6 + 1.8 + 6 tests from all logs together."""
    assert 3 - 1e-12 <= from_cells(p0, log).total <= 71.4


@steady
@given(st.floats(0, 1e9))
def test_a_studio_stays_under_its_ceiling(m):
    """Never more than 20, never more than was tested once there is a whole test, and growing."""
    assert ev.discount(m) <= 20
    assert ev.discount(m + 1) >= ev.discount(m)
    assert m < 1 or ev.discount(m) <= m + 1e-9


@steady
@given(PRIORS, LOGS, st.floats(0, 0.0999), cells(own=False))
def test_irrelevant_evidence_changes_nothing(p0, log, weight, cell):
    """A cell with a weight below 0.1 is as good as absent, to the bit."""
    assert from_cells(p0, [*log, cell._replace(weight=weight)]) == from_cells(p0, log)


@steady
@given(POSTERIORS)
def test_chances_and_intervals_are_in_range(posterior):
    """Strictly between 0 and 1, and the 90 % interval holds the mean."""
    low, high = beta.interval(*posterior)
    assert 0 < posterior.mean < 1
    assert 0 <= low <= posterior.mean <= high <= 1
    words = ("very unlikely", "unlikely", "about even", "likely", "very likely")
    assert ev.in_words(posterior.mean) in words


@steady
@given(POSTERIORS, SPOTS)
def test_spots_on_this_object(posterior, spots):
    """At most 6 tests' worth from elsewhere, at least 0.4 from each spot, and the chance stays in range."""
    here = ev.on_object(posterior, spots)
    assert here.total <= min(posterior.total, 6) + len(spots) + 1e-9
    assert here.total >= min(posterior.total, 6) + 0.4 * len(spots) - 1e-9
    assert 0 < here.mean < 1
    if not spots:
        assert here.mean == pytest.approx(posterior.mean, abs=1e-12)


@steady
@given(POSTERIORS, SPOTS, st.floats(0, 1), st.floats(0, 1))
def test_a_failed_harmful_spot_counts_everywhere_and_most_nearby(posterior, spots, one, other):
    """It lowers release and raises harm for every liquid, and never less for the more similar one."""
    far, near = sorted((one, other))
    before = ev.on_object(posterior, spots).mean
    released = [ev.on_object(posterior, [*spots, (similar, False)]).mean for similar in (far, near)]
    harmed = [ev.on_object(posterior, [*spots, (similar, True)]).mean for similar in (far, near)]
    assert released[1] <= released[0] < before
    assert before < harmed[0] <= harmed[1]


@steady
@given(CHANCES, CHANCES, st.floats(0, 1), st.floats(0, 40), st.floats(0, 40), st.floats(0, 1))
def test_more_to_lose_never_raises_the_index(p_release, p_harm, hazard, aversion, worth, more):
    """Hazard, chance of harm and aversion lower it; a larger worth raises it, so it never stops earlier."""
    now = ev.index(p_release, p_harm, hazard, aversion, worth)
    assert ev.index(p_release, p_harm, hazard + more, aversion, worth) <= now
    assert ev.index(p_release, p_harm + more * (1 - p_harm), hazard, aversion, worth) <= now + 1e-9 * abs(now)
    assert ev.index(p_release, p_harm, hazard, aversion + more, worth) <= now
    assert ev.index(p_release, p_harm, hazard, aversion, worth + more) >= now
    assert ev.index(p_release + more * (1 - p_release), p_harm, hazard, aversion, worth) >= now


@steady
@given(st.floats(0.03, 100), st.floats(0.03, 100), st.floats(0.001, 0.999), st.floats(0.001, 0.999))
def test_quantile_and_cdf_undo_each_other(a, b, p, q):
    """The share below a quantile is the one asked for, both sides mirror, and more is further up."""
    x = beta.quantile(p, a, b)
    assert 1 - beta.quantile(1 - p, b, a) == pytest.approx(x, abs=1e-9)
    low, high = sorted((p, q))
    assert beta.quantile(low, a, b) <= beta.quantile(high, a, b) + 1e-10
    # Next to 0 and 1 one step of a float is a whole share; there the inverse cannot be asked for.
    if 1e-6 < x < 1 - 1e-6:
        density = math.exp(
            (a - 1) * math.log(x)
            + (b - 1) * math.log1p(-x)
            - math.lgamma(a)
            - math.lgamma(b)
            + math.lgamma(a + b)
        )
        assert beta.cdf(x, a, b) == pytest.approx(p, abs=1e-9 + 1e-9 * density)


def test_the_pair_of_a_posterior_can_be_unpacked():
    """Posterior is a plain pair, so that it can be handed to the beta functions as it is."""
    a, b = Posterior(1.0, 3.0)
    assert (a, b, Posterior(1.0, 3.0).mean, Posterior(1.0, 3.0).total) == (1.0, 3.0, 0.25, 4.0)
