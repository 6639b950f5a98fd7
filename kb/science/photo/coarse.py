"""Coarse alignment: where each point of the before picture lies in the after picture, as a homography."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

from kb.science.photo.light import reduced

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kb.science.photo.given import Array

WINDOW_MM = 1.2
FEATURES = 2500
RATIO = 0.8
WITHIN_MM = 0.06
LEAST_INLIERS = 12
SCALES = (0.8, 1.25)
ECC_STEPS = 30
SEED = 20
"""RANSAC draws at random; the same pair must always give the same answer."""


class Aligned(NamedTuple):
    """A homography from before to after pixels, how many features agree, and the correlation reached."""

    matrix: NDArray[np.float64]
    inliers: int
    ecc: float


def normalised(grey: Array, px_per_mm: float) -> Array:
    """Grey with local mean 0 and local spread about 1, so that light and tone no longer matter.

    Grey is coded light 0-1; the floor keeps the grain of blank paper from counting like ink.
    """
    sigma = WINDOW_MM * px_per_mm / 2
    mean = cv2.GaussianBlur(grey, (0, 0), sigma)
    spread = np.sqrt(np.maximum(cv2.GaussianBlur(grey * grey, (0, 0), sigma) - mean * mean, 0.0))
    return np.asarray((grey - mean) / (spread + 0.02))


def align(
    before: Array, after: Array, px_per_mm: float, *, refine: bool = True, scale: float = 1.0
) -> Aligned | None:
    """Align two normalised greys; None if too few features agree or the scale is out of reach.

    ``scale`` is the size that the after picture should have beside the before picture.
    """
    found = _features(before, after)
    if found is None or len(found[0]) < LEAST_INLIERS:
        return None
    cv2.setRNGSeed(SEED)
    matrix, agreed = cv2.findHomography(
        found[0], found[1], cv2.RANSAC, max(WITHIN_MM * px_per_mm, 1.0), maxIters=5000, confidence=0.999
    )
    inliers = int(agreed.sum()) if matrix is not None else 0
    if matrix is None or inliers < LEAST_INLIERS or not _likely(np.asarray(matrix), before.shape, scale):
        return None
    if not refine:
        return Aligned(np.asarray(matrix, np.float64), inliers, float("nan"))
    return _refined(before, after, np.asarray(matrix, np.float64), inliers)


def _features(before: Array, after: Array) -> tuple[NDArray[np.float32], NDArray[np.float32]] | None:
    sift = cv2.SIFT.create(nfeatures=FEATURES)
    points, words = zip(
        *(sift.detectAndCompute(_eight_bit(one), None) for one in (before, after)), strict=True
    )
    if any(one is None or len(one) < LEAST_INLIERS for one in words):
        return None
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(words[0], words[1], k=2)
    good = [
        best
        for best, second in (pair for pair in pairs if len(pair) == 2)
        if best.distance < RATIO * second.distance
    ]
    return (
        np.array([points[0][one.queryIdx].pt for one in good], np.float32),
        np.array([points[1][one.trainIdx].pt for one in good], np.float32),
    )


def _eight_bit(grey: Array) -> NDArray[np.uint8]:
    return np.asarray(np.clip(128 + 50 * grey, 0, 255), np.uint8)


def _likely(matrix: NDArray[np.floating | np.integer], shape: tuple[int, ...], scale: float) -> bool:
    """Whether the picture keeps its size, within limits, all over: a wild homography fits a few points."""
    high, wide = shape[:2]
    corners = np.array([[[0, 0], [wide, 0], [wide, high], [0, high]]], np.float64)
    moved = cv2.perspectiveTransform(corners, matrix)[0]
    sides = np.linalg.norm(np.roll(moved, -1, 0) - moved, axis=1) / (
        scale * np.array([wide, high, wide, high])
    )
    area = cv2.contourArea(moved.astype(np.float32), oriented=True) / (wide * high)
    return bool(area > 0 and sides.min() >= SCALES[0] and sides.max() <= SCALES[1])


def _refined(before: Array, after: Array, matrix: NDArray[np.float64], inliers: int) -> Aligned:
    """ECC at half size, which is four times quicker and leaves the rest to the fine alignment."""
    half = np.diag([0.5, 0.5, 1.0])
    half[:2, 2] = -0.25
    first, second = reduced(before, 0.5), reduced(after, 0.5)
    start = half @ matrix @ np.linalg.inv(half)
    start = (start / start[2, 2]).astype(np.float32)
    ends = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, ECC_STEPS, 1e-5)
    best, ecc = start, correlation(first, second, start)
    try:
        whole = np.full(first.shape, 255, np.uint8)
        _, found = cv2.findTransformECC(first, second, start.copy(), cv2.MOTION_HOMOGRAPHY, ends, whole, 5)
    except cv2.error:
        # It wanders off from a good start now and then; the start stands.
        found = start
    if (better := correlation(first, second, np.asarray(found, np.float32))) > ecc:
        best, ecc = np.asarray(found, np.float32), better
    full = np.linalg.inv(half) @ best.astype(np.float64) @ half
    return Aligned(full / full[2, 2], inliers, ecc)


def correlation(before: Array, after: Array, matrix: NDArray[np.float32]) -> float:
    """Correlation of two greys where the second, laid over the first, covers it."""
    size = before.shape[::-1]
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid, covered = (
        cv2.warpPerspective(one, matrix, size, flags=flags) for one in (after, np.ones_like(after))
    )
    where = covered > 0.99
    if where.sum() < 100:
        return 0.0
    return float(np.corrcoef(before[where], laid[where])[0, 1])
