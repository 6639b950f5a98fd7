"""Shipped recipes against figures that were printed elsewhere, and against molar masses."""

from __future__ import annotations

import math

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


def test_the_working_bath_of_magnesium_is_a_quarter_of_the_stock(studio: Studio) -> None:
    """Kelly and Fowler (1978): 2.13 g/l as magnesium carbonate; Couch (1981): a stock of 0.1 mol/l.

    It asked for grams of magnesium bicarbonate, which is no solid that can be weighed.
    """
    chemicals = pytest.importorskip("chemicals")
    stock = make(studio, "magnesium-bicarbonate-bath", "5 l").parts[0]
    assert (stock.recipe, stock.unit) == ("magnesium-bicarbonate-gas", "ml")
    assert stock.low is not None
    carbonate_g_l = 0.1 * chemicals.MW("546-93-0") * stock.low / 5000
    assert carbonate_g_l == pytest.approx(2.13, rel=0.003)


def ph_of_ammonia_water(mol_l: float, temp_c: int) -> float:
    """In water that had stood in air of 420 ppm and is then closed; charge balance, no activities.

    pK of ammonium (Bates and Pinching 1950), carbonic acid (Plummer and Busenberg 1982), water: from memory.
    """
    ammonium, first, second, water, gas = (
        10.0**-pk
        for pk in {25: (9.245, 6.352, 10.329, 13.995, 1.468), 20: (9.400, 6.381, 10.377, 14.167, 1.406)}[
            temp_c
        ]
    )
    dissolved = 420e-6 * gas
    carbon = dissolved + math.sqrt(first * dissolved)

    def surplus(ph: float) -> float:
        acid = 10.0**-ph
        whole = acid * acid + first * acid + first * second
        held = carbon * (first * acid + 2 * first * second) / whole
        return acid + mol_l * acid / (acid + ammonium) - held - water / acid

    low, high = 4.0, 12.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if surplus(middle) > 0 else (low, middle)
    return low


def test_ammonia_water_is_as_alkaline_as_its_name_says(studio: Studio) -> None:
    """pH 8 to 8.5: the upper end stood at 0.05 mmol/l, which gives 9.1."""
    (added,) = (part for part in make(studio, "ammonia-water", "1 l").parts if "ammonia" in part.name)
    assert added.low is not None
    assert added.high is not None
    # 0.1 g in 100 ml.
    least, most = (amount_ml / 1000 / 17.031 for amount_ml in (added.low, added.high))
    for temp_c in (20, 25):
        assert ph_of_ammonia_water(least, temp_c) == pytest.approx(8.1, abs=0.15)
        assert ph_of_ammonia_water(most, temp_c) == pytest.approx(8.5, abs=0.05)
    assert ph_of_ammonia_water(0.05e-3, 25) == pytest.approx(9.1, abs=0.05)
    # A drop of 0.05 ml of ammonia of 1 % w/w, 0.994 g/ml (density from memory).
    assert ph_of_ammonia_water(0.05e-3 * 0.994 * 10 / 17.031, 25) > 8.6


def test_a_treatment_of_several_baths_asks_for_as_much_of_each(studio: Studio) -> None:
    """Five litres of phytate asked for five baths of bicarbonate, as if the sheet went in five times."""
    parts = make(studio, "calcium-phytate", "5 l").parts
    assert [part.words for part in parts if part.role in {"mix", "make up to"}] == ["5 l"] * 3
