"""The answer about the air of a room, in parts that keep their unit, model and source; its gist."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from kb.desk.canvas import Axis, Canvas, Course, curve
from kb.model.question import Plain
from kb.science.air.flammability import DESIGN_SHARE

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


# -- in a few lines ------------------------------------------------------------------------------------------


NO_LIMIT = (
    "Nothing here tells how much is too much. So: only under extraction, and by the limit that the data "
    "sheet of your bottle names."
)
BRIEFER = "at its highest moment"
BEYOND = 1.25
"""From so many times the top of the curve on a moment is said to be cut off it. This project's own."""
ROOM, FACE = "room", "face"
"""Layers of the curve."""


class Bar(NamedTuple):
    """A gauge: shares of the limit, and what stands beside it."""

    label: str
    low: float
    high: float
    words: str


class Gist(NamedTuple):
    """What one sees first. ``do`` pairs a way with what it takes."""

    tier: str
    """That of the list; of fire where that is worse."""
    so: str
    """In a plain sentence: how much of the limit, for how long, and what to do, and of fire."""
    verdict: str
    authority: str
    others: int
    """Lists besides the one that is shown."""
    bars: tuple[Bar, ...]
    do: tuple[tuple[str, str], ...]
    mind: tuple[tuple[str, str], ...]


def gist(air: Air) -> Gist:
    """The list whose limit is met first decides what is said; the others are one step further down."""
    mind = [("Fire", _fire(air.fire))] if air.fire else []
    burning, alarm = _alarm(air.fire)
    if not air.under:
        said = "No limit known here for any part: not judged."
        return Gist(burning or "not judged", _both(alarm, NO_LIMIT), said, "", 0, (), (), tuple(mind))
    first = max(air.under, key=worst)
    if any(share.skin for share in first.shares):
        mind.append(("Skin", "taken up through the skin too: air alone does not tell"))
    return Gist(
        max(burning, first.tier, key=("", "low", "not judged", "above action level", "over").index),
        _both(alarm, _so(air, first)),
        first.verdict,
        first.authority,
        len(air.under) - 1,
        _bars(air, first),
        _do(air, first) if worst(first) >= air.action_share else (),
        tuple(mind),
    )


def worst(one: UnderAuthority) -> float:
    """The highest share of any of its limits, near the work; 0 where none is known."""
    ceilings = [share.ceiling_high_pct / 100.0 for share in one.shares if share.ceiling_high_pct is not None]
    return max((end for end in (one.index_day_high, one.index_short_high, *ceilings) if end), default=0.0)


def _so(air: Air, one: UnderAuthority) -> str:
    top = worst(one)
    if top <= 0:
        return NO_LIMIT
    of = f"the {one.authority} limit" + (" of what has one" if one.unknown else "")
    much, lasts = _percent(top, top), _lasts(one)
    if top >= 1:
        return f"Too much: up to {much} of {of}. {lasts} So: not like this; see what would do."
    if top >= air.action_share:
        return f"Near the limit: up to {much} of {of}. {lasts} So: extraction, or less of it."
    check = "" if one.tier == "low" else "check that limit in the data sheet of your bottle, and "
    return f"Up to {much} of {of}. {lasts} So: {check}keep that fresh air up or work under extraction."


def _lasts(one: UnderAuthority) -> str:
    """How long one may go on until a part of the limit is reached."""
    if one.quarter_after_h is None:
        return "8 h of such work stay below a quarter of it."
    if one.limit_after_h == 0.0:
        return "Reached within a minute."
    quarter = f"A quarter of the limit {_after(one.quarter_after_h)}"
    whole = "all of it not in 8 h" if one.limit_after_h is None else f"all of it {_after(one.limit_after_h)}"
    return f"{quarter}, {whole}."


def _after(hours: float) -> str:
    if hours <= 0.0:
        return "within a minute"
    return f"after {plain(hours)} h" if hours >= 1.0 else f"after {plain(hours * 60.0)} min"


def _bars(air: Air, one: UnderAuthority) -> tuple[Bar, ...]:
    found = []
    for label, what, low, high in (
        ("over 8 h", "8 h average", one.index_day_low, one.index_day_high),
        ("worst 15 min", "worst 15 min", one.index_short_low, one.index_short_high),
    ):
        if low is not None and high is not None:
            found.append(Bar(label, low, high, f"{_percent(low, high)}{_ppm(air, what)}"))
    for share in one.shares:
        if share.ceiling_high_pct is not None:
            peak = share.ceiling_high_pct / 100.0
            words = f"up to {_percent(peak, peak)} of the ceiling, {BRIEFER}{_ppm(air, HIGHEST)}"
            found.append(Bar("any moment", 0.0, peak, words))
    return tuple(found)


def _percent(low: float, high: float) -> str:
    # In two figures 102 % of a limit would be the limit.
    ends = [plain(float(f"{100 * end:.{3 if end >= 1 else 2}g}")) for end in (low, high)]
    return f"{ends[0]} %" if ends[0] == ends[1] else f"{ends[0]} to {ends[1]} %"


def _ppm(air: Air, what: str) -> str:
    """Of one vapour also what is breathed, from the room to the face."""
    if len(air.parts) != 1:
        return ""
    ends = [
        end
        for one in air.parts[0].lines
        if one.unit == "ppm" and one.what.startswith(what)
        for end in (one.low, one.high)
        if end is not None
    ]
    return f" ({plain(float(f'{min(ends):.2g}'))} to {plain(float(f'{max(ends):.2g}'))} ppm)" if ends else ""


def _do(air: Air, one: UnderAuthority) -> tuple[tuple[str, str], ...]:
    found = [("at the spot", "extraction there helps most; measure what it leaves")]
    less = next((line.low for line in one.lines if line.what.startswith("highest amount")), None)
    if less is not None:
        found.append(("less at a time", f"under {plain(float(f'{less:.2g}'))} ml an hour evaporating"))
    marks = [
        place for place, line in enumerate(air.ventilation) if f"the {one.authority} limits" in line.what
    ]
    if marks and marks[0] + 1 < len(air.ventilation) and (more := air.ventilation[marks[0] + 1].high):
        words = f"{plain(float(f'{more:.2g}'))} changes an hour for the room, not the face"
        found += [("more air", words)] if more > air.air_changes_per_h else []
    return tuple(found)


def _fire(lines: Sequence[AirLine]) -> str:
    """The highest share of the lower explosive limit; the places where it is found stand further down."""
    top = _nearest(lines)
    if top is None:
        return lines[0].text
    without = "".join(f" (without {one.what.partition(' of ')[2]})" for one in lines if one.high is None)
    return f"{top.what}: {plain(float(f'{top.high or 0.0:.2g}'))} % of the lower explosive limit{without}"


def _nearest(lines: Sequence[AirLine]) -> AirLine | None:
    known = [one for one in lines if one.high is not None and one.unit.startswith("%")]
    return max(known, key=lambda one: one.high or 0.0, default=None)


def _alarm(lines: Sequence[AirLine]) -> tuple[str, str]:
    """The tier by fire alone and what is said of it; both empty below a tenth of the lower explosive limit.

    Above the upper limit too: the air passes through the whole range when it is thinned.
    """
    top = _nearest(lines)
    share = (top.high or 0.0) / 100.0 if top else 0.0
    if top is None or share < DESIGN_SHARE:
        return "", ""
    where, tenth = re.split(r", | \(", top.what)[0], f"{100 * DESIGN_SHARE:g} %"
    most = next((one.low for one in lines if one.unit == "ml"), None)
    less = f" Under {plain(float(f'{most:.2g}'))} ml in it stays below {tenth}." if most else ""
    if share < 1.0:
        over = f"{where} it is above {tenth} of the lower explosive limit, where one stops and ventilates"
        return "above action level", f"Fire: {over}.{less}"
    return "over", f"STOP, this can explode: {where} it is over the lower explosive limit. No spark.{less}"


def _both(alarm: str, so: str) -> str:
    """What can explode is said before what is breathed, and what could burn after it."""
    return " ".join(filter(None, (alarm, so) if alarm.startswith("STOP") else (so, alarm)))


def cut_off(air: Air) -> str:
    """What the curve leaves out, as it is cut to what lasts: how high a moment goes; empty if nothing is."""
    # Of the whole: the parts add up, at their upper ends and at the face.
    ends = [
        max(
            (one.high or 0.0 for one in part.lines if one.unit == "mg/m3" and one.what.startswith(HIGHEST)),
            default=0.0,
        )
        for part in air.parts
    ]
    # Points of the curve are means: a moment a little above them is no other height to the eye.
    if sum(ends) <= BEYOND * _top(air.series):
        return ""
    return f"Not in the curve: a moment at your face, up to {plain(float(f'{sum(ends):.2g}'))} mg/m3."


def _top(series: Sequence[AirPoint]) -> float:
    """The top of the curve, mg/m3: one swab at the start is far above all else; the eye wants what lasts."""
    top = max((max(one.room_high, one.near_high) for one in series), default=0.0)
    if top <= 0:
        return 0.0
    lasting = sorted(one.near_high for one in series)[int(0.95 * (len(series) - 1))]
    top = min(top, max(2.0 * lasting, *(one.room_high for one in series)))
    return float(f"{top:.1e}") if float(f"{top:.1e}") >= top else top * 1.05


def over_time(series: Sequence[AirPoint], unit: str, columns: int, rows: int) -> Canvas | None:
    """The upper ends of both models over time, in ``unit``; None where nothing is in the air."""
    top = _top(series)
    if top <= 0:
        return None
    ends = series[-1].minute
    last = f"{plain(ends / 60.0)} h" if ends >= 60 else f"{plain(ends)} min"
    words = plain(float(f"{top:.2g}"))
    return curve(
        (
            Course(FACE, [(one.minute, min(one.near_high, top)) for one in series]),
            Course(ROOM, [(one.minute, one.room_high) for one in series]),
        ),
        Axis(0.0, ends, "0", last),
        Axis(0.0, top, "0", f"{words} {unit}".strip()),
        columns,
        rows,
    )
