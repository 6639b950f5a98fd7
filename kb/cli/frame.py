"""benchleaf frame: how sheets were framed or put away."""

from __future__ import annotations

import argparse

from kb.cli.main import studio_of
from kb.cli.out import OK, say_json
from kb.cli.work_verbs import add_and_list, photographs, tell_list, tell_stored

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
    """To add one, and to list them."""
    add = add_and_list(parser, "write down how a sheet was housed", "housings", ABOUT)
    add.add_argument("sheet")
    photographs(add)


def run(args: argparse.Namespace) -> int:
    """Do what the verb says."""
    return _add(args) if args.verb == "add" else _list(args)


def _add(args: argparse.Namespace) -> int:
    from kb.desk.sheet.housed import add_housing, gap_check, housing_from_words, warnings

    studio = studio_of(args)
    housing = housing_from_words(studio, vars(args))
    written = add_housing(studio, housing)
    gap, told = gap_check(studio, housing), warnings(studio, housing)
    if args.json:
        say_json({"written": written, "gap": gap, "warnings": told})
        return OK
    return tell_stored("housing", written.id, gap, told)


def _list(args: argparse.Namespace) -> int:
    from kb.desk.sheet.housed import housings

    return tell_list(
        housings(studio_of(args), args.sheet),
        as_json=args.json,
        what="housing",
        sheet=lambda one: one.housing.sheet,
        lines=lambda one: one.gap,
    )
