"""benchleaf open: a record by its id, as it is typed or scanned from a label."""

from __future__ import annotations

import argparse

from kb.cli.opened import studio_of
from kb.cli.out import OK, say, say_json, wrap


def options(parser: argparse.ArgumentParser) -> None:
    """The id."""
    parser.add_argument("id", help="the whole id or its beginning")
    parser.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Show what the record says as it stands."""
    from kb.book.kinds.table import noun_of
    from kb.desk.records.book_list import show_record

    found = show_record(studio_of(args), args.id)
    if args.json:
        say_json(found)
        return OK
    say(f"{noun_of(found.kind)} {found.id}{f'  [{found.state}]' if found.state else ''}")
    for label, text in found.fields:
        say(wrap(f"{label}: {text}", indent="  "))
    return OK
