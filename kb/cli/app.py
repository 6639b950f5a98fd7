"""benchleaf app: open the terminal app."""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from kb.cli.main import USUAL
from kb.cli.options import studio_of
from kb.cli.out import FAILED, OK, warn

if TYPE_CHECKING:
    from kb.desk.studio import Studio


def options(parser: argparse.ArgumentParser) -> None:
    """None of its own."""


def run(args: argparse.Namespace) -> int:
    """Open the app on the studio that the options name, which is opened after the first paint."""
    return start(partial(studio_of, args))


def start(studio: Studio | Callable[[], Studio]) -> int:
    """Run the app until it is left. Nothing but a terminal can show it."""
    # Textual draws on standard error; in a browser, something else that is named to it draws.
    if "TEXTUAL_DRIVER" not in os.environ and not (
        sys.stdin.isatty() and sys.stdout.isatty() and sys.stderr.isatty()
    ):
        warn("The app needs a terminal to draw in. For plain answers see: benchleaf --help")
        return FAILED
    if os.environ.get("TERM") == "dumb":
        warn("This terminal cannot place text (TERM=dumb). For plain answers see: benchleaf --help")
        return FAILED
    from kb.tui.app import BenchleafApp

    # From here on it may run for days: what was loaded stays, and what is made is looked through as usual.
    gc.freeze()
    gc.set_threshold(*USUAL)
    app = BenchleafApp(studio)
    app.first_words = True
    app.run()
    return app.return_code or OK
