"""benchleaf show: read one entry."""

from __future__ import annotations

import argparse

from kb.cli.main import studio_of
from kb.cli.out import OK, say, say_json, wrap


def options(parser: argparse.ArgumentParser) -> None:
    """Which entry."""
    from kb.model.kinds import BY_WORD

    parser.add_argument("kind", choices=tuple(BY_WORD), metavar="kind", help=", ".join(BY_WORD))
    parser.add_argument("text", nargs="+")
    parser.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Print its figures, each with its source and how far that goes."""
    from kb.desk.lookup import read, resolve_entry

    studio = studio_of(args)
    reading = read(studio, args.kind, resolve_entry(studio, args.kind, " ".join(args.text)))
    if args.json:
        say_json(reading)
        return OK
    say(f"{reading.name}  [{reading.kind} {reading.id}]")
    if reading.also:
        say(f"also: {', '.join(reading.also)}")
    for line in reading.lines:
        mark = f"  ~ {line.mark}" if line.mark else ""
        source = f"  [{', '.join(line.sources)}]" if line.sources else ""
        say(wrap(f"{line.label}: {line.value}{mark}{source}", indent="  "))
    say("sources:")
    for one in reading.sources:
        say(wrap(f"[{one.id}] {one.cite} ({one.mark}{'; ' + one.extent if one.extent else ''})", indent="  "))
    say(f"from {reading.file} line {reading.line} ({reading.origin})")
    return OK
