"""Do the spheres of the catalogue order liquids as published observations do?

Sources: measured interaction parameters of Orwoll and Arnold (2007), Table 14.1 (``orwoll-arnold`` in
data/sources/polymers.yaml), and the yes/no letters of a university teaching page (``mst-hildebrand``). The
observations, and the rule that makes labels of them, are in solubility_observations.yaml. The Hansen figures
of liquids and polymers come from other sources than the observations, so agreement is a check of both.

Spheres are fits and disagree with some observations; the floors below are what the figures reach, not what
one would wish. A floor that is missed tells that a figure in data/ has changed for the worse.
"""

from __future__ import annotations

from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

import pytest
import yaml

from kb.science.liquids.solubility import distance, fractional, red

pytestmark = pytest.mark.published

HERE = Path(__file__).parent
DATA = HERE.parents[1] / "data"
Triple = tuple[float, float, float]

# set -> lowest share of (good, poor) pairs in which the good liquid lies nearer to the centre
RANKING_FLOORS = {
    "cis-polyisoprene": 1.0,
    "polystyrene": 1.0,
    "polypropylene": 0.94,
    "pdms": 0.85,
    "yesno-polyisobutylene": 0.96,
    "yesno-pmma": 0.96,
}
# set -> (good liquids inside the sphere, poor liquids outside it), at least
YES_NO_FLOORS = {
    "cis-polyisoprene": (10, 2),
    "polystyrene": (8, 4),
    "polypropylene": (6, 10),
    "pdms": (11, 3),
    "cellulose-nitrate": (6, 0),
    "cellulose-acetate": (7, 0),
    "pmma": (2, 0),
    "yesno-polyisobutylene": (4, 5),
    "yesno-pmma": (4, 5),
}


@cache
def _read(path: Path) -> Any:
    return yaml.load(path.read_text("utf-8"), Loader=yaml.CSafeLoader)


@cache
def _liquids() -> dict[str, Triple]:
    entries = [
        entry for path in sorted((DATA / "liquids").glob("*.yaml")) for entry in _read(path)["liquids"]
    ]
    return {e["id"]: _triple(e["hansen"]) for e in entries if e.get("hansen")}


def _triple(figures: dict[str, float]) -> Triple:
    return (figures["d"], figures["p"], figures["h"])


def _polymer(polymer_id: str) -> dict[str, Any]:
    found = [p for p in _read(DATA / "materials" / "polymers.yaml")["polymers"] if p["id"] == polymer_id]
    assert len(found) == 1
    return dict(found[0])


SETS: dict[str, dict[str, Any]] = {s["id"]: s for s in _read(HERE / "solubility_observations.yaml")["sets"]}


def _reds_by_label(name: str) -> dict[str, list[float]]:
    sphere = _polymer(SETS[name]["polymer"])["sphere"]
    found: dict[str, list[float]] = {"good": [], "borderline": [], "poor": []}
    for seen in SETS[name]["observations"]:
        found[seen["label"]].append(red(_liquids()[seen["liquid"]], _triple(sphere), sphere["r0"]))
    return found


def _share_in_order(good: list[float], poor: list[float]) -> float:
    """Area under the ROC curve: share of (good, poor) pairs in order, a tie counting half."""
    pairs = list(product(good, poor))
    return sum((g < p) + 0.5 * (g == p) for g, p in pairs) / len(pairs)


def test_every_set_is_checked_and_every_label_known() -> None:
    assert set(YES_NO_FLOORS) == set(SETS)
    both_kinds = {name for name in SETS if all(_reds_by_label(name)[label] for label in ("good", "poor"))}
    assert set(RANKING_FLOORS) == both_kinds
    assert sum(len(s["observations"]) for s in SETS.values()) == 128


@pytest.mark.parametrize("name", sorted(RANKING_FLOORS))
def test_red_ranks_published_solvents_before_non_solvents(name: str) -> None:
    """orwoll-arnold (chi) and mst-hildebrand (yes/no): good solvents come before poor ones."""
    reds = _reds_by_label(name)
    assert _share_in_order(reds["good"], reds["poor"]) >= RANKING_FLOORS[name]


@pytest.mark.parametrize("name", sorted(YES_NO_FLOORS))
def test_red_of_one_parts_published_solvents_from_non_solvents(name: str) -> None:
    """orwoll-arnold (chi) and mst-hildebrand (yes/no): counts on the right side of the sphere's surface."""
    reds = _reds_by_label(name)
    good_inside = sum(r <= 1 for r in reds["good"])
    poor_outside = sum(r > 1 for r in reds["poor"])
    least_good, least_poor = YES_NO_FLOORS[name]
    assert good_inside >= least_good
    assert poor_outside >= least_poor


@pytest.mark.parametrize(
    ("name", "row", "liquid", "expected"),
    [
        (name, row, liquid, expected)
        for name, one in SETS.items()
        for row, reds in one["red_by_row"].items()
        for liquid, expected in reds.items()
    ],
)
def test_red_by_printed_row(name: str, row: int, liquid: str, expected: float) -> None:
    """RED worked out beforehand from the printed rows and the same Hansen figures: rows and formula hold."""
    polymer = _polymer(SETS[name]["polymer"])
    spheres = [polymer["sphere"], *polymer.get("other_spheres", ())]
    (sphere,) = (s for s in spheres if s.get("row") == row)
    assert red(_liquids()[liquid], _triple(sphere), sphere["r0"]) == pytest.approx(expected, abs=0.0006)


def test_spheres_quoted_by_row_are_the_printed_ones() -> None:
    """Hansen (2007), Table A.2, rows 33, 203, 191, 162 and 219 as transcribed (hansen-a2)."""
    printed = {
        "natural-rubber": (33, 16.57, 1.41, -0.82, 9.62),
        "polystyrene": (203, 18.5, 4.5, 2.9, 5.3),
        "poly-n-butyl-acrylate": (191, 16.2, 9.0, 3.0, 10.1),
        "regenerated-cellulose-film": (162, 16.1, 18.5, 14.5, 9.3),
        "shellac": (219, 19.7, 10.1, 15.1, 10.7),
    }
    for polymer_id, row in printed.items():
        sphere = _polymer(polymer_id)["sphere"]
        assert (sphere["row"], *_triple(sphere), sphere["r0"]) == row


def test_distance_and_fractions_of_centres() -> None:
    """Arithmetic on printed centres: Ra^2 = 4 dD^2 + dP^2 + dH^2; fractions are shares of their sum."""
    polystyrene = _triple(_polymer("polystyrene")["sphere"])
    shellac = _triple(_polymer("shellac")["sphere"])
    assert distance(polystyrene, shellac) == pytest.approx((4 * 1.2**2 + 5.6**2 + 12.2**2) ** 0.5)
    assert fractional(polystyrene) == pytest.approx((71.4, 17.4, 11.2), abs=0.06)
    assert fractional(shellac) == pytest.approx((43.9, 22.5, 33.6), abs=0.06)
