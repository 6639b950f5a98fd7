"""benchleaf tone: trials of toning tissue towards the colour of a sheet."""

from __future__ import annotations

import argparse

from kb.cli.main import studio_of
from kb.cli.out import OK, say_json
from kb.cli.work_verbs import add_and_list, tell_list, tell_stored

ABOUT = {
    "sheet": "the sheet it is meant for",
    "batch": "what was put on, if it was made up as a batch; the beginning of its id",
    "coats": "how many",
    "aim": '"L a b" of the sheet beside the place',
    "dry": '"L a b" of the toned tissue when dry',
    "read-with": "instrument, light, observer, backing",
    "judged": "by eye, in words",
    "at": "2026-05-31 or 2026-05-31T14:30, if not now",
    "remarks": "anything else",
}


def options(parser: argparse.ArgumentParser) -> None:
    """To add one, and to list them."""
    add = add_and_list(parser, "write down a toning test", "toning tests", ABOUT)
    add.add_argument("tissue", help="tissue or paper: name or id, or plain words")
    add.add_argument(
        "--colourant",
        action="append",
        default=[],
        metavar='"raw umber 0.4 g"',
        help="once for each, water too",
    )
    add.add_argument(
        "--bleeds",
        default="",
        choices=("", "no", "slightly", "yes"),
        help="whether the dry colour gives off on a damp swab; left out: not looked at",
    )


def run(args: argparse.Namespace) -> int:
    """Do what the verb says."""
    return _add(args) if args.verb == "add" else _list(args)


def _add(args: argparse.Namespace) -> int:
    from kb.desk.sheet.toning import add_toning, toning_from_words, tonings, warnings

    studio = studio_of(args)
    toning = toning_from_words(studio, vars(args))
    written = add_toning(studio, toning)
    told = warnings(studio, toning)
    # By its id alone: the name of the sheet may have been cleaned when it was stored.
    view = next(one for one in tonings(studio) if one.id == written.id)
    if args.json:
        say_json({"written": written, "difference": view.difference, "fit": view.fit, "warnings": told})
        return OK
    return tell_stored("toning test", written.id, (view.words, view.verdict), told)


def _list(args: argparse.Namespace) -> int:
    from kb.desk.sheet.toning import tonings

    return tell_list(
        tonings(studio_of(args), args.sheet),
        as_json=args.json,
        what="toning test",
        sheet=lambda one: one.toning.sheet,
        lines=lambda one: (one.verdict,),
    )
