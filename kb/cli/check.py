"""benchleaf check: every problem of the catalogue, with file and line."""

from __future__ import annotations

import argparse

from kb.cli.opened import studio_of
from kb.cli.out import FOUND, OK, say, say_json


def options(parser: argparse.ArgumentParser) -> None:
    """What to print besides problems."""
    parser.add_argument("--summary", action="store_true", help="counts per kind and what figures rest on")
    parser.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Exit 1 if anything is wrong."""
    from kb.desk.keep import check

    found = check(studio_of(args))
    if args.json:
        say_json(found)
        return FOUND if found.problems else OK
    for problem in found.problems:
        say(problem)
    if args.summary:
        for kind, count in found.entries.items():
            say(f"{kind:<12} {count:>6}")
        total = sum(found.figures.values())
        say(f"{'figures':<12} {total:>6}")
        for basis, count in found.figures.items():
            say(f"  {basis:<20} {count:>6}  {count / max(total, 1):.1%}")
    total_entries = sum(found.entries.values())
    say(f"{total_entries} entries, {len(found.problems)} problems.")
    return FOUND if found.problems else OK
