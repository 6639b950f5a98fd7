"""benchleaf map: the triangular solubility map, as text or SVG."""

from __future__ import annotations

import argparse
from pathlib import Path

from kb.cli.options import flag, question_of, question_options, studio_of
from kb.cli.out import OK, columns, say, say_each, say_json

WIDEST = 1_000
"""Columns; a wider map is for no terminal."""


def options(parser: argparse.ArgumentParser) -> None:
    question_options(parser)
    parser.add_argument("--blend", default="", metavar='"acetone 50, n-heptane 50"')
    parser.add_argument("--zoom", default="", metavar="D,P,H,SIZE", help="a place and a width, in per cent")
    flag(parser, "held", "only liquids held and allowed here")
    parser.add_argument("--width", type=int, default=0, metavar="N", help="columns (usual: the terminal's)")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="write the map as SVG")


def run(args: argparse.Namespace) -> int:
    from kb.desk.errors import save_as
    from kb.desk.liquids.solubility_map import solubility_map, zoom_of
    from kb.desk.materials.resolve import parts

    studio = studio_of(args)
    drawn = solubility_map(
        studio,
        question_of(studio, args),
        parts(studio, "", args.blend) if args.blend else None,
        zoom_of(args.zoom) if args.zoom else None,
        held_only=args.held,
    )
    if args.svg is not None:
        from kb.desk.liquids.map_svg import map_svg

        save_as(args.svg, map_svg(drawn))
    if args.json:
        return say_json(drawn)
    if args.svg is not None:
        say(f"Map written: {args.svg}")
    else:
        from kb.desk.liquids.map_text import render_text

        width = min(max(args.width or min(columns(96), 120), 40), WIDEST)
        rows = max(width * 2 // 5, 16)
        lines = render_text(drawn, width, rows)
        for line in lines[:rows]:
            say(line)
        say_each(lines[rows:], indent="")
    for note in (*drawn.notes, f"{drawn.model}; {drawn.source}."):
        say(note, indent="")
    return OK
