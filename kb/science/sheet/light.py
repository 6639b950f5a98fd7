"""Light budgets and climate ranges for display and storage, by standard."""

import math
from typing import Literal, NamedTuple

from kb.science.cited import Known, Span, need_not_negative

Sensitivity = Literal["high", "medium", "low"]

LUX_WORKS_ON_PAPER = Known(50.0, "thomson-msg", True)
UV_OLD_LIMIT_UW_LM = Known(75.0, "thomson-msg", True)
UV_AIM_UW_LM = Known(10.0, "thomson-msg", True)

ANNUAL_LUX_HOURS: dict[str, Known] = {
    "high": Known(
        15_000.0, "memory", False, "CIE 157: blue wool 1-3; the class scheme was read in cci-light"
    ),
    "medium": Known(150_000.0, "memory", False, "CIE 157: blue wool 4-6"),
    "low": Known(600_000.0, "memory", False, "CIE 157: blue wool 7-8"),
}
"""Most light in a year, lux hours, by sensitivity."""


class Climate(NamedTuple):
    """What a standard asks of a room. None: it does not say."""

    name: str
    temp_c: Span | None
    rh_percent: Span | None
    note: str = ""


def _said(low: float, high: float, note: str = "") -> Span:
    return Span(low, high, "memory", False, note)


CLIMATES: dict[str, Climate] = {
    "bs4971-en16893": Climate("BS 4971 and EN 16893, storage", _said(13, 20), _said(35, 60)),
    "bizot": Climate(
        "Bizot guidelines, loans", _said(16, 25), _said(40, 60), "not over 10 % RH of drift in 24 hours"
    ),
    "bs5454-2000": Climate(
        "BS 5454:2000, withdrawn",
        _said(16, 19, "chosen point, plus or minus 1"),
        _said(45, 60, "chosen point, plus or minus 5"),
    ),
    "ashrae-aa": Climate("ASHRAE class AA", None, None, "plus or minus 5 % RH, no seasonal change"),
    "ashrae-a": Climate(
        "ASHRAE class A", None, None, "plus or minus 5 % RH with 10 of season, or 10 with none"
    ),
    "ashrae-b": Climate("ASHRAE class B", None, None, "plus or minus 10 % RH, and 10 of season"),
    "ashrae-c": Climate("ASHRAE class C", None, _said(25, 75), "all year"),
    "ashrae-d": Climate("ASHRAE class D", None, _said(0, 75), "below 75 % RH"),
}
"""All from memory."""


def lux_hours(lux: float, hours_a_day: float, days: float) -> float:
    """Light dose: 50 lux for 8 h on 90 days is 36 000 lux hours. Raises ValueError above 24 h a day."""
    need_not_negative(lux=lux, hours_a_day=hours_a_day, days=days)
    if hours_a_day > 24.0:
        raise ValueError(f"a day has 24 hours, not {hours_a_day:g}")
    return lux * hours_a_day * days


class Budget(NamedTuple):
    """A year's light against the limit of a class of sensitivity."""

    limit_lux_hours: Known
    left_lux_hours: float
    """Below zero once the year's light is used up."""
    days_left: float
    """At the given light and hours; infinite in the dark, zero once used up."""


def budget(sensitivity: Sensitivity, used_lux_hours: float, lux: float, hours_a_day: float) -> Budget:
    """What is left of a year's light, and for how many days of display it lasts.

    Raises ValueError for an unknown class, amounts below zero, and more than 24 h a day.
    """
    need_not_negative(used_lux_hours=used_lux_hours)
    if sensitivity not in ANNUAL_LUX_HOURS:
        raise ValueError(f"no class {sensitivity!r}; there are {', '.join(ANNUAL_LUX_HOURS)}")
    limit = ANNUAL_LUX_HOURS[sensitivity]
    left = limit.value - used_lux_hours
    a_day = lux_hours(lux, hours_a_day, 1.0)
    days = max(left, 0.0) / a_day if a_day else math.inf
    return Budget(limit, left, days)


def uv_uw_cm2(uv_uw_lm: float, lux: float) -> float:
    """Ultraviolet power on the sheet from its share in the light (microwatt per lumen)."""
    need_not_negative(uv_uw_lm=uv_uw_lm, lux=lux)
    return uv_uw_lm * lux * 1e-4
