"""benchleaf verify: the hash chain of the bench book."""

from __future__ import annotations

import argparse

from kb.cli.main import studio_of
from kb.cli.out import FOUND, OK, say, say_json


def options(parser: argparse.ArgumentParser) -> None:
    """Output form."""
    parser.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Exit 1 and name the line if the chain is broken."""
    from kb.desk.keep import verify

    findings = verify(studio_of(args))
    errors = [one for one in findings if one.severity == "error"]
    if args.json:
        say_json({"ok": not errors, "findings": findings})
        return FOUND if errors else OK
    for one in findings:
        say(f"{one.file}:{one.line}: {one.severity}: {one.text}")
    say("The book is whole." if not errors else f"{len(errors)} problems; the rest of the book is served.")
    return FOUND if errors else OK
