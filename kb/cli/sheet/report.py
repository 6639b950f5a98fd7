"""benchleaf report: the record of a sheet that is handed over."""

from __future__ import annotations

import argparse
from pathlib import Path

from kb.cli.options import flag, studio_of
from kb.cli.out import OK, say, say_files, warn


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sheet", help="any part of its name")
    parser.add_argument("--html", type=Path, metavar="FILE", help="one page, prints on A4 and Letter")
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="PDF/A-2b; needs benchleaf[report]")
    parser.add_argument("--text", type=Path, metavar="FILE", help="plain text for the paper file")
    flag(parser, "short", "for the owner, in plain words")
    flag(parser, "json", "its content")


def run(args: argparse.Namespace) -> int:
    """Write the files named; without any, the text on standard output."""
    from kb.desk.errors import save_as
    from kb.desk.sheet import report

    made = report.report(studio_of(args), args.sheet)
    written = [path for path in (args.html, args.pdf, args.text) if path is not None]
    for path, content in ((args.html, report.html), (args.text, report.text)):
        if path is not None:
            save_as(path, content(made, short=args.short))
    lost = "" if args.pdf is None else report.save_pdf(made, args.pdf, short=args.short)
    say_files(args.json, made, written, lambda: report.text(made, short=args.short))
    for what in () if args.json or args.short or not written else made.missing:
        say(f"  not stated: {what}")
    if lost:
        warn(lost)
    return OK
