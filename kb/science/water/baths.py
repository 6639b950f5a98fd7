"""Alkaline baths and waters: what a reagent gives, what dissolves, dilution, capacity against acid.

Built on the equilibrium of kb.science.water.speciation. Amounts are mol per litre, taken as per kilogram of
water (0.3 % apart at 15-25 C). CO2 in ppm is of dry air at 1 atm, as in the figures it was checked with.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from kb.science.cited import Known, need_not_negative, need_positive
from kb.science.water.speciation import MAX_CO2_PPM, Bath, Totals, solve

OUTDOOR_CO2_PPM = Known(420.0, "common-practice", False, "outdoor air in the 2020s; older texts take 400")
PURE_CO2_PPM = MAX_CO2_PPM
"""Gas from a cylinder at 1 atm."""
EXCESS_MOL_L = 0.6
"""More than any of these reagents dissolves here."""


class Reagent(NamedTuple):
    """What a mol of a reagent brings, in mol; molar masses from standard atomic weights (computed)."""

    name: str
    formula: str
    molar_mass_g_mol: float
    calcium: float = 0.0
    magnesium: float = 0.0
    carbon: float = 0.0
    acid: float = 0.0
    weighed_as: tuple[tuple[str, float], ...] = ()
    """Where the compound exists only in solution: solids to weigh, and grams of each per mol."""


REAGENTS: dict[str, Reagent] = {
    "calcium-hydroxide": Reagent("calcium hydroxide", "Ca(OH)2", 74.093, calcium=1.0),
    "calcium-carbonate": Reagent("calcium carbonate", "CaCO3", 100.087, calcium=1.0, carbon=1.0),
    "calcium-bicarbonate": Reagent(
        "calcium bicarbonate",
        "Ca(HCO3)2",
        162.112,
        calcium=1.0,
        carbon=2.0,
        weighed_as=(("calcium carbonate", 100.087),),
    ),
    "calcium-chloride": Reagent("calcium chloride, anhydrous", "CaCl2", 110.98, calcium=1.0, acid=2.0),
    "magnesium-hydroxide": Reagent("magnesium hydroxide", "Mg(OH)2", 58.320, magnesium=1.0),
    "magnesium-carbonate": Reagent("magnesium carbonate", "MgCO3", 84.314, magnesium=1.0, carbon=1.0),
    "magnesium-bicarbonate": Reagent(
        "magnesium bicarbonate",
        "Mg(HCO3)2",
        146.339,
        magnesium=1.0,
        carbon=2.0,
        weighed_as=(
            ("magnesium hydroxide", 58.320),
            ("magnesium carbonate, anhydrous", 84.314),
            ("magnesium carbonate trihydrate", 138.36),
            ("basic magnesium carbonate", 93.528),
        ),
    ),
}
"""Basic magnesium carbonate is counted as Mg5(CO3)4(OH)2.4H2O, 467.64 g/mol: a fifth per magnesium."""

SOLID_MOLAR_MASS_G_MOL: dict[str, float] = {
    "calcite": 100.087,
    "aragonite": 100.087,
    "vaterite": 100.087,
    "portlandite": 74.093,
    "brucite": 58.320,
    "nesquehonite": 138.36,
    "magnesite": 84.314,
    "hydromagnesite": 93.528,
}
"""Grams per atom of metal (computed)."""


def find_reagent(reagent: str) -> Reagent:
    """The reagent of that id. Raises ValueError naming those there are."""
    if reagent not in REAGENTS:
        raise ValueError(f"no reagent {reagent!r}; there are {', '.join(REAGENTS)}")
    return REAGENTS[reagent]


def reagent_mass_g(reagent: str, amount_mol: float) -> dict[str, float]:
    """Grams to weigh for ``amount_mol``, by the name of the solid. One entry, or one per alternative."""
    need_not_negative(amount_mol=amount_mol)
    found = find_reagent(reagent)
    solids = found.weighed_as or ((found.name, found.molar_mass_g_mol),)
    return {name: amount_mol * grams for name, grams in solids}


def reagent_totals(reagent: str, amount_mol_l: float, water_co2_mol_l: float = 0.0) -> Totals:
    """What is in a litre with that much reagent, in water that already held ``water_co2_mol_l``."""
    need_not_negative(amount_mol_l=amount_mol_l, water_co2_mol_l=water_co2_mol_l)
    found = find_reagent(reagent)
    return Totals(
        found.calcium * amount_mol_l,
        found.magnesium * amount_mol_l,
        found.carbon * amount_mol_l + water_co2_mol_l,
        found.acid * amount_mol_l,
    )


def bath_of(
    reagent: str,
    amount_mol_l: float,
    temp_c: float,
    co2_ppm: float | None = None,
    water_co2_mol_l: float = 0.0,
) -> Bath:
    """The equilibrium of a reagent in water: closed, or balanced with air of ``co2_ppm`` if given."""
    return solve(reagent_totals(reagent, amount_mol_l, water_co2_mol_l), temp_c, co2_ppm)


def saturated(reagent: str, temp_c: float, co2_ppm: float | None = None) -> Bath:
    """Water with more of the reagent than dissolves: closed, or balanced with ``co2_ppm``.

    ``Bath.dissolved`` is the saturated solution, ``solids_mol_l`` what stays down or forms. With
    PURE_CO2_PPM and a carbonate this is what a CO2 cylinder at 1 atm can bring into solution.
    """
    return bath_of(reagent, EXCESS_MOL_L, temp_c, co2_ppm)


def air_balanced_co2_mol_l(temp_c: float, co2_ppm: float = OUTDOOR_CO2_PPM.value) -> float:
    """Dissolved carbon of pure water that has stood in air, mol/L: 17e-6 at 25 C and 420 ppm."""
    return solve(Totals(), temp_c, co2_ppm).totals.carbon_mol_l


def mixed(first: Totals, first_l: float, second: Totals, second_l: float) -> Totals:
    """Two baths poured together; volumes are taken to add up."""
    need_not_negative(first_l=first_l, second_l=second_l)
    both = first_l + second_l
    need_positive(volume_l=both)
    return Totals(*((a * first_l + b * second_l) / both for a, b in zip(first, second, strict=True)))


class Capacity(NamedTuple):
    """How much acid a litre of bath takes up, mmol of H+."""

    hydroxide_mmol_l: float
    """By free and paired OH- alone, at once: what is caustic."""
    neutralising_mmol_l: float
    """By everything dissolved, down to plain carbonic acid."""
    with_solids_mmol_l: float
    """As above, and by what has dropped too, which works only slowly."""


def capacity(bath: Bath) -> Capacity:
    """The capacity of a bath against acid."""
    hydroxide = math.fsum(bath.species_mol_l[name] for name in ("OH-", "CaOH+", "MgOH+"))
    dissolved = bath.dissolved
    return Capacity(
        1000.0 * hydroxide,
        1000.0 * _alkalinity(dissolved),
        1000.0 * _alkalinity(bath.totals),
    )


def _alkalinity(totals: Totals) -> float:
    """Equivalents per litre by which the metals outweigh the strong acid; never below zero."""
    return max(2.0 * (totals.calcium_mol_l + totals.magnesium_mol_l) - totals.acid_mol_l, 0.0)


class AgainstAcid(NamedTuple):
    """A bath against the acid of a sheet."""

    acid_mmol: float
    offered_mmol: float
    times_over: float
    """Offered over acid; infinite for a sheet without acid."""
    volume_needed_l: float
    """Bath that holds just as much alkali as the sheet holds acid."""


def against_acid(bath: Bath, volume_l: float, sheet_dry_g: float, acid_mmol_kg: float) -> AgainstAcid:
    """Whether a bath of ``volume_l`` holds enough alkali for a sheet of known acidity.

    ``acid_mmol_kg``: acid of the dry sheet by titration, mmol per kg. No typical figure is given here,
    since none has a source. Raises ValueError for amounts below zero or a bath without alkali.
    """
    need_positive(volume_l=volume_l, sheet_dry_g=sheet_dry_g)
    need_not_negative(acid_mmol_kg=acid_mmol_kg)
    per_litre = capacity(bath).neutralising_mmol_l
    if per_litre <= 0.0:
        raise ValueError("this water holds no alkali to set against the acid of the sheet")
    acid = acid_mmol_kg * sheet_dry_g / 1000.0
    offered = per_litre * volume_l
    return AgainstAcid(acid, offered, offered / acid if acid else math.inf, acid / per_litre)
