"""benchleaf identify: what is this tape, how old is its adhesive, and what to look at next."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.options import asks, asks_often, flag, studio_of
from kb.cli.out import OK, say, say_each, say_either, say_json
from kb.cli.records import new_sheet
from kb.science.numbers import percent

if TYPE_CHECKING:
    from kb.model.identification import Identification, NextLook, OnDocuments, Reason

REASONS_SHOWN = 4
STAGE_SHOWN = 0.05


def options(parser: argparse.ArgumentParser) -> None:
    """The signs, in any order; what was not looked at is left out."""
    asks_often(parser, "sign", "LOOK=FINDING", "such as gloss=glossy, stretch=no, year=1952; again for each")
    asks_often(parser, "skip", "LOOK", "a look that cannot be taken here")
    asks(parser, "sheet", "NAME", "keep the signs and what they leave possible with it")
    new_sheet(parser)
    flag(parser, "looks", "list the looks and what they may show")
    parser.add_argument("--limit", type=int, default=5, metavar="N", help="how many tapes to show")


def run(args: argparse.Namespace) -> int:
    """Rank the tapes by the signs; without a sign list what can be looked at."""
    from kb.desk.identify.identify import identify, looks, signs

    studio = studio_of(args)
    if args.looks or not args.sign:
        listed = looks(studio)
        return say_either(args.json, listed, _say_looks)
    found = signs(studio, args.sign, args.skip)
    answer = identify(studio, found)
    if args.json:
        say_json(answer)
    else:
        _say_answer(answer, max(1, args.limit))
    if args.sheet:
        from kb.desk.identify.keep import keep_with_sheet

        name, written = keep_with_sheet(studio, args.sheet, found, new=args.new_sheet)
        if not args.json:
            say(
                f'Kept with the sheet "{name}" ({written.id}): its next question starts from this.', indent=""
            )
    return OK


def _say_looks(listed: list[NextLook]) -> None:
    cost = ""
    for one in listed:
        if one.cost != cost:
            cost = one.cost
            say(f"{'needs nothing but eyes and fingers' if cost == 'none' else cost}:")
        say(f"  {one.look}: {one.question}")
        say(one.how, indent="      ")
        for option in one.findings:
            say(f"      --sign {one.look}={option.id:<16} {option.words}")


def _reason(reason: Reason | OnDocuments) -> str:
    mark = f"  ~ {reason.mark}" if reason.mark else ""
    source = f"  [{', '.join(reason.sources)}]" if reason.sources else ""
    return f"{reason.text}{mark}{source}"


def _say_answer(answer: Identification, limit: int) -> None:
    for seen in answer.findings:
        say(f"  {seen.look}={seen.finding}: {seen.question} - {seen.words}")
    say(answer.verdict, indent="")
    for tape in answer.ranked[:limit]:
        say(f"{tape.rank:>2}. {percent(tape.p):>5}  {tape.name}  [{tape.tape}]")
        stages = [f"{one.name} {percent(one.p)}" for one in tape.stages if one.name and one.p >= STAGE_SHOWN]
        if stages:
            say(f"stage if so: {', '.join(stages)}", indent="        ")
        say(_reason(tape.on_documents), indent="        ")
        for reason in tape.reasons[:REASONS_SHOWN]:
            say(_reason(reason), indent="        ")
    say(f"    {percent(answer.unknown):>5}  something not listed")
    for pair in answer.alike:
        say(pair.text, indent="")
    if answer.next_looks:
        say("look next:")
    for look in answer.next_looks:
        takes = "" if look.cost == "none" else f"; {look.cost}"
        say(f"  {look.look}: {look.question} ({look.bits:.2f} bits{takes})")
        say(look.how, indent="      ")
    say_each((answer.prior, answer.scale, answer.disclaimer), indent="")
