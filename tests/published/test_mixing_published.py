"""Layers with water against mutual solubilities that were printed, turned into shares by volume.

Densities at 20 C are those of the catalogue, which are held against handbooks next door. Percent by weight of
the liquid in the layer of water and in its own.
"""

from __future__ import annotations

import pytest

from kb.desk.materials.mixing import mixing_table
from kb.desk.materials.physical import physical
from kb.desk.studio import Studio
from kb.science.liquids.miscibility import parts_company

pytestmark = pytest.mark.published

LAYERS = {
    # Siegelman and Sorum (1960), abstract: 40.0 and 78.0 at -6 C, 18.1 and 87.8 at 73.6 C; a handbook entry
    # read in a copy: 27.5 in water, 12.5 of water at 25 C.
    "butanone": (27.5, 87.5),
    # IUPAC-NIST Solubility Database, Letcher and others 1989 to 1992: 25 C.
    "butan-1-ol": (7.4, 79.7),
    # The same, critical evaluation: mole fractions 0.0491 and 0.318 at 303 K.
    "butan-2-ol": (17.5, 65.7),
    # A handbook entry read in a copy: 1 ml in 10 ml of water, up to 3.3 of water.
    "ethyl-acetate": (8.2, 96.7),
    # A teaching page: 6.05 g in 100 ml of water, 1.5 g of water in 100 ml.
    "diethyl-ether": (5.7, 97.9),
}
NOT_READ = {"methyl-acetate", "cyclohexanone", "dimethyl-carbonate", "propylene-carbonate", "nitromethane"}
"""How much water they take up is from memory."""


def by_volume(studio: Studio, liquid: str, percent_by_weight: float) -> float:
    """The share by volume of a liquid that makes up so much of it and water, volumes taken to add up."""
    densities = [physical(studio, one).density_g_ml or 0.0 for one in (liquid, "water")]
    own, water = percent_by_weight / densities[0], (100 - percent_by_weight) / densities[1]
    return own / (own + water)


@pytest.mark.parametrize("liquid", LAYERS)
def test_two_layers_are_known_as_two(studio: Studio, liquid: str) -> None:
    """Two of butanone to one of water led the blends for white glue: it was not known that they part."""
    table = mixing_table(studio)
    low, high = (by_volume(studio, liquid, percent) for percent in LAYERS[liquid])
    for step in range(1, 20):
        share = low + (high - low) * step / 20
        assert parts_company(table, liquid, "water", share, 1 - share), share


@pytest.mark.parametrize("liquid", LAYERS)
def test_what_dissolves_is_not_said_to_part(studio: Studio, liquid: str) -> None:
    """Half of what water takes up, and half of the water that the liquid does."""
    table = mixing_table(studio)
    low, high = (by_volume(studio, liquid, percent) for percent in LAYERS[liquid])
    for share in (0.5 * low, 1 - 0.5 * (1 - high)):
        assert parts_company(table, liquid, "water", share, 1 - share) is False


def test_no_liquid_that_mixes_with_water_in_part_is_left_open_at_two_to_one(studio: Studio) -> None:
    """It is the proportion at which such a pair looks best to a solubility sphere."""
    table = mixing_table(studio)
    partly = {one for one, gap in table.with_water.items() if gap.doubtful_to > gap.high}
    assert partly == LAYERS.keys() | NOT_READ
    assert all(parts_company(table, one, "water", 0.65, 0.35) for one in partly)
