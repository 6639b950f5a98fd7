"""benchleaf blend: blends from the shelf that dissolve the adhesive and spare what lies near."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.asking import question_of, question_options
from kb.cli.opened import studio_of
from kb.cli.out import OK, say, say_json, wrap

if TYPE_CHECKING:
    from kb.desk.liquids.blends import BlendFound, Blends


def options(parser: argparse.ArgumentParser) -> None:
    """The question, as in choose, and the rules a blend must keep."""
    question_options(parser)
    parser.add_argument("--carrier-too", action="store_true", help="the carrier is to dissolve as well")
    parser.add_argument(
        "--max-hazard", type=float, metavar="N", help="of any part, 0 to 1 (this project's scale)"
    )
    parser.add_argument(
        "--min-flash", default="", metavar="T", help="lowest flash point of any part: 23C, 73F"
    )
    parser.add_argument(
        "--of", type=int, choices=(2, 3), default=3, metavar="N", help="2 or 3 liquids at most"
    )
    parser.add_argument("--instead-of", default="", metavar="LIQUID", help="what is to be replaced")
    parser.add_argument("--limit", type=int, default=8, metavar="N", help="how many to show")
    parser.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Print the blends."""
    from kb.desk.air.inputs import temperature_of
    from kb.desk.liquids.blends import find_blends
    from kb.desk.materials.resolve import resolve

    studio = studio_of(args)
    found = find_blends(
        studio,
        question_of(studio, args),
        limit=args.limit,
        carrier_too=args.carrier_too,
        max_hazard=args.max_hazard,
        min_flash_c=temperature_of(args.min_flash) if args.min_flash else None,
        parts=args.of,
        instead_of=resolve(studio, "liquid", args.instead_of) if args.instead_of else None,
    )
    if args.json:
        say_json(found)
        return OK
    if studio.settings.invented:
        say("Invented demo studio: its sheets, people and tests are made up.")
    _print(found)
    return OK


def _print(found: Blends) -> None:
    for one in found.blends:
        _print_one(one)
    if found.alone:
        alone = "; ".join(
            f"{one.name} ({_margin(one.margin)}, hazard {one.hazard:.2f})" for one in found.alone
        )
        say(wrap(f"By themselves inside the adhesive: {alone}", indent=""))
    if found.parted:
        pairs = "; ".join(f"{one.names[0]} with {one.names[1]}" for one in found.parted[:6])
        more = f" and {len(found.parted) - 6} more pairs (--json)" if len(found.parted) > 6 else ""
        say(wrap(f"Not combined because they part company: {pairs}{more}", indent=""))
    if found.left_out:
        listed = "; ".join(f"{one.name}: {one.why}" for one in found.left_out[:6])
        more = f"; and {len(found.left_out) - 6} more (--json)" if len(found.left_out) > 6 else ""
        say(wrap(f"Left out: {listed}{more}", indent=""))
    for note in (*found.notes, found.objective, f"{found.model}. {found.source}.", found.defer):
        say(wrap(note, indent=""))


def _margin(margin: float | None) -> str:
    return "nothing to keep clear of" if margin is None else f"clearance {margin:+.2f} RED"


def _print_one(one: BlendFound) -> None:
    say(f"{one.rank:>2}. {one.name}")
    inside = ", ".join(f"{name} RED {red:.2f}" for name, red in one.red_into.items())
    say(wrap(f"inside: {inside}"))
    outside = ", ".join(f"{name} RED {red:.2f}" for name, red in one.red_out_of.items())
    say(wrap(f"{_margin(one.margin)}{f' ({outside})' if outside else ''}; hazard {one.hazard:.2f}"))
    if one.alone_does:
        say(wrap(f"not worth mixing: {one.alone_does} alone does as well"))
    if one.gain:
        say(wrap(one.gain.text))
    for text in (one.exposure, one.flash, one.mixing, *one.drying):
        say(wrap(text))
