"""Two printed non-solvents that make a solvent, and liquids at the edge of a sphere: neither in nor out.

What was read stands beside each check. Liquids and spheres are those of the catalogue, which come from other
sources than the observations.
"""

from __future__ import annotations

import pytest

from kb.desk.choose.choose import choose
from kb.desk.studio import Studio
from kb.model.question import Question
from kb.science.choose.acting import EDGE, at_edge, dissolves, side
from kb.science.liquids.blends import mix_hansen
from kb.science.liquids.solubility import red
from tests.published.test_polymer_solubility import SETS, _liquids, _polymer, _triple

pytestmark = pytest.mark.published


def red_of(polymer: str, parts: dict[str, float]) -> float:
    """RED of a liquid or blend to the sphere that the catalogue ranks by."""
    sphere = _polymer(polymer)["sphere"]
    mixed = mix_hansen([_liquids()[one] for one in parts], list(parts.values()))
    return red(mixed, _triple(sphere), sphere["r0"])


@pytest.mark.parametrize("cyclohexane", [0.5, 0.6, 0.7])
def test_cyclohexane_and_acetone_dissolve_polystyrene_together(cyclohexane: float) -> None:
    """ "Polymer cosolvent systems I. Polystyrene in acetone-cyclohexane mixtures" (abstract read).

    At 30 C acetone is a non-solvent and cyclohexane below its theta temperature of 35 C; mixtures dissolve.
    """
    acetone = 1 - cyclohexane
    assert side(red_of("polystyrene", {"acetone": 1.0})) == "outside"
    assert side(red_of("polystyrene", {"cyclohexane": 1.0})) == "outside"
    mixed = red_of("polystyrene", {"cyclohexane": cyclohexane, "acetone": acetone})
    assert mixed < 1
    assert mixed < min(red_of("polystyrene", {"acetone": 1.0}), red_of("polystyrene", {"cyclohexane": 1.0}))


def test_alcohol_and_ether_make_collodion() -> None:
    """Collodion is pyroxylin in 25 ml alcohol and 75 ml ether (entry of a chemical dictionary, read).

    That its film withstands alcohol alone was read in an old materia medica; that ether alone is no solvent
    is from memory. Each lies beyond the surface of the sphere, their mixture within it.
    """
    alcohol, ether = (red_of("cellulose-nitrate", {one: 1.0}) for one in ("ethanol", "diethyl-ether"))
    mixed = red_of("cellulose-nitrate", {"ethanol": 0.25, "diethyl-ether": 0.75})
    assert alcohol > 1 < ether
    assert mixed < 1


def test_where_no_blend_of_print_helps_none_is_invented() -> None:
    """Acetone and diethyl ether dissolve no long polystyrene in any share (Cowie and McEwen, J. Chem. Soc.,
    Faraday Trans. 1, 1974, abstract read: no composition for a molecular weight above a million)."""
    for acetone in (0.25, 0.5, 0.75):
        blend = {"acetone": acetone, "diethyl-ether": 1 - acetone}
        assert side(red_of("polystyrene", blend)) == "outside"


def at_the_edge() -> list[tuple[str, str, str, float]]:
    """Polymer, liquid, printed label and RED of all observations across the surface of a sphere."""
    found = []
    for one in SETS.values():
        for seen in one["observations"]:
            value = red_of(one["polymer"], {seen["liquid"]: 1.0})
            if EDGE[0] <= value <= EDGE[1]:
                found.append((one["polymer"], seen["liquid"], seen["label"], value))
    return found


def test_print_finds_solvents_and_non_solvents_at_the_edge() -> None:
    """orwoll-arnold, mst-hildebrand: the same RED of 1.008, one good and one poor; neither is claimed."""
    seen = at_the_edge()
    assert len(seen) >= 15
    assert {label for _, _, label, _ in seen} == {"good", "borderline", "poor"}
    pair = {(polymer, liquid): (label, value) for polymer, liquid, label, value in seen}
    good, poor = pair["polystyrene", "1-4-dioxane"], pair["natural-rubber", "butanone"]
    assert (good[0], poor[0]) == ("good", "poor")
    assert good[1] == pytest.approx(poor[1], abs=0.005)


def test_what_lies_at_the_edge_is_called_neither_inside_nor_outside() -> None:
    """In words, as a share of dissolving, and on the map."""
    for polymer, liquid, _, value in at_the_edge():
        assert side(value) == "at the edge of", (polymer, liquid)
        assert 0 <= dissolves(value) <= 1
        assert at_edge([value])
    assert (side(0.89), side(1.11)) == ("inside", "outside")


def test_the_reason_says_at_the_edge(studio: Studio) -> None:
    """The liquids of a question whose RED to the adhesive is 0.9 to 1.1 say so, and no other does."""
    answer = choose(studio, Question(adhesive="natural-rubber-resin", medium="graphite"), limit=10_000)
    shown = [one for one in (*answer.suggestions, *answer.refused) if one.red_adhesive is not None]
    near = {one.liquid for one in shown if EDGE[0] <= (one.red_adhesive or 0) <= EDGE[1]}
    assert len(near) >= 3
    assert near == {one.liquid for one in shown if "at the edge of the adhesive's sphere" in one.reason}
