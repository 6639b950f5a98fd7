"""Light on a sheet that is shown: its dose, what a year still holds, and the ultraviolet in it."""

import math

from kb.science.cited import need_not_negative


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
