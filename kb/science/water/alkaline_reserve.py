"""Alkaline reserve: units, titration, and what a bath leaves in a sheet by mass balance.

A reserve is stated in mol/kg of acid that the dry paper can neutralise, or as per cent of calcium carbonate
(of the dry mass) that would neutralise as much.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from kb.science.cited import Known, Span, need_not_negative, need_positive
from kb.science.water.baths import capacity
from kb.science.water.speciation import Bath

CARBONATE_MOLAR_MASS_G_MOL = 100.087
FLOOR_MOL_KG = Known(0.4, "astm4988", True, "equal to 2 % calcium carbonate, 20 g/kg")
FLOOR_G_CACO3_KG = Known(20.0, "loc-perm", True, "ISO 9706 as compared there")
PICKUP_G_G = Span(1.0, 2.0, "common-practice", False, "grams of liquid held by a gram of dry paper")

COMPOUNDS_G_MOL: dict[str, float] = {
    "CaCO3": CARBONATE_MOLAR_MASS_G_MOL,
    "MgCO3": 84.314,
    "Ca(OH)2": 74.093,
    "Mg(OH)2": 58.320,
}
"""Alkalis that neutralise two mol of acid each, and their molar masses (computed)."""


def _molar_mass(compound: str) -> float:
    if compound not in COMPOUNDS_G_MOL:
        raise ValueError(f"no alkali {compound!r}; there are {', '.join(COMPOUNDS_G_MOL)}")
    return COMPOUNDS_G_MOL[compound]


def reserve_percent(mol_kg: float, compound: str = "CaCO3") -> float:
    """Per cent by mass of a compound from mol/kg. Below zero where acid outweighs the alkali."""
    return mol_kg * _molar_mass(compound) / 20.0


def meets_floor(mol_kg: float) -> bool:
    """Whether a reserve reaches the floor of permanent paper, 0.4 mol/kg."""
    return mol_kg >= FLOOR_MOL_KG.value


class Reserve(NamedTuple):
    """Reserve to expect, as an interval. Below zero: the sheet is still acid."""

    low_mol_kg: float
    high_mol_kg: float

    @property
    def low_percent(self) -> float:
        """The lower end as per cent CaCO3."""
        return reserve_percent(self.low_mol_kg)

    @property
    def high_percent(self) -> float:
        """The upper end as per cent CaCO3."""
        return reserve_percent(self.high_mol_kg)


def deposit_mol_kg(pickup_g_g: float, metal_mol_kg: float, sheet_acid_mol_kg: float = 0.0) -> float:
    """Reserve from one dip dried in place: twice the metal in the liquid held, less the acid of the sheet.

    ``pickup_g_g``: grams of liquid per gram of dry paper; ``metal_mol_kg``: calcium and magnesium of the
    bath. Nothing is lost to blotters, drips or fibres that take up more than their liquid holds.
    """
    need_not_negative(pickup_g_g=pickup_g_g, metal_mol_kg=metal_mol_kg, sheet_acid_mol_kg=sheet_acid_mol_kg)
    return 2.0 * pickup_g_g * metal_mol_kg - sheet_acid_mol_kg


def pickup_g_g(wet_g: float, dry_g: float) -> float:
    """Grams of liquid per gram of dry paper, from weighing. Raises ValueError if wet is lighter than dry."""
    need_positive(dry_g=dry_g)
    if not wet_g >= dry_g:
        raise ValueError(f"the wet sheet ({wet_g:g} g) cannot be lighter than the dry one ({dry_g:g} g)")
    return (wet_g - dry_g) / dry_g


def expected_reserve(bath: Bath, sheet_acid_mol_kg: float = 0.0, pickup: Span = PICKUP_G_G) -> Reserve:
    """Reserve to expect from one dip in a bath that is dried in place; only what is dissolved counts."""
    metal = capacity(bath).neutralising_mmol_l / 2000.0
    return Reserve(
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


def baths_for_acid(bath: Bath, volume_l: float, sheet_dry_g: float, acid_mmol_kg: float) -> int:
    """How many fresh baths of that volume it takes to meet the acid of a sheet (mmol per kg), at least one.

    Raises ValueError for a bath without alkali.
    """
    need_positive(volume_l=volume_l, sheet_dry_g=sheet_dry_g)
    need_not_negative(acid_mmol_kg=acid_mmol_kg)
    per_bath = capacity(bath).neutralising_mmol_l * volume_l
    if per_bath <= 0.0:
        raise ValueError("this water holds no alkali to set against the acid of the sheet")
    return max(math.ceil(acid_mmol_kg * sheet_dry_g / 1000.0 / per_bath - 1e-9), 1)
