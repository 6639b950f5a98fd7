"""Vapour and fire, and the fresh air that a way of working would need."""

from __future__ import annotations

import math
from collections.abc import Sequence

from kb.desk.air.answer import NEAR_MODEL, NEAR_SOURCE, ROOM_MODEL, ROOM_SOURCE, AirLine, line
from kb.desk.air.inputs import Room, Use
from kb.desk.air.model import PartCourse
from kb.desk.materials.limits import NONE_KNOWN, UNVERIFIED, limit_of
from kb.science.air.flammability import (
    DESIGN_SHARE,
    Filling,
    enclosed_blend,
    lel_per_cent,
    max_blend_volume_ml,
)
from kb.science.air.room import FIRE_SAFETY, dilution_flow_m3_h, fire_flow_m3_h, flow_for_mixture
from kb.science.liquids.miscibility import WATER
from kb.science.numbers import ATMOSPHERE_KPA, mg_m3_to_ppm

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
    inside = enclosed_blend(fillings, space, temp_c)
    most = max_blend_volume_ml(fillings, space, temp_c) if inside.lel_pct is not None else None
    model = "closed space, all evaporated or saturated, vapour even"
    saturated = any(one.saturated for one in inside.parts)
    return [
        line(
            "in the dome" + (" (air in it is saturated)" if saturated else ""),
            inside.lel_pct,
            inside.lel_pct,
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
