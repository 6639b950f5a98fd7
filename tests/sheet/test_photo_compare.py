"""Whether ink moved, on synthetic pairs whose truth is known; seeds here were not used while building."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from kb.science.photo import alignment, light, verdict
from kb.science.photo.compare import compare
from kb.science.photo.given import Box, Circle, Comparison
from kb.science.photo.light import delta_e_2000
from kb.science.sheet.colour import Lab
from kb.science.sheet.colour import delta_e_2000 as of_two_readings
from tests.sheet.photo_pairs import Pair, pair

PX_PER_MM = 20
JUDGED = 20_000
"""First of the seeds that are only judged on."""


BLURRED = (
    (0.13, 1.1, "possible-change"),
    (0.16, 1.9, "cannot-tell"),
    (0.16, 2.1, "possible-change"),
    (0.20, 9.9, "cannot-tell"),
)
"""Blur of the edges, score over threshold, verdict."""


@pytest.fixture(autouse=True)
def _one_thread() -> None:
    cv2.setNumThreads(1)


def judged(made: Pair, swab: Circle | None = None) -> Comparison:
    """The comparison of a pair with its own swab, or another."""
    return compare(made.before, made.after, made.px_per_mm, swab or Circle(*made.swab))


@pytest.mark.parametrize("case", ["identical", "re-shot", "old smudge", "lightened"])
def test_nothing_that_happened_is_no_change(case: str) -> None:
    """Another hand, place and light, a smudge that was there before, and cleaner paper are no change."""
    found = judged(pair(case, PX_PER_MM, JUDGED))
    assert found.verdict == "no-change", (found.boxes, found.reasons)
    assert found.smallest_mm is not None
    assert found.boxes == ()


@pytest.mark.parametrize(
    ("case", "size"),
    [
        ("halo", 0.3),
        ("old smudge and halo", 0.3),
        ("loss", 0.4),
        ("smudge", 0.0),
        ("shift", 0.4),
        ("ring", 0.0),
        ("swab marked off", 0.3),
    ],
)
def test_what_happened_is_found_in_its_place(case: str, size: float) -> None:
    """The answer is a possible change, with a box inside the swab and 1.2 mm around it."""
    made = pair(case, PX_PER_MM, JUDGED, size)
    found = judged(made)
    assert found.verdict == "possible-change", (found.figures.scores, found.reasons)
    x, y, radius = made.swab
    reach = radius + 1.2 * PX_PER_MM
    for box in found.boxes:
        assert x - reach <= box.x <= box.x + box.w <= x + reach
        assert y - reach <= box.y <= box.y + box.h <= y + reach
        assert box.score >= box.threshold


@pytest.mark.parametrize(
    ("case", "reason"),
    [
        ("dark", "too dark"),
        ("over", "over-exposed"),
        ("wrong patch", "alignment"),
        ("blur", ""),
        ("glare", "glare over the swab"),
        ("no ink", "no ink in the patch"),
    ],
)
def test_broken_photographs_leave_it_open(case: str, reason: str) -> None:
    """A photograph that cannot answer says so, and why."""
    found = judged(pair(case, PX_PER_MM, JUDGED))
    assert found.verdict == "cannot-tell", found.figures.scores
    assert any(reason in one for one in found.reasons)
    assert found.boxes == ()


@pytest.mark.parametrize(("blur_mm", "score", "said"), BLURRED)
def test_blur_leaves_it_open_unless_something_stands_out_and_always_when_edges_smear(
    blur_mm: float, score: float, said: str
) -> None:
    """A picture out of focus once gave a stroke that moved, at 3.4 times its threshold."""
    place = Box("ink amount", 0, 0, 9, 9, score, 1.0)
    assert verdict.decided((), (place,), blur_mm=blur_mm, glossy=False)[0] == said


def test_gloss_in_before_never_gives_no_change() -> None:
    """Tape on the before picture leaves only what can be judged beside it."""
    found = judged(pair("tape", PX_PER_MM, JUDGED))
    assert found.verdict == "cannot-tell"


def test_what_was_not_given_is_asked_for() -> None:
    """Without the swabbed area or the scale there is no verdict; a scale too small is refused."""
    made = pair("halo", PX_PER_MM, JUDGED, 0.3)
    bare = compare(made.before, made.after, None, None)
    assert bare.verdict == "cannot-tell"
    assert any("mark the swabbed area" in one for one in bare.reasons)
    assert any("scale missing" in one for one in bare.reasons)
    small = compare(made.before, made.after, 12, Circle(*made.swab))
    assert any("scale too small" in one for one in small.reasons)


def test_a_swab_off_the_picture_is_no_ground_for_a_verdict() -> None:
    """Where the photographs do not show the swab nothing can be told."""
    made = pair("halo", PX_PER_MM, JUDGED, 0.3)
    for swab in (Circle(-2000, 100, 60), Circle(0, 0, 70), Circle(240, 180, 5000)):
        assert judged(made, swab).verdict == "cannot-tell", swab


def test_a_pair_without_change_raises_the_thresholds() -> None:
    """What the camera and the hand do by themselves has to be outdone."""
    made = pair("halo", PX_PER_MM, JUDGED, 0.3)
    plain = judged(made)
    assert plain.figures.scores is not None
    noisy = compare(made.before, made.after, PX_PER_MM, Circle(*made.swab), noise=plain.figures.scores)
    assert noisy.verdict == "no-change"


def test_work_can_be_stopped() -> None:
    """What the listener raises comes out."""

    def stop(text: str, share: float) -> None:
        raise KeyboardInterrupt(text, share)

    made = pair("re-shot", PX_PER_MM, JUDGED)
    with pytest.raises(KeyboardInterrupt):
        compare(made.before, made.after, PX_PER_MM, Circle(*made.swab), step=stop)


def test_registration_finds_known_warps() -> None:
    """Median error under 0.1 px of the working scale, over 63 points each of several warps."""
    errors = [_registration_errors(seed) for seed in range(JUDGED, JUDGED + 5)]
    assert all(len(one) >= 63 for one in errors)
    medians = [float(np.median(one)) for one in errors]
    assert float(np.median(np.concatenate(errors))) < 0.1, medians


def _registration_errors(seed: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    made = pair("re-shot", 40, seed)
    factor = 30 / 40
    first, second = (
        alignment.normalised(np.sqrt(light.luminance(light.reduced(light.linear_light(one), factor))), 30)
        for one in (made.before, made.after)
    )
    aligned = alignment.align(first, second, 30)
    assert aligned is not None
    followed = alignment.follow(first, second, aligned.matrix, 30, np.ones(first.shape, bool))
    at, aim = ((one + 0.5) * factor - 0.5 for one in (made.points_before, made.points_after))
    x, y = (np.ascontiguousarray(at[:, axis], np.float32) for axis in (0, 1))
    found = np.stack(
        [cv2.remap(one, x, y, cv2.INTER_LINEAR).ravel() for one in (followed.map_x, followed.map_y)], 1
    )
    return np.hypot(*(found - aim).T)


def test_map_of_colour_differences_agrees_with_single_readings() -> None:
    """The same formula with and without arrays, on random colours, greys and opposite hues among them."""
    rng = np.random.default_rng(1)
    pairs = rng.uniform((0, -80, -80), (100, 80, 80), (2, 400, 3)).astype(np.float32)
    pairs[:, :40, 1:] = 0
    for first, second, mapped in zip(*pairs, delta_e_2000(*pairs), strict=True):
        expected = of_two_readings(Lab(*map(float, first)), Lab(*map(float, second)))
        assert math.isclose(float(mapped), expected, rel_tol=1e-3, abs_tol=1e-3)
