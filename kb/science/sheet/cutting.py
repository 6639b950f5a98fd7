"""Strips of tape cut into patches of a length that is lifted in one go."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, NamedTuple

from kb.science.numbers import above_zero
from kb.science.sheet import polygons
from kb.science.sheet.polygons import Outline, Point

if TYPE_CHECKING:
    from shapely import Polygon as Shape

Face = Literal["front", "back"]
FACES: tuple[Face, Face] = ("front", "back")
PATCH_MM = 20.0
"""Length lifted in one go where none is given: common practice, no source."""
WEAK_SHARE = 0.05
"""A patch is weak if more than this share of it lies in a weak zone."""
NEAREST_CUTS_MM = 2.0
"""Cuts closer than this would leave a sliver that nobody lifts by itself."""
THROUGH = ("fold", "tear", "loss")
"""Kinds of weakness that go through the sheet and so weaken both faces; others only the face they are on."""
MOST_PATCHES = 5_000
"""More than this is a slip of the unit: 5,000 patches of 20 mm are 100 m of tape."""


class Area(NamedTuple):
    """A strip or a weak zone as seen from its own face, in mm from the left and top edges of that face."""

    face: Face
    outline: Outline
    kind: str = ""


class Patch(NamedTuple):
    """A piece of tape to lift in one go: its outline as seen from its face, its middle from the front."""

    id: str
    face: Face
    outline: Outline
    area_mm2: float
    weak: bool
    at: Point


def cut(
    strips: Sequence[Area],
    weak: Sequence[Area],
    width_mm: float,
    height_mm: float,
    patch_mm: float = PATCH_MM,
) -> tuple[Patch, ...]:
    """All strips in patches, each numbered per face in the order of the strips (F1, F2 ... B1, B2 ...).

    Where strips overlap on one face the later one is cut back to what the earlier leaves, so that no area
    counts twice. Raises ValueError, naming the strip or zone, for an outline that crosses itself or lies
    outside the sheet.
    """
    above_zero(width_mm, "the width of the sheet")
    above_zero(height_mm, "the height of the sheet")
    above_zero(patch_mm, "the length of a patch")
    zones = _zones(weak, width_mm, height_mm)
    shapes = _uncounted(strips, width_mm, height_mm)
    lengths = sum(_Axis(area).length for face in FACES for area in shapes[face])
    if lengths / patch_mm > MOST_PATCHES:
        raise ValueError(
            f"{lengths / 1000:.3g} m of tape in pieces of {patch_mm:g} mm are more than {MOST_PATCHES} "
            "patches; are all lengths in mm?"
        )
    return tuple(
        _patch(f"{face[0].upper()}{number}", face, piece, zones[face], width_mm)
        for face in FACES
        for number, piece in enumerate(
            (piece for area in shapes[face] for piece in _cut_strip(area, face, zones[face], patch_mm)), 1
        )
    )


class _Axis:
    """The long axis of an area: its direction, and how far along it a point lies."""

    def __init__(self, area: Shape, face: Face = "front") -> None:
        corners = list(area.minimum_rotated_rectangle.exterior.coords)
        sides = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(corners[:3])]
        along = max(sides, key=lambda side: math.hypot(*side))
        size = math.hypot(*along)
        # From left to right as seen from the front, and down where it stands upright: patches that lie
        # against each other on two faces are numbered the same way.
        across = round(along[0] / size, 6) * (1.0 if face == "front" else -1.0)
        sign = -1.0 if (across, along[1]) < (0.0, 0.0) else 1.0
        self.x, self.y = sign * along[0] / size, sign * along[1] / size
        self.low, self.high = self.span(area)
        self.length = self.high - self.low
        self._far = 2.0 * (self.length + sum(map(abs, area.bounds)))

    def span(self, area: Shape) -> tuple[float, float]:
        """The first and last place of the area along the axis."""
        places = [x * self.x + y * self.y for x, y in area.exterior.coords]
        return min(places), max(places)

    def band(self, low: float, high: float) -> Shape:
        """All of the plane between two places along the axis."""
        import shapely

        far = self._far
        return shapely.Polygon(
            [
                (place * self.x - side * self.y, place * self.y + side * self.x)
                for place, side in ((low, -far), (high, -far), (high, far), (low, far))
            ]
        )


def _cut_strip(area: Shape, face: Face, zones: Sequence[Shape], patch_mm: float) -> list[Shape]:
    axis = _Axis(area, face)
    edges = [axis.low]
    for place in sorted(place for zone in zones for part in _shared(area, zone) for place in axis.span(part)):
        if place - edges[-1] > NEAREST_CUTS_MM and axis.high - place > NEAREST_CUTS_MM:
            edges.append(place)
    edges.append(axis.high)
    found: list[Shape] = []
    for low, high in pairwise(edges):
        # The smallest excess over a whole number is rounding, not a further patch.
        count = max(1, math.ceil((high - low) / patch_mm - 1e-9))
        for step in range(count):
            first, last = (low + (high - low) * at / count for at in (step, step + 1))
            band = axis.band(
                first if found or step else first - 1.0, last if last < axis.high - 1e-9 else last + 1.0
            )
            found += [
                whole
                for part in polygons.pieces(area.intersection(band))
                for whole in _without_holes(part, axis)
            ]
    return found


def _without_holes(area: Shape, axis: _Axis) -> list[Shape]:
    """The same area in parts that have an outline only: cut through the middle of each hole."""
    if not area.interiors:
        return [area]
    low, high = axis.span(area)
    middle = area.interiors[0].centroid
    place = middle.x * axis.x + middle.y * axis.y
    return [
        whole
        for first, last in ((low - 1.0, place), (place, high + 1.0))
        for part in polygons.pieces(area.intersection(axis.band(first, last)))
        for whole in _without_holes(part, axis)
    ]


def _shared(area: Shape, zone: Shape) -> tuple[Shape, ...]:
    return polygons.pieces(area.intersection(zone)) if area.intersects(zone) else ()


def _zones(weak: Sequence[Area], width_mm: float, height_mm: float) -> dict[Face, list[Shape]]:
    """Weak zones by face, as seen from that face, one list entry for each connected part."""
    import shapely

    found: dict[Face, list[Shape]] = {"front": [], "back": []}
    for number, zone in enumerate(weak, 1):
        what = f"Weak zone {number} ({zone.face})"
        area = polygons.shape(zone.outline, what)
        if not area.intersects(shapely.box(0.0, 0.0, width_mm, height_mm)):
            raise ValueError(f"{what} lies outside the sheet of {width_mm:g} x {height_mm:g} mm")
        found[zone.face].append(area)
        if zone.kind in THROUGH:
            other: Face = "back" if zone.face == "front" else "front"
            found[other].append(polygons.shape(polygons.mirrored(zone.outline, width_mm), what))
    return {face: list(polygons.pieces(shapely.union_all(areas))) for face, areas in found.items()}


def _uncounted(strips: Sequence[Area], width_mm: float, height_mm: float) -> dict[Face, list[Shape]]:
    """What each strip covers that no earlier one does, by face."""
    import shapely

    found: dict[Face, list[Shape]] = {"front": [], "back": []}
    covered: dict[Face, Shape] = {face: shapely.Polygon() for face in FACES}
    for number, strip in enumerate(strips, 1):
        what = f"Strip {number} ({strip.face})"
        area = polygons.on_sheet(polygons.shape(strip.outline, what), width_mm, height_mm, what)
        found[strip.face] += polygons.pieces(area.difference(covered[strip.face]))
        covered[strip.face] = covered[strip.face].union(area)
    return found


def _patch(name: str, face: Face, piece: Shape, zones: Sequence[Shape], width_mm: float) -> Patch:
    weak_mm2 = sum(piece.intersection(zone).area for zone in zones)
    middle = piece.centroid
    return Patch(
        id=name,
        face=face,
        outline=polygons.outline(piece),
        area_mm2=piece.area,
        weak=weak_mm2 > WEAK_SHARE * piece.area,
        at=(middle.x if face == "front" else width_mm - middle.x, middle.y),
    )
