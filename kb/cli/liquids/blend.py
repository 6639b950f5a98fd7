"""benchleaf blend: blends from the shelf that dissolve the adhesive and spare what lies near."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.options import asks, flag, question_of, question_options, studio_of
from kb.cli.out import OK, say, say_each, say_json
from kb.desk.choose.words import some

if TYPE_CHECKING:
    from kb.desk.liquids.blends import BlendFound, Blends

MOST_IDLE, MOST_PAIRS = 2, 4
"""So many are named; how many more there are is said."""
ALL_OF_IT = "--json lists every blend, pair and liquid left out."


def options(parser: argparse.ArgumentParser) -> None:
    question_options(parser)
    flag(parser, "carrier-too", "the carrier is to dissolve as well")
    parser.add_argument(
        "--max-hazard", type=float, metavar="N", help="of any part, 0 to 1 (this project's scale)"
    )
    asks(parser, "min-flash", "T", "lowest flash point of any part: 23C, 73F")
    parser.add_argument(
        "--of", type=int, choices=(2, 3), default=3, metavar="N", help="2 or 3 liquids at most"
    )
    asks(parser, "instead-of", "LIQUID", "what is to be replaced")
    parser.add_argument("--limit", type=int, default=8, metavar="N", help="how many to show")


def run(args: argparse.Namespace) -> int:
    from kb.desk.liquids.blends import find_blends
    from kb.desk.materials.resolve import resolve

    studio, min_flash_c = studio_of(args), None
    if args.min_flash:
        from kb.desk.amounts import celsius

        min_flash_c = celsius(args.min_flash)
    found = find_blends(
        studio,
        question_of(studio, args),
        limit=args.limit,
        carrier_too=args.carrier_too,
        max_hazard=args.max_hazard,
        min_flash_c=min_flash_c,
        parts=args.of,
        instead_of=resolve(studio, "liquid", args.instead_of) if args.instead_of else None,
        # Of those only the names are printed, and the rest is a seventh of this command.
        idle_in_full=args.json or bool(args.instead_of),
    )
    if args.json:
        return say_json(found)
    if studio.settings.invented:
        say("Invented demo studio: its sheets, people and tests are made up.")
    _print(found)
    return OK


def _print(found: Blends) -> None:
    # Eight mixtures of one liquid with a drop of another would hide that the liquid alone does.
    # Who asks for a stand-in wants to read what each one gains over what it replaces.
    gain = [one for one in found.blends if found.instead_of or not one.alone_does]
    idle = [one for one in found.blends if one not in gain]
    if found.alone:
        alone = "; ".join(
            f"{one.name} ({_margin(one.margin)}, hazard {one.hazard:.2f})" for one in found.alone
        )
        say(f"By themselves inside the adhesive: {alone}.", indent="")
    if idle and not gain:
        say("None of the best blends gains anything over one of its parts alone.", indent="")
    for one in gain:
        _print_one(one)
    if idle:
        names = some([f"{one.name} (rather {one.alone_does})" for one in idle], MOST_IDLE, "; ")
        say(f"Not worth mixing, since a part alone does as well: {names}.", indent="")
    say_each(found.notes, indent="")
    apart: dict[str, list[str]] = {}
    for pair in found.parted:
        apart.setdefault(pair.why, []).append(" with ".join(pair.names))
    for why, both in sorted(apart.items()):
        pairs = some(both, MOST_PAIRS, "; ")
        stops = why.startswith("STOP")
        say(f"Not combined: {pairs}. {why}" if stops else f"Not combined because {why}: {pairs}.", indent="")
    out: dict[str, list[str]] = {}
    for each in found.left_out:
        # Each liquid that is not held had a line of its own, sixty of them.
        out.setdefault(each.why.replace(f"{each.name} is", "it is", 1), []).append(each.name)
    for why, left in out.items():
        say(f"Left out: {some(left)}. {why[:1].upper()}{why[1:].rstrip('.')}.", indent="")
    say_each((ALL_OF_IT, found.objective, f"{found.model}. {found.source}.", found.defer), indent="")


def _margin(margin: float | None) -> str:
    return "clearance not known" if margin is None else f"clearance {margin:+.2f} RED"


def _print_one(one: BlendFound) -> None:
    say(f"{one.rank:>2}. {one.name}")
    inside = ", ".join(f"{name} RED {red:.2f}" for name, red in one.red_into.items())
    say(f"inside: {inside}", indent="    ")
    outside = ", ".join(f"{name} RED {red:.2f}" for name, red in one.red_out_of.items())
    say(f"{_margin(one.margin)}{f' ({outside})' if outside else ''}; hazard {one.hazard:.2f}", indent="    ")
    if one.alone_does:
        say(f"not worth mixing: {one.alone_does} alone does as well", indent="    ")
    if one.gain:
        say(one.gain.text, indent="    ")
    for text in (one.exposure, one.flash, one.mixing, *one.drying):
        say(text, indent="    ")
