"""benchleaf pool: counts of tests from other studios: export, add, list, weigh, drop."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.options import flag, verb, verbs_of
from kb.cli.out import FAILED, OK, say, say_each, say_either, say_json, warn, wrap
from kb.science.numbers import counted, percent

if TYPE_CHECKING:
    from kb.desk.studio import Studio


def options(parser: argparse.ArgumentParser) -> None:
    """One sub-command per thing to do; none lists the pool."""
    flag(parser, "json")
    verbs = verbs_of(parser, "export", "add", "list", "weigh", "drop", usual=_list)
    giving = verb(verbs, "export", _export, "write the counts of the own book to a file")
    giving.add_argument("file", type=Path)
    giving.add_argument("--as", dest="label", default="", metavar="TEXT", help="what others shall call you")
    giving.add_argument(
        "--at-least", type=int, default=1, metavar="N", help="leave out rows with fewer tests (1 if left out)"
    )
    taking = verb(verbs, "add", _add, "take in the counts of another studio")
    taking.add_argument("file", type=Path, nargs="+")
    verb(verbs, "list", _list, "the studios in the pool")
    weighing = verb(verbs, "weigh", _change, "let a studio count less, 0 to 1")
    weighing.add_argument("which", metavar="studio", help="its id, the beginning of it, or its label")
    weighing.add_argument("weight", type=float)
    verb(verbs, "drop", _change, "take a studio out of the pool").add_argument("which", metavar="studio")


def _export(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.pool.export import export

    done = export(studio, args.file, label=args.label, at_least=args.at_least)
    return say_either(args.json, done, wrap(done.text, indent=""))


def _add(studio: Studio, args: argparse.Namespace) -> int:
    from datetime import date

    from kb.desk.pool.pool import add

    done = add(studio, args.file, date.today())
    if args.json:
        say_json(done)
    for one in done:
        if one.result == "refused":
            warn(one.text)
        elif not args.json:
            say(one.text, indent="")
    return FAILED if any(one.result == "refused" for one in done) else OK


def _change(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.pool.pool import drop, weigh

    done = weigh(studio, args.which, args.weight) if args.verb == "weigh" else drop(studio, args.which)
    return say_either(args.json, done, wrap(done.text, indent=""))


def _list(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.pool.pool import held_words, unknown_words, view

    pool = view(studio)
    if args.json:
        return say_json(pool)
    if not pool.studios:
        say("No other studio is in the pool. benchleaf pool add FILE takes one in.")
    for one in pool.studios:
        say(
            f"{one.studio[:8]}  {one.name}: {held_words(one.release_tests, one.harm_tests)} in "
            f"{counted(one.rows, 'row')}; weight {one.weight:g}; {percent(one.share)} of the pool"
            + (f"; added {one.added}" if one.added else "")
        )
        if one.problem:
            say(f"! Not counted: {one.problem}", indent="    ")
        elif one.weight and one.not_counted:
            say(f"{counted(one.not_counted, 'count')} not entering answers.", indent="    ")
        if words := unknown_words(one):
            say(f"{words[:1].upper()}{words[1:]}.", indent="    ")
    say_each(pool.warnings, indent="", before="! ")
    return OK
