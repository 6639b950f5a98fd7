"""The six statistics of ink that moved, each over tiles judged against the tiles outside the swab.

Means of a map over tiles, and how far each stands apart from the tiles outside the swab.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

from kb.science.photo.light import density, local_mean
from kb.science.photo.masks import circle_mask

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kb.science.photo.alignment import Followed
    from kb.science.photo.given import Array, Circle, Kind, Mask
    from kb.science.photo.masks import Ink

TILE_MM = 1.0
LEAST_CONTROLS = 8
IN_REACH_MM = 0.3
OUT_OF_REACH_MM = 1.3
"""Tiles between the two belong to neither: a swab is never marked exactly."""


class Statistic(NamedTuple):
    """Robust z from which a statistic counts, least spread believed in its own unit, and which way counts.

    ``way`` is 1 if only more counts, -1 if only less, 0 for both.
    """

    threshold: float
    floor: float
    way: int


STATISTICS: dict[Kind, Statistic] = {
    "near halo": Statistic(9.5, 0.004, 1),
    "far halo": Statistic(8.0, 0.003, 1),
    "open paper": Statistic(8.0, 0.003, 1),
    "ink amount": Statistic(5.0, 0.03, 0),
    "ring": Statistic(4.0, 0.003, 1),
    "stroke moved": Statistic(3.5, 0.02, 1),
}
"""Floors in natural-log density, share of the ink, mm. From synthetic pairs; this project's own."""


class Tiles(NamedTuple):
    """Values at the centres of tiles (pixels), NaN where too little of the zone lies in one."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    side: float
    value: NDArray[np.float64]


class Judged(NamedTuple):
    """The largest robust z inside the swab, centre and spread of the controls, and z of every tile inside."""

    z: float
    side: float
    centre: float
    spread: float
    inside: NDArray[np.float64]
    grid_x: NDArray[np.float64]
    grid_y: NDArray[np.float64]

    def divided_by(self, doubt: float) -> Judged:
        """The same with a spread that is larger by a factor."""
        return self._replace(z=self.z / doubt, spread=self.spread * doubt, inside=self.inside / doubt)


def tiled(values: Array, zone: Mask, px_per_mm: float, least_share: float, tile_mm: float = TILE_MM) -> Tiles:
    """Means over the part of each tile that lies in the zone; tiles overlap by a third."""
    side = tile_mm * px_per_mm
    width = round(side) | 1
    weight = zone.astype(np.float32)
    share = cv2.boxFilter(weight, -1, (width, width))
    mean = cv2.boxFilter(np.where(zone, values, 0).astype(np.float32), -1, (width, width)) / np.maximum(
        share, 1e-6
    )
    ys, xs = (np.arange(side / 2, end - side / 2, side * 2 / 3) for end in values.shape[:2])
    grid_x, grid_y = np.meshgrid(xs, ys)
    at = (np.round(grid_y).astype(int), np.round(grid_x).astype(int))
    found = np.where(share[at] >= least_share, mean[at], np.nan)
    return Tiles(grid_x, grid_y, side, found)


NEAR_MM = (0.03, 0.22)
FAR_MM = 0.75
PAPER_FROM_MM = 0.30
"""Paper from here on is held to be free of ink and of its blur."""
SIGMAS_MM = (0.7, 1.6)
YELLOWING = np.array([0.20, 0.50, 0.84], np.float32)
"""Direction of aged adhesive and paper in density space (red, green, blue); this project's own."""
APART_DEG = 20.0
RIDGE_MM = 0.8
AMOUNT_TILE_MM = 2.0
LIGHTENED = 0.006
"""Natural-log density by which the paper in the swab must have gone lighter to count as cleaned."""
BESIDE_PAPER = ("near halo", "far halo", "ink amount")
"""What is measured against the paper beside it."""


class Prepared(NamedTuple):
    """The aligned pair in linear light, what may be used of it, and the log ratio without shading."""

    before: Array
    after: Array
    ratio: Array
    usable: Mask
    ink: Ink
    blur_mm: float
    swab: Circle
    px_per_mm: float

    def paper(self, from_mm: float = PAPER_FROM_MM) -> Mask:
        """Usable pixels at least so far from ink."""
        return np.asarray(self.usable & (self.ink.away_mm > from_mm + 0.8 * self.blur_mm))


def ink_part(ratio: Array, direction: Array) -> tuple[Array, bool]:
    """The share of a log ratio along the ink's colour, and whether yellowing could be told apart from it."""
    yellow = YELLOWING / np.linalg.norm(YELLOWING)
    cosine = float(direction @ yellow)
    if np.degrees(np.arccos(np.clip(cosine, -1, 1))) <= APART_DEG:
        return np.asarray(ratio @ direction), False
    # Oblique axes: what yellowing explains is not counted as ink.
    along, across = ratio @ direction, ratio @ yellow
    return np.asarray((along - cosine * across) / (1 - cosine**2)), True


def all_judged(pair: Prepared, followed: Followed) -> dict[Kind, Judged]:
    """Every statistic that there is enough to judge of."""
    found: dict[Kind, Judged | None] = {
        "near halo": _halo(pair, near=True),
        "far halo": _halo(pair, near=False),
        "open paper": _open_paper(pair),
        "ink amount": _amount(pair),
        "ring": _ring(pair),
        "stroke moved": _moved(pair, followed),
    }
    doubt = _doubt(pair)
    return {
        kind: one.divided_by(doubt if kind in BESIDE_PAPER else 1.0)
        for kind, one in found.items()
        if one is not None
    }


def _doubt(pair: Prepared) -> float:
    """By how much the paper in the swab is less even than outside, if it got lighter; else 1.

    Adhesive leaves in patches, and what is measured against the paper beside is as uncertain as that paper.
    Only lighter paper counts, because a halo makes it uneven too, and darker.
    """
    gained, _, _ = halo_maps(pair)
    over = [tiled(one, pair.paper(), pair.px_per_mm, 0.15) for one in (pair.ratio.mean(axis=2), gained)]
    change, rest = ([tiles.value[side] for side in _split(tiles, pair)] for tiles in over)
    if (
        min(one.size for one in (*change, *rest)) < 5
        or np.median(change[0]) > np.median(change[1]) - LIGHTENED
    ):
        return 1.0
    uneven = [float(np.percentile(np.abs(one - np.median(one)), 80)) for one in rest]
    return max(uneven[0] / max(uneven[1], 1e-4), 1.0)


def _split(tiles: Tiles, pair: Prepared) -> tuple[Mask, Mask]:
    """Which tiles that hold a value lie inside the swab, and which outside."""
    away = np.hypot(tiles.x - pair.swab.x, tiles.y - pair.swab.y) - pair.swab.radius
    known = np.isfinite(tiles.value)
    return known & (away <= IN_REACH_MM * pair.px_per_mm), known & (away > OUT_OF_REACH_MM * pair.px_per_mm)


def halo_maps(pair: Prepared) -> tuple[Array, Mask, Mask]:
    """Density gained along the ink's colour above the paper around, and the near and the far zone."""
    near, far = (sigma * pair.px_per_mm for sigma in SIGMAS_MM)
    around = local_mean(pair.ratio, pair.paper(), near, far)
    gained, _ = ink_part(pair.ratio - around, pair.ink.direction)
    away, widened = pair.ink.away_mm, 0.8 * pair.blur_mm
    near_zone = pair.usable & (away > NEAR_MM[0] + widened) & (away <= NEAR_MM[1] + widened)
    far_zone = pair.usable & (away > NEAR_MM[1] + widened) & (away <= FAR_MM)
    return gained, near_zone, far_zone


def _halo(pair: Prepared, *, near: bool) -> Judged | None:
    gained, near_zone, far_zone = halo_maps(pair)
    if near:
        return _judged("near halo", tiled(gained, near_zone, pair.px_per_mm, 0.06), pair)
    wide = SIGMAS_MM[1] * pair.px_per_mm
    around = local_mean(pair.ratio, pair.paper(FAR_MM), wide, 2 * wide)
    gained, _ = ink_part(pair.ratio - around, pair.ink.direction)
    return _judged("far halo", tiled(gained, far_zone, pair.px_per_mm, 0.10), pair)


def _open_paper(pair: Prepared) -> Judged | None:
    gained, _ = ink_part(pair.ratio, pair.ink.direction)
    return _judged("open paper", tiled(gained, pair.paper(), pair.px_per_mm, 0.15), pair)


def _amount(pair: Prepared) -> Judged | None:
    """Light absorbed in and around strokes, which no blur and no small shift changes."""
    around = pair.usable & (pair.ink.away_mm <= PAPER_FROM_MM)
    absorbed = [_absorbed(light, pair) for light in (pair.before, pair.after)]
    first, second = (tiled(one, around, pair.px_per_mm, 0.10, AMOUNT_TILE_MM) for one in absorbed)
    floor = 0.15 * float(np.nanmedian(first.value)) if np.isfinite(first.value).any() else 1.0
    change = (second.value - first.value) / np.maximum(first.value, max(floor, 1e-3))
    change[first.value < 2 * floor] = np.nan
    return _judged("ink amount", first._replace(value=change), pair)


def _absorbed(light: Array, pair: Prepared) -> Array:
    near, far = (sigma * pair.px_per_mm for sigma in SIGMAS_MM)
    paper = np.maximum(local_mean(light, pair.paper(), near, far), 1e-3)
    return np.asarray((1 - light / paper) @ np.abs(pair.ink.direction))


def _ring(pair: Prepared) -> Judged | None:
    """A line on the paper that is darker than the paper on both sides of it."""
    paper = pair.paper()
    weight = paper.astype(np.float32)
    sigma = 0.15 * pair.px_per_mm
    share = cv2.GaussianBlur(weight, (0, 0), sigma)
    change = cv2.GaussianBlur(pair.ratio.mean(axis=2) * weight, (0, 0), sigma) / np.maximum(share, 1e-3)
    known = share > 0.3
    there = known.astype(np.float32)
    best = np.full(change.shape, -np.inf, np.float32)
    reach = RIDGE_MM * pair.px_per_mm
    for turn in np.arange(4) * np.pi / 4:
        way = round(reach * float(np.cos(turn))), round(reach * float(np.sin(turn)))
        sides = [(_moved_by(change, way, sign), _moved_by(there, way, sign) > 0.5) for sign in (-1, 1)]
        higher = np.maximum(sides[0][0], sides[1][0])
        best = np.where(sides[0][1] & sides[1][1], np.maximum(best, change - higher), best)
    # A ridge between two lightened patches is no line: it must be darker than untouched paper.
    untouched = known & ~circle_mask(change.shape, pair.swab, OUT_OF_REACH_MM * pair.px_per_mm)
    if untouched.any():
        best = np.minimum(best, change - float(np.median(change[untouched])))
    zone = known & np.isfinite(best)
    return _judged("ring", tiled(np.where(zone, best, 0), zone, pair.px_per_mm, 0.10), pair)


def _moved_by(values: Array, way: tuple[int, int], sign: int) -> Array:
    matrix = np.array([[1, 0, sign * way[0]], [0, 1, sign * way[1]]], np.float32)
    return np.asarray(cv2.warpAffine(values, matrix, values.shape[::-1], borderValue=0))


def _moved(pair: Prepared, followed: Followed) -> Judged | None:
    cells = followed.cells
    way = np.where(cells.weight > 0, followed.stroke_px / pair.px_per_mm, np.nan)
    return _judged("stroke moved", Tiles(cells.x, cells.y, 1.5 * pair.px_per_mm, way), pair)


def _judged(kind: Kind, tiles: Tiles, pair: Prepared) -> Judged | None:
    """Compare the tiles inside the swab with those outside; None if either are too few."""
    _, floor, way = STATISTICS[kind]
    inside, outside = _split(tiles, pair)
    control = tiles.value[outside]
    if control.size < LEAST_CONTROLS or not inside.any():
        return None
    centre = float(np.median(control))
    spread = max(1.4826 * float(np.median(np.abs(control - centre))), floor)
    z = (tiles.value - centre) / spread
    z = np.abs(z) if way == 0 else z * way
    z = np.where(inside, z, -np.inf)
    at = np.unravel_index(int(np.argmax(z)), z.shape)
    return Judged(float(z[at]), tiles.side, centre, spread, z, tiles.x, tiles.y)


def ink_change_pct(pair: Prepared) -> float | None:
    """Light absorbed by the ink inside the swab, after against before, in per cent."""
    zone = pair.usable & circle_mask(pair.usable.shape, pair.swab) & (pair.ink.away_mm <= PAPER_FROM_MM)
    first, second = (float(_absorbed(one, pair)[zone].sum()) for one in (pair.before, pair.after))
    return 100 * (second - first) / first if first > 0 else None


def ink_density(pair: Prepared) -> float:
    """Natural-log density of the strokes above the paper, along the colour of the ink."""
    along = density(pair.before) @ pair.ink.direction
    paper = pair.paper()
    return float(np.median(along[pair.ink.mask]) - np.median(along[paper])) if paper.any() else 0.0
