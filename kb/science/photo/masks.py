"""What takes part: glare and burnt pixels out, ink and paper told apart.

The part of a photograph that is looked at: where it lies, and how it was made smaller.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

from kb.science.photo.light import coded, density, linear_light, reduced

if TYPE_CHECKING:
    from kb.science.photo.given import Array, Circle, Mask, Picture

BURNT_LIGHT = 0.965
"""Linear light of code 251 of 255: from here on a channel may be burnt out."""
LIGHTER_BY = 0.22
"""Natural log by which all three channels of glare stand above the paper."""
GROWN_MM = 0.4
SKIRT_MM = 1.5
"""How far the skirt of a gloss may reach."""
INK_LEAST = 0.10
"""Natural-log density above the paper around it, below which nothing counts as ink."""
INK_OF_TYPICAL = 0.40
PAPER_MM = 2.5


class Ink(NamedTuple):
    """Where ink lies, its distance in mm from every pixel, and its direction in density space (unit)."""

    mask: Mask
    away_mm: Array
    direction: Array


def glare(before: Array, after: Array, px_per_mm: float) -> Mask:
    """Gloss on the before picture, from the aligned pair in linear light.

    It starts where the picture is near white or clearly lighter than the paper around, and reaches as far as
    the picture is lighter than the after picture. Lighter than the after picture alone is no gloss: ink that
    spread makes the same.
    """
    lighter = (density(after) - density(before)).min(axis=2)
    lighter = lighter - float(np.median(lighter))
    above = density(_paper_light(before, px_per_mm)) - density(before)
    shine = (before > BURNT_LIGHT).all(axis=2) | ((above > LIGHTER_BY).all(axis=2) & (lighter > LIGHTER_BY))
    # Single pixels are grain, not gloss.
    seeds = cv2.morphologyEx(shine.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0
    if not seeds.any():
        return seeds
    reach = grown(seeds, SKIRT_MM * px_per_mm) & (lighter > LIGHTER_BY / 2)
    return grown(seeds | reach, GROWN_MM * px_per_mm)


def _paper_light(light: Array, px_per_mm: float) -> Array:
    """Light of the paper around each pixel: what is lightest within some millimetres, grain left out."""
    small = reduced(light, 1 / 8)
    window = min(round(5.0 * px_per_mm / 8) | 1, 101)
    # The lightest middle value around: between close lines the middle itself is ink.
    middle = cv2.medianBlur(coded(small), max(window, 3))
    lightest = np.asarray(cv2.dilate(middle, np.ones((window, window), np.uint8)), np.uint8)
    return np.asarray(np.maximum(cv2.resize(linear_light(lightest), light.shape[1::-1]), 0.002))


def grown(mask: Mask, px: float) -> Mask:
    """The mask and all within ``px`` of it."""
    if not mask.any():
        return mask
    away = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5)
    return np.asarray(away <= px)


def ink_of(dense: Array, usable: Mask, px_per_mm: float) -> Ink | None:
    """Ink of a density picture (height x width x 3); None if there is next to none."""
    grey = dense.mean(axis=2)
    above = cv2.GaussianBlur(grey - _paper(grey, px_per_mm), (0, 0), 0.03 * px_per_mm)
    strong = above[usable & (above > INK_LEAST)]
    if strong.size < 0.002 * max(int(usable.sum()), 1):
        return None
    limit = max(INK_LEAST, INK_OF_TYPICAL * float(np.percentile(strong, 75)))
    mask = _large_enough(above > limit, px_per_mm) & usable
    if not mask.any():
        return None
    away = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5) / px_per_mm
    rim = (away > 0.5) & (away < 1.5) & usable
    paper = np.median(dense[rim], axis=0) if rim.any() else np.median(dense[usable & ~mask], axis=0)
    direction = np.median(dense[mask], axis=0) - paper
    return Ink(
        mask, np.asarray(away, np.float32), np.asarray(direction / np.linalg.norm(direction), np.float32)
    )


def _paper(grey: Array, px_per_mm: float) -> Array:
    """Density of the paper under the ink: what is lightest around, on a quarter of the size."""
    small = cv2.resize(grey, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    reach = max(round(PAPER_MM * px_per_mm / 4) | 1, 3)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    opened = cv2.GaussianBlur(cv2.morphologyEx(small, cv2.MORPH_OPEN, disc), (0, 0), reach / 3)
    return np.asarray(cv2.resize(opened, grey.shape[::-1], interpolation=cv2.INTER_LINEAR))


def _large_enough(mask: Mask, px_per_mm: float) -> Mask:
    """Without specks smaller than a dot of 0.3 mm, which are fibres."""
    _, labels, found, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    large = found[:, cv2.CC_STAT_AREA] >= np.pi * (0.15 * px_per_mm) ** 2
    large[0] = False
    return np.asarray(large[labels])


WORKING_PX_PER_MM = 30.0
SURROUND_MM = 12.0


class Frame(NamedTuple):
    """A cut of the original from column ``left`` and row ``top``, made smaller by ``factor``."""

    left: int
    top: int
    factor: float

    def inward(self, x: float, y: float) -> tuple[float, float]:
        """A point of the original in pixels of the cut."""
        return (x - self.left + 0.5) * self.factor - 0.5, (y - self.top + 0.5) * self.factor - 0.5

    def outward(self, x: float, y: float) -> tuple[float, float]:
        """A point of the cut in pixels of the original."""
        return (x + 0.5) / self.factor - 0.5 + self.left, (y + 0.5) / self.factor - 0.5 + self.top

    def matrix(self) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
        """``outward`` as a 3 x 3 matrix."""
        shift = 0.5 / self.factor - 0.5
        return np.array(
            [[1 / self.factor, 0, shift + self.left], [0, 1 / self.factor, shift + self.top], [0, 0, 1]]
        )


def cut(picture: Picture, x: tuple[float, float], y: tuple[float, float]) -> tuple[Picture, int, int]:
    """Columns and rows of the picture as far as it reaches, and its left and top."""
    left, right = (int(np.clip(at, 0, picture.shape[1])) for at in x)
    top, bottom = (int(np.clip(at, 0, picture.shape[0])) for at in y)
    return picture[top:bottom, left:right], left, top


def circle_mask(
    shape: tuple[int, ...], circle: Circle, grown: float = 0.0
) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """True inside the circle made larger by ``grown`` pixels."""
    ys, xs = np.ogrid[: shape[0], : shape[1]]
    return np.asarray(np.hypot(xs - circle.x, ys - circle.y) <= circle.radius + grown)
