"""benchleaf compare: figures of up to four entries side by side."""

from __future__ import annotations

import argparse
import textwrap
from typing import TYPE_CHECKING

from kb.cli.options import flag, studio_of
from kb.cli.out import OK, clean, say, say_json

if TYPE_CHECKING:
    from kb.desk.materials.compare import Cell

LABEL, WIDTH = 20, 100


def options(parser: argparse.ArgumentParser) -> None:
    from kb.model.kinds import BY_WORD

    parser.add_argument("kind", choices=tuple(BY_WORD), metavar="kind", help=", ".join(BY_WORD))
    parser.add_argument("text", nargs="+", help="two to four entries; quote a name of several words")
    flag(parser, "differ", "only rows in which they differ")


def run(args: argparse.Namespace) -> int:
    """Print the table; a ~ stands behind what no source that was read bears out."""
    from kb.desk.materials.compare import compare
    from kb.desk.materials.lookup import resolve_entry

    studio = studio_of(args)
    table = compare(studio, args.kind, [resolve_entry(studio, args.kind, text) for text in args.text])
    if args.json:
        return say_json(table)
    width = max(14, (WIDTH - LABEL) // len(table.columns) - 2)
    _line("", [one.name for one in table.columns], width)
    say("-" * (LABEL + len(table.columns) * (width + 2)))
    for row in table.rows:
        if row.differs or not args.differ:
            unit = f" ({row.unit})" if row.unit else ""
            _line(f"{row.label}{unit}", [_text(cell) for cell in row.cells], width)
    say("~ from memory, common practice or a text that was not read; empty: not stated here")
    for one in table.sources:
        say(f"[{one.id}] {one.cite} ({one.mark})", indent="  ")
    return OK


def _text(cell: Cell) -> str:
    return f"{cell.text} ~" if cell.mark else cell.text


def _line(label: str, cells: list[str], width: int) -> None:
    """One row of the table, as many lines high as its fullest cell."""
    columns = [textwrap.wrap(clean(label), LABEL - 1) or [""]]
    columns += [textwrap.wrap(clean(cell), width) or [""] for cell in cells]
    sizes = [LABEL, *(width + 2 for _ in cells)]
    for number in range(max(len(column) for column in columns)):
        parts = (column[number] if number < len(column) else "" for column in columns)
        say("".join(f"{part:<{size}}" for part, size in zip(parts, sizes, strict=True)).rstrip())
