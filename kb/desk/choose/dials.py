"""The user's dials: settings of the studio, changed for one question."""

from __future__ import annotations

import math

import msgspec

from kb.desk.errors import DeskError
from kb.model.question import Dials


def dials_of(
    usual: Dials,
    *,
    harm_aversion: float | None = None,
    ceiling: float | None = None,
    worth: float | None = None,
    use_print: bool | None = None,
) -> Dials:
    """The studio's dials with those given in their place; refuses what cannot be meant."""
    dials = usual
    if harm_aversion is not None:
        dials = msgspec.structs.replace(dials, harm_aversion=harm_aversion)
    if ceiling is not None:
        dials = msgspec.structs.replace(dials, ceiling=ceiling)
    if worth is not None:
        dials = msgspec.structs.replace(dials, worth=worth)
    if use_print is not None:
        dials = msgspec.structs.replace(dials, use_print=use_print)
    # Checked after joining: what stands in studio.yaml may be as wrong as what was typed.
    if not (math.isfinite(dials.harm_aversion) and dials.harm_aversion >= 0):
        raise DeskError("Harm aversion is a number from 0 up; 8 is bold, 16 usual, 32 cautious.")
    if not 0 < dials.ceiling <= 1:
        raise DeskError("The ceiling is a chance above 0 and up to 1; 0.6 is usual.")
    if not (math.isfinite(dials.worth) and dials.worth > 0):
        raise DeskError("The worth of a safe release is a number above 0; 16 is usual.")
    return dials
