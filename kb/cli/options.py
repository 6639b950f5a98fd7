"""What the options that commands share name: the studio, and the question that is asked."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from kb.cli.out import step, warn

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.model.question import Question


def studio_of(args: argparse.Namespace) -> Studio:
    if args.demo:
        from kb.desk.demo import open_demo

        studio = open_demo(args.studio)
    else:
        from kb.desk.studio import open_studio

        studio = open_studio(args.studio, progress=step)
    studio.notice = warn
    return studio


def correcting(verbs: Any, named: str, amend: str, withdraw: str) -> None:
    """The verbs that correct a record and take it back, and what each does; both ask why."""
    amending = verbs.add_parser("amend", help=f"{amend}; the first record stays")
    taking = verbs.add_parser("withdraw", help=f"{withdraw}; the record stays")
    for verb in (amending, taking):
        verb.add_argument(named)
    amending.add_argument("--set", action="append", default=[], metavar="FIELD=VALUE", required=True)
    for verb in (amending, taking):
        verb.add_argument("--why", required=True)


def day_of(text: str) -> str:
    """A date as typed; "today" is today's."""
    from datetime import date

    return date.today().isoformat() if text.strip().lower() == "today" else text.strip()


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
