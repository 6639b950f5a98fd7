"""benchleaf own: liquids, recipes, papers and other entries of the studio's own, written for you as YAML."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.options import flag, studio_of
from kb.cli.out import OK, say, say_each, say_json, warn

if TYPE_CHECKING:
    from kb.desk.studio import Studio


def options(parser: argparse.ArgumentParser) -> None:
    """Add or change an entry, see what can be filled in, list what is the studio's own."""
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="add|lines|list")
    add = verbs.add_parser("add", help="write an entry")
    add.add_argument("kind", metavar="kind", help="liquid, recipe, paper, medium, adhesive, carrier, tissue")
    add.add_argument("name")
    add.add_argument("--set", action="append", default=[], metavar="KEY=TEXT", help="one line; several times")
    add.add_argument(
        "--from", dest="source", default="", metavar="TEXT", help="id of a source, or what you read"
    )
    flag(add, "replace", "in place of the own entry of that name")
    flag(add, "check", "say what is wrong, write nothing")
    filled = verbs.add_parser("lines", help="what can be set for a kind, and how it is written")
    filled.add_argument("kind", metavar="kind")
    verbs.add_parser("list", help="every entry that is the studio's own")


def run(args: argparse.Namespace) -> int:
    from kb.desk.materials import own

    studio = studio_of(args)
    if args.verb == "add":
        return _add(studio, args)
    if args.verb == "lines":
        shown = own.lines(args.kind)
        if args.json:
            say_json([one._asdict() for one in shown])
        for one in () if args.json else shown:
            say(f"{one.key}: {one.due}{' (needed)' if one.needed else ''}", indent="")
        return OK
    found = own.own_entries(studio)
    if args.json:
        say_json(found)
    for kind, entry_id, name, where in () if args.json else found:
        say(f"{kind} {entry_id}: {name}  ({where})")
    return OK


def _add(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.errors import DeskError
    from kb.desk.materials import own

    typed = {"name": args.name, "from": args.source}
    for one in args.set:
        key, equals, text = one.partition("=")
        if not equals:
            raise DeskError(f'"{one}" is no line; write --set key=text.')
        typed[key.strip()] = text
    own.lines(args.kind)
    done = own.understood(studio, args.kind, typed)
    there = (
        f"{done.replaces} is an entry of your own; --replace puts this in its place, a new name keeps both"
    )
    if done.lost:
        there += f". Not typed again, so gone: {', '.join(done.lost)}"
    if not args.check:
        if done.replaces and not args.replace:
            raise DeskError(f"Not stored: {there}.")
        done = own.store(studio, args.kind, typed)
    if args.json:
        return say_json(done)
    say_each(done.problems, indent="", before="! ")
    if not args.check:
        before = f", in place of {done.replaces}" if done.replaces else ""
        say(f"Stored in catalogue/{own.OWN_FILE}: {done.kind} {done.id}{before}")
        if done.lost:
            warn(f"Not typed again, so gone: {', '.join(done.lost)}.")
    elif done.replaces and not args.replace:
        say(f"{there}.", indent="")
    elif not done.problems:
        say("Nothing is wrong with it so far; the whole catalogue is read with it when it is stored.")
    return OK
