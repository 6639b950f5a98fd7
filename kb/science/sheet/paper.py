"""Paper as a thing with size and weight: movement with humidity, gaps, mass, and a mend against its sheet.

Coefficients are ranges, and so are the answers.

At the end light on a sheet that is shown: its dose, what a year still holds, and the ultraviolet in it.
"""

import math
from typing import Literal, NamedTuple

from kb.science.cited import Span, need_not_negative, need_positive
from kb.science.numbers import Spread

Held = Literal["centre", "one-edge"]

LEAST_GAP_HOLDS_MM = 600.0
LEAST_GAP_HOLDS_RH = 50.0
"""Up to this length and swing of humidity the customary least gap was meant for."""
STEP_SHARE = Span(
    0.10, 0.20, "common-practice", False, "tissue, paste and edge together, of the sheet's thickness"
)


def expansion_mm(length_mm: float, rh_from: float, rh_to: float, coefficient: Span) -> Spread:
    """Change of a length in mm, least and most, between two relative humidities (per cent), either way.

    ``coefficient`` is per cent of length per per cent of humidity. 600 mm at 0.012 from 40 to 60 % is
    1.44 mm. Raises ValueError for a length not above zero or a humidity outside 0-100.
    """
    need_positive(length_mm=length_mm)
    for rh in (rh_from, rh_to):
        if not 0.0 <= rh <= 100.0:
            raise ValueError(f"relative humidity must be from 0 to 100 %, not {rh:g}")
    step = length_mm / 100.0 * abs(rh_to - rh_from)
    return Spread(step * coefficient.low, step * coefficient.high)


class Gap(NamedTuple):
    """Space between sheet and rebate at one edge, in mm."""

    movement: Spread
    low_mm: float
    high_mm: float
    beyond_custom: bool
    """Larger or more exposed than the customary gap was meant for."""


def gap_mm(
    length_mm: float,
    rh_from: float,
    rh_to: float,
    coefficient: Span,
    *,
    clearance_mm: float = 0.0,
    held: Held = "centre",
) -> Gap:
    """The gap at an edge across one direction of the sheet.

    A sheet held at its centre line moves half to each side; one hung from an edge moves all to the other.
    ``clearance_mm`` is added for working. Raises ValueError as expansion_mm.
    """
    need_not_negative(clearance_mm=clearance_mm)
    if held not in ("centre", "one-edge"):
        raise ValueError(f"a sheet is held at its 'centre' or at 'one-edge', not {held!r}")
    movement = expansion_mm(length_mm, rh_from, rh_to, coefficient)
    share = 0.5 if held == "centre" else 1.0
    beyond = length_mm > LEAST_GAP_HOLDS_MM or abs(rh_to - rh_from) > LEAST_GAP_HOLDS_RH
    return Gap(movement, movement.low * share + clearance_mm, movement.high * share + clearance_mm, beyond)


def sheet_mass_g(width_mm: float, height_mm: float, grammage_g_m2: float) -> float:
    """Mass of a rectangular sheet: A2 of 100 g/m2 is 25 g."""
    need_positive(width_mm=width_mm, height_mm=height_mm, grammage_g_m2=grammage_g_m2)
    return width_mm * height_mm * 1e-6 * grammage_g_m2


def grammage_g_m2(mass_g: float, width_mm: float, height_mm: float) -> float:
    """Grammage from weighing and measuring a sheet."""
    need_positive(mass_g=mass_g, width_mm=width_mm, height_mm=height_mm)
    return mass_g / (width_mm * height_mm * 1e-6)


class MendAgainstSheet(NamedTuple):
    """A mend beside the sheet it holds, by weight and thickness only.

    Grammage stands in for strength. Long fibres are stronger for their weight than short ones, and no
    figure for by how much has a source here, so ``lighter`` does not prove that the mend gives way first.
    """

    grammage_share: float
    """Tissue and dry adhesive on all faces over the sheet's grammage."""
    added_um: float
    verdict: Literal["lighter", "heavier than customary", "as heavy as the sheet"]
    too_thick: bool
    """Adds more than the upper end of STEP_SHARE, where the sheet's own thickness is known."""


def mend_against_sheet(
    sheet_g_m2: float,
    tissue_g_m2: float,
    tissue_um: float,
    *,
    customary_most_g_m2: float | None = None,
    sheet_um: float | None = None,
    adhesive_g_m2: float = 0.0,
    faces: Literal[1, 2] = 1,
) -> MendAgainstSheet:
    """Weigh a mend against its sheet. A mend must give way before the sheet does.

    ``customary_most_g_m2``: heaviest tissue in use for such a sheet (tissue.customary). Raises
    ValueError for figures not above zero or faces other than 1 or 2.
    """
    need_positive(sheet_g_m2=sheet_g_m2, tissue_g_m2=tissue_g_m2, tissue_um=tissue_um)
    need_not_negative(adhesive_g_m2=adhesive_g_m2)
    if faces not in (1, 2):
        raise ValueError(f"a sheet has 1 or 2 faces to mend, not {faces}")
    share = faces * (tissue_g_m2 + adhesive_g_m2) / sheet_g_m2
    added = faces * tissue_um
    too_thick = False
    if sheet_um is not None:
        need_positive(sheet_um=sheet_um)
        too_thick = added / sheet_um > STEP_SHARE.high
    verdict: Literal["lighter", "heavier than customary", "as heavy as the sheet"] = "lighter"
    if share >= 1.0:
        verdict = "as heavy as the sheet"
    elif customary_most_g_m2 is not None and faces * tissue_g_m2 > customary_most_g_m2:
        verdict = "heavier than customary"
    return MendAgainstSheet(share, added, verdict, too_thick)


def lux_hours(lux: float, hours_a_day: float, days: float) -> float:
    """Light dose: 50 lux for 8 h on 90 days is 36 000 lux hours. Raises ValueError above 24 h a day."""
    need_not_negative(lux=lux, hours_a_day=hours_a_day, days=days)
    if hours_a_day > 24.0:
        raise ValueError(f"a day has 24 hours, not {hours_a_day:g}")
    return lux * hours_a_day * days


def days_left(limit_lux_hours: float, used_lux_hours: float, lux: float, hours_a_day: float) -> float:
    """Days at this light that a year's limit still holds: none once it is used up, infinite in the dark.

    Raises ValueError for amounts below zero, and more than 24 h a day.
    """
    need_not_negative(limit_lux_hours=limit_lux_hours, used_lux_hours=used_lux_hours)
    a_day = lux_hours(lux, hours_a_day, 1.0)
    return max(limit_lux_hours - used_lux_hours, 0.0) / a_day if a_day else math.inf


def uv_uw_cm2(uv_uw_lm: float, lux: float) -> float:
    """Ultraviolet power on the sheet from its share in the light (microwatt per lumen)."""
    need_not_negative(uv_uw_lm=uv_uw_lm, lux=lux)
    return uv_uw_lm * lux * 1e-4
