"""The studio that the options of a command name."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from kb.cli.out import warn

if TYPE_CHECKING:
    from kb.desk.studio import Studio


def studio_of(args: argparse.Namespace) -> Studio:
    """The studio that the options name."""
    if args.demo:
        from kb.desk.demo import open_demo

        studio = open_demo(args.studio)
    else:
        from kb.desk.studio import open_studio

        studio = open_studio(args.studio, progress=_progress)
    studio.notice = warn
    return studio


def _progress(text: str) -> None:
    """Long work is told on standard error, where a person looks and a program does not."""
    if sys.stderr.isatty():
        warn(f"{text} ...")
