"""benchleaf export: everything of the studio as an open data package, or one record on paper."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.options import flag, studio_of
from kb.cli.out import FOUND, OK, say, say_either, say_files, step
from kb.science.numbers import counted

if TYPE_CHECKING:
    from kb.desk.package.write import Exported
    from kb.desk.studio import Studio


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "target",
        nargs="?",
        type=Path,
        metavar="FOLDER",
        help="a new folder; with --zip or --record a new file (--record without one prints)",
    )
    flag(parser, "zip", "one .zip file with the same content")
    flag(
        parser,
        "raw",
        "text in the tables without the mark against formulas: for programs, not for spreadsheets",
    )
    flag(parser, "without-photographs", "leave the photographs out")
    parser.add_argument("--record", default="", metavar="ID", help="one record of any kind as plain text")


def run(args: argparse.Namespace) -> int:
    """Write the package. Exit 1 if something of the studio could not be taken along."""
    from kb.desk.errors import DeskError

    studio = studio_of(args)
    if args.record:
        return _record(studio, args)
    if args.target is None:
        raise DeskError("Name a new folder for the package, for instance: benchleaf export bench-book-2026")
    from kb.desk.package.write import export

    made = export(
        studio,
        args.target,
        zipped=args.zip,
        raw=args.raw,
        photographs=not args.without_photographs,
        progress=step,
    )
    say_either(args.json, made, _tell)
    return FOUND if made.left_out or made.damaged_lines else OK


def _tell(made: Exported) -> None:
    say(f"Written and on disk: {made.path} ({made.bytes:,} bytes, {counted(len(made.checksums), 'file')})")
    listed = ", ".join(f"{name} {rows:,}" for name, rows in made.tables.items() if rows)
    say(f"rows: {listed or 'none, the book is empty'}", indent="  ")
    say(f"  photographs: {made.photographs}")
    say(f"  SHA-256 of {'the file' if made.zipped else 'datapackage.json'}: {made.sha256}")
    for one in made.left_out:
        say(f"left out: {one.what}: {one.why}", indent="  ")
    if made.damaged_lines:
        say(
            f"damaged lines in the book: {made.damaged_lines}; they are in the package byte for byte and "
            "in the table damaged_lines. See: benchleaf verify",
            indent="  ",
        )
    if made.raw:
        say("Text in tables-raw is not marked against formulas: keep it out of spreadsheets.", indent="  ")


def _record(studio: Studio, args: argparse.Namespace) -> int:
    """Print one record, or write it to a new file."""
    from kb.desk.errors import save_as
    from kb.desk.records.record_text import record_text

    text = record_text(studio, args.record)
    if args.target is not None:
        save_as(args.target, text)
    told = {"text": text, "file": str(args.target or "")}
    return say_files(args.json, told, [args.target] if args.target else [], lambda: text)
