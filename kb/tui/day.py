"""Which day it is, and times of the book as the clock on the wall has them.

The book holds universal time; a screen shows local time. In one place, so that a picture of a screen can be
taken on a fixed day.
"""

from __future__ import annotations

from datetime import date, datetime


def today() -> date:
    return date.today()


def local(at: str) -> datetime | None:
    """A time of the book (ISO 8601) in the zone of this machine; None for anything else."""
    try:
        moment = datetime.fromisoformat(at)
        return moment.astimezone() if moment.tzinfo else moment
    except (ValueError, OverflowError, OSError):
        return None


def day_of(at: str) -> str:
    """``2026-11-25``, here; the first ten letters of what is no time."""
    moment = local(at)
    return f"{moment:%Y-%m-%d}" if moment else at[:10]


def minute_of(at: str) -> str:
    """``2026-11-25 14:05``, here; what is no time stays as it is."""
    moment = local(at)
    return f"{moment:%Y-%m-%d %H:%M}" if moment else at
