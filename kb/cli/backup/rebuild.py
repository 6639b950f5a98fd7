"""benchleaf rebuild: derive the index anew."""

from __future__ import annotations

import argparse

from kb.cli.options import studio_of
from kb.cli.out import say_either
from kb.science.numbers import counted

STEPS_BACK = 10
"""By how much the work gives way: while it lasts, others ask and write, and nobody waits for its end."""


def options(parser: argparse.ArgumentParser) -> None:
    """None of its own."""


def run(args: argparse.Namespace) -> int:
    """Nothing is lost: the index holds only what catalogue and book say."""
    from kb.desk.keep import rebuild

    count = rebuild(studio_of(args))
    return say_either(args.json, {"tests": count}, f"Index derived anew: {counted(count, 'test')}.")
