"""Signs that rest on solubility spheres agree with them: the published spheres are the outside source."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
import yaml

from kb.desk.studio import Studio
from kb.science.liquids.solubility import Hsp, red

DATA = Path(__file__).parents[2] / "data" / "identify"
DROP = {"acetone": "acetone", "aliphatic": "n-heptane", "water-strip": "water", "water-adhesive": "water"}
"""Looks at a drop, with the liquid that is dropped."""


def _signs() -> list[tuple[str, dict[str, Any]]]:
    looks = yaml.load((DATA / "lamp-and-crumb.yaml").read_text("utf-8"), Loader=yaml.CSafeLoader)["looks"]
    return [(look["id"], sign) for look in looks for sign in look["signs"] if "spheres" in sign["from"]]


def _reds(studio: Studio, sign: dict[str, Any], liquid: Hsp) -> list[float]:
    """Smallest relative distance to each carrier and adhesive of a sign; crystalline film has no sphere."""
    compiled = studio.compiled
    return [
        min((red(liquid, (d, p, h), r0) for d, p, h, r0 in spheres), default=math.inf)
        for spheres in (
            *(compiled.carrier_spheres[one] for one in sign.get("carriers", ())),
            *(compiled.adhesives[one].spheres for one in sign.get("adhesives", ())),
        )
    ]


@pytest.mark.parametrize(("look", "sign"), _signs())
def test_nothing_outside_and_something_inside(look: str, sign: dict[str, Any], studio: Studio) -> None:
    liquid = studio.compiled.by_id[DROP[look]].hansen
    assert liquid is not None
    reds = _reds(studio, sign, liquid)
    assert reds != []
    if "nothing" in sign["finds"]:
        assert min(reds) > 1
    else:
        assert max(reds) < 1


def test_each_look_at_a_drop_has_such_a_sign() -> None:
    assert {look for look, _ in _signs()} == set(DROP)
