"""benchleaf condition: what is wrong with a sheet, and what became of it."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.book.kinds.condition import CONDITION
from kb.cli.options import verb, verbs_of
from kb.cli.out import say_list, say_written
from kb.cli.records import in_words, photographs, typed_of

if TYPE_CHECKING:
    from kb.desk.studio import Studio

FIELDS = ("face", "tear", "place", "x_mm", "y_mm", "width_mm", "height_mm", "found", "remarks")


def options(parser: argparse.ArgumentParser) -> None:
    verbs = verbs_of(parser, "add", "list", "settle")
    add = verb(verbs, "add", _add, "write down what is wrong, and where")
    add.add_argument("sheet")
    add.add_argument("damage", help='"tear", "stain", "tideline", "old mend" ...')
    in_words(add, CONDITION, FIELDS)
    photographs(add)
    listing = verb(verbs, "list", _list, "what is written down of a sheet")
    listing.add_argument("sheet")
    settle = verb(verbs, "settle", _settle, "what was done about it, or why it was left")
    settle.add_argument("record", help="the beginning of its id")
    settle.add_argument("--treated", required=True, metavar="TEXT", help="mended, reduced, left as it is ...")
    settle.add_argument("--by", default="", metavar="ID", help="the mend or other record that settled it")


def _add(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sheet.sheets import add_condition

    given = {**typed_of(args, FIELDS), "sheet": args.sheet, "damage": args.damage, "photo": args.photo}
    return say_written(args.json, add_condition(studio, given))


def _settle(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sheet.sheets import settle

    return say_written(args.json, settle(studio, args.record, args.treated, args.by))


def _list(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sheet.sheets import condition_list

    return say_list(
        args.json,
        condition_list(studio, args.sheet),
        lambda line: f"{line.id}  {line.words}{'' if line.treated else '  [open]'}",
        "Nothing is written down of its condition.",
    )
