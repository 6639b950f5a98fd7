"""Which day it is. In one place, so that a picture of a screen can be taken on a fixed day."""

from __future__ import annotations

from datetime import date


def today() -> date:
    """The day here."""
    return date.today()
