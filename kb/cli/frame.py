"""benchleaf frame: how sheets were framed or put away."""

from __future__ import annotations

import argparse
from pathlib import Path

from kb.cli.main import studio_of
from kb.cli.out import OK, say, say_json, wrap

ABOUT = {
    "into": "frame, window mat, folder, box, drawer ...; frame if left out",
    "size": '"420 x 594 mm", of the sheet',
    "gap": '"5 x 6 mm": left between sheet and rebate on each side, across and down',
    "hinges": "how many",
    "hinge-tissue": "name or id, or plain words",
    "batch": "of the adhesive of the hinges, by the beginning of its id",
    "glazing": "in words",
    "board": "in words",
    "spacer": "thickness, 3 mm",
    "depth": "of the rebate, 18 mm",
    "humidity": '"45-55 %%", of the place',
    "light": "50 lux",
    "place": "where it went",
    "at": "2026-05-31 or 2026-05-31T14:30, if not now",
    "remarks": "anything else",
}


def options(parser: argparse.ArgumentParser) -> None:
    """One sub-command per thing to do."""
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="add|list")
    add = verbs.add_parser("add", help="write down how a sheet was housed")
    add.add_argument("sheet")
    for name, about in ABOUT.items():
        add.add_argument(f"--{name}", default="", metavar="TEXT", help=about)
    add.add_argument("--photo", action="append", default=[], type=Path, metavar="FILE", help="one or several")
    listing = verbs.add_parser("list", help="housings, the oldest first")
    listing.add_argument("sheet", nargs="?", default="")
    for verb in verbs.choices.values():
        verb.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Do what the verb says."""
    return _add(args) if args.verb == "add" else _list(args)


def _add(args: argparse.Namespace) -> int:
    from kb.desk.housed import add_housing, gap_check, housing_from_words, warnings

    studio = studio_of(args)
    housing = housing_from_words(studio, vars(args))
    written = add_housing(studio, housing)
    gap, told = gap_check(studio, housing), warnings(studio, housing)
    if args.json:
        say_json({"written": written, "gap": gap, "warnings": told})
        return OK
    say(f"Stored and on disk: housing {written.id}")
    for text in gap:
        say(wrap(text, indent="  "))
    for text in told:
        say(wrap(f"! {text}", indent="  "))
    return OK


def _list(args: argparse.Namespace) -> int:
    from kb.desk.housed import housings

    found = housings(studio_of(args), args.sheet)
    if args.json:
        say_json(found)
        return OK
    for one in found:
        state = f"  [{one.state}]" if one.state else ""
        say(f"{one.id}  {one.at[:10]}  {one.housing.sheet}: {one.words}{state}")
        for text in one.gap:
            say(wrap(text, indent="  "))
        for text in one.warnings:
            say(wrap(f"! {text}", indent="  "))
    if not found:
        say("No housing is written down.")
    return OK
