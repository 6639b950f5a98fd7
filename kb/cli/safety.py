"""benchleaf safety: what to know before opening the bottle."""

from __future__ import annotations

import argparse

from kb.cli.main import studio_of
from kb.cli.out import OK, say, say_json, wrap


def options(parser: argparse.ArgumentParser) -> None:
    """A liquid or a blend."""
    parser.add_argument("liquid", nargs="*", default=[])
    parser.add_argument("--blend", default="", metavar='"acetone 50, n-heptane 50"')
    parser.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Print the note."""
    from kb.desk.resolve import parts
    from kb.desk.safety import safety_note

    studio = studio_of(args)
    note = safety_note(studio, parts(studio, " ".join(args.liquid), args.blend))
    if args.json:
        say_json(note)
        return OK
    say(f"{note.name}: signal word {note.signal_word}")
    for title, lines in (
        ("hazards", note.statements),
        ("limits in air", note.limits),
        ("fire", note.fire),
        ("rules and handling", note.restrictions),
    ):
        if lines:
            say(f"{title}:")
            for line in lines:
                say(wrap(line, indent="  "))
    say(wrap(note.defer, indent=""))
    return OK
