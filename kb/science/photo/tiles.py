"""Means of a map over tiles, and how far each stands apart from the tiles outside the swab."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kb.science.photo.given import Array, Circle, Kind, Mask

TILE_MM = 1.0
LEAST_CONTROLS = 8
IN_REACH_MM = 0.3
OUT_OF_REACH_MM = 1.3
"""Tiles between the two belong to neither: a swab is never marked exactly."""


class Statistic(NamedTuple):
    """Robust z from which a statistic counts, least spread believed in its own unit, and which way counts."""

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
    """The largest robust z inside the swab, what the controls were, and z of every tile inside."""

    z: float
    side: float
    centre: float
    spread: float
    controls: int
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


def judged(tiles: Tiles, swab: Circle, px_per_mm: float, floor: float, way: int) -> Judged | None:
    """Compare the tiles inside the swab with those outside; None if either are too few.

    ``way`` is 1 if only more counts, -1 if only less, 0 for both. ``floor`` is the least spread believed.
    """
    away = np.hypot(tiles.x - swab.x, tiles.y - swab.y) - swab.radius
    known = np.isfinite(tiles.value)
    inside = known & (away <= IN_REACH_MM * px_per_mm)
    control = tiles.value[known & (away > OUT_OF_REACH_MM * px_per_mm)]
    if control.size < LEAST_CONTROLS or not inside.any():
        return None
    centre = float(np.median(control))
    spread = max(1.4826 * float(np.median(np.abs(control - centre))), floor)
    z = (tiles.value - centre) / spread
    z = np.abs(z) if way == 0 else z * way
    z = np.where(inside, z, -np.inf)
    at = np.unravel_index(int(np.argmax(z)), z.shape)
    return Judged(float(z[at]), tiles.side, centre, spread, int(control.size), z, tiles.x, tiles.y)
