"""Record ids: 26 characters that sort by the time they were made (the open ULID layout).

48 bits of milliseconds since 1970 and 80 random bits, in Crockford's base 32, so an id can be read
aloud and typed without mixing up I, L, O and U.
"""

from __future__ import annotations

import os
import re
import time
from _thread import allocate_lock

# Without I, L, O and U: they are read as 1, 1, 0 and V.
_DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
# Python reads base 32 with the letters in a row; it does so far faster than a loop over the digits.
_IN_A_ROW = str.maketrans(_DIGITS, "0123456789ABCDEFGHIJKLMNOPQRSTUV")
# Two digits at a time: half the steps, and an id is made for every record.
_PAIRS = tuple(a + b for a in _DIGITS for b in _DIGITS)
_SHAPE = re.compile(r"[0-7][0-9A-HJKMNP-TV-Z]{25}", re.ASCII)
# As the open layout has it, so that other programs sort and read these ids.
_RANDOM_BITS = 80
_TOP = (1 << 128) - 1
_MAX_MS = (1 << 48) - 1
_STEP_BITS = 32

# The lock of threads itself: the library around it takes as long to load as a dozen modules of ours.
_lock = allocate_lock()
_last = 0


def new_ulid(now_ms: int | None = None) -> str:
    """A new id, greater than every id this process made before, even if the clock went back.

    ``now_ms`` is the time in milliseconds since 1970 UTC; without it the clock is read.
    Raises ValueError if the time is outside 0 .. 2**48 - 1.
    """
    return _fresh(time.time_ns() // 1_000_000 if now_ms is None else now_ms, 0)


def new_ulid_after(text: str, now_ms: int | None = None) -> str:
    """Like `new_ulid`, and also greater than ``text``.

    A bench book uses it so that an amend sorts after the line it follows, whatever the clock says.
    """
    return _fresh(time.time_ns() // 1_000_000 if now_ms is None else now_ms, _number(text))


def ulid_time_ms(text: str) -> int:
    """The time inside an id, in milliseconds since 1970 UTC. Raises ValueError if it is no id."""
    return _number(text) >> _RANDOM_BITS


def is_ulid(text: str) -> bool:
    """Whether the text is an id in its one written form (upper case, 26 characters)."""
    # Capitals alone: two spellings of one id would be two ids to whoever compares text.
    return _SHAPE.fullmatch(text) is not None


def _fresh(now_ms: int, floor: int) -> str:
    global _last  # noqa: PLW0603 - one counter for the whole process is the point
    if not 0 <= now_ms <= _MAX_MS:
        raise ValueError(f"{now_ms} is not a time in milliseconds that an id can hold.")
    number = now_ms << _RANDOM_BITS | int.from_bytes(os.urandom(10), "big")
    # The app asks from several threads.
    with _lock:
        if number <= _last:
            number = _after(_last)
        if number <= floor:
            # The floor comes from a file: it must not drag the ids of every other file along.
            return _text(_after(floor))
        _last = number
    return _text(number)


def _after(number: int) -> int:
    # A random step, so that two processes that start from the same id hardly ever meet.
    number += 1 + int.from_bytes(os.urandom(_STEP_BITS // 8), "big")
    if number > _TOP:
        raise ValueError("No later id is left: the clock or a record stands at the end of time.")
    return number


def _text(number: int) -> str:
    return "".join([_PAIRS[number >> shift & 1023] for shift in range(120, -1, -10)])


def _number(text: str) -> int:
    if not is_ulid(text):
        raise ValueError(f"{text[:40]!r} is not a record id.")
    return int(text.translate(_IN_A_ROW), 32)


def _reseed_child() -> None:
    """After a fork parent and child hold the same last id; the child leaps away from it."""
    global _last, _lock  # noqa: PLW0603
    _lock = allocate_lock()
    # Seventy-two random bits: the ids of two processes then lie in no common range.
    _last = min(_last + int.from_bytes(os.urandom(9), "big"), _TOP) if _last else 0


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_reseed_child)
