"""benchleaf import: bring a data package back into a studio."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.options import flag, studio_of
from kb.cli.out import FOUND, OK, say, say_either, step
from kb.science.numbers import counted

if TYPE_CHECKING:
    from kb.desk.package.bring_in import Brought

WHOSE = ("ours", "theirs")
_MOST = 12


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "package", type=Path, metavar="PACKAGE", help="a folder or .zip file of benchleaf export"
    )
    flag(parser, "dry-run", "check it and show what would come in")
    parser.add_argument(
        "--catalogue", choices=WHOSE, default="ours", help="whose catalogue file counts where the two differ"
    )
    parser.add_argument(
        "--settings", choices=WHOSE, default="ours", help="the same of studio.yaml, shelf.yaml and pool"
    )
    flag(parser, "damaged", "also a book that was damaged before the export")


def run(args: argparse.Namespace) -> int:
    """Check, show, bring in. Exit 1 if something differs and was not brought in."""
    from kb.desk.package.bring_in import bring_in

    brought = bring_in(
        studio_of(args),
        args.package,
        dry_run=args.dry_run,
        catalogue=args.catalogue,
        settings=args.settings,
        damaged=args.damaged,
        progress=step,
    )
    say_either(args.json, brought, _tell)
    return FOUND if brought.kept else OK


def _tell(brought: Brought) -> None:
    files = counted(brought.files, "file")
    say(f"{brought.title or brought.package}: {files} checked, {brought.bytes:,} bytes")
    for one in brought.book:
        count = f", {counted(one.records, 'record')}" if one.into else ""
        into = f" into book/{one.into}" if one.into not in {"", one.file} else ""
        say(f"book/{one.file}{count}{into}: {one.text}", indent="  ")
    for file in (*brought.catalogue, *brought.settings):
        listed = ", ".join(file.entries[:_MOST]) + (" ..." if len(file.entries) > _MOST else "")
        say(f"{file.file}: {file.text}" + (f" [{listed}]" if listed else ""), indent="  ")
    if brought.photographs:
        say(f"  photographs that are new here: {brought.photographs}")
    for name in brought.ignored:
        say(f"not brought in: {name}", indent="  ")
    for text in brought.mind:
        say(f"Mind: {text}", indent="  ")
    if brought.done:
        say(f"Brought in and on disk: {counted(brought.records, 'record')}.")
    else:
        say(f"Nothing was changed. {counted(brought.records, 'record')} would come in.")
