"""What must hold of identification for any table of shares and any findings."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from kb.science import identify as science

steady = settings(deadline=None, max_examples=120)

SHARE = st.floats(0.005, 1.0)


def settled(weights: list[float]) -> list[float]:
    """Weights as shares that sum to 1."""
    total = math.fsum(weights)
    return [weight / total for weight in weights]


@st.composite
def tables(draw: st.DrawFn) -> tuple[list[float], list[list[list[float]]]]:
    """A prior over hypotheses, and looks with the shares of their findings."""
    size = draw(st.integers(1, 7))
    prior = settled(draw(st.lists(SHARE, min_size=size, max_size=size)))
    looks = []
    for _ in range(draw(st.integers(1, 6))):
        width = draw(st.integers(2, 5))
        row = st.lists(SHARE, min_size=width, max_size=width).map(settled)
        looks.append(draw(st.lists(row, min_size=size, max_size=size)))
    return prior, looks


@st.composite
def asked(draw: st.DrawFn) -> tuple[list[float], list[list[list[float]]], dict[int, int]]:
    """A table and findings for some of its looks."""
    prior, looks = draw(tables())
    chosen = draw(st.sets(st.integers(0, len(looks) - 1)))
    return prior, looks, {look: draw(st.integers(0, len(looks[look][0]) - 1)) for look in sorted(chosen)}


@steady
@given(asked(), st.randoms())
def test_order_of_findings_changes_nothing(question, shuffler):
    """Not even the last digit: a user may answer in any order."""
    prior, looks, findings = question
    order = list(findings)
    shuffler.shuffle(order)
    mixed = {look: findings[look] for look in order}
    assert science.posterior(prior, looks, mixed) == science.posterior(prior, looks, findings)


@steady
@given(asked())
def test_chances_sum_to_one_and_lie_between_0_and_1(question):
    """Whatever was found."""
    chances = science.posterior(*question)
    assert math.fsum(chances) == pytest.approx(1.0, abs=1e-12)
    assert all(0 <= chance <= 1 for chance in chances)


@steady
@given(asked())
def test_one_by_one_is_all_at_once(question):
    """The chances after one finding are the prior of the next."""
    prior, looks, findings = question
    stepwise = prior
    for look, found in findings.items():
        stepwise = science.posterior(stepwise, looks, {look: found})
    assert stepwise == pytest.approx(science.posterior(prior, looks, findings), abs=1e-9)


@steady
@given(asked())
def test_a_look_never_raises_entropy_in_expectation(question):
    """Averaged over what it may show, a look leaves no more unknown; the difference is its information."""
    prior, looks, findings = question
    left = [look for look in range(len(looks)) if look not in findings]
    assume(left)
    now = science.posterior(prior, looks, findings)
    for look in left:
        after = mean = 0.0
        for found in range(len(looks[look][0])):
            share = math.fsum(c * row[found] for c, row in zip(now, looks[look], strict=True))
            then = science.posterior(now, looks, {look: found})
            after += share * science.entropy(then)
            mean += share * then[0]
        bits = science.expected_information(now, looks[look])
        assert bits >= 0
        assert after <= science.entropy(now) + 1e-9
        assert bits == pytest.approx(max(0.0, science.entropy(now) - after), abs=1e-9)
        # What one expects to think tomorrow is what one thinks today.
        assert mean == pytest.approx(now[0], abs=1e-9)


@steady
@given(asked(), st.lists(SHARE, min_size=2, max_size=5).map(settled))
def test_a_look_that_all_show_alike_tells_nothing(question, row):
    """No bits, and answering it changes no chance."""
    prior, looks, findings = question
    alike = [*looks, [row] * len(prior)]
    before = science.posterior(prior, looks, findings)
    assert science.expected_information(before, alike[-1]) == pytest.approx(0.0, abs=1e-9)
    assert science.posterior(prior, alike, {**findings, len(looks): 0}) == pytest.approx(before, abs=1e-9)


@steady
@given(tables(), st.data())
def test_groups_know_no_more_than_their_members(table, data):
    """A look tells at most as much of the tape as of tape and stage together."""
    prior, looks = table
    count = data.draw(st.integers(1, len(prior)))
    groups = [data.draw(st.integers(0, count - 1)) for _ in prior]
    whole = science.marginal(prior, groups, count)
    assert math.fsum(whole) == pytest.approx(1.0, abs=1e-12)
    for look in looks:
        rows = science.collapsed(prior, look, [*groups], count) if set(groups) == set(range(count)) else None
        if rows is None:
            continue
        assert all(math.fsum(row) == pytest.approx(1.0, abs=1e-9) for row in rows)
        of_groups = science.expected_information(whole, rows)
        assert of_groups <= science.expected_information(prior, look) + 1e-9


@steady
@given(st.lists(SHARE, min_size=1, max_size=30).map(settled))
def test_entropy_lies_between_certainty_and_ignorance(chances):
    """0 to log2(n) bits, so evenness is a share."""
    assert -1e-12 <= science.entropy(chances) <= math.log2(len(chances)) + 1e-9
    assert -1e-12 <= science.evenness(chances) <= 1 + 1e-9


@steady
@given(tables(), st.floats(1.0, 50.0), st.floats(1.0, 4.0))
def test_a_wider_factor_tells_fewer_apart(table, factor, more):
    """And no pair is told apart by nothing."""
    prior, looks = table
    among = list(range(len(prior)))
    narrow = science.indistinguishable(looks, among, factor)
    wide = science.indistinguishable(looks, among, factor * more)
    assert set(narrow) <= set(wide)
    assert len(science.indistinguishable([], among, factor)) == len(prior) * (len(prior) - 1) // 2


@steady
@given(asked())
def test_the_likeliest_findings_are_always_explained(question):
    """What a hypothesis shows most often cannot be a misfit of it."""
    _, looks, findings = question
    rows = {look: looks[look][0] for look in findings}
    best = {look: max(range(len(row)), key=row.__getitem__) for look, row in rows.items()}
    fit = science.fit(rows, best)
    assert fit.score >= -1e-9
    assert fit.explained
    assert fit.odd == ()
