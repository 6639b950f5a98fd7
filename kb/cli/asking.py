"""The options by which a question is asked, for the commands that look for a liquid or blend."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.model.question import Question


def question_options(parser: argparse.ArgumentParser) -> None:
    """Every feature by id or by words, as in ``benchleaf choose``."""
    for name in ("tape", "adhesive", "carrier", "stage", "paper", "method"):
        parser.add_argument(f"--{name}", default="", metavar="TEXT")
    parser.add_argument(
        "--medium", action="append", default=[], metavar="TEXT", help="once per medium within reach"
    )
    parser.add_argument(
        "--medium-back", action="append", default=[], metavar="TEXT", help="a medium on the other face"
    )


def question_of(studio: Studio, args: argparse.Namespace) -> Question:
    """The question that the options ask. Raises Unclear for a word that fits several entries or none."""
    from kb.desk.materials.resolve import question

    return question(
        studio,
        tape=args.tape,
        adhesive=args.adhesive,
        carrier_text=args.carrier,
        stage=args.stage,
        medium=args.medium[0] if args.medium else "",
        also_media=args.medium[1:],
        back_media=args.medium_back,
        paper=args.paper,
        method=args.method,
        sheet=getattr(args, "sheet", ""),
    )
