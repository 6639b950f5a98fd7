"""Alkaline reserve: its unit, and what a bath leaves in a sheet by mass balance.

A reserve is stated in mol/kg of acid that the dry paper can neutralise, or as per cent of calcium carbonate
(of the dry mass) that would neutralise as much.
"""

from __future__ import annotations

import math

from kb.science.cited import Span, need_not_negative, need_positive
from kb.science.numbers import Spread
from kb.science.water.baths import capacity
from kb.science.water.speciation import Bath

CARBONATE_MOLAR_MASS_G_MOL = 100.087
"""Of calcium carbonate (computed), a mol of which neutralises two of acid."""


def reserve_percent(mol_kg: float) -> float:
    """Per cent by mass of calcium carbonate from mol/kg. Below zero where acid outweighs the alkali."""
    return mol_kg * CARBONATE_MOLAR_MASS_G_MOL / 20.0


def deposit_mol_kg(pickup_g_g: float, metal_mol_kg: float, sheet_acid_mol_kg: float = 0.0) -> float:
    """Reserve from one dip dried in place: twice the metal in the liquid held, less the acid of the sheet.

    ``pickup_g_g``: grams of liquid per gram of dry paper; ``metal_mol_kg``: calcium and magnesium of the
    bath. Nothing is lost to blotters, drips or fibres that take up more than their liquid holds.
    """
    need_not_negative(pickup_g_g=pickup_g_g, metal_mol_kg=metal_mol_kg, sheet_acid_mol_kg=sheet_acid_mol_kg)
    return 2.0 * pickup_g_g * metal_mol_kg - sheet_acid_mol_kg


def expected_reserve(bath: Bath, sheet_acid_mol_kg: float, pickup: Span) -> Spread:
    """Reserve in mol/kg from one dip in a bath that is dried in place; only what is dissolved counts.

    ``pickup``: grams of liquid held by a gram of dry paper. Below zero: the sheet is still acid.
    """
    metal = capacity(bath).neutralising_mmol_l / 2000.0
    return Spread(
        deposit_mol_kg(pickup.low, metal, sheet_acid_mol_kg),
        deposit_mol_kg(pickup.high, metal, sheet_acid_mol_kg),
    )


def baths_for_reserve(target_mol_kg: float, per_bath_mol_kg: float, sheet_acid_mol_kg: float = 0.0) -> int:
    """How many times to dip and dry: each deposits ``per_bath_mol_kg``, the first also meets the acid.

    Without drying between them, baths of the same strength leave no more than one does. Raises ValueError
    if a bath leaves nothing.
    """
    need_not_negative(target_mol_kg=target_mol_kg, sheet_acid_mol_kg=sheet_acid_mol_kg)
    need_positive(per_bath_mol_kg=per_bath_mol_kg)
    # A sliver below a whole number is rounding, not one more bath.
    return max(math.ceil((target_mol_kg + sheet_acid_mol_kg) / per_bath_mol_kg - 1e-9), 1)
