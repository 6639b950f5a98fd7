"""Days and times as records hold them: ISO 8601, a day perhaps without its month, as labels have it."""

from __future__ import annotations

import re
from datetime import date, datetime

# Wider than any bench; a year outside is a slip of the hand.
YEARS = range(1900, 3000)
# ASCII: other scripts have digits that look alike and that other programs do not read.
_PART = r"(?a)\d{4}(-(0[1-9]|1[0-2]))?"
_WHOLE = r"(?a)\d{4}-\d\d-\d\d"
_SHA256 = r"[0-9a-f]{64}"


def is_day(text: str) -> bool:
    """Whether it is a day, a month or a year that a label can bear, without a time."""
    if not (re.fullmatch(_PART, text) or re.fullmatch(_WHOLE, text)):
        return False
    try:
        # Filled up to a day, so that the calendar itself checks the parts that were given.
        return date.fromisoformat(f"{text}-01-01"[:10]).year in YEARS
    except ValueError:
        return False


def is_moment(text: str) -> bool:
    """Whether it is a day or a time."""
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def is_sha256(text: str) -> bool:
    """Whether it is a SHA-256 in lower-case hex digits."""
    return re.fullmatch(_SHA256, text) is not None
