"""What a person would breathe while a liquid is used in a room: a screening range from several models."""

from __future__ import annotations

import bisect
import math
from collections.abc import Callable, Mapping, Sequence
from functools import cache

import msgspec

from kb.desk.air.answer import (
    BOTH,
    BOTH_SOURCE,
    HIGHEST,
    NEAR_MODEL,
    NEAR_SOURCE,
    ROOM_MODEL,
    ROOM_SOURCE,
    Air,
    AirLine,
    AirPart,
    AirPoint,
    UnderAuthority,
    line,
    plain,
    worst,
)
from kb.desk.air.inputs import Room, Use
from kb.desk.air.limits import total, under
from kb.desk.air.model import STEPS, PartCourse, courses
from kb.desk.errors import DeskError, in_a_sentence
from kb.desk.materials.limits import NONE_KNOWN, UNVERIFIED, authorities, chosen_authority, limit_of
from kb.desk.materials.mixing import danger_words, parting_words
from kb.desk.materials.names import Names
from kb.desk.materials.physical import BETWEEN, USUAL_TEMP_C, Physical, of_parts, physical, refuse_missing
from kb.desk.studio import Studio
from kb.model.guidance import carries
from kb.model.liquid import labelled
from kb.science.air.exposure import ACTION_SHARE, saturated_ppm
from kb.science.air.flammability import (
    DESIGN_SHARE,
    Filling,
    enclosed_blend,
    lel_per_cent,
    max_blend_volume_ml,
)
from kb.science.air.room import DAY_MIN, FIRE_SAFETY, dilution_flow_m3_h, fire_flow_m3_h, flow_for_mixture
from kb.science.liquids.miscibility import WATER
from kb.science.numbers import ATMOSPHERE_KPA, Spread, mg_m3_to_ppm

DEFER = (
    "Screening figures, not a measurement. The safety data sheet of your bottle, a risk assessment, measured "
    "air and local rules decide. No limit known here does not mean harmless."
)
NEEDS = {
    "vapour_pressure_kpa": "vapour pressure",
    "density_g_ml": "density",
    "molar_mass_g_mol": "molar mass",
}
ML_PER_HOUR = "ml per hour evaporating"
STAYS_MIN = (1, 2, 5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 300, 360, 420, DAY_MIN)
"""Stays at which it is looked whether a limit is reached."""
STOP_CODES = ("H350", "H340", "H360", "H334")
HOW_MODEL = {
    "swab": "every swab evaporates at once (cautious)",
    "dome": "all that was put in comes into the room when the dome is opened (cautious)",
    "dish": "open wet area, range over the evaporation models that apply",
    "bath": "open wet area, range over the evaporation models that apply",
}


def air(
    studio: Studio,
    parts: Mapping[str, float],
    use: Use,
    room: Room,
    hours: float,
    temp_c: float = USUAL_TEMP_C,
    action_share: float = ACTION_SHARE,
) -> Air:
    """Concentrations, averages, limits, fire and ventilation for a liquid or blend (shares by volume).

    Raises DeskError naming every vapour pressure, density, molar mass or molar volume that is missing, and
    for figures that cannot be. Limits are those of the studio's authority, or of all if none is chosen.
    """
    if not 0 < action_share <= 1:
        raise DeskError(
            f"The action level is a share of the limit, above 0 and at most 1, not {action_share:g}."
        )
    liquids = of_parts(studio, parts, temp_c)
    refuse_unknown(studio, liquids)
    with in_a_sentence():
        found = courses(liquids, parts, use, room, hours * 60.0, temp_c)

    @cache
    def stay(place: int) -> tuple[PartCourse, ...]:
        # Before the first swab there is nothing to breathe: that one counts.
        least = 60.0 / use.per_hour if use.per_hour else 0.0
        return courses(liquids, parts, use, room, max(STAYS_MIN[place], least), temp_c)

    chosen = authorities(liquids, chosen_authority(studio))
    amount = Spread(*(math.fsum(getattr(one.released_ml_h, end) for one in found) for end in ("low", "high")))
    return Air(
        name=Names(studio).parts(parts),
        use=_use_words(use),
        room=_room_words(room),
        air_changes_per_h=room.air_changes_per_h.high,
        hours=hours,
        temp_c=temp_c,
        action_share=action_share,
        parts=tuple(_part(one, use, temp_c) for one in found),
        series=tuple(_point(found, number, hours) for number in range(STEPS)),
        series_unit="mg/m3, all vapours but water together, mean since the point before",
        series_model=BOTH,
        series_source=BOTH_SOURCE,
        under=tuple(_lasting(under(found, one, action_share, amount, ML_PER_HOUR), stay) for one in chosen),
        fire=fire_lines(found, use, temp_c),
        ventilation=(
            *(one for name in chosen for one in ventilation_lines(found, room, name, temp_c)),
            fire_flow_line(found, temp_c),
        ),
        notes=_notes(studio, found, use, chosen),
        defer=DEFER,
    )


def _lasting(one: UnderAuthority, at: Callable[[int], Sequence[PartCourse]]) -> UnderAuthority:
    """The same with how long such work takes to reach a quarter of the limit, and all of it."""

    def reached(share: float) -> float | None:
        def over(place: int) -> bool:
            now = under(at(place), one.authority, ACTION_SHARE, Spread(0.0, 0.0), ML_PER_HOUR)
            return worst(now) >= share

        if not over(len(STAYS_MIN) - 1):
            return None
        # The last stay that does not reach it: it is reached no earlier than is said.
        first = bisect.bisect_left(range(len(STAYS_MIN)), True, key=over)
        return STAYS_MIN[first - 1] / 60.0 if first else 0.0

    return msgspec.structs.replace(one, quarter_after_h=reached(0.25), limit_after_h=reached(1.0))


def refuse_unknown(studio: Studio, liquids: Sequence[Physical]) -> None:
    """Raises DeskError that names every figure that is missing, and what can be done without it."""
    needs = NEEDS if len(liquids) == 1 else {**NEEDS, "molar_volume_cm3_mol": "molar volume"}
    try:
        refuse_missing(liquids, needs, "The air")
    except DeskError as error:
        lacks = next(one for one in liquids if any(getattr(one, field) is None for field in needs))
        raise DeskError(f"{error} {_stands_in(studio, lacks)}") from error


def _stands_in(studio: Studio, lacks: Physical) -> str:
    """A listed liquid of its group that evaporates no slower: it tells the vapour, and not the limit."""
    data_sheet = "the data sheet of your bottle says what to keep under"
    boils = lacks.record.boiling_point_c
    group = studio.compiled.by_id[lacks.id].related if lacks.id in studio.compiled.by_id else ""
    found = []
    for liquid, seen in studio.compiled.by_id.items():
        if liquid == lacks.id or boils is None or boils.least is None or seen.related != group:
            continue
        one = physical(studio, liquid)
        at_c = one.record.boiling_point_c
        if at_c is None or at_c.least is None or any(getattr(one, field) is None for field in NEEDS):
            continue
        if at_c.least < boils.least:
            found.append((at_c.least, one.name, "boils at {:g} °C, lower than this, and evaporates faster"))
        elif _same_vapour(one, lacks):
            found.append(
                (at_c.least, one.name, "boils at {:g} °C, much as this does, and evaporates as fast")
            )
    if not found:
        return f"Nothing listed here stands in for it: {data_sheet}."
    least_c, name, how = max(found)
    return (
        f"Judge the vapour by {name}, of the same group, which {how.format(least_c)}; type the amount in g. "
        f"Its limit is not that of this liquid: {data_sheet}."
    )


def _same_vapour(one: Physical, lacks: Physical) -> bool:
    """Whether both have one vapour pressure, as spirit has that of the ethanol it mostly is."""
    ours, theirs = lacks.vapour_pressure_kpa, one.vapour_pressure_kpa
    return ours is not None and theirs is not None and math.isclose(ours, theirs, rel_tol=0.01)


def _part(one: PartCourse, use: Use, temp_c: float) -> AirPart:
    cases, top = one.cases, one.ceiling_mg_m3
    how = HOW_MODEL[use.how]
    lines: list[AirLine] = [
        line(
            "evaporates", one.released_ml_h.low, one.released_ml_h.high, "ml per hour", how, _rate_source(one)
        )
    ]
    for field, words in (("twa_8h", "8 h average"), ("worst_15", "worst 15 min"), ("peak", HIGHEST)):
        for low, high, model, source in (
            (cases.room_low, cases.room_high, ROOM_MODEL, ROOM_SOURCE),
            (cases.near_low, cases.near_high, NEAR_MODEL, NEAR_SOURCE),
        ):
            ends = [min(getattr(case, field), top) for case in (low, high)]
            where = "room" if model == ROOM_MODEL else "near the work"
            lines.append(line(f"{words}, {where}", ends[0], ends[1], "mg/m3", f"{model}; {how}", source))
            ppm = [
                mg_m3_to_ppm(end, one.liquid.molar_mass_g_mol or 0.0, temp_c, ATMOSPHERE_KPA) for end in ends
            ]
            lines.append(line(f"{words}, {where}", ppm[0], ppm[1], "ppm", f"{model}; {how}", source))
    ppm_top = saturated_ppm(one.liquid.vapour_pressure_kpa or 0.0)
    source = f"Psat M / (R T); vapour pressure of the catalogue, {BETWEEN}"
    lines.append(line("saturated air, never more", ppm_top, ppm_top, "ppm", "ideal gas", source))
    if max(cases.near_high.peak, cases.room_high.peak) > top:
        lines.append(line("held down to saturation", top, top, "mg/m3", "ideal gas", source))
    return AirPart(
        liquid=one.liquid.id, name=one.liquid.name, share_pct=100.0 * one.share, lines=tuple(lines)
    )


def _rate_source(one: PartCourse) -> str:
    if one.rates is None:
        return "amount and how often, as given"
    return "; ".join(f"{rate.model} ({rate.source})" for rate in one.rates.models if rate.applies)


def _point(found: Sequence[PartCourse], number: int, hours: float) -> AirPoint:
    ends = ("room_low", "room_high", "near_low", "near_high")
    at_once = {end: total(found, end, number) for end in ends}
    return AirPoint(minute=hours * 60.0 * (number + 1) / STEPS, **at_once)


def _use_words(use: Use) -> str:
    often = "once, at the start" if use.per_hour is None else f"{use.per_hour:g} times an hour"
    if use.how in ("dish", "bath"):
        return f"{use.how} of {1e4 * (use.area_m2 or 0):.4g} cm2 with {use.amount_ml:.4g} ml"
    if use.how == "dome":
        return f"dome of {use.space_l:.4g} l with {use.amount_ml:.4g} ml, opened {often}"
    return f"swabs or spots of {use.amount_ml:.4g} ml, {often}"


def _room_words(room: Room) -> str:
    def ends(low: float, high: float) -> str:
        return plain(low) if low == high else f"{plain(low)} to {plain(high)}"

    return (
        f"{plain(room.volume_m3)} m3, {ends(*room.air_changes_per_h)} air changes per hour, mixing factor K "
        f"{ends(*room.mixing)}, near field of {plain(room.near_radius_m)} m, air speed there "
        f"{ends(*room.air_speed_m_min)} m/min"
    )


def _notes(studio: Studio, found: Sequence[PartCourse], use: Use, chosen: Sequence[str]) -> tuple[str, ...]:
    parts = {one.liquid.id: one.share for one in found}
    said = [*danger_words(studio, parts), *parting_words(studio, parts)]
    if not studio.settings.authority:
        said.append("No authority is chosen (authority in studio.yaml), so every list with a limit is shown.")
    if not chosen:
        said.append(f"{NONE_KNOWN[:1].upper()}{NONE_KNOWN[1:]} for any part.")
    for one in found:
        codes = [code for code in STOP_CODES if carries(code, labelled(one.liquid.record))]
        if codes:
            said.append(
                f"{one.liquid.name} carries {', '.join(codes)}: no figure here makes it fit for use without "
                "occupational health."
            )
    if use.how in ("dish", "bath") and len(found) > 1:
        said.append(
            "Each part is taken to evaporate as from the fresh blend until it is used up, ideally: of unlike "
            "parts, such as an alcohol in a hydrocarbon, more comes into the air than is said here."
        )
    if use.how == "dome":
        said.append(
            "Vapour lies richer near the bottom of a dome; open it under extraction, away from any spark."
        )
    said.append(
        "No draught, no extraction at the spot and no sink is reckoned with; "
        "extraction at the spot helps most."
    )
    said.append(
        "An 8 h average is over 8 h even if the work is shorter; time outside it counts as clean air."
    )
    return tuple(said)


# -- vapour and fire, and the fresh air that a way of working would need -----------------------------------


CHATELIER = "Le Chatelier, added up over the parts"
CHATELIER_SOURCE = (
    "Mashuga and Crowl, Process Saf. Prog. 19(2), 2000, 112; lower of the lists' explosive limits"
)
NO_LEL = "no lower explosive limit known here"
UNIT = "% of the lower explosive limit"


def fire_lines(courses: Sequence[PartCourse], use: Use, temp_c: float) -> tuple[AirLine, ...]:
    """Share of the lower explosive limit in the room, beside the work, and in the dome."""
    burning = [one for one in courses if one.liquid.id != WATER]
    said = [
        _room_line(burning, f"{where}, highest moment", cases, model, source, temp_c)
        for where, cases, model, source in (
            ("in the room", ("room_low", "room_high"), ROOM_MODEL, ROOM_SOURCE),
            ("beside the work", ("near_low", "near_high"), NEAR_MODEL, NEAR_SOURCE),
        )
    ]
    if use.how == "dome":
        said += _dome_lines(burning, use, temp_c)
    missing = [one.liquid.name for one in burning if one.liquid.lower_limit_vol_pct is None]
    if missing and len(missing) < len(burning):
        named = f"lower explosive limit of {', '.join(missing)}"
        said.append(line(named, None, None, "% by volume", "none", "none", NO_LEL))
    return tuple(said)


def _room_line(
    courses: Sequence[PartCourse], what: str, cases: tuple[str, str], model: str, source: str, temp_c: float
) -> AirLine:
    ends = []
    for case in cases:
        each = [_lel_pct(one, getattr(one.cases, case).peak, temp_c) for one in courses]
        known = [one for one in each if one is not None]
        ends.append(math.fsum(known) if known else None)
    return line(
        what, ends[0], ends[1], UNIT, f"{model}; {CHATELIER}", f"{source}; {CHATELIER_SOURCE}", NO_LEL
    )


def _lel_pct(course: PartCourse, mg_m3: float, temp_c: float) -> float | None:
    mass = course.liquid.molar_mass_g_mol or 0.0
    ppm = mg_m3_to_ppm(min(mg_m3, course.ceiling_mg_m3), mass, temp_c, ATMOSPHERE_KPA)
    return lel_per_cent(ppm, course.liquid.lower_limit_vol_pct)


def _dome_lines(courses: Sequence[PartCourse], use: Use, temp_c: float) -> list[AirLine]:
    fillings = [
        Filling(
            volume_ml=one.share * use.amount_ml,
            density_g_ml=one.liquid.density_g_ml or 0.0,
            molar_mass_g_mol=one.liquid.molar_mass_g_mol or 0.0,
            vapour_pressure_kpa=one.liquid.vapour_pressure_kpa or 0.0,
            lower_limit_vol_pct=one.liquid.lower_limit_vol_pct,
        )
        for one in courses
    ]
    if not fillings:
        return []
    space = use.space_l or 0.0
    inside, lel_pct = enclosed_blend(fillings, space, temp_c)
    most = max_blend_volume_ml(fillings, space, temp_c) if lel_pct is not None else None
    model = "closed space, all evaporated or saturated, vapour even"
    saturated = any(one.saturated for one in inside)
    return [
        line(
            "in the dome" + (" (air in it is saturated)" if saturated else ""),
            lel_pct,
            lel_pct,
            UNIT,
            f"{model}; {CHATELIER}",
            f"derived from the ideal gas law; {CHATELIER_SOURCE}",
            NO_LEL,
        ),
        line(
            f"most liquid that keeps the dome at {100 * DESIGN_SHARE:g} % of the lower explosive limit",
            most,
            most,
            "ml",
            model,
            "derived from the ideal gas law; design share: NIOSH IDLH pages",
            NO_LEL,
        ),
    ]


def ventilation_lines(
    courses: Sequence[PartCourse], room: Room, authority: str, temp_c: float
) -> tuple[AirLine, ...]:
    """Fresh air that would hold the room at the authority's limits, as a flow and as air changes."""
    counted = [one for one in courses if one.liquid.id != WATER]
    ends: list[float | None] = []
    doubt = [one.liquid.name for one in counted if not limit_of(one.liquid, authority).verified]
    for mixing, end in ((room.mixing.low, "low"), (room.mixing.high, "high")):
        flows = [
            dilution_flow_m3_h(
                getattr(one.released_ml_h, end) / 1000.0,
                one.liquid.density_g_ml or 0.0,
                one.liquid.molar_mass_g_mol or 0.0,
                limit_of(one.liquid, authority).twa_ppm,
                mixing,
                temp_c,
            )
            for one in counted
        ]
        ends.append(flow_for_mixture(flows))
    source = "ACGIH, Industrial Ventilation (from memory); formula page of a university"
    model = f"dilution ventilation, steady source, K {room.mixing.low:g} to {room.mixing.high:g}"
    what = f"fresh air to hold the room at the {authority} limits"
    if doubt and ends[0] is not None:
        what += f" (limit of {', '.join(doubt)} {UNVERIFIED})"
    low, high = ends
    room_low, room_high = (None if one is None else one / room.volume_m3 for one in ends)
    here = ("the same in this room", room_low, room_high, "air changes per hour")
    return tuple(line(*one, model, source, NONE_KNOWN) for one in ((what, low, high, "m3/h"), here))


def fire_flow_line(courses: Sequence[PartCourse], temp_c: float) -> AirLine:
    """Fresh air against fire; never in place of the flow for health."""
    flows = [
        fire_flow_m3_h(
            one.released_ml_h.high / 1000.0,
            one.liquid.density_g_ml or 0.0,
            one.liquid.molar_mass_g_mol or 0.0,
            one.liquid.lower_limit_vol_pct,
            FIRE_SAFETY[1],
            temp_c,
        )
        for one in courses
        if one.liquid.lower_limit_vol_pct is not None and one.liquid.id != WATER
    ]
    total = math.fsum(flows) if flows else None
    return line(
        f"fresh air that keeps the room at 1/{FIRE_SAFETY[1]:g} of the lower explosive limit "
        "(never in place of the flow for health)",
        total,
        total,
        "m3/h",
        "dilution against fire, steady source",
        "ACGIH, Industrial Ventilation (from memory)",
        NO_LEL,
    )
