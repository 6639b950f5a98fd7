"""benchleaf show: read one entry."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.options import flag, studio_of
from kb.cli.out import OK, say, say_each, say_json

if TYPE_CHECKING:
    from kb.desk.studio import Studio


def options(parser: argparse.ArgumentParser) -> None:
    from kb.model.kinds import BY_WORD

    parser.add_argument("kind", choices=tuple(BY_WORD), metavar="kind", help=", ".join(BY_WORD))
    parser.add_argument("text", nargs="+")
    flag(parser, "links", "what it has to do with other entries instead")


def run(args: argparse.Namespace) -> int:
    """Print its figures, each with its source and how far that goes."""
    from kb.desk.materials.lookup import read, resolve_entry

    studio = studio_of(args)
    entry_id = resolve_entry(studio, args.kind, " ".join(args.text))
    if args.links:
        return _links(studio, args, entry_id)
    reading = read(studio, args.kind, entry_id)
    if args.json:
        return say_json(reading)
    say(f"{reading.name}  [{reading.kind} {reading.id}]")
    if reading.also:
        say(f"also: {', '.join(reading.also)}")
    for line in reading.lines:
        mark = f"  ~ {line.mark}" if line.mark else ""
        source = f"  [{', '.join(line.sources)}]" if line.sources else ""
        say(f"{line.label}: {line.value}{mark}{source}", indent="  ")
    say("sources:")
    for one in reading.sources:
        say(f"[{one.id}] {one.cite} ({one.mark}{'; ' + one.extent if one.extent else ''})", indent="  ")
    say(f"from {reading.file} line {reading.line} ({reading.origin})")
    return OK


def _links(studio: Studio, args: argparse.Namespace, entry_id: str) -> int:
    """Print what depends on the entry, its links under what they are to it, and what to read."""
    from kb.desk.materials.links import depends, links

    found = links(studio, args.kind, entry_id)
    if args.json:
        return say_json(found)
    hangs = depends(studio, args.kind, entry_id)
    if hangs.lines:
        say("depends on it:")
    say_each(hangs.lines)
    heading = ("", "")
    for one in found:
        if (one.kind, one.relation) != heading:
            heading = (one.kind, one.relation)
            say(f"{one.kind}, {one.relation}:")
        # A rule has no name but its text.
        name = one.id if one.name == one.note else one.name
        note = f": {one.note}" if one.note else ""
        say(f"{name}{f' [{one.id}]' if one.id else ''}{note}", indent="  ")
    if hangs.reading:
        say("to read:")
    for text in hangs.reading:
        say(f"{text.cite}{f', {text.url}' if text.url else ''}", indent="  ")
    return OK
