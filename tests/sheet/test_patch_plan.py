"""The order of patches on two faces: even, short, with few turns, and every patch once."""

from __future__ import annotations

import math
import random
from itertools import pairwise
from statistics import median

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.science.sheet.cutting import Area, Patch, cut
from kb.science.sheet.patch_plan import (
    ASSUMED,
    Freed,
    Metrics,
    Worked,
    cheapest_pairs,
    left,
    metrics,
    pairs_of,
    plan,
    rates_of,
)
from kb.science.sheet.polygons import mirrored, rectangle
from tests.sheet.sheets import patches, strict_alternation, taped_sheet

A4 = (210.0, 297.0)
SEEDS = range(60)


@pytest.fixture(
    scope="module",
    params=[(slack, weak) for slack in (None, 0.0, 8.0) for weak in ("ignore", "last")],
    ids=lambda param: f"{'anywhere' if param[0] is None else f'behind-{param[0]:g}'}-{param[1]}",
)
def both(request: pytest.FixtureRequest) -> tuple[list[Metrics], list[Metrics]]:
    """The figures of 60 sheets, planned and in strict alternation, both with the same rule for weak."""
    slack, weak = request.param
    sheets = [patches(taped_sheet(seed, slack_mm=slack)) for seed in SEEDS]
    planned = [plan(pieces, weak=weak).metrics for pieces in sheets]
    strict = []
    for pieces, found in zip(sheets, planned, strict=True):
        order = strict_alternation(pieces)
        if weak == "last":
            order.sort(key=lambda patch: patch.weak)
        strict.append(metrics(order, found.bound_mm2))
    return planned, strict


@pytest.mark.parametrize("figure", ["max_imbalance_mm2", "max_imbalance_patches", "travel_mm", "turns"])
def test_no_median_is_worse_than_strict_alternation(
    both: tuple[list[Metrics], list[Metrics]], figure: str
) -> None:
    planned, strict = (median(getattr(found, figure) for found in which) for which in both)
    assert planned <= strict


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.sampled_from(["last", "first", "ignore"]))
def test_every_patch_stands_once_in_the_order(seed: int, weak: str) -> None:
    pieces = patches(taped_sheet(seed))
    found = plan(pieces, weak=weak)  # type: ignore[arg-type]
    assert sorted(patch.id for patch in found.order) == sorted(patch.id for patch in pieces)
    flags = [patch.weak for patch in found.order]
    if weak != "ignore":
        assert flags == sorted(flags, reverse=weak == "first")


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000))
def test_strips_of_equal_size_on_both_faces_never_pass_the_largest_patch(seed: int) -> None:
    found = plan(patches(taped_sheet(seed, slack_mm=0.0)), weak="ignore")
    assert found.metrics.max_imbalance_patches <= 1 + 2e-6
    assert found.metrics.over_bound == 0
    assert abs(found.metrics.final_difference_mm2) < 1.0


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.floats(100, 5_000))
def test_what_is_told_of_an_order_is_true_of_it(seed: int, bound: float) -> None:
    pieces = patches(taped_sheet(seed))
    found = plan(pieces, bound)
    totals = {face: sum(p.area_mm2 for p in pieces if p.face == face) for face in ("front", "back")}
    freed, worst, over = {"front": 0.0, "back": 0.0}, 0.0, 0
    for patch in found.order:
        freed[patch.face] += patch.area_mm2
        shares = freed["front"] / totals["front"] - freed["back"] / totals["back"]
        uneven = abs(shares) * min(totals.values())
        worst, over = max(worst, uneven), over + (uneven > bound + 1e-3)
    assert found.metrics.max_imbalance_mm2 == pytest.approx(worst, abs=1e-3)
    assert found.metrics.over_bound == over
    faces = [patch.face for patch in found.order]
    assert found.metrics.turns == sum(a != b for a, b in pairwise(faces))
    if not over:
        assert found.metrics.turns >= found.metrics.fewest_turns


def test_a_front_patch_is_followed_by_the_back_patch_behind_it() -> None:
    there = rectangle(10, 20, 60, 25)
    found = plan(cut([Area("front", there), Area("back", mirrored(there, A4[0]))], (), *A4))
    assert found.pairs == {"F1": "B1", "F2": "B2", "F3": "B3"}
    assert [patch.id for patch in found.order] == ["F1", "B1", "B2", "F2", "F3", "B3"]
    assert found.metrics.turns == 3


def test_patches_farther_apart_than_three_centimetres_are_no_pair() -> None:
    near = cut([Area("front", rectangle(0, 0, 20, 20)), Area("back", rectangle(161, 0, 20, 20))], (), *A4)
    far = cut([Area("front", rectangle(0, 0, 20, 20)), Area("back", rectangle(159, 0, 20, 20))], (), *A4)
    assert (len(pairs_of(near)), len(pairs_of(far))) == (1, 0)


def test_tape_on_one_face_only_is_counted_plainly() -> None:
    found = plan(cut([Area("front", rectangle(0, 0, 100, 20))], (), *A4))
    assert found.metrics.max_imbalance_mm2 == pytest.approx(2000.0)
    assert found.metrics.over_bound == 4


def test_planning_anew_goes_on_from_what_was_done() -> None:
    """Three patches of the front are done: the back comes first now, until it has caught up."""
    there = rectangle(10, 20, 120, 25)
    pieces = cut([Area("front", there), Area("back", mirrored(there, A4[0]))], (), *A4)
    done, rest = [p for p in pieces if p.id in {"F1", "F2", "F3"}], pieces
    rest = tuple(patch for patch in pieces if patch not in done)
    freed = Freed(sum(p.area_mm2 for p in done), 0.0, done[-1].at, "front")
    found = plan(rest, freed=freed)
    assert [patch.face for patch in found.order[:2]] == ["back", "back"]
    assert abs(found.metrics.final_difference_mm2) < 1e-6
    assert found.metrics.max_imbalance_mm2 == pytest.approx(1500.0)


@pytest.mark.parametrize("bound", [0.0, -1.0, math.nan, math.inf])
def test_a_bound_that_is_no_area_is_refused(bound: float) -> None:
    with pytest.raises(ValueError, match="bound must be an area"):
        plan((), bound)


def test_nothing_to_do_is_a_plan_of_nothing() -> None:
    assert plan(()).order == ()


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 100_000))
def test_pairs_are_the_cheapest_there_are(seed: int) -> None:
    """Against an independent solver of the same problem: linear_sum_assignment of scipy."""
    # Here, as loading it takes half a second and all workers read all files of tests.
    from scipy.optimize import linear_sum_assignment

    rng = random.Random(seed)
    rows, columns, alone = rng.randint(1, 9), rng.randint(0, 9), rng.choice([1.0, 3.0, 10.0])
    costs = {
        row: {column: rng.uniform(0, 12) for column in range(columns) if rng.random() < 0.6}
        for row in range(rows)
    }
    table = np.full((rows, columns + rows), 1e6)
    for row, near in costs.items():
        table[row, columns + row] = alone
        for column, cost in near.items():
            table[row, column] = cost
    best = table[linear_sum_assignment(table)].sum()
    found = cheapest_pairs(costs, alone)
    assert len(set(found.values())) == len(found)
    total = sum(costs[row][column] for row, column in found.items()) + alone * (rows - len(found))
    assert total == pytest.approx(best)


def test_own_rates_take_over_after_five_patches() -> None:
    four = [Worked(500.0, minutes=10.0, ml=0.5, swabs=4)] * 4
    assert rates_of(four) == (ASSUMED, ())
    rates, own = rates_of([*four, Worked(500.0, minutes=40.0)])
    assert own == ("minutes_per_cm2",)
    assert (rates.minutes_per_cm2, rates.ml_per_cm2) == (2.0, ASSUMED.ml_per_cm2)


def test_time_and_liquid_left_by_hand() -> None:
    """Ten patches of 5 cm2: 300 min of lifting, 30 of drying, 4 turns of 1.5; 7.5 ml; 100 swabs."""
    order = [Patch(f"F{n}", "front", (), 500.0, False, (0.0, 0.0)) for n in range(10)]
    found = left(order, 4, ())
    assert (found.minutes, found.ml, found.swabs) == pytest.approx((336.0, 7.5, 100.0))
