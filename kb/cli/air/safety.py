"""benchleaf safety: what to know before opening the bottle."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.options import studio_of
from kb.cli.out import OK, say, say_each, say_json

if TYPE_CHECKING:
    from kb.desk.materials.safety import SafetyNote


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("liquid", nargs="*", default=[])
    parser.add_argument("--blend", default="", metavar='"acetone 50, n-heptane 50"')
    parser.add_argument("--card", type=Path, metavar="FILE", help="write a one-page card: .html, else text")


def run(args: argparse.Namespace) -> int:
    from kb.desk.materials.resolve import liquids, parts
    from kb.desk.materials.safety import safety_note, sections

    studio = studio_of(args)
    meant = parts(studio, " ".join(args.liquid), args.blend)
    note = safety_note(studio, meant)
    if args.card is not None:
        _write_card(note, args.card)
    if args.json:
        return say_json(note)
    say(f"understood: {liquids(studio, meant)}", indent="")
    say(f"{note.name}: signal word {note.signal_word}")
    for title, lines in sections(note):
        say(f"{title.lower()}:")
        say_each(lines)
    if note.sources:
        say(f"sources of gloves and precautions: {', '.join(note.sources)}", indent="")
    say(note.defer, indent="")
    if args.card is not None:
        say(f"Card written: {args.card}")
    return OK


def _write_card(note: SafetyNote, file: Path) -> None:
    """Write the card. Raises DeskError if there is a file of its name, or if it cannot be written."""
    from datetime import date

    from kb.desk.errors import save_as
    from kb.desk.materials.safety_card import card_html, card_text

    make = card_html if file.suffix.lower() in (".html", ".htm") else card_text
    save_as(file, make(note, date.today().isoformat()))
