"""The answer about the air of a room, in parts that keep their unit, model and source."""

from __future__ import annotations

from kb.model.question import Plain

ROOM_MODEL = "well-mixed room"
ROOM_SOURCE = "dilution balance; P. Hewett, Easy modeling, The Synergist, April 2017"
NEAR_MODEL = "near field within the room"
NEAR_SOURCE = "two-zone model after M. Nicas 1996 and C. B. Keil and M. Nicas (from memory)"
BOTH = f"{ROOM_MODEL} (low end) to {NEAR_MODEL} (high end)"
BOTH_SOURCE = f"{ROOM_SOURCE}; {NEAR_SOURCE}"
HIGHEST = "highest moment"
"""What lines of a part call their peak."""


class AirLine(Plain, frozen=True, kw_only=True):
    """One figure or range. None means not known here, which is never zero; ``text`` says it in words."""

    what: str
    low: float | None
    high: float | None
    unit: str
    model: str
    source: str
    text: str


class AirPart(Plain, frozen=True, kw_only=True):
    """One vapour: what it gives off and what a person breathes of it, mg/m3 and ppm."""

    liquid: str
    name: str
    share_pct: float
    lines: tuple[AirLine, ...]


class AirPoint(Plain, frozen=True, kw_only=True):
    """The mean of all vapours together since the point before, in mg/m3, by model and end of its range."""

    minute: float
    room_low: float
    room_high: float
    near_low: float
    near_high: float


class LimitShare(Plain, frozen=True, kw_only=True):
    """One part against one authority's limit, in per cent of it. ``verified``: read in the list."""

    liquid: str
    name: str
    limit: str
    verified: bool
    skin: bool
    day_low_pct: float | None
    day_high_pct: float | None
    short_low_pct: float | None
    short_high_pct: float | None
    ceiling_high_pct: float | None
    text: str


class UnderAuthority(Plain, frozen=True, kw_only=True):
    """The whole under one authority's limits. ``tier`` is "low" only if every limit is known and verified."""

    authority: str
    shares: tuple[LimitShare, ...]
    index_day_low: float | None
    index_day_high: float | None
    index_short_low: float | None
    index_short_high: float | None
    unknown: tuple[str, ...]
    unverified: tuple[str, ...]
    tier: str
    """over, above action level, low, or not judged"""
    verdict: str
    lines: tuple[AirLine, ...]
    quarter_after_h: float | None = None
    """Hours of this work until a quarter of the limit is reached, near the work; None: not within 8 h."""
    limit_after_h: float | None = None
    """The same for all of it."""


class Air(Plain, frozen=True, kw_only=True):
    """What a person would breathe, as a screening range. Figures are upper and lower ends of models."""

    name: str
    use: str
    room: str
    air_changes_per_h: float
    """The most that the room is said to have."""
    hours: float
    temp_c: float
    action_share: float
    parts: tuple[AirPart, ...]
    series: tuple[AirPoint, ...]
    series_unit: str
    series_model: str
    series_source: str
    under: tuple[UnderAuthority, ...]
    fire: tuple[AirLine, ...]
    ventilation: tuple[AirLine, ...]
    notes: tuple[str, ...]
    defer: str


def line(
    what: str,
    low: float | None,
    high: float | None,
    unit: str,
    model: str,
    source: str,
    missing: str = "not known here",
) -> AirLine:
    """A line with its figures in words; equal ends are told as one."""
    if low is None or high is None:
        said = missing
    elif f"{low:.3g}" == f"{high:.3g}":
        said = f"{plain(high)} {unit}"
    else:
        said = f"{plain(low)} to {plain(high)} {unit}"
    return AirLine(
        what=what, low=low, high=high, unit=unit, model=model, source=source, text=f"{what}: {said}"
    )


def plain(value: float) -> str:
    """Three figures, without powers of ten where a person reads."""
    if value == float("inf"):
        return "without bound"
    if value == 0 or 0.001 <= abs(value) < 1e6:
        digits = f"{value:.3g}"
        return f"{float(digits):,.0f}".replace(",", " ") if abs(value) >= 1000 else f"{float(digits):g}"
    return f"{value:.2e}"
