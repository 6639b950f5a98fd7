"""What makes a photograph unfit before anything is compared.

How sharp each picture is, and the sharper one made like the other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from kb.science.photo.given import Array, Mask, Picture

LEAST_PX_PER_MM = 15.0
TOO_DARK = 70
TOO_LIGHT = 252
BURNT = 250
BURNT_SHARE = 0.03
SAMPLED = 1_000_000
"""Thresholds of this project, from synthetic pairs."""


def unfit(picture: Picture, which: str, *, is_after: bool) -> tuple[str, ...]:
    """Why a photograph says nothing: too dark or over-exposed; empty if it is fit."""
    # A million pixels say as much as all of them, many times sooner.
    every = max(int((picture.shape[0] * picture.shape[1] / SAMPLED) ** 0.5), 1)
    picture = picture[::every, ::every]
    brightest = picture.max(axis=2)
    middle = float(np.median(brightest))
    reasons = []
    if middle < TOO_DARK:
        reasons.append(f"too dark: the {which} photograph")
    burnt = float((picture.min(axis=2) >= BURNT).mean())
    if middle > TOO_LIGHT or (is_after and burnt > BURNT_SHARE):
        reasons.append(f"over-exposed: the {which} photograph")
    return tuple(reasons)


TRIED_PX = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.95, 1.1, 1.3, 1.6, 2.0, 2.5, 3.2, 4.0)
STEP_MM = 0.9
"""Side of the square in which the height of an edge is looked for: wider than the blur that is refused."""
SHARPEST_SHARE = 20.0
"""Percentile of edges that is taken: ink has soft edges of its own, the sharpest show the lens."""


def edge_sigma_mm(grey: Array, near_ink: Mask, px_per_mm: float) -> float:
    """Gaussian sigma of the sharpest edges of ink: step over steepest slope over the root of two pi.

    ``grey`` is linear light; not a number if there is no edge.
    """
    smooth = cv2.GaussianBlur(grey, (0, 0), 0.7)
    across, down = (cv2.Sobel(smooth, cv2.CV_32F, *way, ksize=3, scale=1 / 8) for way in ((1, 0), (0, 1)))
    slope = np.asarray(np.hypot(across, down), np.float32)
    reach = max(round(STEP_MM * px_per_mm) | 1, 3)
    disc = np.ones((reach, reach), np.uint8)
    step = np.asarray(cv2.dilate(smooth, disc) - cv2.erode(smooth, disc), np.float32)
    steepest = slope >= cv2.dilate(slope, np.ones((5, 5), np.uint8)) - 1e-6
    if not near_ink.any():
        return float("nan")
    edges = steepest & near_ink & (step > 0.5 * np.percentile(step[near_ink], 90))
    if edges.sum() < 20:
        return float("nan")
    sigma = step[edges] / np.maximum(slope[edges], 1e-6) / np.sqrt(2 * np.pi)
    # The smoothing above widened every edge by 0.7 px.
    return float(np.sqrt(max(np.percentile(sigma, SHARPEST_SHARE) ** 2 - 0.49, 0.0)) / px_per_mm)


def matched(before: Array, after: Array, edges: Mask) -> tuple[Array, Array, float]:
    """The pair in linear light with the sharper one blurred, and by how many pixels (negative: before).

    Sigma is chosen where ink cannot have changed: ``edges`` lie near ink and outside the swab.
    """
    if edges.sum() < 100:
        return before, after, 0.0
    first, second = (_grey(one) for one in (before, after))
    gain = float(np.median(second[edges])) / max(float(np.median(first[edges])), 1e-6)
    first = first * gain
    best, chosen = float(np.mean((first - second)[edges] ** 2)), 0.0
    for sigma in TRIED_PX:
        for sign, one, other in ((-1, first, second), (1, second, first)):
            left = float(np.mean((cv2.GaussianBlur(one, (0, 0), sigma) - other)[edges] ** 2))
            # A grain of gain is what blurring noise brings by itself.
            if left < best * 0.98:
                best, chosen = left, sign * sigma
    if chosen < 0:
        before = np.asarray(cv2.GaussianBlur(before, (0, 0), -chosen))
    elif chosen > 0:
        after = np.asarray(cv2.GaussianBlur(after, (0, 0), chosen))
    return before, after, chosen


def _grey(light: Array) -> Array:
    return np.asarray(light.mean(axis=2))
