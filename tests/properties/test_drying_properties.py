"""What must hold while any blend dries, and the path against an independent integration by SciPy."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.science.liquids.drying import CURVE, DryingPart, drying_path

steady = settings(deadline=None)
some = settings(deadline=None, max_examples=30)
HANSEN = st.tuples(st.floats(13, 20), st.floats(0, 20), st.floats(0, 40))


@st.composite
def blends(draw, fewest=1, most=4, spread=3.0):
    """Parts named in order; vapour pressures over several powers of ten."""
    return [
        DryingPart(
            f"part-{number}",
            draw(st.floats(0.05, 1)),
            10 ** draw(st.floats(1.5 - spread, 1.5)),
            draw(st.floats(20, 300)),
            draw(HANSEN),
        )
        for number in range(draw(st.integers(fewest, most)))
    ]


def left_volume(parts, step):
    """What remains of the first volume of 1, from what remains of each part."""
    total = math.fsum(part.share for part in parts)
    return math.fsum(part.share / total * step.left[part.name] for part in parts)


def by_scipy(parts, losses, activity):
    """Volume shares at each loss: dn/ds = -gamma p n, stopped by events at the volumes.

    That is dn/dt = -x gamma p in a time that runs faster the less is left, so that nothing ends abruptly.
    """
    # Here, for every worker reads every file of tests, and this takes half a second.
    from scipy.integrate import solve_ivp

    volumes = np.array([part.molar_volume_cm3_mol for part in parts])
    pulls = np.array([part.vapour_pressure_kpa for part in parts])
    start = np.array([part.share for part in parts]) / volumes
    first = float(start @ volumes)

    def slopes(_, n):
        return -n * np.array(activity(list(n / n.sum()))) * pulls

    def event(lost):
        def gone(_, n):
            return float(n @ volumes) / first - (1 - lost)

        return gone

    events = [event(lost) for lost in losses]
    events[-1].terminal = True
    end = 100 / pulls.min()
    solved = solve_ivp(slopes, (0, end), start, "LSODA", events=events, rtol=1e-10, atol=1e-14 * start.max())
    return [found[0] * volumes / float(found[0] @ volumes) for found in solved.y_events]


@steady
@given(blends())
def test_nothing_is_created_and_the_loss_is_the_loss(parts):
    """No part grows, none is below zero, and what is left together is what was not lost."""
    path = drying_path(parts, CURVE)
    for before, after in itertools.pairwise(path):
        assert all(0 <= after.left[name] <= before.left[name] * (1 + 1e-12) for name in after.left)
    for step in path:
        assert left_volume(parts, step) == pytest.approx(1 - step.lost, rel=1e-9)
        assert math.fsum(step.shares.values()) == pytest.approx(1)
        assert math.fsum(step.mole_fractions.values()) == pytest.approx(1)


@steady
@given(blends())
def test_by_raoult_the_least_volatile_part_only_gains(parts):
    """Its share never falls, and that of the most volatile never rises."""
    path = drying_path(parts, CURVE)
    slow = min(parts, key=lambda part: part.vapour_pressure_kpa).name
    fast = max(parts, key=lambda part: part.vapour_pressure_kpa).name
    for before, after in itertools.pairwise(path):
        assert after.shares[slow] >= before.shares[slow] - 1e-9
        assert after.shares[fast] <= before.shares[fast] + 1e-9


@steady
@given(blends())
def test_the_path_stays_between_the_parts(parts):
    """In Hansen space, on every axis."""
    for step in drying_path(parts):
        for axis in range(3):
            values = [part.hansen[axis] for part in parts]
            assert min(values) - 1e-9 <= step.hansen[axis] <= max(values) + 1e-9


@steady
@given(blends(), st.floats(0.01, 100))
def test_only_proportions_matter(parts, factor):
    """Another unit of volume or of pressure gives the same path."""
    scaled = [
        part._replace(share=part.share * factor, vapour_pressure_kpa=part.vapour_pressure_kpa / factor)
        for part in parts
    ]
    for one, two in zip(drying_path(parts), drying_path(scaled), strict=True):
        assert one.shares == pytest.approx(two.shares, rel=1e-6, abs=1e-9)


@steady
@given(blends(2, 3), st.floats(0.1, 0.9))
def test_drying_on_from_a_step_is_the_same_path(parts, stop):
    """Half-way composition taken as a fresh blend ends where the whole path ends."""
    middle, end = drying_path(parts, [stop, 0.95])
    fresh = [part._replace(share=middle.shares[part.name]) for part in parts if middle.shares[part.name] > 0]
    on = drying_path(fresh, [1 - 0.05 / (1 - stop)])[0] if stop < 0.95 else end
    for name, share in on.shares.items():
        assert share == pytest.approx(end.shares[name], rel=1e-5, abs=1e-9)


@some
@given(blends(2, 3, spread=2.0))
def test_raoult_path_against_scipy(parts):
    """The closed form and LSODA in time, at 50, 80 and 95 % loss."""
    losses = [0.5, 0.8, 0.95]
    expected = by_scipy(parts, losses, lambda x: [1.0] * len(x))
    for step, shares in zip(drying_path(parts, losses), expected, strict=True):
        assert list(step.shares.values()) == pytest.approx(list(shares), abs=1e-6)
