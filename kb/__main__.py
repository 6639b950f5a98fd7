"""``python -m kb`` is the command ``benchleaf``."""

from kb.cli.main import run

run()
