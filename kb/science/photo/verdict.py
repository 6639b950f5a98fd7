"""From statistics to an answer with places, and from reasons to 'cannot tell'."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import cv2
import numpy as np

from kb.science.photo.given import Box
from kb.science.photo.statistics import FAR_MM, NEAR_MM, STATISTICS

if TYPE_CHECKING:
    from kb.science.photo.given import Circle, Kind, Verdict
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
