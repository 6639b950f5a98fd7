"""Flat areas on a face of a sheet, in mm from its left and top edges: what a strip of tape covers.

The geometry is that of the library shapely, loaded only when an area is asked for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from shapely import Polygon as Shape

Point = tuple[float, float]
Outline = tuple[Point, ...]
"""Corners in order, the first not repeated."""
ROUNDED_MM = 0.01
"""Corners are given so finely, which is more than a ruler gives."""
NEGLIGIBLE_MM2 = 0.01
"""A sliver this small is what is left over by rounding, not tape: 0.1 mm by 0.1 mm."""
OVERHANG_MM = 0.1
"""An outline may pass the edge of the sheet by this much, the accuracy of a ruler, before it is refused."""


class Box(NamedTuple):
    """The upright rectangle around an area, in mm."""

    left: float
    top: float
    right: float
    bottom: float


def rectangle(x: float, y: float, width: float, height: float) -> Outline:
    """The outline of an upright rectangle from its left top corner. Raises ValueError for one of no size."""
    if not (0 < width < math.inf and 0 < height < math.inf and math.isfinite(x) and math.isfinite(y)):
        raise ValueError(f"a rectangle of {width:g} x {height:g} mm has no area")
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def shape(outline: Iterable[Sequence[float]], what: str = "the outline") -> Shape:
    """The area inside. Raises ValueError naming ``what`` if it crosses itself or encloses nothing."""
    import shapely

    corners = [(float(x), float(y)) for x, y in outline]
    if len(corners) > 1 and corners[0] == corners[-1]:
        corners.pop()
    if len(corners) < 3:
        raise ValueError(f"{what} has {len(corners)} corners; an area needs at least three")
    if not all(math.isfinite(value) for corner in corners for value in corner):
        raise ValueError(f"{what} has a corner that is no place")
    area = shapely.Polygon(corners)
    if not area.is_valid:
        raise ValueError(f"{what} crosses itself; go round its edge once")
    if area.area < NEGLIGIBLE_MM2:
        raise ValueError(f"{what} encloses no area")
    return area


def on_sheet(area: Shape, width_mm: float, height_mm: float, what: str) -> Shape:
    """The area, cut at the edges of the sheet. Raises ValueError naming ``what`` if it runs past them."""
    import shapely

    left, top, right, bottom = area.bounds
    over = max(-left, -top, right - width_mm, bottom - height_mm)
    if over > OVERHANG_MM:
        raise ValueError(
            f"{what} lies {over:.3g} mm outside the sheet of {width_mm:g} x {height_mm:g} mm; "
            "give it as far as the edge"
        )
    inside = area.intersection(shapely.box(0.0, 0.0, width_mm, height_mm))
    if not isinstance(inside, shapely.Polygon):
        raise ValueError(f"{what} only touches the edge of the sheet")
    return inside


def pieces(area: Any) -> tuple[Shape, ...]:
    """Its connected parts that are more than what rounding leaves over, or takes away."""
    import shapely

    return tuple(
        part
        for part in shapely.get_parts(area)
        if isinstance(part, shapely.Polygon) and part.area >= NEGLIGIBLE_MM2 and _lasts(part)
    )


def _lasts(part: Shape) -> bool:
    """Whether it has corners apart once they are rounded: a long sliver has some area and none."""
    import shapely

    # Nothing as broad as this can vanish, and rounding takes as long as cutting.
    broad = part.area > ROUNDED_MM * part.length
    return broad or not shapely.set_precision(part, ROUNDED_MM).is_empty


def outline(area: Shape) -> Outline:
    """Its corners in whole hundredths of a millimetre."""
    import shapely

    corners = _rounded(area)
    if not shapely.Polygon(corners).is_valid:
        # A tongue thinner than the rounding has folded onto itself; the rest is what there is to work on.
        whole = max(shapely.get_parts(shapely.set_precision(area, ROUNDED_MM)), key=lambda part: part.area)
        corners = _rounded(whole)
    return corners


def _rounded(area: Shape) -> Outline:
    return tuple((round(x, 2), round(y, 2)) for x, y in area.exterior.coords[:-1])


def mirrored(corners: Iterable[Sequence[float]], width_mm: float) -> Outline:
    """The same place seen from the other face, in the same order of going round."""
    return tuple((width_mm - x, y) for x, y in reversed([(float(x), float(y)) for x, y in corners]))


def box(corners: Outline) -> Box:
    """The upright rectangle around it."""
    across, down = [x for x, _ in corners], [y for _, y in corners]
    return Box(min(across), min(down), max(across), max(down))


def inside(place: Point, outline: Sequence[Point]) -> bool:
    """Whether a ray from the place crosses the outline an odd number of times; needs no shapely."""
    x, y = place
    odd = False
    for (ax, ay), (bx, by) in zip(outline, (*outline[1:], outline[0]), strict=True):
        if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
            odd = not odd
    return odd
