"""Record ids: 26 characters that sort by the time they were made (the open ULID layout).

48 bits of milliseconds since 1970 and 80 random bits, in Crockford's base 32, so an id can be read
aloud and typed without mixing up I, L, O and U.
"""

from __future__ import annotations

import os
import re
import time
from _thread import allocate_lock
from functools import lru_cache

# Without I, L, O and U: they are read as 1, 1, 0 and V.
_DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
# Python reads base 32 with the letters in a row; it does so far faster than a loop over the digits.
_IN_A_ROW = str.maketrans(_DIGITS, "0123456789ABCDEFGHIJKLMNOPQRSTUV")
# A random byte stands for the digit of its last five bits: all digits are equally likely.
_OF_BYTE = (_DIGITS * 8).encode()
SHAPE = r"[0-7][0-9A-HJKMNP-TV-Z]{25}"
_SHAPE = re.compile(SHAPE)
# As the open layout has it, so that other programs sort and read these ids.
_RANDOM_BITS = 80
_TOP = (1 << 128) - 1
_MAX_MS = (1 << 48) - 1
_FOLLOWING = 7
_RANDOM_DIGITS = _RANDOM_BITS // 5
_SHIFTS = range(125, -1, -5)

# The lock of threads itself: the library around it takes as long to load as a dozen modules of ours.
_lock = allocate_lock()
_last = ""
_drawn: list[str] = []


def new_ulid(now_ms: int | None = None, floor: str = "") -> str:
    """A new id, greater than every id this process made before, even if the clock went back.

    ``now_ms`` is the time in milliseconds since 1970 UTC; without it the clock is read. It is also greater
    than the id ``floor``, if one is given. Raises ValueError if the time is outside 0 .. 2**48 - 1.
    """
    global _last  # noqa: PLW0603 - one counter for the whole process is the point
    if now_ms is None:
        now_ms = time.time_ns() // 1_000_000
    if not 0 <= now_ms <= _MAX_MS:
        raise ValueError(f"{now_ms} is not a time in milliseconds that an id can hold.")
    # The app asks from several threads.
    with _lock:
        made = f"{_about(now_ms >> 10)}{_DIGITS[now_ms >> 5 & 31]}{_DIGITS[now_ms & 31]}{_draw()}"
        # Ids sort as text in the order of their numbers.
        if made <= _last:
            made = _after(_last)
        if made <= floor:
            # The floor comes from a file: it must not drag the ids of every other file along.
            return _after(floor)
        _last = made
    return made


def new_ulid_after(text: str, now_ms: int | None = None) -> str:
    """Like `new_ulid`, and also greater than ``text``. Raises ValueError if that is no id.

    A bench book uses it so that an amend sorts after the line it follows, whatever the clock says.
    """
    if not is_ulid(text):
        raise ValueError(f"{text[:40]!r} is not a record id.")
    return new_ulid(now_ms, text)


def ulid_time_ms(text: str) -> int:
    """The time inside an id, in milliseconds since 1970 UTC. Raises ValueError if it is no id."""
    return _number(text) >> _RANDOM_BITS


def is_ulid(text: str) -> bool:
    """Whether the text is an id in its one written form (upper case, 26 characters)."""
    # Capitals alone: two spellings of one id would be two ids to whoever compares text.
    return _SHAPE.fullmatch(text) is not None


def _draw() -> str:
    """As many digits by chance as an id has."""
    # Drawn for many ids at once: to ask the system takes longer than all else an id needs.
    if not _drawn:
        digits = os.urandom(_RANDOM_DIGITS << 6).translate(_OF_BYTE).decode()
        _drawn.extend(digits[at : at + _RANDOM_DIGITS] for at in range(0, len(digits), _RANDOM_DIGITS))
    return _drawn.pop()


@lru_cache(maxsize=1)
def _about(about_s: int) -> str:
    """The first eight digits, by the time in units of 1,024 ms: ids made in a row mostly share them."""
    return ulid_text(about_s << 10 + _RANDOM_BITS)[:8]


def _after(text: str) -> str:
    # One of the digits is raised and those behind it are drawn, so that two processes that start from the
    # same id hardly ever meet.
    kept = text[:-_FOLLOWING].rstrip(_DIGITS[-1])
    if kept == "7":
        raise ValueError("No later id is left: the clock or a record stands at the end of time.")
    raised = _DIGITS[_DIGITS.index(kept[-1]) + 1]
    return f"{kept[:-1]}{raised}{_draw()}{_draw()}"[: len(text)]


def ulid_text(number: int) -> str:
    """A number of 128 bits as an id is written."""
    return "".join([_DIGITS[number >> shift & 31] for shift in _SHIFTS])


def _number(text: str) -> int:
    if not is_ulid(text):
        raise ValueError(f"{text[:40]!r} is not a record id.")
    return int(text.translate(_IN_A_ROW), 32)


def _reseed_child() -> None:
    """After a fork parent and child hold the same last id; the child leaps away from it."""
    global _last, _lock  # noqa: PLW0603
    _lock = allocate_lock()
    _drawn.clear()
    # Seventy-two random bits: the ids of two processes then lie in no common range.
    if _last:
        _last = ulid_text(min(_number(_last) + int.from_bytes(os.urandom(9), "big"), _TOP))


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_reseed_child)
