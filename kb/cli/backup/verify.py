"""benchleaf verify: the hash chain of the bench book."""

from __future__ import annotations

import argparse

from kb.cli.options import flag, studio_of
from kb.cli.out import FOUND, OK, say, say_json, step, warn
from kb.science.numbers import counted


def options(parser: argparse.ArgumentParser) -> None:
    """Output form, and the word that gives lost records up."""
    flag(parser, "accept", "take the book as it stands: forget that it once held more")


def run(args: argparse.Namespace) -> int:
    """Exit 1 and name the line if the chain is broken."""
    from kb.desk.keep import accept, verify

    studio = studio_of(args)
    if args.accept:
        for name in accept(studio):
            warn(f"{name}: what it once held is forgotten; it counts as it stands now.")
    findings = verify(studio, step)
    errors = [one for one in findings if one.severity == "error"]
    if args.json:
        say_json({"ok": not errors, "findings": findings})
        return FOUND if errors else OK
    for one in findings:
        say(f"{one.file}:{one.line}: {one.severity}: {one.text}")
    told = f"{counted(len(errors), 'problem')}; the rest of the book is served."
    say(told if errors else "The book is whole.")
    return FOUND if errors else OK
