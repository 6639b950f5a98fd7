"""benchleaf open: a record by its id, as it is typed or scanned from a label."""

from __future__ import annotations

import argparse

from kb.cli.options import studio_of
from kb.cli.out import say_either


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("id", help="the whole id or its beginning")


def run(args: argparse.Namespace) -> int:
    from kb.cli.book import tell
    from kb.desk.records.book_list import show_record

    found = show_record(studio_of(args), args.id)
    return say_either(args.json, found, tell)
