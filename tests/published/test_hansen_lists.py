"""Hansen parameters of the catalogue's liquids against two open lists.

Sources: both lists come with the open-source Python library HSPiPy (https://github.com/Gnpd/HSPiPy). The
one of about 250 liquids was read in the published package, version 1.1.8, for this test; the one of 1206
liquids is compared as it was noted down for the catalogue. Figures: hansen_lists.yaml beside this file.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from kb.catalogue.load import load
from kb.catalogue.paths import shipped_data
from kb.model.base import Hansen
from kb.model.liquid import Liquid
from kb.science.liquids.solubility import distance

pytestmark = pytest.mark.published

LISTS: dict[str, dict[str, Any]] = yaml.load(
    Path(__file__).with_name("hansen_lists.yaml").read_text("utf-8"), Loader=yaml.CSafeLoader
)
SOURCE = {"list-250": "hsp-open-250", "list-1206": "hsp-open-1206"}
DIFFERENCES = {
    "methanol": 0.80,
    "dichloromethane": 2.79,
    "diethyl-ether": 0.50,
    "1-4-dioxane": 3.40,
    "nitromethane": 1.00,
}
"""Liquids on which the two lists disagree, and how far apart they lie (Hansen's distance, MPa^0.5)."""
IN_NEITHER = {
    "petroleum-ether": "a petroleum cut; no figure is given",
    "white-spirit-low-aromatic": "a petroleum cut; a general figure from memory",
    "white-spirit-aromatic": "a petroleum cut; a general figure from memory",
    "stoddard-solvent": "a petroleum cut; a general figure from memory",
    "turpentine": "a natural mixture; a figure from memory",
    "isoparaffin": "a petroleum cut; a general figure from memory",
    "denatured-ethanol": "ethanol with denaturants of the maker's choice; no figure is given",
    "hydrogen-peroxide-30": "a solution that is no solvent; no figure is given",
    "aqueous-ammonia-25": "a solution that is no solvent; no figure is given",
    "1-3-dioxolane": "a figure of another open collection",
    "cyclopentanone": "a figure of another open collection",
}


@pytest.fixture(scope="module")
def liquids() -> dict[str, Liquid]:
    """The shipped liquids."""
    catalogue, problems = load([shipped_data()])
    assert [one for one in problems if one.entry.startswith("liquids/")] == []
    return catalogue.of("liquids", Liquid)


def told(hansen: Hansen, source: str) -> set[tuple[float, float, float]]:
    """The parameters that the catalogue gives with this source, as main or rival figures."""
    return {(one.d, one.p, one.h) for one in (hansen, *hansen.others) if source in one.sources}


def test_every_liquid_is_in_a_list_or_said_why_not(liquids: dict[str, Liquid]) -> None:
    """No liquid escapes the comparison."""
    assert set(LISTS) | set(IN_NEITHER) == set(liquids)
    assert not set(LISTS) & set(IN_NEITHER)


@pytest.mark.parametrize("name", SOURCE)
def test_the_catalogue_gives_each_list_s_own_figure(liquids: dict[str, Liquid], name: str) -> None:
    """Whatever is said to come from a list is what that list prints, and nothing of it is left out."""
    for id, liquid in liquids.items():
        printed = LISTS.get(id, {}).get(name)
        expected = set() if printed is None else {tuple(float(number) for number in printed)}
        found = set() if liquid.hansen is None else told(liquid.hansen, SOURCE[name])
        assert found == expected, id


def test_differences_between_the_lists_are_these_and_no_others() -> None:
    """All of them, with how far apart the two figures lie."""
    found = {
        id: distance(tuple(one["list-250"]), tuple(one["list-1206"]))
        for id, one in LISTS.items()
        if "list-250" in one and "list-1206" in one and one["list-250"] != one["list-1206"]
    }
    assert found == pytest.approx(DIFFERENCES, abs=0.006)


@pytest.mark.parametrize("id", DIFFERENCES)
def test_where_the_lists_differ_both_figures_are_kept(liquids: dict[str, Liquid], id: str) -> None:
    """One is ranked with and the other stands beside it with its source."""
    hansen = liquids[id].hansen
    assert hansen is not None
    assert "hsp-open-250" in hansen.sources
    assert any("hsp-open-1206" in one.sources for one in hansen.others)


def test_molar_volumes_of_the_list(liquids: dict[str, Liquid]) -> None:
    """The molar volume that is said to come from the list is the one it prints."""
    compared = 0
    for id, one in LISTS.items():
        figure = liquids[id].molar_volume_cm3_mol
        if "molar-volume-250" in one and figure is not None:
            given = {other.value for other in (figure, *figure.others) if "hsp-open-250" in other.sources}
            assert given == {one["molar-volume-250"]}, id
            compared += 1
    assert compared >= 45
