"""benchleaf press: pressing and drying, step by step."""

from __future__ import annotations

import argparse

from kb.cli.options import studio_of
from kb.cli.out import OK, say, say_json
from kb.science.numbers import counted


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("after", choices=("wash", "mend", "flatten", "hinge"), help="what was done")


def run(args: argparse.Namespace) -> int:
    from kb.desk.sheet.press import plan

    found = plan(studio_of(args), args.after)
    if args.json:
        return say_json(found)
    for step in found.steps:
        blotters = f" (blotters {step.blotters})" if step.blotters else ""
        say(f"{step.number}. {step.text}{blotters} {step.minutes.words}", indent="")
    say(f"in all {found.in_all.words}, {counted(found.blotter_changes, 'set')} of blotters")
    for rule in found.rules:
        say(rule.words, indent="  ")
    say(found.note, indent="  ")
    return OK
