"""benchleaf choose: the ranked list for a question."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.asking import question_of, question_options
from kb.cli.opened import studio_of
from kb.cli.out import OK, Lines, say, say_json, wrap

if TYPE_CHECKING:
    from kb.model.question import Answer, Suggestion


def options(parser: argparse.ArgumentParser) -> None:
    """Every feature by id or by words; what is not given is not known and is averaged over."""
    parser.add_argument(
        "words", nargs="*", metavar="WORDS", help='the question as one speaks: "sticky tape over toner"'
    )
    question_options(parser)
    parser.add_argument("--card", action="store_true", help="print the series as a card for the bench")
    parser.add_argument(
        "--sign",
        action="append",
        default=[],
        metavar="LOOK=FINDING",
        help="where the tape is not known: what it shows (see: benchleaf identify --looks)",
    )
    parser.add_argument("--sheet", default="", metavar="NAME", help="take in the spots already made on it")
    parser.add_argument(
        "--book", type=Path, metavar="FILE", help="use this book file instead of the studio's"
    )
    parser.add_argument("--limit", type=int, default=12, metavar="N", help="how many to show (0: all)")
    parser.add_argument("--no-print", action="store_true", help="leave out reports in print")
    parser.add_argument("--harm-aversion", type=float, metavar="N", help="8 bold, 16 usual, 32 cautious")
    parser.add_argument("--ceiling", type=float, metavar="P", help="highest bearable bound of harm, 0 to 1")
    parser.add_argument("--worth", type=float, metavar="N", help="what a safe release is worth, in spots")
    parser.add_argument("--parts", action="store_true", help="show the parts of each reason")
    parser.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Answer the question."""
    from kb.desk.choose.choose import choose
    from kb.desk.choose.dials import dials_of
    from kb.desk.studio import with_book

    studio = studio_of(args)
    if args.book is not None:
        studio = with_book(studio, args.book)
    asked = question_of(studio, args)
    understood = ""
    if args.words:
        from kb.desk.choose.spoken import spoken

        said = spoken(studio, " ".join(args.words), asked)
        asked, understood = said.question, said.sentence
    if args.sign and not asked.adhesive:
        from kb.desk.choose.may_be import with_signs
        from kb.desk.identify.identify import signs

        asked = with_signs(studio, asked, signs(studio, args.sign))
    dials = dials_of(
        studio.settings.dials,
        harm_aversion=args.harm_aversion,
        ceiling=args.ceiling,
        worth=args.worth,
        use_print=False if args.no_print else None,
    )
    limit = args.limit if args.limit > 0 else 10_000
    answer = choose(studio, asked, dials, limit)
    if args.json:
        say_json(answer)
        return OK
    if studio.settings.invented:
        say("Invented demo studio: its sheets, people and tests are made up.")
    if understood:
        say(wrap(understood, indent=""))
    if args.card:
        from kb.desk.choose.card import card

        say(Lines(card(answer)))
        return OK
    _print(answer, parts=args.parts)
    return OK


def _print(answer: Answer, *, parts: bool) -> None:
    """The list for people: one block per liquid, then what was left out and what to do."""
    if answer.stop:
        say(answer.stop.text)
    for worked in answer.worked_here:
        say(wrap(worked.text, indent=""))
    for way in answer.other_ways:
        say(wrap(way, indent=""))
    _print_lines(answer)
    for one in answer.suggestions:
        _print_one(one, parts=parts)
    if answer.refused:
        say("Not proposed: " + "; ".join(f"{one.name} ({one.refused})" for one in answer.refused[:3]))
    if answer.vetoed:
        say("Vetoed by a caution: " + ", ".join(f"{one.liquid} ({one.caution})" for one in answer.vetoed))
    if answer.left_out:
        say("Left out by this studio: " + "; ".join(one.why for one in answer.left_out[:8]))
    for line in (answer.rests_on, answer.next_step, answer.mock_up, answer.disclaimer):
        if line:
            say(wrap(line, indent=""))


def _print_lines(answer: Answer) -> None:
    """The lines to think of first, and the series they make."""
    if answer.groups:
        say("In order, each line one way of acting:")
    for line in answer.groups:
        alike = len(line.members) - 1
        more = f" (+{alike} alike)" if alike else ""
        first = f" - {line.looks} clean look{'s' * (line.looks > 1)} where it matters least, then the spot"
        held = first if line.looks else f" - held back: {line.held}" if line.held else ""
        say(wrap(f"{line.name}{more}{held}"))
    whole = answer.expected_spots
    if whole is not None:
        say(
            wrap(
                f"A series of {len(answer.series)}: about {whole.spots:.1f} spots, a safe release in "
                f"{whole.release:.0%} of sheets, harm on the way in {whole.harm:.0%} (--card prints it).",
                indent="",
            )
        )


def _print_one(one: Suggestion, *, parts: bool) -> None:
    warnings = [text for text in one.cautions if not text.startswith("note")]
    notes = len(one.cautions) - len(warnings)
    say(f"{one.rank:>2}. {one.name}  release {one.release.p:.0%}  harm {one.harm.p:.0%}")
    say(wrap(one.reason))
    for line in one.details if parts else ():
        say(wrap(line, indent="      "))
    for text in one.cautions if parts else warnings:
        say(wrap(f"! {text}"))
    if notes and not parts:
        say(wrap(f"and {notes} notes (--parts)"))
