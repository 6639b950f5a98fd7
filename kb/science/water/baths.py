"""Alkaline baths and waters: what a reagent gives, what dissolves, dilution, capacity against acid.

Built on the equilibrium of kb.science.water.speciation. Amounts are mol per litre, taken as per kilogram of
water (0.3 % apart at 15-25 C). CO2 in ppm is of dry air at 1 atm, as in the figures it was checked with.

How much reagent gives a wanted pH, or why none does.

How the pH of an open bath moves as it takes up carbon dioxide from the air, or gives it off.

At every moment the bath is taken to be in equilibrium within itself; only the exchange with the air takes
time. The path is computed; the pace is a range. Its main figure has no source, so the hours are an order of
magnitude: measure at the start and at the end.

Alkaline reserve: its unit, and what a bath leaves in a sheet by mass balance. It is stated in mol/kg of acid
that the dry paper can neutralise, or as per cent of calcium carbonate (of the dry mass) that does as much.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache, lru_cache
from itertools import pairwise
from typing import Literal, NamedTuple

from kb.science.cited import Known, Span, need_not_negative, need_positive
from kb.science.numbers import ZERO_C_IN_K, Spread, bracketed_root
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


CACO3, CA_OH_2, MG_OH_2 = 100.087, 74.093, 58.320
MGCO3, MGCO3_3H2O, BASIC_MGCO3 = 84.314, 138.36, 93.528
"""Grams per atom of metal, from standard atomic weights (computed)."""

SOLID_MOLAR_MASS_G_MOL: dict[str, float] = {
    "calcite": CACO3,
    "aragonite": CACO3,
    "vaterite": CACO3,
    "portlandite": CA_OH_2,
    "brucite": MG_OH_2,
    "nesquehonite": MGCO3_3H2O,
    "magnesite": MGCO3,
    "hydromagnesite": BASIC_MGCO3,
}
"""Grams per atom of metal."""

REAGENTS: dict[str, Reagent] = {
    "calcium-hydroxide": Reagent("calcium hydroxide", "Ca(OH)2", CA_OH_2, calcium=1.0),
    "calcium-carbonate": Reagent("calcium carbonate", "CaCO3", CACO3, calcium=1.0, carbon=1.0),
    "calcium-bicarbonate": Reagent(
        "calcium bicarbonate",
        "Ca(HCO3)2",
        162.112,
        calcium=1.0,
        carbon=2.0,
        weighed_as=(("calcium carbonate", CACO3),),
    ),
    "calcium-chloride": Reagent("calcium chloride, anhydrous", "CaCl2", 110.98, calcium=1.0, acid=2.0),
    "magnesium-hydroxide": Reagent("magnesium hydroxide", "Mg(OH)2", MG_OH_2, magnesium=1.0),
    "magnesium-carbonate": Reagent("magnesium carbonate", "MgCO3", MGCO3, magnesium=1.0, carbon=1.0),
    "magnesium-bicarbonate": Reagent(
        "magnesium bicarbonate",
        "Mg(HCO3)2",
        146.339,
        magnesium=1.0,
        carbon=2.0,
        weighed_as=(
            ("magnesium hydroxide", MG_OH_2),
            ("magnesium carbonate, anhydrous", MGCO3),
            ("magnesium carbonate trihydrate", MGCO3_3H2O),
            ("basic magnesium carbonate", BASIC_MGCO3),
        ),
    ),
}
"""Basic magnesium carbonate is counted as Mg5(CO3)4(OH)2.4H2O, 467.64 g/mol: a fifth per magnesium."""


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


@lru_cache(maxsize=16)
def air_balanced_co2_mol_l(temp_c: float) -> float:
    """Dissolved carbon of pure water that has stood in outdoor air, mol/L: 17e-6 at 25 C."""
    return solve(Totals(), temp_c, OUTDOOR_CO2_PPM.value).totals.carbon_mol_l


class Capacity(NamedTuple):
    """How much acid a litre of bath takes up, mmol of H+."""

    hydroxide_mmol_l: float
    """By free and paired OH- alone, at once: what is caustic."""
    neutralising_mmol_l: float
    """By everything dissolved, down to plain carbonic acid."""
    with_solids_mmol_l: float
    """As above, and by what has dropped too, which works only slowly."""


def capacity(bath: Bath) -> Capacity:
    hydroxide = math.fsum(bath.species_mol_l[name] for name in ("OH-", "CaOH+", "MgOH+"))
    dissolved = bath.dissolved
    return Capacity(1000.0 * hydroxide, 1000.0 * _alkalinity(dissolved), 1000.0 * _alkalinity(bath.totals))


def _alkalinity(totals: Totals) -> float:
    """Equivalents per litre by which the metals outweigh the strong acid; never below zero."""
    return max(2.0 * (totals.calcium_mol_l + totals.magnesium_mol_l) - totals.acid_mol_l, 0.0)


class AgainstAcid(NamedTuple):
    acid_mmol: float
    offered_mmol: float
    times_over: float
    """Offered over acid; infinite for a sheet without acid."""
    baths: int
    """Fresh baths of that volume that it takes to meet the acid, at least one."""


def against_acid(bath: Bath, volume_l: float, sheet_dry_g: float, acid_mmol_kg: float) -> AgainstAcid:
    """Whether a bath of ``volume_l`` holds enough alkali for a sheet of known acidity.

    ``acid_mmol_kg``: acid of the dry sheet by titration, mmol per kg. No typical figure is given here,
    since none has a source. Raises ValueError for amounts below zero or a bath without alkali.
    """
    need_positive(volume_l=volume_l, sheet_dry_g=sheet_dry_g)
    need_not_negative(acid_mmol_kg=acid_mmol_kg)
    offered = capacity(bath).neutralising_mmol_l * volume_l
    if offered <= 0.0:
        raise ValueError("this water holds no alkali to set against the acid of the sheet")
    acid = acid_mmol_kg * sheet_dry_g / 1000.0
    # A sliver above a whole number is rounding, not one more bath.
    baths = max(math.ceil(acid / offered - 1e-9), 1)
    return AgainstAcid(acid, offered, offered / acid if acid else math.inf, baths)


Atmosphere = Literal["closed", "open"]
Why = Literal["below-water", "above-saturation", "air-takes-it-down", "out-of-reach"]

LEAST_MOL_L = 1e-9
SCAN_STEPS = 28
UNSTEADY_PH = 0.3
"""A bath that moves by more than this for a tenth more or less reagent has hardly any buffer (project)."""


class CannotReach(ValueError):
    """No amount of the reagent gives that pH. ``why`` is a code, ``nearest_ph`` what can be had."""

    def __init__(self, why: Why, nearest_ph: float, text: str) -> None:
        super().__init__(text)
        self.why = why
        self.nearest_ph = nearest_ph


class Dose(NamedTuple):
    """How much reagent a bath takes, and what it then is."""

    reagent: str
    volume_l: float
    amount_mol: float
    weigh_g: dict[str, float]
    """Grams by solid; more than one entry means: any one of them."""
    stock_ml: float | None
    """Instead of weighing: clear saturated limewater of the same temperature, made up to the volume."""
    bath: Bath
    ph_tenth_less: float
    ph_tenth_more: float

    @property
    def unsteady(self) -> bool:
        """Whether a tenth more or less reagent moves the pH by more than UNSTEADY_PH."""
        return self.ph_tenth_more - self.ph_tenth_less > UNSTEADY_PH


def amount_for_ph(
    reagent: str, target_ph: float, volume_l: float, temp_c: float, atmosphere: Atmosphere = "closed"
) -> Dose:
    """The reagent for ``volume_l`` of bath at ``target_ph``: fresh and closed, or balanced with open air.

    The water had stood in outdoor air. Where several amounts give the pH, the smallest is taken. Raises
    CannotReach with the reason and the nearest pH, and ValueError for other wrong input.
    """
    need_positive(volume_l=volume_l, target_ph=target_ph)
    air = OUTDOOR_CO2_PPM.value if atmosphere == "open" else None
    held = air_balanced_co2_mol_l(temp_c) if air is None else 0.0

    @cache
    def bath_at(log_amount: float) -> Bath:
        return bath_of(reagent, math.exp(log_amount), temp_c, air, held)

    tried = [(x, bath_at(x)) for x in _amounts(reagent, atmosphere)]
    bracket = _enclose(tried, target_ph)
    if bracket is None:
        raise _refusal(reagent, target_ph, atmosphere, [bath for _, bath in tried])
    found = bracketed_root(lambda x: bath_at(x).ph - target_ph, *bracket, 1e-9)
    baths = [bath_at(found + step) for step in (math.log(0.9), 0.0, math.log(1.1))]
    return dose_of(reagent, math.exp(found), volume_l, temp_c, baths)


def dose_of(reagent: str, amount_mol_l: float, volume_l: float, temp_c: float, baths: Sequence[Bath]) -> Dose:
    """The dose of a bath; ``baths`` are those of a tenth less, of the amount itself, and of a tenth more."""
    less, bath, more = baths
    amount = amount_mol_l * volume_l
    return Dose(
        reagent,
        volume_l,
        amount,
        reagent_mass_g(reagent, amount),
        _stock_ml(reagent, amount_mol_l, volume_l, temp_c),
        bath,
        # More reagent need not mean a higher pH, once something drops.
        *sorted((less.ph, more.ph)),
    )


def _amounts(reagent: str, atmosphere: Atmosphere) -> list[float]:
    """Logarithms of amounts that show every pH the reagent can give.

    In open air, and with a reagent that brings no carbon, more always means a higher pH, and the two ends
    say all. The pH of a closed bicarbonate bath rises and then falls again with strength.
    """
    low, high = math.log(LEAST_MOL_L), math.log(EXCESS_MOL_L)
    steps = SCAN_STEPS if atmosphere == "closed" and find_reagent(reagent).carbon else 1
    return [low + (high - low) * step / steps for step in range(steps + 1)]


def _enclose(tried: list[tuple[float, Bath]], target_ph: float) -> tuple[float, float] | None:
    """The first two neighbouring amounts between which the wanted pH lies."""
    for (before, weaker), (after, stronger) in pairwise(tried):
        if (weaker.ph > target_ph) != (stronger.ph > target_ph):
            return before, after
    return None


def _stock_ml(reagent: str, amount_mol_l: float, volume_l: float, temp_c: float) -> float | None:
    if reagent != "calcium-hydroxide":
        return None
    # By calcium: what is in the clear solution is known from its saturation.
    stock_mol_l = saturated(reagent, temp_c).dissolved.calcium_mol_l
    return 1000.0 * volume_l * amount_mol_l / stock_mol_l


def _refusal(reagent: str, target_ph: float, atmosphere: Atmosphere, baths: list[Bath]) -> CannotReach:
    """Why no amount gives that pH, from baths of every strength, weakest first."""
    name = find_reagent(reagent).name
    least, most = min(baths, key=lambda bath: bath.ph), max(baths, key=lambda bath: bath.ph)
    at = f"at {most.temp_c:g} C"
    if target_ph < least.ph and least is baths[0]:
        text = f"the water alone stands at pH {least.ph:.2f} {at}; {name} can only raise it"
        return CannotReach("below-water", least.ph, text)
    if target_ph > most.ph and atmosphere == "open":
        drops = " and ".join(most.solids_mol_l) or "nothing"
        text = (
            f"open to the air {name} ends at pH {most.ph:.2f} {at}, however much is used ({drops} drops); "
            f"pH {target_ph:g} can be made fresh but does not hold"
        )
        return CannotReach("air-takes-it-down", most.ph, text)
    if target_ph > most.ph and most.solids_mol_l:
        text = f"{name} is saturated at pH {most.ph:.2f} {at}; more of it stays undissolved"
        return CannotReach("above-saturation", most.ph, text)
    reason = "its own carbon dioxide sets the pH" if find_reagent(reagent).carbon else "whatever the amount"
    text = f"{name} gives pH {least.ph:.2f} to {most.ph:.2f} {at}: {reason}"
    return CannotReach("out-of-reach", least.ph if target_ph < least.ph else most.ph, text)


TRANSFER_CM_H = Span(
    0.5, 5.0, "project", False, "gas transfer of a still to a gently moved tray; a guess without a source"
)
CO2_DIFFUSION_M2_S = Known(1.9e-9, "memory", False, "in water at 25 C")
HYDROXIDE_DIFFUSION_M2_S = Known(5.3e-9, "memory", False, "in water at 25 C")
HYDRATION_TERMS = (
    Known(13.635, "memory", False, "log10 k = 13.635 - 2895 / T, L/mol/s, of CO2 + OH- = HCO3-"),
    Known(-2895.0, "memory", False),
)
PACE_DOUBT = Known(2.0, "project", False, "for the skin of chalk, draughts and the reaction's own figures")
"""The soonest hours are divided by this, the latest multiplied."""
LEAST_STEP_PH = 0.25
"""Neighbouring points of a path lie no further apart than this, as long as MOST_POINTS allow."""
MOST_POINTS = 48
END_SHARE = 0.98
"""A path is followed to this share of the whole exchange; the rest takes for ever."""


class DriftPoint(NamedTuple):
    """One point of the path. ``taken_mol_l`` is below zero where the bath gives CO2 off."""

    taken_mol_l: float
    bath: Bath
    hours_soonest: float
    hours_latest: float


class Drift(NamedTuple):
    """The path of a bath in air, and where it ends if left for long enough."""

    points: tuple[DriftPoint, ...]
    end: Bath


def drift(start: Bath, depth_mm: float) -> Drift:
    """The path of a bath of ``depth_mm`` from ``start`` towards balance with outdoor air.

    Raises ValueError for a depth that is not above zero.
    """
    need_positive(depth_mm=depth_mm)
    end = solve(start.totals, start.temp_c, OUTDOOR_CO2_PPM.value)
    begin = start.totals.carbon_mol_l
    whole = end.totals.carbon_mol_l - begin

    def bath_at(share: float) -> Bath:
        return solve(start.totals._replace(carbon_mol_l=begin + share * whole), start.temp_c)

    baths = _refined({share: bath_at(share) for share in (0.0, 0.25, 0.5, 0.75, 0.9, END_SHARE)}, bath_at)
    fast = _hours(baths, end, depth_mm, TRANSFER_CM_H.high)
    slow = _hours(baths, end, depth_mm, TRANSFER_CM_H.low)
    doubt = PACE_DOUBT.value
    points = (
        DriftPoint(bath.totals.carbon_mol_l - begin, bath, soon / doubt, late * doubt)
        for bath, soon, late in zip(baths, fast, slow, strict=True)
    )
    return Drift(tuple(points), end)


def ph_after(path: Drift, hours: float) -> tuple[float, float]:
    """Lowest and highest pH to expect after ``hours`` in the air."""
    need_not_negative(hours=hours)
    soon = _ph_at(path, hours, [point.hours_soonest for point in path.points])
    late = _ph_at(path, hours, [point.hours_latest for point in path.points])
    return min(soon, late), max(soon, late)


def _refined(known: dict[float, Bath], bath_at: Callable[[float], Bath]) -> list[Bath]:
    """Baths along the path, with more of them where the pH falls steeply."""
    while len(known) < MOST_POINTS:
        shares = sorted(known)
        steps = [(abs(known[a].ph - known[b].ph), (a + b) / 2.0) for a, b in pairwise(shares)]
        widest, middle = max(steps)
        if widest <= LEAST_STEP_PH:
            break
        known[middle] = bath_at(middle)
    return [known[share] for share in sorted(known)]


def _hours(baths: list[Bath], end: Bath, depth_mm: float, transfer_cm_h: float) -> list[float]:
    """Hours until each point of the path, at one pace."""
    rates = [_rate_mol_l_h(bath, end, depth_mm, transfer_cm_h) for bath in baths]
    hours = [0.0]
    for (a, b), (r, q) in zip(pairwise(baths), pairwise(rates), strict=True):
        moved = abs(b.totals.carbon_mol_l - a.totals.carbon_mol_l)
        # The mean of 1 / rate where the rate changes in a straight line over the step.
        mean = math.log(q / r) / (q - r) if abs(q - r) > 1e-6 * r else 1.0 / r
        hours.append(hours[-1] + moved * mean)
    return hours


def _rate_mol_l_h(bath: Bath, end: Bath, depth_mm: float, transfer_cm_h: float) -> float:
    """How fast CO2 goes in or out, always above zero.

    Hydroxide takes CO2 up within the film of still water at the surface and so speeds the uptake, by at
    most as much as hydroxide can diffuse to meet it (film theory, from memory).
    """
    gap = end.species_mol_l["CO2(aq)"] - bath.species_mol_l["CO2(aq)"]
    faster = 1.0
    if gap > 0:
        hydroxide = bath.species_mol_l["OH-"]
        pace_m_s = transfer_cm_h / 100.0 / 3600.0
        kelvin = bath.temp_c + ZERO_C_IN_K
        per_second = 10.0 ** (HYDRATION_TERMS[0].value + HYDRATION_TERMS[1].value / kelvin)
        by_reaction = math.sqrt(1.0 + CO2_DIFFUSION_M2_S.value * per_second * hydroxide / pace_m_s**2)
        reach = HYDROXIDE_DIFFUSION_M2_S.value / CO2_DIFFUSION_M2_S.value
        by_supply = 1.0 + reach * hydroxide / (2.0 * end.species_mol_l["CO2(aq)"])
        faster = min(by_reaction, by_supply)
    per_hour = transfer_cm_h / 100.0 / (depth_mm / 1000.0)
    return per_hour * faster * max(abs(gap), 1e-12)


def _ph_at(path: Drift, hours: float, times: list[float]) -> float:
    """The pH at one moment, in a straight line between points; past the last one towards the end state."""
    points = path.points
    for (a, b), (t0, t1) in zip(pairwise(points), pairwise(times), strict=True):
        if hours <= t1:
            share = (hours - t0) / (t1 - t0) if t1 > t0 else 1.0
            return a.bath.ph + share * (b.bath.ph - a.bath.ph)
    return path.end.ph if hours > 0 else points[0].bath.ph


def reserve_percent(mol_kg: float) -> float:
    """Per cent by mass of calcium carbonate from mol/kg. Below zero where acid outweighs the alkali."""
    # A mol of calcium carbonate neutralises two of acid.
    return mol_kg * CACO3 / 20.0


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
