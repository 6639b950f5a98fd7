"""benchleaf infill: colour of toned infills against the sheet."""

from __future__ import annotations

import argparse

from kb.cli.options import studio_of
from kb.cli.out import OK, say, say_json


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sheet", metavar='"L a b"', help="of the sheet")
    parser.add_argument("infill", nargs="+", metavar='"L a b"', help="of each infill")


def run(args: argparse.Namespace) -> int:
    from kb.desk.sheet.mends import compare, lab

    found = compare(studio_of(args), lab(args.sheet), [lab(one) for one in args.infill])
    if args.json:
        return say_json(found)
    for one in found.infills:
        reading = " ".join(f"{part:g}" for part in one.reading)
        say(f"infill {one.number} ({reading}): {one.difference.words}, {one.fit} ({one.words})")
        parts = ", ".join(
            f"{part.value or 0.0:+.1f} {part.unit}" for part in (one.lighter, one.redder, one.yellower)
        )
        say(f"{parts}. {one.advice}", indent="    ")
    say(found.note, indent="")
    return OK
