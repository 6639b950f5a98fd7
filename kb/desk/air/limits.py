"""Vapour against the limits of an authority: shares, additive index, and how much would be too much."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from kb.desk.air.answer import BOTH, BOTH_SOURCE, AirLine, LimitShare, UnderAuthority, line
from kb.desk.air.model import PartCourse
from kb.desk.materials.limits import NONE_KNOWN, UNVERIFIED, Limit, limit_of
from kb.science.air.exposure import AdditiveIndex, additive_index, highest_amount
from kb.science.liquids.miscibility import WATER
from kb.science.numbers import Spread

INDEX_SOURCE = "29 CFR 1910.1000(d)(2)(i), effects taken as alike"


def under(
    courses: Sequence[PartCourse], authority: str, action_share: float, amount: Spread, unit: str
) -> UnderAuthority:
    """The whole under one authority. ``amount`` is what the use comes to, at its ends."""
    counted = [one for one in courses if one.liquid.id != WATER]
    limits = {one.liquid.id: limit_of(one.liquid, authority) for one in counted}
    shares = tuple(_share(one, limits[one.liquid.id]) for one in counted)
    day = _indices(counted, {key: one.twa_mg_m3 for key, one in limits.items()}, "twa_8h")
    short = _indices(counted, {key: one.short_term_mg_m3 for key, one in limits.items()}, "worst_15")
    names = {one.liquid.id: one.liquid.name for one in counted}
    unknown = tuple(names[key] for key, one in limits.items() if _silent(one))
    unverified = tuple(names[key] for key, one in limits.items() if not one.verified and not _silent(one))
    ceilings = [one.ceiling_high_pct for one in shares if one.ceiling_high_pct is not None]
    tier, verdict = _tier(
        (day[1].value, short[1].value, max(ceilings, default=0.0) / 100.0),
        (day[0].value, short[0].value),
        action_share,
        unknown,
        unverified,
        bool(counted),
    )
    return UnderAuthority(
        authority=authority,
        shares=shares,
        index_day_low=day[0].value,
        index_day_high=day[1].value,
        index_short_low=short[0].value,
        index_short_high=short[1].value,
        unknown=unknown,
        unverified=unverified,
        tier=tier,
        verdict=f"{authority}: {verdict}",
        lines=(
            _index_line("additive index, 8 h", day, names),
            _index_line("additive index, worst 15 min", short, names, "no short-term limit known here"),
            *_highest(counted, limits, action_share, amount, unit),
        ),
    )


def _silent(limit: Limit) -> bool:
    return limit.twa_mg_m3 is None and limit.short_term_mg_m3 is None and limit.ceiling_mg_m3 is None


def _share(course: PartCourse, limit: Limit) -> LimitShare:
    cases, ceiling = course.cases, course.ceiling_mg_m3

    def of(value: float, allowed: float | None) -> float | None:
        return None if allowed is None else 100.0 * min(value, ceiling) / allowed

    day = (of(cases.room_low.twa_8h, limit.twa_mg_m3), of(cases.near_high.twa_8h, limit.twa_mg_m3))
    short = (
        of(cases.room_low.worst_15, limit.short_term_mg_m3),
        of(cases.near_high.worst_15, limit.short_term_mg_m3),
    )
    return LimitShare.taken_from(
        limit,
        limit=limit.text,
        day_low_pct=day[0],
        day_high_pct=day[1],
        short_low_pct=short[0],
        short_high_pct=short[1],
        ceiling_high_pct=of(cases.near_high.peak, limit.ceiling_mg_m3),
        text=_share_words(limit, day, short, of(cases.near_high.peak, limit.ceiling_mg_m3)),
    )


def _share_words(
    limit: Limit,
    day: tuple[float | None, float | None],
    short: tuple[float | None, float | None],
    ceiling: float | None,
) -> str:
    if _silent(limit):
        return f"{limit.name}: {limit.authority} {NONE_KNOWN}"
    said = []
    for (low, high), span in ((day, "the 8 h limit"), (short, "the short-term limit")):
        if low is not None and high is not None:
            said.append(f"{low:.3g} to {high:.3g} % of {span}")
        else:
            said.append(f"{span}: {NONE_KNOWN}")
    if ceiling is not None:
        said.append(f"peak up to {ceiling:.3g} % of the ceiling")
    doubt = "" if limit.verified else f" - {UNVERIFIED}"
    skin = "; passes through the skin, so air alone does not tell" if limit.skin else ""
    return f"{limit.name}: {', '.join(said)}{skin}{doubt}"


def _indices(
    courses: Sequence[PartCourse], limits: Mapping[str, float | None], field: str
) -> tuple[AdditiveIndex, AdditiveIndex]:
    """The index in the well-mixed room at its low end and in the near field at its high end."""

    def at(case: str) -> AdditiveIndex:
        values = {
            one.liquid.id: min(getattr(getattr(one.cases, case), field), one.ceiling_mg_m3) for one in courses
        }
        return additive_index(values, limits)

    return at("room_low"), at("near_high")


def _index_line(
    what: str, ends: tuple[AdditiveIndex, AdditiveIndex], names: Mapping[str, str], missing: str = NONE_KNOWN
) -> AirLine:
    left_out = [names[one] for one in ends[1].unknown]
    if left_out and ends[1].value is not None:
        what += f" (without {', '.join(left_out)}: {missing})"
    source = f"{BOTH_SOURCE}; {INDEX_SOURCE}"
    return line(what, ends[0].value, ends[1].value, "(1 is the limit)", BOTH, source, missing)


def _tier(
    highs: tuple[float | None, float | None, float],
    lows: tuple[float | None, float | None],
    action_share: float,
    unknown: Sequence[str],
    unverified: Sequence[str],
    anything: bool,
) -> tuple[str, str]:
    """How it stands; low only where every limit is known and was read in its list."""
    if not anything:
        return "not judged", "nothing here but water."
    known = [one for one in highs[:2] if one is not None]
    doubt = ""
    if unknown:
        doubt += f" {NONE_KNOWN[:1].upper()}{NONE_KNOWN[1:]} for {', '.join(unknown)}."
    if unverified:
        doubt += f" Limit of {', '.join(unverified)} {UNVERIFIED}."
    worst = max([*known, highs[2]], default=0.0)
    if worst >= 1:
        least = max((one for one in lows if one is not None), default=0.0)
        everywhere = "by every model here" if least >= 1 else "close to the work"
        return "over", f"over the limit {everywhere}.{doubt}"
    if worst >= action_share:
        return "above action level", f"above the action level of {action_share:g} times the limit.{doubt}"
    if unknown or unverified or not known:
        return "not judged", f"not judged, because not every limit is known and checked.{doubt}"
    return "low", f"below the action level of {action_share:g} times the limit in every model here."


def _highest(
    courses: Sequence[PartCourse], limits: Mapping[str, Limit], action_share: float, amount: Spread, unit: str
) -> tuple[AirLine, ...]:
    """The most that keeps every index under 1 and under the action level; linear models, no saturation."""

    def index_of(case: str) -> float | None:
        found: list[float] = []
        complete = True
        for field, limit_field in (("twa_8h", "twa_mg_m3"), ("worst_15", "short_term_mg_m3")):
            parts = [
                (getattr(getattr(one.cases, case), field), getattr(limits[one.liquid.id], limit_field))
                for one in courses
            ]
            known = [value / limit for value, limit in parts if limit is not None]
            if known:
                found.append(math.fsum(known))
        for one in courses:
            limit = limits[one.liquid.id]
            complete = complete and not _silent(limit)
            if limit.ceiling_mg_m3 is not None:
                found.append(getattr(one.cases, case).peak / limit.ceiling_mg_m3)
        return max(found) if found and complete else None

    said = []
    for level, words in (
        (1.0, "the index under 1"),
        (action_share, f"it under the action level of {action_share:g}"),
    ):
        near, far = (highest_amount(index_of(case), level) for case in ("near_high", "room_low"))
        low = None if near is None else near * amount.high
        high = None if far is None else far * amount.low
        what = f"highest amount that keeps {words}"
        said.append(line(what, low, high, unit, BOTH, f"{BOTH_SOURCE}; {INDEX_SOURCE}", NONE_KNOWN))
    return tuple(said)


def total(courses: Sequence[PartCourse], case: str, number: int) -> float:
    """All vapours but water together at one point of the series, each at most saturated."""
    return math.fsum(
        min(getattr(one.cases, case).series[number], one.ceiling_mg_m3)
        for one in courses
        if one.liquid.id != WATER
    )
