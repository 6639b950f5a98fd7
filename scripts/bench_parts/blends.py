"""The blend finder against plain trial of every composition, and on a shelf of twenty-five liquids."""

from __future__ import annotations

import itertools

from kb.science.liquids.blend_finder import Candidate, find
from kb.science.liquids.blends import mix_hansen
from kb.science.liquids.solubility import Sphere, red
from scripts.bench_parts.measure import Result, ratio, side_by_side, spread, timed
from scripts.bench_parts.stage import Stage

STEPS = 20
"""Compositions in steps of 5 %."""


def blending(stage: Stage) -> list[Result]:
    """Exact over the same grid: the finder by bounds, the other one composition after the other."""
    compiled = stage.compiled
    shelf = [Candidate(one.id, one.hansen, one.hazard) for one in compiled.liquids if one.hansen is not None][
        :25
    ]
    adhesive = compiled.adhesives["natural-rubber-resin"].spheres[0]
    medium = compiled.media["letterpress-oil"].spheres[0]
    into = [Sphere("adhesive", adhesive[:3], adhesive[3])]
    out_of = [Sphere("medium", medium[:3], medium[3])]
    few = shelf[:8]
    cases = {
        "finder, 8 liquids": timed(lambda: find(few, into, out_of)),
        "every composition, 8 liquids": timed(lambda: _trial(few, into[0], out_of[0])),
        "finder, 25 liquids": timed(lambda: find(shelf, into, out_of)),
    }
    found = side_by_side(cases, stage.sizes.rebuilds)
    parts = {name: (spread(values), "s") for name, values in found.items()}
    quick, plain, many = cases
    return [
        Result(
            "blends",
            "blend finder against trying every composition",
            ratio(found[quick], found[plain]),
            1.0,
            "",
            parts,
        ),
        Result("blends-many", "blend finder, 25 liquids", spread(found[many]), 1.0, "s", {}),
    ]


def _trial(liquids: list[Candidate], into: Sphere, out_of: Sphere) -> float:
    """The greatest clearance of any blend of two or three that goes inside."""
    best = float("-inf")
    for size in (2, 3):
        for members in itertools.combinations(liquids, size):
            places = [one.hansen for one in members if one.hansen is not None]
            for cuts in itertools.combinations(range(1, STEPS), size - 1):
                edges = (0, *cuts, STEPS)
                place = mix_hansen(places, [(b - a) / STEPS for a, b in itertools.pairwise(edges)])
                if red(place, into.centre, into.r0) <= 1:
                    best = max(best, red(place, out_of.centre, out_of.r0))
    return best
