"""benchleaf air: what a person would breathe, and fire, for a liquid or blend used in a room."""

from __future__ import annotations

import argparse
from functools import partial
from typing import TYPE_CHECKING

from kb.cli.options import asks, flag, studio_of
from kb.cli.out import Lines, columns, say, say_each, say_either, wrap
from kb.cli.records import typed_of
from kb.model.question import USUAL_SHIFT

if TYPE_CHECKING:
    from kb.desk.air.answer import Air, AirLine


def options(parser: argparse.ArgumentParser) -> None:
    """The liquid, how it is used, and the room. Amounts are a number and a unit."""
    asks(parser, "liquid", "NAME")
    asks(parser, "blend", '"acetone 50, n-heptane 50"')
    parser.add_argument(
        "--amount", required=True, metavar="AMOUNT", help="of one swab or dish: 2ml, 500 µl, 1.5 g"
    )
    asks(parser, "how", "WAY", "swab (usual), dish, bath or dome")
    asks(parser, "per-hour", "N", "swabs or domes per hour; without it: once")
    asks(parser, "area", "AREA", "of a dish or bath: 100cm2, 0.5 m2, 16 sq in")
    asks(parser, "dome", "VOLUME", "free space of a dome or box: 2l, 0.1 ft3")
    parser.add_argument("--room", required=True, metavar="VOLUME", help="60m3 or 2000ft3")
    parser.add_argument(
        "--air-changes", required=True, metavar="N", help='per hour: 2 or "0.3 to 1"; or 200m3/h'
    )
    asks(parser, "mixing", "K", 'mixing factor, 1 or more: "1 to 3" (usual)')
    asks(parser, "near", "LENGTH", "distance of the face: 80cm (usual)")
    asks(parser, "air-speed", "SPEED", 'beside the work: "1.5 to 3.6 m/min" (usual)')
    parser.add_argument(
        "--hours", default=USUAL_SHIFT, metavar="TIME", help="how long the work lasts: 4h, 90 min"
    )
    parser.add_argument("--temp", default="20 °C", metavar="T", help="20C (usual), 68F")
    parser.add_argument("--action", default="0.5", metavar="SHARE", help="action level, a share of the limit")
    flag(parser, "parts", "show every figure, list of limits, model and source")


def run(args: argparse.Namespace) -> int:
    from kb.desk.air.air import air
    from kb.desk.air.inputs import hours_of, number, room_of, use_of
    from kb.desk.amounts import celsius
    from kb.desk.materials.mixing import danger_words
    from kb.desk.materials.resolve import parts

    studio = studio_of(args)
    blend = parts(studio, args.liquid, args.blend)
    use = use_of(studio, blend, **typed_of(args, ("amount", "how", "per_hour", "area")), space=args.dome)
    room = room_of(**typed_of(args, ("room", "air_changes", "mixing", "near", "air_speed")))
    answer = air(
        studio,
        blend,
        use,
        room,
        hours_of(args.hours),
        celsius(args.temp),
        number(args.action, "the action level"),
    )
    dangers, sources = partial(danger_words, studio, blend), args.parts
    return say_either(args.json, answer, lambda told: _print(told, dangers(), sources=sources))


def _print(answer: Air, dangers: tuple[str, ...], *, sources: bool) -> None:
    say_each(dangers, indent="", before="! ")
    _first(answer)
    if sources:
        _everything(answer)
    else:
        say("Every figure, list of limits, model and source: --parts.")
    say_each((one for one in answer.notes if one not in dangers), indent="")
    say(answer.defer, indent="")


def _first(answer: Air) -> None:
    """How it stands, in one screenful."""
    from kb.desk.air.answer import cut_off, gist, over_time
    from kb.desk.canvas import gauge

    told = gist(answer)
    others = f" {told.others} other lists: --parts." if told.others else ""
    say(f"{told.so} {told.verdict}{others}", indent="")
    say()
    for bar in told.bars:
        say(f"  {bar.label:<14} {''.join(text for text, _ in gauge(bar.low, bar.high, 24))} {bar.words}")
    if told.bars:
        say(f"  {'':<14} ┃ the {told.authority} limit   ╍ from the room to the face")
    for label, words in (*told.do, *told.mind):
        say(Lines(f"  {label:<14} {wrap(words, indent=' ' * 17).strip()}"))
    canvas = over_time(answer.series, "mg/m3", min(columns(), 78), 9)
    if canvas is not None:
        say()
        say("  In the air over time, upper ends; the higher line is at the face, the other in the room")
        for text in canvas.lines():
            say(text.rstrip())
        if words := cut_off(answer):
            say(f"  {words}")
    say()
    say(answer.name)
    say(f"{answer.use}, for {answer.hours:g} h at {answer.temp_c:.3g} °C", indent="  ")
    say(f"room: {answer.room}", indent="  ")


def _everything(answer: Air) -> None:
    """All figures, each with its model and source."""
    for one in answer.under:
        say(one.verdict, indent="")
        for share in one.shares:
            say(share.text, indent="  ")
            say(share.limit, indent="    ")
        _lines(one.lines)
    for part in answer.parts:
        say(f"{part.name}, {part.share_pct:.4g} % by volume:")
        _lines(part.lines)
    say("fire:")
    _lines(answer.fire)
    say("ventilation:")
    _lines(answer.ventilation)


def _lines(lines: tuple[AirLine, ...]) -> None:
    for one in lines:
        say(one.text, indent="  ")
        say(f"{one.model}; {one.source}", indent="      ")
