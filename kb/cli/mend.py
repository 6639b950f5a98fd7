"""benchleaf mend: mends and infills as they were made."""

from __future__ import annotations

import argparse
from pathlib import Path

from kb.cli.main import studio_of
from kb.cli.out import OK, say, say_json, wrap

ABOUT = {
    "site": "where on the sheet, in words",
    "length": "of the tear, 45 mm or 4.5 cm",
    "width": "of the strip or the piece let in",
    "tissue": "name or id, or plain words",
    "strips": "how many",
    "adhesive": "name or id, or plain words; that of the batch if left out",
    "batch": "of the adhesive, by the beginning of its id",
    "toning": "the toning test it was matched by, by the beginning of its id",
    "pressed": "30 min, 12 h",
    "at": "2026-05-31 or 2026-05-31T14:30, if not now",
    "remarks": "anything else",
}


def options(parser: argparse.ArgumentParser) -> None:
    """One sub-command per thing to do."""
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="add|list")
    add = verbs.add_parser("add", help="write down a mend")
    add.add_argument("sheet")
    add.add_argument(
        "--tear", default="", metavar="KIND", help="plain, scarfed, through, inside, loss, lifting"
    )
    add.add_argument("--face", default="", choices=("", "front", "back"))
    for name, about in ABOUT.items():
        add.add_argument(f"--{name}", default="", metavar="TEXT", help=about)
    add.add_argument("--photo", action="append", default=[], type=Path, metavar="FILE", help="one or several")
    listing = verbs.add_parser("list", help="mends, the oldest first")
    listing.add_argument("sheet", nargs="?", default="")
    for verb in verbs.choices.values():
        verb.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Do what the verb says."""
    return _add(args) if args.verb == "add" else _list(args)


def _add(args: argparse.Namespace) -> int:
    from kb.desk.mends import add_mend, mend_from_words, warnings

    studio = studio_of(args)
    mend = mend_from_words(studio, vars(args))
    written = add_mend(studio, mend)
    told = warnings(studio, mend)
    if args.json:
        say_json({"written": written, "warnings": told})
        return OK
    say(f"Stored and on disk: mend {written.id}")
    for text in told:
        say(wrap(f"! {text}", indent="  "))
    return OK


def _list(args: argparse.Namespace) -> int:
    from kb.desk.mends import mends

    found = mends(studio_of(args), args.sheet)
    if args.json:
        say_json(found)
        return OK
    for one in found:
        state = f"  [{one.state}]" if one.state else ""
        say(f"{one.id}  {one.at[:10]}  {one.mend.sheet}: {one.words}{state}")
        for text in one.warnings:
            say(wrap(f"! {text}", indent="  "))
    if not found:
        say("No mend is written down.")
    return OK
