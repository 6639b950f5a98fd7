"""What a person types of a room and of a way of working, read into units that models use."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Literal, NamedTuple

from kb.desk.amounts import quantity
from kb.desk.errors import DeskError, in_a_sentence
from kb.desk.materials.physical import of_parts, refuse_missing
from kb.desk.studio import Studio
from kb.science.air.room import AIR_SPEED_M_MIN, NEAR_RADIUS_M
from kb.science.numbers import Spread
from kb.science.quantities import parse_number, parse_quantity, parse_range

How = Literal["swab", "dish", "bath", "dome"]
HOWS: tuple[How, ...] = ("swab", "dish", "bath", "dome")
USUAL_MIXING = Spread(1.0, 3.0)
"""Mixing factor K of an ordinary room, from perfect mixing to corners that lag; a choice of this project."""
LONGEST_H = 24.0
MOST_AT_ONCE = 1e6
"""Millilitres or grams of one use; more is no bench work, and figures run out of range."""


class Use(NamedTuple):
    """How the liquid is used. ``per_hour`` None means once; the area is that of a dish or bath, m2.

    ``space_l`` is the free space of a dome in litres.
    """

    how: How
    amount_ml: float
    per_hour: float | None = None
    area_m2: float | None = None
    space_l: float | None = None


class Room(NamedTuple):
    """A room: volume, air changes per hour and mixing factor as ranges, and the near field."""

    volume_m3: float
    air_changes_per_h: Spread
    mixing: Spread = USUAL_MIXING
    near_radius_m: float = NEAR_RADIUS_M
    air_speed_m_min: Spread = Spread(*AIR_SPEED_M_MIN)


def use_of(
    studio: Studio,
    parts: Mapping[str, float],
    *,
    amount: str,
    how: str = "",
    per_hour: str = "",
    area: str = "",
    space: str = "",
) -> Use:
    """A use from typed words. Without ``how``: a dish if an area is given, a dome if a space, else swabs.

    ``amount`` is a volume or, where the densities are known, a mass. Raises DeskError in a sentence that
    lists the units that can be meant.
    """
    kind = how.strip().lower() or ("dome" if space else "dish" if area else "swab")
    found = next((one for one in HOWS if one == kind), None)
    if found is None:
        raise DeskError(f'"{how}" is no way of using a liquid known here; use one of {", ".join(HOWS)}.')
    if found in ("dish", "bath") and not area:
        raise DeskError(f"A {found} gives off vapour by its area: say how large it is, such as 100 cm2.")
    if found == "dome" and not space:
        raise DeskError("A dome holds vapour in its space: say how large it is, such as 2 l.")
    return Use(
        how=found,
        amount_ml=amount_ml(studio, parts, amount),
        per_hour=number(per_hour, "the number of times per hour") if per_hour else None,
        area_m2=positive(area, "area", "cm2") if area else None,
        space_l=_up_to(10.0, positive(space, "room volume", "l"), space, "m3") * 1e3 if space else None,
    )


def room_of(*, room: str, air_changes: str, mixing: str = "", near: str = "", air_speed: str = "") -> Room:
    """A room from typed words. ``air_changes`` may be per hour or a flow, each one number or a range."""
    volume = _up_to(100_000.0, positive(room, "room volume", "m3"), room, "m3")
    with in_a_sentence():
        fresh = parse_range(air_changes, "air changes", "air flow", bare="/h")
        speed = parse_range(air_speed, "air speed") if air_speed else None
    per_hour = volume if fresh.dimension == "air flow" else 1.0
    _up_to(1000.0, fresh.high / per_hour, air_changes, "air changes per hour")
    if speed is not None:
        _up_to(10.0, speed.high, air_speed, "m/s")
    return Room(
        volume_m3=volume,
        air_changes_per_h=Spread(fresh.low / per_hour, fresh.high / per_hour),
        mixing=_mixing(mixing) if mixing else USUAL_MIXING,
        near_radius_m=_up_to(5.0, positive(near, "length", "m"), near, "m") if near else NEAR_RADIUS_M,
        air_speed_m_min=Spread(*AIR_SPEED_M_MIN)
        if speed is None
        else Spread(speed.low * 60, speed.high * 60),
    )


def hours_of(text: str) -> float:
    """A working time in hours, more than 0 and at most a day."""
    hours = positive(text, "time", bare="h") / 3600.0
    if hours > LONGEST_H:
        raise DeskError(f"A shift is at most {LONGEST_H:g} h, not {hours:g} h.")
    return hours


def amount_ml(studio: Studio, parts: Mapping[str, float], text: str) -> float:
    """Millilitres of a liquid or blend, from a volume or a mass.

    A number alone is refused: nobody can say which of the two was meant.
    """
    with in_a_sentence():
        found = parse_quantity(text, "volume", "mass")
    if found.value <= 0:
        raise DeskError(f'The amount "{text}" must be above zero.')
    if found.value > MOST_AT_ONCE:
        raise DeskError(f'The amount "{text}" is more than a cubic metre at once; give that of one use.')
    if found.dimension == "volume":
        return found.value
    liquids = of_parts(studio, parts)
    refuse_missing(liquids, {"density_g_ml": "density"}, "The volume of a mass")
    density = math.fsum(
        share * (one.density_g_ml or 0.0) for one, share in zip(liquids, parts.values(), strict=True)
    )
    return found.value / density


def _up_to(most: float, value: float, typed: str, unit: str) -> float:
    """The value. Raises DeskError beyond ``most`` (project): the air would be called good for a slip."""
    if value > most:
        bare = "; a number alone is in metres" if unit == "m" else ""
        raise DeskError(
            f'"{typed}" is more than {most:,.0f} {unit}, the most that is taken{bare}; type it again.'
        )
    return value


def positive(text: str, dimension: str, bare: str = "") -> float:
    """An amount above zero in the base unit of its dimension."""
    value = quantity(text, dimension, bare)
    if value <= 0:
        raise DeskError(f'"{text}" must be above zero.')
    return value


def number(text: str, what: str) -> float:
    """A plain number above zero. Raises DeskError for "1,000", too: one or one thousand."""
    try:
        value, why = parse_number(text), ""
    except ValueError as error:
        value, why = 0.0, f" ({error})" if "," in text else ""
    if value <= 0:
        raise DeskError(f'{what[:1].upper()}{what[1:]} is a number above zero, not "{text}"{why}.')
    return value


def _mixing(text: str) -> Spread:
    typed = re.split(r"(?<=\d)\s*(?:to|-|–)\s*", text.strip())
    ends = [number(one or text, "the mixing factor") for one in typed]
    if len(ends) > 2 or ends[0] > ends[-1]:
        raise DeskError(
            f'"{text}" is no mixing factor; give a number of 1 or more, or a range such as "1 to 3".'
        )
    _up_to(100.0, ends[-1], text, "as a mixing factor")
    if ends[0] < 1:
        raise DeskError(
            f"The mixing factor is 1 or more, not {ends[0]:g}; a fraction of 0.5 is a factor of 2."
        )
    return Spread(ends[0], ends[-1])
