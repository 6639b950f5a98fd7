"""Alkaline baths and waters: what a reagent gives, what dissolves, dilution, capacity against acid.

Built on the equilibrium of kb.science.water.speciation. Amounts are mol per litre, taken as per kilogram of
water (0.3 % apart at 15-25 C). CO2 in ppm is of dry air at 1 atm, as in the figures it was checked with.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

from kb.science.cited import Known, Span, need_not_negative, need_positive
from kb.science.water.speciation import MAX_CO2_PPM, Bath, Totals, solve

OUTDOOR_CO2_PPM = Known(420.0, "common-practice", False, "outdoor air in the 2020s; older texts take 400")
CLOSED_ROOM_CO2_PPM = Span(800.0, 1500.0, "common-practice", False)
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

HANDBOOK_SOLUBILITY: tuple[tuple[float, float], ...] = (
    *((0.0, 1.85), (10.0, 1.76), (20.0, 1.65), (30.0, 1.53), (40.0, 1.41)),
    *((50.0, 1.28), (60.0, 1.16), (70.0, 1.06), (80.0, 0.94), (90.0, 0.85), (100.0, 0.77)),
)
"""C and g of Ca(OH)2 per kg of water. Source handbook-sol: 0-40, 60 and 70 C read; the rest from memory."""
OLDER_SOLUBILITY: tuple[tuple[float, float], ...] = ((0.0, 1.89), (20.0, 1.73), (50.0, 1.21), (100.0, 0.66))
"""C and g of Ca(OH)2 per litre, another handbook series, from memory."""


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


def diluted(totals: Totals, share: float, water_co2_mol_l: float = 0.0) -> Totals:
    """``share`` (0..1) of a bath made up to 1 with pure water holding ``water_co2_mol_l``.

    ``share`` 0.1 is one in ten: 1 part and 9 parts of water. Raises ValueError outside 0..1.
    """
    if not 0.0 <= share <= 1.0:
        raise ValueError(f"the share of the stock must be from 0 to 1, not {share}")
    return mixed(totals, share, Totals(carbon_mol_l=water_co2_mol_l), 1.0 - share)


def mixed(first: Totals, first_l: float, second: Totals, second_l: float) -> Totals:
    """Two baths poured together; volumes are taken to add up."""
    need_not_negative(first_l=first_l, second_l=second_l)
    both = first_l + second_l
    need_positive(volume_l=both)
    return Totals(*((a * first_l + b * second_l) / both for a, b in zip(first, second, strict=True)))


def precipitate_g_l(bath: Bath) -> dict[str, float]:
    """Grams per litre of each solid that has dropped."""
    return {name: amount * SOLID_MOLAR_MASS_G_MOL[name] for name, amount in bath.solids_mol_l.items()}


def calcium_hydroxide_solubility(temp_c: float) -> tuple[Known, ...]:
    """Grams of Ca(OH)2 in a litre of saturated limewater, once per source; they differ by some 5 %.

    Colder water holds more. The equilibrium used for baths comes first. Raises ValueError outside 0-50 C.
    """
    model = saturated("calcium-hydroxide", temp_c).dissolved.calcium_mol_l * 74.093
    return (
        Known(model, "computed", True, "equilibrium of this package"),
        Known(_between(HANDBOOK_SOLUBILITY, temp_c), "handbook-sol", temp_c <= 40.0),
        Known(_between(OLDER_SOLUBILITY, temp_c), "memory", False, "another handbook series"),
    )


def _between(rows: tuple[tuple[float, float], ...], at: float) -> float:
    """Straight line between rows; good to 0.01 g/kg for the handbook series."""
    for (x0, y0), (x1, y1) in pairwise(rows):
        if x0 <= at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    raise ValueError(f"the table runs from {rows[0][0]:g} to {rows[-1][0]:g}, not to {at:g}")


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


def after_acid(bath: Bath, volume_l: float, acid_mmol: float, co2_ppm: float | None = None) -> Bath:
    """The bath once it has taken up ``acid_mmol`` of strong acid from the sheet."""
    need_positive(volume_l=volume_l)
    need_not_negative(acid_mmol=acid_mmol)
    taken = acid_mmol / 1000.0 / volume_l
    return solve(bath.totals._replace(acid_mol_l=bath.totals.acid_mol_l + taken), bath.temp_c, co2_ppm)
