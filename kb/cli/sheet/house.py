"""benchleaf house: gap, hinges, depth, light and climate for one sheet."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.options import flag, studio_of
from kb.cli.out import say, say_either

if TYPE_CHECKING:
    from kb.desk.sheet.housing import HousingAnswer


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--size", required=True, metavar='"420 x 594 mm"', help="width x height")
    parser.add_argument("--grammage", default="", metavar='"100 g/m2"')
    parser.add_argument("--mass", default="", metavar='"25 g"')
    parser.add_argument("--thickness", default="", metavar='"0.2 mm"')
    parser.add_argument(
        "--grain", default="unknown", choices=("width", "height", "unknown"), help="runs along"
    )
    room = parser.add_mutually_exclusive_group()
    room.add_argument("--humidity", default="", metavar='"40-60 %"')
    room.add_argument("--standard", default="", help="bs4971, bizot, bs5454 or ashrae-c")
    parser.add_argument("--held", default="top", choices=("top", "centre"))
    flag(parser, "no-window", "floated, with a spacer")
    parser.add_argument("--sensitivity", default="high", choices=("high", "medium", "low"))
    parser.add_argument("--lux", default="50 lux")
    parser.add_argument("--hours", default="8 h", help="a day")
    parser.add_argument("--days", type=float, default=90.0)


def run(args: argparse.Namespace) -> int:
    from kb.desk.amounts import grams, hours, humidity, lux, millimetres, or_unknown, per_area_g_m2, size_mm
    from kb.desk.sheet.housing import Framed, house

    width, height = size_mm(args.size)
    low, high = humidity(args.humidity) if args.humidity else (0.0, 0.0)
    framed = Framed(
        width_mm=width,
        height_mm=height,
        grammage_g_m2=or_unknown(per_area_g_m2, args.grammage),
        mass_g=or_unknown(grams, args.mass),
        thickness_mm=or_unknown(millimetres, args.thickness),
        grain=args.grain,
        rh_from=low,
        rh_to=high,
        standard=args.standard or ("" if args.humidity else "bs4971"),
        held="one-edge" if args.held == "top" else "centre",
        window_mount=not args.no_window,
        sensitivity=args.sensitivity,
        lux=lux(args.lux),
        hours_a_day=hours(args.hours),
        days=args.days,
    )
    found = house(studio_of(args), framed)
    return say_either(args.json, found, _tell)


def _tell(found: HousingAnswer) -> None:
    say(f"humidity: {found.humidity.words}")
    for gap in found.gaps:
        say(f"{gap.direction}: moves {gap.movement.words} by {gap.coefficient.words}", indent="  ")
        beyond = "; larger or more exposed than custom allows for" if gap.beyond_custom else ""
        say(f"gap {gap.gap.words}; leave {gap.advised.words}{beyond}", indent="    ")
        for other in gap.other:
            say(f"by another source: {other.words}", indent="    ")
    for rule in found.rules:
        say(rule.words, indent="    ")
    one = found.hinges
    mass = f" for {one.mass.words}" if one.mass else " (mass not known: the lightest)"
    say(f"hinges: {one.count.words}, {one.width.words} wide, tissue {one.tissue.words}{mass}", indent="")
    say(
        f"paste {one.paste_band.words}, {one.below_edge.words} below the edge, pressed {one.press.words}",
        indent="    ",
    )
    for rule in one.rules:
        say(rule.words, indent="    ")
    say(f"depth of the rebate: {found.depth.words}")
    for layer in found.layers:
        say(f"{layer.name}: {layer.depth.words}", indent="    ")
    _tell_light(found)
    for climate in found.climates:
        parts = [part.words for part in (climate.humidity, climate.temperature) if part]
        say(f"{climate.name}: {'; '.join(parts)}", indent="  ")
    say(found.disclaimer, indent="  ")


def _tell_light(found: HousingAnswer) -> None:
    light = found.light
    over = "; OVER the year's budget" if light.over_budget else f"; {light.days_left.words} more this year"
    say(
        f"light, {light.taken}: {light.dose.words}, {light.share_of_year.words} of {light.year.words}{over}",
        indent="",
    )
    bright = "; brighter than that" if light.too_bright else ""
    say(
        f"{light.most_lux.words}{bright}; ultraviolet {light.uv.words}, that is {light.uv_on_sheet.words}",
        indent="    ",
    )
