"""benchleaf find: names half remembered or misspelt."""

from __future__ import annotations

import argparse

from kb.cli.options import asks_often, studio_of
from kb.cli.out import FOUND, OK, say, say_json, warn


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("text", nargs="+")
    asks_often(parser, "kind", "KIND", "liquid, tape, medium ...")
    parser.add_argument("--limit", type=int, default=12, metavar="N")


def run(args: argparse.Namespace) -> int:
    from kb.desk.materials.lookup import find

    hits = find(studio_of(args), " ".join(args.text), tuple(args.kind), max(1, args.limit))
    if args.json:
        say_json(hits)
    named = any(not hit.near for hit in hits)
    if hits and not named and not args.json:
        warn(f'"{" ".join(args.text)}": nothing by that name; near in spelling:')
    for hit in () if args.json else hits:
        also = f"  (as: {hit.matched})" if hit.matched and hit.matched not in hit.name.lower() else ""
        say(f"{hit.kind:<9} {hit.id:<32} {hit.name}{also}")
    if not hits and not args.json:
        warn(f'"{" ".join(args.text)}": nothing by that name, nor near in spelling; try other words.')
    return OK if named else FOUND
