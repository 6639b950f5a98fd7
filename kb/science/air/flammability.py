"""Vapour and fire: shares of the lower explosive limit, closed spaces, mixtures, flash points.

Screening only. Percentages of air are by volume; 1 % is 10,000 ppm. Infinite means that no amount gets
there; None means not known. Where two lists differ, give the lower explosive limit that is lower. Air above
the upper limit is not safe: it passes through the whole range when the space is opened.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from kb.science.numbers import ATMOSPHERE_KPA, above_zero, molar_volume_l_mol, share, zero_or_more

DESIGN_SHARE = 0.10
"""A tenth of the lower limit: stop and ventilate. NIOSH caps several IDLH values there (IDLH pages, seen)."""
COUNTING_SHARE = 0.05
"""From about 5 % on, a part counts for the flash point of a blend (coatings handbook text, seen)."""


class Filling(NamedTuple):
    """A liquid put into a closed space: ``volume_ml`` of it, with what is known of it.

    ``lower_limit_vol_pct`` is None for a liquid without a known explosive range.
    """

    volume_ml: float
    density_g_ml: float
    molar_mass_g_mol: float
    vapour_pressure_kpa: float
    lower_limit_vol_pct: float | None = None


class Enclosed(NamedTuple):
    """Vapour of one liquid in a closed space, all evaporated or saturated."""

    vol_pct: float
    saturated: bool
    lel_pct: float | None
    """Per cent of the lower explosive limit."""


class FlashPart(NamedTuple):
    """One part of a blend, as the flash point rule sees it.

    ``flash_c`` is None where no flash point is known; ``never_flashes`` says that the closed cup found
    none, as for water and some halogenated liquids.
    """

    name: str
    share: float
    flash_c: float | None
    never_flashes: bool = False
    halogenated: bool = False
    aqueous: bool = False


class BlendFlash(NamedTuple):
    """``flash_c`` is what the blend is taken to flash at, that of ``decided_by``; None if no part flashes."""

    flash_c: float | None
    decided_by: str
    unknown: tuple[str, ...]
    small_parts: tuple[str, ...]
    """Parts below COUNTING_SHARE with a lower flash point, which the rule lets go."""
    cautions: tuple[str, ...]


def lel_per_cent(ppm: float, lower_limit_vol_pct: float | None) -> float | None:
    """Concentration as per cent of the lower explosive limit: 100 ppm / (LEL x 10,000); None if not known.

    Source: NIOSH IDLH page of ethyl acetate (seen).
    """
    zero_or_more(ppm, "the concentration in ppm")
    if lower_limit_vol_pct is None:
        return None
    return ppm / (100.0 * above_zero(lower_limit_vol_pct, "the lower explosive limit in % by volume"))


def enclosed(filling: Filling, space_l: float, temp_c: float) -> Enclosed:
    """Vapour in a closed dome, box or bag of ``space_l`` free litres once all that can has evaporated.

    100 n Vm / V, at the most 100 Psat / P (derived). Even vapour is assumed; real layers are richer near
    the bottom. Subtract from the space what stands in it.
    """
    above_zero(space_l, "the free space in l")
    # What has evaporated takes the room of a gas, whatever liquid it came from.
    moles = zero_or_more(filling.volume_ml, "the volume of the liquid in ml") / _ml_per_mol(filling)
    everything = 100.0 * moles * molar_volume_l_mol(temp_c, ATMOSPHERE_KPA) / space_l
    # Over its vapour pressure a liquid cannot go, however much of it is there.
    most = 100.0 * min(
        above_zero(filling.vapour_pressure_kpa, "the vapour pressure in kPa") / ATMOSPHERE_KPA, 1.0
    )
    vol_pct = min(everything, most)
    limit = filling.lower_limit_vol_pct
    lel_pct = None if limit is None else 100.0 * vol_pct / above_zero(limit, "the lower explosive limit in %")
    return Enclosed(vol_pct, everything >= most, lel_pct)


def enclosed_blend(
    fillings: Sequence[Filling], space_l: float, temp_c: float
) -> tuple[tuple[Enclosed, ...], float | None]:
    """The same for the parts of a blend, and those with a known limit added up after Le Chatelier, if any.

    Each part is held down only by its own saturation, not by that over the blend: an upper bound, which
    also covers partners that drive each other out.
    """
    parts = tuple(enclosed(one, space_l, temp_c) for one in fillings)
    known = [part.lel_pct for part in parts if part.lel_pct is not None]
    return parts, math.fsum(known) if known else None


def max_blend_volume_ml(
    fillings: Sequence[Filling], space_l: float, temp_c: float, lel_share: float = DESIGN_SHARE
) -> float | None:
    """The same for a blend, in ml of all parts together; the fillings give the proportions.

    None if no part has a known limit. Parts without one are left out.
    """
    above_zero(share(lel_share, "the share of the lower explosive limit"), "the share of the lower limit")
    total = above_zero(math.fsum(one.volume_ml for one in fillings), "the volume of the liquid in ml")

    def reached(volume_ml: float) -> float | None:
        scaled = [one._replace(volume_ml=one.volume_ml / total * volume_ml) for one in fillings]
        return enclosed_blend(scaled, space_l, temp_c)[1]

    # As much as one likes: if even that stays below, no amount reaches the share.
    most = reached(1e12 * space_l)
    if most is None:
        return None
    wanted = 100.0 * lel_share
    if most <= wanted:
        return math.inf
    # Doubling first: the volume may be a drop in a vial or litres in a room.
    low, high = 0.0, 1.0
    while (reached(high) or 0.0) < wanted:
        low, high = high, 2.0 * high
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if (reached(middle) or 0.0) <= wanted else (low, middle)
    return low


def blend_flash_point(parts: Sequence[FlashPart]) -> BlendFlash:
    """The lowest flash point of the parts that make up at least 5 % of a blend by volume.

    A caution, not a prediction: a real blend may flash lower or higher. Source: coatings handbook text
    (5 % rule, seen); halogenated or aqueous blends can hide a flash, and no flash in a closed cup does not
    mean not flammable (ASTM D93 and D56, annex text seen).
    """
    if not parts:
        raise ValueError("a blend needs at least one part")
    for part in parts:
        share(part.share, f"the share of {part.name}")
    # A hair of slack, so that a part typed as 5 per cent counts.
    counting = [part for part in parts if part.share >= COUNTING_SHARE - 1e-9]
    flashing = [(part.flash_c, part.name) for part in counting if part.flash_c is not None]
    lowest, decided_by = min(flashing) if flashing else (None, "")
    small = tuple(
        part.name
        for part in parts
        # A trace with a low flash point can still flash first when a bottle is opened; so it is named.
        if part not in counting
        and part.share > 0
        and part.flash_c is not None
        and (lowest is None or part.flash_c < lowest)
    )
    unknown = tuple(p.name for p in parts if p.share > 0 and p.flash_c is None and not p.never_flashes)
    return BlendFlash(lowest, decided_by, unknown, small, _flash_cautions(parts))


def _flash_cautions(parts: Sequence[FlashPart]) -> tuple[str, ...]:
    halogenated = [part.name for part in parts if part.halogenated and part.share > 0]
    aqueous = [part.name for part in parts if part.aqueous and part.share > 0]
    cautions = []
    if halogenated:
        cautions.append(
            f"{', '.join(halogenated)} can hide the flash in the test and evaporate first: "
            "what is left may burn, and no flash point does not mean not flammable"
        )
    # Water alone has no flash point to raise.
    if aqueous and len(parts) > len(aqueous):
        cautions.append("water raises the flash point but does not take it away")
    return tuple(cautions)


def _ml_per_mol(filling: Filling) -> float:
    mass = above_zero(filling.molar_mass_g_mol, "the molar mass in g/mol")
    return mass / above_zero(filling.density_g_ml, "the density in g/ml")
