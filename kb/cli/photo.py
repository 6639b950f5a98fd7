"""benchleaf photo: photographs of a patch; whether the ink moved between two of them."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from kb.cli.out import OK, say, say_json, warn, wrap


def options(parser: argparse.ArgumentParser) -> None:
    """The verbs."""
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="compare")
    compared = verbs.add_parser("compare", help="did the ink move between two photographs; needs no studio")
    compared.add_argument("--before", type=Path, required=True, metavar="FILE")
    compared.add_argument("--after", type=Path, required=True, metavar="FILE")
    compared.add_argument("--px-per-mm", type=float, metavar="N", help="pixels along 10 mm of a ruler, by 10")
    compared.add_argument(
        "--swab", type=_circle, metavar="X,Y,R", help="centre and radius in pixels of the before picture"
    )
    compared.add_argument(
        "--no-change", type=Path, metavar="FILE", help="a second before picture, after the camera was moved"
    )
    compared.add_argument(
        "--write", action="store_true", help="pictures and report beside the before picture"
    )
    for verb in verbs.choices.values():
        verb.add_argument("--json", action="store_true")


def _circle(text: str) -> tuple[float, float, float]:
    try:
        x, y, radius = (float(one) for one in text.split(","))
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text!r} is not X,Y,R in pixels, such as 480,360,120") from error
    return x, y, radius


def run(args: argparse.Namespace) -> int:
    """Compare, and say what came of it."""
    from kb.desk.sheet.photo_compare import as_plain, compare_files, lines_of, write_beside

    compared = compare_files(
        args.before, args.after, args.px_per_mm, args.swab, unchanged=args.no_change, progress=_progress
    )
    written = write_beside(compared, args.before.parent) if args.write else ()
    if args.json:
        say_json({**as_plain(compared), "written": [str(path) for path in written]})
        return OK
    for line in lines_of(compared):
        say(wrap(line, indent=""))
    for path in written:
        say(f"  {path}")
    return OK


def _progress(text: str, share: float) -> None:
    if sys.stderr.isatty():
        warn(f"{share:>4.0%} {text}")
