"""The dwell clock: counts up while the liquid stands, and knows when the aim is reached.

Times are seconds. The clock reads a time function that never goes back, so a test can turn it.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

LONGEST_S = 60 * 24 * 3600.0
"""A press stands for weeks."""


def passing_s() -> float:
    """Seconds from some moment on that never go back and go on while the machine sleeps.

    The usual clock of a program stands still with a lid that is shut, and the liquid on the sheet does not.
    """
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":
        # There this one counts sleep and time.monotonic does not; on Windows time.monotonic does (from memory
        # of both systems' manuals).
        return time.clock_gettime(time.CLOCK_MONOTONIC)
    return time.monotonic()


class DwellClock:
    """Start, pause, go on, reset. Lives in the app, so it counts on while other screens are shown."""

    def __init__(self, now: Callable[[], float] = passing_s, *, counted_s: float = 0.0) -> None:
        self._now = now
        self._kept_s = max(0.0, counted_s)
        self._since: float | None = None
        self._rung = False
        self.aim_s: float | None = None
        """Dwell at which the bell rings; None rings never."""

    @property
    def running(self) -> bool:
        """Whether it counts now."""
        return self._since is not None

    @property
    def elapsed_s(self) -> float:
        """Seconds counted since the last reset, pauses left out."""
        running_s = 0.0 if self._since is None else max(0.0, self._now() - self._since)
        return min(self._kept_s + running_s, LONGEST_S)

    def start(self) -> None:
        """Count, or go on counting. Starting a running clock changes nothing."""
        if self._since is None:
            self._since = self._now()

    def pause(self) -> float:
        """Stop counting and keep what was counted, which is returned."""
        self._kept_s = self.elapsed_s
        self._since = None
        return self._kept_s

    def toggle(self) -> None:
        """One key for start and pause."""
        if self.running:
            self.pause()
        else:
            self.start()

    def reset(self) -> None:
        """Back to nothing, and stopped. The aim stays."""
        self._kept_s = 0.0
        self._since = None
        self._rung = False

    def aim(self, seconds: float | None) -> None:
        """Set the dwell to reach; the bell may ring again if it lies ahead."""
        self.aim_s = seconds if seconds and seconds > 0 else None
        self._rung = self.aim_s is not None and self.elapsed_s >= self.aim_s

    def due(self) -> bool:
        """True once, when the aim is reached."""
        if self._rung or self.aim_s is None or self.elapsed_s < self.aim_s:
            return False
        self._rung = True
        return True


def digits(seconds: float) -> str:
    """``125.4`` -> ``02:05``; hours only when there are any."""
    whole = int(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, secs = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{secs:02}" if hours else f"{minutes:02}:{secs:02}"
