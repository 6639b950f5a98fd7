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
LONG_TERM_PERCENT = Known(3.0, "re1982", True, "about 3 % carbonate, named there for 500 years")
TITRATION_SEES_ABOVE_PERCENT = Known(2.0, "t553", True, "quantitative test")
FIZZ_SEES_ABOVE_PERCENT = Known(5.0, "t553", True, "drop of acid, qualitative")
PICKUP_G_G = Span(1.0, 2.0, "common-practice", False, "grams of liquid held by a gram of dry paper")
SURFACE_TO_CORE_AIR_DRIED = Known(3.0, "kf1978", True, "magnesium bicarbonate; 1.5 after freeze drying")

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


def reserve_mol_kg(percent: float, compound: str = "CaCO3") -> float:
    """mol/kg from per cent by mass of a compound: 2 % CaCO3 is 0.400. Raises ValueError if below zero."""
    need_not_negative(percent=percent)
    return 20.0 * percent / _molar_mass(compound)


def reserve_percent(mol_kg: float, compound: str = "CaCO3") -> float:
    """Per cent by mass of a compound from mol/kg. Below zero where acid outweighs the alkali."""
    return mol_kg * _molar_mass(compound) / 20.0


def titrated_reserve_mol_kg(
    acid_ml: float, acid_mol_l: float, base_ml: float, base_mol_l: float, dry_g: float
) -> float:
    """Reserve by back titration: acid given, less base that brought it back, over the dry mass.

    Below zero if the paper itself is acid. Raises ValueError for amounts below zero or no paper.
    """
    need_not_negative(acid_ml=acid_ml, acid_mol_l=acid_mol_l, base_ml=base_ml, base_mol_l=base_mol_l)
    need_positive(dry_g=dry_g)
    return (acid_ml * acid_mol_l - base_ml * base_mol_l) / dry_g


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


class Uptake(NamedTuple):
    """Where the alkali that left a bath has gone, in mmol of metal."""

    left_bath_mmol: float
    held_in_liquid_mmol: float
    """In the liquid that the wet sheet carries; blotting takes its share of this away."""
    taken_by_fibres_mmol: float
    """The rest: used by acid or bound. Below zero by the error of the readings."""
    reserve_mol_kg: float
    """If dried in place, less the acid of the sheet."""


def uptake(
    before_mol_l: float,
    before_l: float,
    after_mol_l: float,
    after_l: float,
    dry_g: float,
    *,
    sheet_acid_mol_kg: float = 0.0,
    blotted_g: float = 0.0,
) -> Uptake:
    """Mass balance of a bath over one sheet, from its strength and volume before and after.

    Strengths are mol of calcium and magnesium per litre. The volume that is missing is taken to be in the
    sheet at the strength of the bath afterwards; ``blotted_g`` of it was blotted or dripped off. Raises
    ValueError if the bath grew in volume or more was blotted than the sheet held.
    """
    need_not_negative(before_mol_l=before_mol_l, after_mol_l=after_mol_l, after_l=after_l)
    need_not_negative(sheet_acid_mol_kg=sheet_acid_mol_kg, blotted_g=blotted_g)
    need_positive(before_l=before_l, dry_g=dry_g)
    held_l = before_l - after_l
    if held_l < 0:
        raise ValueError("the bath cannot hold more afterwards than before")
    blotted_l = blotted_g / 1000.0
    if blotted_l > held_l + 1e-12:
        raise ValueError("more was blotted than the sheet took out of the bath")
    left = 1000.0 * (before_mol_l * before_l - after_mol_l * after_l)
    held = 1000.0 * after_mol_l * held_l
    kept = left - 1000.0 * after_mol_l * blotted_l
    return Uptake(left, held, left - held, 2.0 * kept / dry_g - sheet_acid_mol_kg)


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
