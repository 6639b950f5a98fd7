"""benchleaf cautions: the rules that solubility cannot express, and where they apply."""

from __future__ import annotations

import argparse

from kb.cli.options import studio_of
from kb.cli.out import OK, say, say_json, warn
from kb.science.numbers import counted

FEATURES = ("liquid", "medium", "paper", "tape", "adhesive", "carrier", "stage", "method")


def options(parser: argparse.ArgumentParser) -> None:
    """What to narrow by; a rule is shown if it agrees with all of it and is about some of it."""
    for name in FEATURES:
        parser.add_argument(f"--{name}", default="", metavar="TEXT")
    parser.add_argument(
        "--severity", default="", choices=("", "stop", "warn", "note"), metavar="stop|warn|note"
    )


def run(args: argparse.Namespace) -> int:
    """List the rules, the most severe first."""
    from kb.desk.choose.cautions import cautions
    from kb.desk.materials.resolve import carrier, optional

    studio = studio_of(args)
    ids = {name: optional(studio, name, getattr(args, name)) for name in FEATURES if name != "carrier"}
    found = cautions(studio, **ids, carrier=carrier(studio, args.carrier), severity=args.severity)
    if args.json:
        return say_json(found)
    for one in found:
        say(f"{one.severity.upper()}  {one.id}")
        say(f"where: {one.where}", indent="  ")
        say(one.text, indent="  ")
        if one.instead:
            say(f"instead: {one.instead}", indent="  ")
        mark = f"  ~ {one.mark}" if one.mark else ""
        say(f"[{', '.join(source.id for source in one.sources)}]{mark}", indent="  ")
    if not found:
        warn("No rule speaks of this; that is no promise of safety.")
    else:
        say(f"{counted(len(found), 'rule')}.")
    return OK
