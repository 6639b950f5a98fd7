"""Shipped recipes against figures that were printed elsewhere, and against molar masses."""

from __future__ import annotations

import pytest

from kb.desk.making.recipe import make
from kb.desk.studio import Studio

pytestmark = pytest.mark.published
US_GALLON_L = 3.785411784
"""By definition, 231 cubic inches."""


def grams(studio: Studio, recipe: str, by: str, ingredient: str) -> float:
    """Grams of an ingredient for an amount."""
    found = next(part.grams for part in make(studio, recipe, by).parts if ingredient in part.name)
    assert found is not None
    return found


def test_eight_gallons_of_magnesium_bicarbonate(studio: Studio) -> None:
    """Couch (1981) JAIC 21(1):43-48 prints 176.3 g of magnesium hydroxide for 8 US gallons."""
    found = grams(studio, "magnesium-bicarbonate-gas", f"{8 * US_GALLON_L:.6f} l", "hydroxide")
    assert found == pytest.approx(176.3, rel=0.003)


@pytest.mark.parametrize(
    ("recipe", "ingredient", "cas", "mol_l"),
    [
        # Bogaard and Whitmore (2001) JAIC 40(2):105-123, appendix: both washes are 0.625 mmol/l.
        ("lime-wash-625", "calcium hydroxide", "1305-62-0", 0.625e-3),
        ("calcium-chloride-water", "calcium chloride", "10043-52-4", 0.625e-3),
        # Couch (1981): 0.1 mol/l.
        ("magnesium-bicarbonate-gas", "magnesium hydroxide", "1309-42-8", 0.1),
    ],
)
def test_weights_are_the_strengths_that_the_papers_name(
    studio: Studio, recipe: str, ingredient: str, cas: str, mol_l: float
) -> None:
    """Molar masses from the constants that the package ``chemicals`` carries."""
    chemicals = pytest.importorskip("chemicals")
    found = grams(studio, recipe, "1 l", ingredient)
    assert found / chemicals.MW(cas) == pytest.approx(mol_l, rel=0.002)


def test_the_paste_of_the_library_of_congress(studio: Studio) -> None:
    """57 g in 400 ml, as the hot-plate recipe of 2015 begins; 12.5 % by weight follows with water at 20 C."""
    made = make(studio, "wheat-paste-hot-plate")
    assert [part.words for part in made.parts] == ["57 g", "400 ml"]
    assert made.parts[0].share == pytest.approx(100 * 57 / (57 + 400 * 0.9982), abs=0.01)
