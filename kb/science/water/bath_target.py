"""How much reagent gives a wanted pH, or why none does."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Literal, NamedTuple

from kb.science.cited import need_positive
from kb.science.roots import bracketed_root
from kb.science.water.baths import (
    EXCESS_MOL_L,
    OUTDOOR_CO2_PPM,
    air_balanced_co2_mol_l,
    bath_of,
    find_reagent,
    reagent_mass_g,
    saturated,
)
from kb.science.water.speciation import Bath

Atmosphere = Literal["closed", "open"]
Water = Literal["boiled", "air-balanced"]
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
    reagent: str,
    target_ph: float,
    volume_l: float,
    temp_c: float,
    atmosphere: Atmosphere = "closed",
    *,
    co2_ppm: float = OUTDOOR_CO2_PPM.value,
    water: Water = "air-balanced",
) -> Dose:
    """The reagent for ``volume_l`` of bath at ``target_ph``: fresh and closed, or balanced with open air.

    ``water`` says whether the water had stood in air of ``co2_ppm`` or was boiled; for an open bath it
    makes no difference. Where several amounts give the pH, the smallest is taken. Raises CannotReach with
    the reason and the nearest pH, and ValueError for other wrong input.
    """
    need_positive(volume_l=volume_l, target_ph=target_ph)
    air = co2_ppm if atmosphere == "open" else None
    held = air_balanced_co2_mol_l(temp_c, co2_ppm) if air is None and water == "air-balanced" else 0.0

    def bath_at(log_amount: float) -> Bath:
        return bath_of(reagent, math.exp(log_amount), temp_c, air, held)

    tried = [(x, bath_at(x)) for x in _amounts(reagent, atmosphere)]
    bracket = _enclose(tried, target_ph)
    if bracket is None:
        raise _refusal(reagent, target_ph, atmosphere, [bath for _, bath in tried])
    log_amount = bracketed_root(lambda x: bath_at(x).ph - target_ph, *bracket, 1e-9)
    amount = math.exp(log_amount) * volume_l
    return Dose(
        reagent,
        volume_l,
        amount,
        reagent_mass_g(reagent, amount),
        _stock_ml(reagent, math.exp(log_amount), volume_l, temp_c),
        bath_at(log_amount),
        *sorted((bath_at(log_amount + math.log(0.9)).ph, bath_at(log_amount + math.log(1.1)).ph)),
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
