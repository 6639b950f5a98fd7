"""benchleaf mend: mends and infills as they were made."""

from __future__ import annotations

import argparse

from kb.cli.main import studio_of
from kb.cli.out import OK, say_json
from kb.cli.work_verbs import add_and_list, photographs, tell_list, tell_stored

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
    """To add one, and to list them."""
    add = add_and_list(parser, "write down a mend", "mends", ABOUT)
    add.add_argument("sheet")
    add.add_argument(
        "--tear", default="", metavar="KIND", help="plain, scarfed, through, inside, loss, lifting"
    )
    add.add_argument("--face", default="", choices=("", "front", "back"))
    photographs(add)


def run(args: argparse.Namespace) -> int:
    """Do what the verb says."""
    return _add(args) if args.verb == "add" else _list(args)


def _add(args: argparse.Namespace) -> int:
    from kb.desk.sheet.mends import add_mend, mend_from_words, warnings

    studio = studio_of(args)
    mend = mend_from_words(studio, vars(args))
    written = add_mend(studio, mend)
    told = warnings(studio, mend)
    if args.json:
        say_json({"written": written, "warnings": told})
        return OK
    return tell_stored("mend", written.id, (), told)


def _list(args: argparse.Namespace) -> int:
    from kb.desk.sheet.mends import mends

    return tell_list(
        mends(studio_of(args), args.sheet),
        as_json=args.json,
        what="mend",
        sheet=lambda one: one.mend.sheet,
        lines=lambda one: (),
    )
