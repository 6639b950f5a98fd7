"""benchleaf sources: what the catalogue rests on, the source that most rests on first."""

from __future__ import annotations

import argparse

from kb.cli.options import flag, studio_of
from kb.cli.out import OK, say, say_json
from kb.science.numbers import counted


def options(parser: argparse.ArgumentParser) -> None:
    flag(parser, "unread", "only what nobody read for this catalogue")


def run(args: argparse.Namespace) -> int:
    """Print a line for each source; ``show source ID --links`` lists the entries themselves."""
    from kb.desk.materials.links import resting

    found = resting(studio_of(args), unread=args.unread)
    if args.json:
        return say_json(found)
    for one in found:
        kinds = ", ".join(f"{kind} {count}" for kind, count in one.kinds.items())
        say(f"{one.entries:>5}  {one.source.mark}  [{one.source.id}]{'  ' if kinds else ''}{kinds}")
        say(one.source.cite, indent="       ")
    say(f"{counted(len(found), 'source')}, {sum(one.source.seen for one in found)} of them read.")
    return OK
