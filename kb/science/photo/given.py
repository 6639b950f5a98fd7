"""What the comparison is given and what it gives back; nothing here needs numpy."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Picture = NDArray[np.uint8]
    """Height x width x 3, sRGB, red first."""
    Array = NDArray[np.float32]
    Mask = NDArray[np.bool_]

Verdict = Literal["no-change", "possible-change", "cannot-tell"]
Kind = Literal["near halo", "far halo", "open paper", "ink amount", "ring", "stroke moved"]
Step = Callable[[str, float], None]
"""Told what is being done and how far it is (0-1); whatever it raises ends the comparison."""


class Circle(NamedTuple):
    """Centre and radius, in pixels of the picture it is drawn on."""

    x: float
    y: float
    radius: float


class Box(NamedTuple):
    """Where something may have changed; ``score`` and ``threshold`` are robust z of the statistic."""

    kind: Kind
    x: float
    y: float
    w: float
    h: float
    score: float
    threshold: float


class PaperChange(NamedTuple):
    """Swab minus control, in CIELAB units of uncalibrated photographs: relative only."""

    lightness: float
    yellowness: float


class Figures(NamedTuple):
    """What was measured on the way; None where the comparison ended before."""

    px_per_mm: float | None = None
    working_px_per_mm: float | None = None
    cut: tuple[float, float, float] | None = None
    """Left and top of the aligned pictures in the before picture, and their scale beside it."""
    transform: tuple[tuple[float, float, float], ...] | None = None
    inliers: int | None = None
    ecc: float | None = None
    residual_mm: float | None = None
    blur_before_mm: float | None = None
    blur_after_mm: float | None = None
    glare_fraction: float | None = None
    clipped_fraction: float | None = None
    usable_fraction: float | None = None
    changed_fraction: float | None = None
    de00_p99_swab: float | None = None
    de00_p99_control: float | None = None
    ink_change_pct: float | None = None
    near_halo_density: float | None = None
    far_halo_density: float | None = None
    largest_shift_mm: float | None = None
    scores: Mapping[str, float] | None = None
    thresholds: Mapping[str, float] | None = None
    notes: tuple[str, ...] = ()


class Pictures(NamedTuple):
    """The pair as it was compared, the colour-difference map and the overlay; same size, same place."""

    before: Picture
    after: Picture
    difference: Picture
    overlay: Picture


class Comparison(NamedTuple):
    """The answer. It informs; it is never a word that something is safe."""

    verdict: Verdict
    reasons: tuple[str, ...]
    boxes: tuple[Box, ...]
    smallest_mm: float | None
    paper_change: PaperChange | None
    figures: Figures
    pictures: Pictures | None
