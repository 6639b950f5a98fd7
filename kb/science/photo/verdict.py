"""From statistics to an answer with places, and from reasons to 'cannot tell'.

Among them what makes a photograph unfit before anything is compared: dark, over-exposed, or not sharp.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import cv2
import numpy as np

from kb.science.photo.given import Box
from kb.science.photo.statistics import FAR_MM, NEAR_MM, STATISTICS

if TYPE_CHECKING:
    from kb.science.photo.given import Array, Circle, Kind, Mask, Picture, Verdict
    from kb.science.photo.statistics import Judged


GLOSSY = 1.25
"""What thresholds are raised by where gloss lay on the before picture."""
GLOSS_KINDS = ("near halo", "stroke moved")
"""What can still be judged then."""
PAIR_NOISE = 1.3
"""How far above a pair without change, by the same camera and hand, a score must stand."""
MOST_BLUR_MM = 0.14
BLUR_WINS_BELOW = 2.0
"""Of a threshold: what stands this clearly is shown although a picture is blurred ..."""
SMEARED_MM = NEAR_MM[1] - NEAR_MM[0]
"""... but not once edges are as wide as the zone beside the ink that is judged."""
BOX_BEYOND_MM = 1.0
FAINT = 0.15
"""Density of a faint halo beside its stroke, of that of the stroke; this project's own."""
NARROWEST_MM = 0.2
WIDTHS_MM = (NARROWEST_MM, 0.3, 0.4, 0.5, 0.75, 1.0, 1.5, 2.0)
ZONES_MM: dict[Kind, tuple[float, float]] = {"near halo": NEAR_MM, "far halo": (NEAR_MM[1], FAR_MM)}
"""From where to where beside the ink each statistic looks."""


def thresholds(*, glossy: bool, noise: Mapping[str, float] | None = None) -> dict[Kind, float]:
    """Robust z from which each statistic counts; ``noise``: scores of a pair without change."""
    found: dict[Kind, float] = {}
    for kind, one in STATISTICS.items():
        if glossy and kind not in GLOSS_KINDS:
            continue
        usual = one.threshold * (GLOSSY if glossy else 1.0)
        found[kind] = max(usual, PAIR_NOISE * (noise or {}).get(kind, 0.0))
    return found


def boxes(
    found: Mapping[Kind, Judged], limits: Mapping[Kind, float], swab: Circle, px_per_mm: float
) -> tuple[Box, ...]:
    """Where each statistic stands above its threshold, the clearest first."""
    placed = [
        _box(kind, found[kind], limit, swab, px_per_mm)
        for kind, limit in limits.items()
        if kind in found and found[kind].z >= limit
    ]
    return tuple(sorted(placed, key=lambda box: -box.score / box.threshold))


def _box(kind: Kind, one: Judged, limit: float, swab: Circle, px_per_mm: float) -> Box:
    """Around the tiles that hang together with the highest and reach half of it."""
    high = (one.inside >= max(limit, one.z / 2)).astype(np.uint8)
    _, labels = cv2.connectedComponents(high, connectivity=8)
    peak = np.unravel_index(int(np.argmax(one.inside)), one.inside.shape)
    ys, xs = np.nonzero(labels == labels[peak])
    half, reach = one.side / 2, swab.radius + BOX_BEYOND_MM * px_per_mm
    left, right = (
        max(one.grid_x[ys, xs].min() - half, swab.x - reach),
        min(one.grid_x[ys, xs].max() + half, swab.x + reach),
    )
    top, bottom = (
        max(one.grid_y[ys, xs].min() - half, swab.y - reach),
        min(one.grid_y[ys, xs].max() + half, swab.y + reach),
    )
    return Box(kind, float(left), float(top), float(right - left), float(bottom - top), one.z, limit)


def decided(
    reasons: tuple[str, ...], places: tuple[Box, ...], *, blur_mm: float, glossy: bool
) -> tuple[Verdict, tuple[str, ...]]:
    """The verdict, and why it cannot be told if so."""
    if reasons:
        return "cannot-tell", reasons
    best = max((box.score / box.threshold for box in places), default=0.0)
    if blur_mm >= SMEARED_MM or (blur_mm > MOST_BLUR_MM and best < BLUR_WINS_BELOW):
        return "cannot-tell", ("blur",)
    if places:
        return "possible-change", ()
    if glossy:
        return "cannot-tell", ("tape or gloss in before",)
    return "no-change", ()


def smallest_mm(
    found: Mapping[Kind, Judged], limits: Mapping[Kind, float], ink_density: float, blur_mm: float
) -> float | None:
    """The narrowest faint halo that would have stood above this pair's own noise, in mm; None if none would.

    Faint is `FAINT` of the density of the strokes, and the halo thins out to nothing at its width. Below
    `NARROWEST_MM` nothing is promised, however quiet the pair.
    """
    for wide in WIDTHS_MM:
        for kind, (start, end) in ZONES_MM.items():
            judged = found.get(kind)
            if judged is None or kind not in limits:
                continue
            away = np.linspace(start + 0.8 * blur_mm, end + 0.8 * blur_mm, 50)
            gained = FAINT * ink_density * float(np.clip(1.0 - away / wide, 0.0, None).mean())
            if gained >= limits[kind] * judged.spread:
                return wide
    return None


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


def matched(before: Array, after: Array, edges: Mask) -> tuple[Array, Array]:
    """The pair in linear light with the sharper one blurred.

    Sigma is chosen where ink cannot have changed: ``edges`` lie near ink and outside the swab.
    """
    if edges.sum() < 100:
        return before, after
    first, second = (np.asarray(one.mean(axis=2)) for one in (before, after))
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
    return before, after
