"""benchleaf plan: everything about one sheet on one page."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from kb.book.kinds.mend import TEAR_KINDS, TEAR_WORDS
from kb.cli.options import flag, studio_of
from kb.cli.out import say_files
from kb.cli.records import new_sheet

if TYPE_CHECKING:
    from kb.desk.sheet.facts import SheetFacts
    from kb.desk.studio import Studio

FIGURES = (
    ("size", '"420 x 594 mm"'),
    ("grammage", '"100 g/m2"'),
    ("mass", '"25 g"'),
    ("thickness", '"0.15 mm"'),
    ("humidity", '"40-60 %"'),
)


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sheet", help="any part of its name, its number, or the beginning of its id")
    new_sheet(parser)
    for name, example in FIGURES:
        parser.add_argument(f"--{name}", metavar=example)
    parser.add_argument("--grain", choices=("unknown", "width", "height"), help="edge it runs along")
    parser.add_argument("--tear", choices=tuple(filter(None, TEAR_WORDS)), help=TEAR_KINDS)
    parser.add_argument("--length", dest="tear_length", metavar='"120 mm"', help="of the tear")
    parser.add_argument("--medium", action="append", default=[], help="every one within reach of water")
    parser.add_argument("--medium-back", action="append", default=[], help="every one on the back")
    parser.add_argument("--paper", default="")
    flag(parser, "alkaline", "an alkaline bath is planned")
    flag(parser, "keep", "write the figures into the record of the sheet")
    parser.add_argument("--text", type=Path, metavar="FILE", help="write the page there")


def run(args: argparse.Namespace) -> int:
    from kb.desk.errors import save_as
    from kb.desk.sheet.names import sheet_for_record, sheet_named
    from kb.desk.sheet.plan import as_text, sections, sheet_plan
    from kb.desk.sheet.sheets import keep_facts

    studio = studio_of(args)
    sheet = (
        sheet_for_record(studio, args.sheet, new=True) if args.new_sheet else sheet_named(studio, args.sheet)
    )
    facts = _facts(studio, sheet, args)
    plan = sheet_plan(studio, sheet, facts, alkaline=args.alkaline)
    if args.keep:
        keep_facts(studio, sheet, facts)
    text = as_text(plan, sections(studio, plan), date.today().isoformat())
    if args.text is not None:
        save_as(args.text, text)
    return say_files(args.json, plan, [args.text] if args.text else [], lambda: text)


def _facts(studio: Studio, sheet: str, args: argparse.Namespace) -> SheetFacts:
    """What is known already, each figure replaced by what is given now."""
    import msgspec

    from kb.desk.materials.resolve import optional
    from kb.desk.sheet.facts import sheet_facts

    names = (*(name for name, _ in FIGURES), "grain", "tear", "tear_length")
    given = {name: getattr(args, name) for name in names if getattr(args, name) is not None}
    for face, typed in (("media", args.medium), ("media_back", args.medium_back)):
        media = dict.fromkeys(one for text in typed if (one := optional(studio, "medium", text)))
        if media:
            given[face] = tuple(media)
    if args.paper:
        given["paper"] = optional(studio, "paper", args.paper)
    return msgspec.structs.replace(sheet_facts(studio, sheet), **given)
