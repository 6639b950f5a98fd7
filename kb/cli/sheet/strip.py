"""benchleaf strip: tape and weak zones as they lie on the two faces of a sheet."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.book.kinds.patch import STRIP
from kb.cli.options import asks, verb, verbs_of
from kb.cli.out import OK, say, say_json, say_written
from kb.cli.records import in_words, typed_of

if TYPE_CHECKING:
    from kb.desk.studio import Studio

FIELDS = ("outline", "weak", "tape", "stage", "remarks")


def options(parser: argparse.ArgumentParser) -> None:
    verbs = verbs_of(parser, "add", "list")
    add = verb(verbs, "add", _add, "write down a strip of tape, or a weak zone")
    add.add_argument("sheet")
    add.add_argument("face", choices=("front", "back"), help="as seen from that face")
    asks(add, "at", "TEXT", '"10 x 20 mm" from the left and top edges: its upper left corner')
    asks(add, "size", "TEXT", '"100 x 25 mm", of a rectangle; without a unit it counts as mm')
    in_words(add, STRIP, FIELDS)
    listing = verb(verbs, "list", _list, "what lies on a sheet")
    listing.add_argument("sheet")


def _add(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.amounts import without_unit
    from kb.desk.sheet.tape import add_strip

    written = add_strip(studio, typed_of(args, ("sheet", "face", "at", "size", *FIELDS)))
    return say_written(args.json, written, warnings=[*filter(None, (without_unit("size", args.size),))])


def _list(studio: Studio, args: argparse.Namespace) -> int:
    from functools import partial

    from kb.book.kinds.patch import strip_line
    from kb.desk.records.work_records import name_of
    from kb.desk.sheet.names import sheet_named
    from kb.desk.sheet.tape import strips

    found = strips(studio, sheet_named(studio, args.sheet))
    if args.json:
        return say_json([{"id": row.id, "at": row.at, "strip": row.body} for row in found])
    for row in found:
        say(f"{row.id}  {strip_line(row.body, partial(name_of, studio))}")
    if not found:
        say("No tape is written down.")
    return OK
