"""The ranking method: priors, the worked example, ceilings, the stop rule, words and refusals."""

from __future__ import annotations

import math

import pytest

from kb.science.choose import beta
from kb.science.choose import evidence as ev
from kb.science.choose.evidence import Posterior
from tests.plain_forms import Cell, corrected_rate, from_cells, ring

NO_RINGS = [(0.0, 0.0)] * 3


def logistic(x):
    """The plain logistic function, as a second form."""
    return 1 / (1 + math.exp(-x))


def test_release_prior_by_hand():
    """-0.3 + 3 (1 - 0.7) + 0.3 - 0.7 - 0.3 = -0.1 for a fresh adhesive on film with a swab."""
    assert ev.release_prior(0.7, 0, "film", "free") == pytest.approx(logistic(-0.08), rel=1e-12)
    assert ev.release_prior(0.7, 2, "none", "confined") == pytest.approx(logistic(0.8 * 0.4), rel=1e-12)
    assert ev.release_prior(0.7, 1, "porous", "free", 0.5) == pytest.approx(logistic(0.8 * 0.8), rel=1e-12)


def test_harm_prior_by_hand():
    """-0.7 + 2.5 (1 - 1.8) + 0.15 + 0.4 = -2.15."""
    assert ev.harm_prior(1.8, 0.4, "free") == pytest.approx(logistic(0.8 * -2.15), rel=1e-12)
    assert ev.harm_prior(1.8, 0.4, "confined") == pytest.approx(logistic(0.8 * -2.45), rel=1e-12)


def test_priors_are_held_within_limits():
    """RED counts up to 3, and the score is clipped at both ends."""
    assert ev.release_prior(3.0, 1, "porous", "free") == ev.release_prior(40.0, 1, "porous", "free")
    assert ev.release_prior(math.inf, 2, "film", "free") == pytest.approx(logistic(-3.6), rel=1e-12)
    assert ev.release_prior(0.0, 0, "none", "confined", 99) == pytest.approx(logistic(2.8), rel=1e-12)
    assert ev.harm_prior(40.0, 2.0, "free") == pytest.approx(logistic(0.8 * -3.55), rel=1e-12)
    assert ev.harm_prior(3.0, -99, "free") == pytest.approx(logistic(-3.2), rel=1e-12)
    assert ev.harm_prior(0.0, 99, "free") == pytest.approx(logistic(2.4), rel=1e-12)


def test_prior_without_a_sphere():
    """0.30 exactly; an offset shifts it, nothing else does, and it stays a chance."""
    assert ev.release_prior(None, 2, "film", "free") == 0.30
    assert ev.harm_prior(None, 0.0, "confined") == 0.30
    shifted = logistic(math.log(0.3 / 0.7) + 0.8 * 1.5)
    assert ev.release_prior(None, 0, "none", "confined", 1.5) == pytest.approx(shifted, rel=1e-12)
    assert ev.harm_prior(None, 1.5, "free") == pytest.approx(shifted, rel=1e-12)
    assert (
        0
        < ev.release_prior(None, 0, "none", "free", -1e6)
        < ev.release_prior(None, 0, "none", "free", 1e6)
        < 1
    )


@pytest.mark.parametrize(
    "call",
    [
        lambda: ev.release_prior(1.0, 3, "film", "free"),
        lambda: ev.release_prior(1.0, 0, "foil", "free"),
        lambda: ev.release_prior(1.0, 0, "film", "rubbed"),
        lambda: ev.release_prior(-0.1, 0, "film", "free"),
        lambda: ev.release_prior(math.nan, 0, "film", "free"),
        lambda: ev.release_prior(1.0, 0, "film", "free", math.nan),
        lambda: ev.harm_prior(1.0, 0.0, "rubbed"),
        lambda: ev.harm_prior(-0.1, 0.0, "free"),
        lambda: ev.harm_prior(None, math.nan, "free"),
        lambda: ev.discount(-1),
        lambda: ev.discount(math.nan),
        lambda: corrected_rate(0, 0, 0.5, 0.5),
        lambda: ev.combine(0.0, (0, 0), NO_RINGS),
        lambda: ev.combine(1.0, (0, 0), NO_RINGS),
        lambda: ev.combine(math.nan, (0, 0), NO_RINGS),
        lambda: ev.combine(0.5, (0, 0), NO_RINGS[:2]),
        lambda: ev.in_words(1.01),
        lambda: ev.in_words(math.nan),
    ],
)
def test_wrong_input_is_an_error(call):
    """Nothing outside the known lists and ranges yields a number."""
    with pytest.raises(ValueError):
        call()


EXAMPLE = (
    Cell(weight=1.0, n=2, k=1, p0=0.60, own=True),
    Cell(weight=0.6, n=5, k=4, p0=0.70, own=False),
    Cell(weight=0.3, n=10, k=2, p0=0.50, own=False),
)


def test_worked_example_rates():
    """The corrected rates .50, .75 and .25 of the method's worked example."""
    rates = [corrected_rate(cell.k, cell.n, 0.60, cell.p0) for cell in EXAMPLE]
    assert rates == pytest.approx([0.50, 0.75, 0.25], abs=1e-12)


def test_worked_example_posterior():
    """Groups of 2, 3 and 3 weighted tests give Beta(4.548992, 3.511492) and its 90 % interval."""
    by_group = ev.combine(0.60, (2, 2 * 0.50), [(0, 0), (3, 3 * 0.25), (3, 3 * 0.75)])
    assert by_group == pytest.approx((4.548992, 3.511492), abs=5e-7)
    assert by_group.total == pytest.approx(8.060484, abs=5e-7)
    assert by_group.mean == pytest.approx(0.564357, abs=5e-7)
    assert from_cells(0.60, EXAMPLE) == pytest.approx(by_group, abs=1e-12)
    assert beta.interval(*by_group) == pytest.approx((0.283516, 0.826004), abs=5e-7)


def test_worked_example_on_the_object():
    """One failed spot at similarity 0.5 gives Beta(3.386143, 3.113857) and its upper bound."""
    here = ev.on_object(from_cells(0.60, EXAMPLE), [(0.5, False)])
    assert here == pytest.approx((3.386143, 2.613857 + 0.5), abs=5e-7)
    assert here.mean == pytest.approx(0.520945, abs=5e-7)
    assert beta.quantile(0.95, *here) == pytest.approx(0.817195, abs=5e-7)


def test_worked_example_index():
    """The index at two degrees of harm aversion."""
    assert ev.safe_release(0.55, 0.15) == pytest.approx(0.4675, abs=1e-12)
    assert ev.index(0.55, 0.15, 0.25, harm_aversion=8, worth=16) == pytest.approx(11.026738, abs=5e-7)
    assert ev.index(0.55, 0.15, 0.25, harm_aversion=16, worth=16) == pytest.approx(8.459893, abs=5e-7)


@pytest.mark.parametrize(("p", "upper"), [(0.1, 0.437920), (0.2, 0.620659), (0.3, 0.743158)])
def test_worked_example_upper_bounds_of_chemistry_alone(p, upper):
    """95 % quantiles of Beta(3p, 3(1-p)): without tests the ceiling on harm bites early."""
    assert beta.quantile(0.95, *ev.combine(p, (0, 0), NO_RINGS)) == pytest.approx(upper, abs=5e-7)


def test_the_least_evidence_counts():
    """A hundredth of a test still moves the mean a little."""
    assert 0.501 < ev.combine(0.5, (0.01, 0.01), NO_RINGS).mean < 0.502


def test_studio_discount():
    """The first test counts in full, the next ones less, and never more than 20 in all."""
    assert (ev.discount(0), ev.discount(1)) == (0, 1)
    assert ev.discount(20) == pytest.approx(400 / 39)
    assert 19.99 < ev.discount(1e5) < 20


@pytest.mark.parametrize(
    ("weight", "place"),
    [(0.0, None), (0.0999, None), (0.1, 0), (0.2499, 0), (0.25, 1), (0.4999, 1), (0.5, 2), (1.0, 2)],
)
def test_rings(weight, place):
    """Each lower edge belongs to its ring."""
    assert ring(weight) == place


@pytest.mark.parametrize(
    ("weight", "own", "most"), [(0.2, False, 0.6), (0.3, False, 1.8), (0.7, False, 6), (0.2, True, 60)]
)
def test_ceilings(weight, own, most):
    """Endless tests move the total by at most the ceiling of their group; own counts as own at any weight."""
    total = from_cells(0.4, [Cell(weight, 1e12, 9e11, 0.4, own)]).total
    assert 3 + most - 1e-6 < total <= 3 + most + 1e-12


def test_2000_tests_of_2000_studios():
    """A deliberate floor: the mean comes within 0.06 of 0.90 and the width stays under 0.20 but not nil."""
    posterior = from_cells(0.5, [Cell(1.0, 2000, 1800, 0.5, True)])
    low, high = beta.interval(*posterior)
    assert abs(posterior.mean - 0.90) < 0.06
    assert 0.05 < high - low < 0.20


def test_irrelevant_and_empty_cells_change_nothing():
    """A weight under 0.1 and a cell without tests are as good as absent."""
    extra = [Cell(0.0999, 500, 500, 0.2, False), Cell(0.9, 0, 0, 0.2, False), Cell(1.0, 0, 0, 0.2, True)]
    assert from_cells(0.6, [*EXAMPLE, *extra]) == from_cells(0.6, EXAMPLE)


def test_contradiction_lands_between_and_still_narrows():
    """Log and chemistry disagree: the mean goes between, and the interval cannot show it."""
    chemistry = from_cells(0.9, [])
    few = from_cells(0.9, [Cell(1.0, 5, 0, 0.9, True)])
    many = from_cells(0.9, [Cell(1.0, 50, 0, 0.9, True)])
    assert 0 < many.mean < few.mean < chemistry.mean
    assert width(many) < width(few)


def width(posterior):
    """Width of the 90 % interval."""
    low, high = beta.interval(*posterior)
    return high - low


def test_mean_is_clipped():
    """Corrected rates may leave 0..1; the mean does not."""
    below = from_cells(0.03, [Cell(1.0, 1e6, 0, 0.94, True)])
    above = from_cells(0.94, [Cell(1.0, 1e6, 1e6, 0.03, True)])
    assert below.mean == pytest.approx(0.01, abs=1e-12)
    assert above.mean == pytest.approx(0.99, abs=1e-12)


def test_a_little_known_object_is_not_inflated():
    """Below six tests' worth nothing is scaled, and no spots change nothing."""
    assert ev.on_object(Posterior(1.0, 2.0), []) == (1.0, 2.0)
    assert ev.on_object(Posterior(30.0, 30.0), []) == pytest.approx((3.0, 3.0))
    assert ev.on_object(Posterior(1.0, 2.0), [(0.0, True), (0.9, False)]) == pytest.approx((1.4, 2.9))


def test_index_where_nothing_can_be_won():
    """Certain harm or no release: never worth a spot, and no division by zero."""
    assert ev.index(0.5, 1.0, 0.0, 16, 16) == -math.inf
    assert ev.index(0.0, 0.1, 0.0, 16, 16) == -math.inf


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (0.0, "very unlikely"),
        (0.094, "very unlikely"),
        (0.096, "unlikely"),
        (0.394, "unlikely"),
        (0.396, "about even"),
        (0.5, "about even"),
        (0.604, "about even"),
        (0.606, "likely"),
        (0.904, "likely"),
        (0.906, "very likely"),
        (1.0, "very likely"),
    ],
)
def test_in_words(p, words):
    """Five words from end to end, by the per cent that stands beside them."""
    assert ev.in_words(p) == words


def test_the_first_of_several_is_never_called_unlikely():
    """It read "34 % unlikely" of the tape that led, beside others that were less likely still."""
    said = [ev.in_words_of_several(p, 0.34) for p in (0.34, 0.33, 0.12, 0.09, 0.03)]
    assert said == ["likeliest yet", "possible", "possible", "very unlikely", "very unlikely"]
    assert [ev.in_words_of_several(p, 0.08) for p in (0.08, 0.05, 0.03)] == [
        "likeliest yet",
        "possible",
        "very unlikely",
    ]
    for p in (0.4, 0.5, 0.7, 0.95):
        assert ev.in_words_of_several(p, p) == ev.in_words(p), "from about even on a word of its own holds"


def test_words_of_chances_are_the_same_on_both_sides_of_even():
    """What is said of a chance is said, turned round, of its opposite."""
    turned = {"likely": "unlikely", "very likely": "very unlikely", "about even": "about even"}
    for percent in range(50, 101):
        assert ev.in_words(1 - percent / 100) == turned[ev.in_words(percent / 100)]


def test_looks_at_a_part_move_that_part_alone() -> None:
    """Reckoned by hand: paper .3, ink .2 beside it, together .44; three clean looks halve the paper's."""
    whole = Posterior(0.44 * 3, 0.56 * 3)
    after = ev.with_part(whole, 0.3, [(1.0, False)] * 3)
    # (.9 of 3 tests) / 6 tests = .15, and 1 - .8 x .85 = .32.
    assert after.mean == pytest.approx(0.32)
    assert after.total == pytest.approx(whole.total)
    assert ev.with_part(whole, 0.3, []) == whole
    # The ink's share is left, however many there are.
    assert ev.with_part(whole, 0.3, [(1.0, False)] * 10_000).mean == pytest.approx(0.2, abs=1e-3)
