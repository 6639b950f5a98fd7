"""benchleaf tone: trials of toning tissue towards the colour of a sheet."""

from __future__ import annotations

import argparse

from kb.cli.main import studio_of
from kb.cli.out import OK, say, say_json, wrap

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
    """One sub-command per thing to do."""
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="add|list")
    add = verbs.add_parser("add", help="write down a toning test")
    add.add_argument("tissue", help="tissue or paper: name or id, or plain words")
    add.add_argument(
        "--colourant",
        action="append",
        default=[],
        metavar='"raw umber 0.4 g"',
        help="once for each, water too",
    )
    for name, about in ABOUT.items():
        add.add_argument(f"--{name}", default="", metavar="TEXT", help=about)
    add.add_argument(
        "--bleeds",
        default="",
        choices=("", "no", "slightly", "yes"),
        help="whether the dry colour gives off on a damp swab; left out: not looked at",
    )
    listing = verbs.add_parser("list", help="toning tests, the oldest first")
    listing.add_argument("sheet", nargs="?", default="")
    for verb in verbs.choices.values():
        verb.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Do what the verb says."""
    return _add(args) if args.verb == "add" else _list(args)


def _add(args: argparse.Namespace) -> int:
    from kb.desk.toning import add_toning, toning_from_words, tonings, warnings

    studio = studio_of(args)
    toning = toning_from_words(studio, vars(args))
    written = add_toning(studio, toning)
    told = warnings(studio, toning)
    # By its id alone: the name of the sheet may have been cleaned when it was stored.
    view = next(one for one in tonings(studio) if one.id == written.id)
    if args.json:
        say_json({"written": written, "difference": view.difference, "fit": view.fit, "warnings": told})
        return OK
    say(f"Stored and on disk: toning test {written.id}")
    say(wrap(view.words, indent="  "))
    say(wrap(view.verdict, indent="  "))
    for text in told:
        say(wrap(f"! {text}", indent="  "))
    return OK


def _list(args: argparse.Namespace) -> int:
    from kb.desk.toning import tonings

    found = tonings(studio_of(args), args.sheet)
    if args.json:
        say_json(found)
        return OK
    for one in found:
        state = f"  [{one.state}]" if one.state else ""
        sheet = f"{one.toning.sheet}: " if one.toning.sheet else ""
        say(f"{one.id}  {one.at[:10]}  {sheet}{one.words}{state}")
        say(wrap(one.verdict, indent="  "))
        for text in one.warnings:
            say(wrap(f"! {text}", indent="  "))
    if not found:
        say("No toning test is written down.")
    return OK
