"""What a bath does for a sheet: capacity against its acid, the reserve it leaves, and how many baths."""

from __future__ import annotations

import math

from kb.desk.errors import DeskError
from kb.desk.materials.measured import Maker, Measured, span_of, value_of
from kb.desk.water.bath_view import CapacityView, ReserveView, SheetView
from kb.science.water.alkaline_reserve import (
    baths_for_acid,
    baths_for_reserve,
    expected_reserve,
    reserve_percent,
)
from kb.science.water.baths import against_acid, capacity
from kb.science.water.speciation import Bath

BALANCE = "mass balance of one dip, dried in place"
CONSTANTS = ("pdb", "pb1982")
UNIT_PERCENT = "% CaCO3"


def capacity_view(make: Maker, now: Bath) -> CapacityView:
    """Acid that a litre takes up, in mmol of H+."""
    found = capacity(now)
    model, unit = "metals over strong acid", "mmol/l"
    return CapacityView(
        hydroxide=make.one(found.hydroxide_mmol_l, unit, model, CONSTANTS, "at once: what is caustic"),
        neutralising=make.one(found.neutralising_mmol_l, unit, model, CONSTANTS, "all that is dissolved"),
        with_solids=make.one(
            found.with_solids_mmol_l, unit, model, CONSTANTS, "with what has dropped, slowly"
        ),
    )


def reserve_view(make: Maker, reagent: str, now: Bath, acid_mmol_kg: float | None) -> ReserveView:
    """The reserve to expect, against the floor of permanent paper."""
    studio = make.studio
    pickup, floor = span_of(studio, "bath-pickup"), value_of(studio, "reserve-floor")
    # Acid that was not measured is left out and said to be.
    acid = (acid_mmol_kg or 0.0) / 1000.0
    found = expected_reserve(now, acid, pickup)
    sources = (*CONSTANTS, pickup.source)
    low, high = found.low_mol_kg, found.high_mol_kg
    return ReserveView(
        mol_kg=make.span(low, high, "mol/kg", BALANCE, sources),
        percent_caco3=make.span(found.low_percent, found.high_percent, UNIT_PERCENT, BALANCE, sources),
        floor=make.guide("reserve-floor"),
        floor_percent_caco3=make.one(
            reserve_percent(floor), UNIT_PERCENT, "conversion by molar mass", ("astm4988", "loc-perm")
        ),
        # In three words, since the reserve is a range and may lie on both sides of the floor.
        meets_floor="yes" if low >= floor else "in part" if high >= floor else "no",
        dips_for_floor=_dips(make, floor, (low + acid, high + acid), acid, sources),
        told_in_practice=_told(make, reagent),
        acid_known=acid_mmol_kg is not None,
    )


def _dips(
    make: Maker, floor: float, gained: tuple[float, float], acid: float, sources: tuple[str, ...]
) -> Measured | None:
    """Dips with drying in between: few if the sheet holds much liquid, many if it holds little."""
    low, high = gained
    # A dip that leaves nothing cannot be repeated into something.
    if low <= 1e-9:
        return None
    note = "dry between them; baths one after another without drying leave no more than one does"
    return make.span(
        baths_for_reserve(floor, high, acid),
        baths_for_reserve(floor, low, acid),
        "dips",
        BALANCE,
        (*sources, "astm4988"),
        note,
    )


def _told(make: Maker, reagent: str) -> Measured | None:
    try:
        return make.guide(f"reserve-uptake-{reagent}")
    except DeskError:
        return None


def against_sheet(
    make: Maker, now: Bath, volume_l: float, dry_g: float, acid_mmol_kg: float | None
) -> SheetView | None:
    """The bath against a sheet of known mass; None where the mass is not known."""
    if dry_g <= 0:
        return None
    least_ml = value_of(make.studio, "wash-water-per-gram") * dry_g
    acid = acid_mmol_kg or 0.0
    met = against_acid(now, volume_l, dry_g, acid)
    model = "alkali of the bath against the acid of the sheet"
    needed = baths_for_acid(now, volume_l, dry_g, acid)
    times = None
    # Without acid any alkali is infinitely enough, which is no figure to show.
    if math.isfinite(met.times_over):
        times = make.one(met.times_over, "times", model, CONSTANTS)
    note = "" if acid_mmol_kg is not None else "acid not known, taken as none"
    return SheetView(
        dry_mass=make.one(dry_g, "g", "asked for", ("computed",)),
        acid=make.one(met.acid_mmol, "mmol", model, ("computed",), note),
        offered=make.one(met.offered_mmol, "mmol", model, CONSTANTS),
        times_over=times,
        baths_for_acid=make.one(needed, "bath" if needed == 1 else "baths", model, CONSTANTS, note),
        least_water=make.one(least_ml / 1000.0, "l", "guideline", ("common-practice",)),
        enough_water=volume_l * 1000.0 >= least_ml,
    )
