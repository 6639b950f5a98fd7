"""benchleaf check: every problem of the catalogue, with file and line."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from kb.cli.options import flag, studio_of
from kb.cli.out import FOUND, OK, say, say_json
from kb.science.numbers import counted, percent


def options(parser: argparse.ArgumentParser) -> None:
    flag(parser, "summary", "counts per kind and what figures rest on")
    flag(parser, "weighty", "each figure that matters most, and what its sources rest on")


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
            say(f"{kind:<12} {count:>6}{_memory(found.memory[kind])}")
        every = [sum(column) for column in zip(*found.memory.values(), strict=True)]
        say(f"{'figures':<12} {every[0]:>6}{_memory(every)}")
        for basis, count in found.figures.items():
            say(f"  {basis:<20} {count:>6}  {percent(count / max(every[0], 1), 1)}")
        say("figures that matter most (--weighty lists them):")
        for group, shares in found.weighty.items():
            say(f"  {group:<27}{_memory(shares)}")
        most = [sum(column) for column in zip(*found.weighty.values(), strict=True)]
        say(f"  {'all of these':<27}{_memory(most)}")
    if args.weighty:
        for group, entry, place, on in found.listed:
            say(f"{group}: {entry}, {place or 'whole'}: {on}")
    total_entries = sum(found.entries.values())
    say(f"{counted(total_entries, 'entry', 'entries')}, {counted(len(found.problems), 'problem')}.")
    return FOUND if found.problems else OK


def _memory(shares: Sequence[int]) -> str:
    """``  of 131 figures on memory: 5 % by the first source, 13 % by any``; nothing without figures."""
    figures, first, some = shares
    if not figures:
        return ""
    return (
        f"{figures:>6}  on memory {percent(first / figures, 1):>8} first, {percent(some / figures, 1):>8} any"
    )
