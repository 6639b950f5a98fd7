"""The studio that the options of a command name."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.out import step, warn

if TYPE_CHECKING:
    from kb.desk.studio import Studio


def studio_of(args: argparse.Namespace) -> Studio:
    """The studio that the options name."""
    if args.demo:
        from kb.desk.demo import open_demo

        studio = open_demo(args.studio)
    else:
        from kb.desk.studio import open_studio

        studio = open_studio(args.studio, progress=step)
    studio.notice = warn
    return studio
