"""The plan of patches for a sheet that is taped all over."""

from __future__ import annotations

from kb.science.sheet.cutting import FACES, Area, cut
from kb.science.sheet.patch_plan import plan
from kb.science.sheet.polygons import rectangle
from scripts.bench_parts.measure import Result, side_by_side, spread, timed
from scripts.bench_parts.stage import Stage

ROWS = 13
WIDTH_MM, HEIGHT_MM, PITCH_MM = 420.0, 600.0, 45.0


def patching(stage: Stage) -> list[Result]:
    """Thirteen strips of 400 mm on each face of a sheet, with a fold across: 546 patches, cut and ordered."""
    strips = [
        Area(face, rectangle(10.0 + row % 3, 5.0 + PITCH_MM * row, 400.0, 25.0))
        for face in FACES
        for row in range(ROWS)
    ]
    weak = [Area("front", rectangle(208.0, 0.0, 4.0, HEIGHT_MM), "fold")]
    name = f"{len(cut(strips, weak, WIDTH_MM, HEIGHT_MM))} patches on two faces, cut and ordered"
    case = timed(lambda: plan(cut(strips, weak, WIDTH_MM, HEIGHT_MM)))
    found = side_by_side({name: case}, stage.sizes.rebuilds)
    return [Result("patches", name, spread(found[name]), 1.0, "s", {})]
