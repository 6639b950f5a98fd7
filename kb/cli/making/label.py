"""benchleaf label: labels of batches, bottles and sheets with a code that holds the id."""

from __future__ import annotations

import argparse
from pathlib import Path

from kb.cli.options import flag, studio_of
from kb.cli.out import say_files, warn


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "record",
        nargs="*",
        help="the beginning of an id, or the name of a sheet; none: all batches and bottles in use",
    )
    parser.add_argument("--html", type=Path, metavar="FILE", help="pages of A4, two across and five down")
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="the same; needs benchleaf[report]")
    parser.add_argument("--text", type=Path, metavar="FILE", help="plain lines to cut apart")
    flag(parser, "json", "lines and drawings")


def run(args: argparse.Namespace) -> int:
    """Write the files named; without any, the text on standard output."""
    from kb.desk.records.labels import as_html, as_text, in_use, labels, save_pdf

    studio = studio_of(args)
    written = [path for path in (args.html, args.pdf, args.text) if path is not None]
    drawn = args.json or args.html is not None or args.pdf is not None
    made = labels(studio, args.record or in_use(studio), drawn=drawn)
    for path, content in ((args.html, as_html), (args.text, as_text)):
        if path is not None:
            from kb.desk.errors import save_as

            save_as(path, content(made))
    if args.pdf is not None and (lost := save_pdf(made, args.pdf)):
        warn(lost)
    none = "No batch or bottle is in use."
    return say_files(args.json, made, written, lambda: as_text(made) if made else none)
