"""The dwell clock, which counts up while the liquid stands, and timers of steps, of which several may run.

Times are seconds. A clock reads a time function that never goes back, so a test can turn it. Timers live in
the app and count on while other screens are shown. How each stands is kept by the desk, by the time on the
wall, so that it goes on after a restart.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from kb.desk.making.steps import KeptTimer

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


class Timer(NamedTuple):
    """A clock and what it is for."""

    clock: DwellClock
    about: str

    @property
    def words(self) -> str:
        """``12:30 of 20:00, running``."""
        clock = self.clock
        aim = f" of {digits(clock.aim_s)}" if clock.aim_s else ""
        reached = clock.aim_s is not None and clock.elapsed_s >= clock.aim_s
        state = "running" if clock.running else "paused"
        return f"{digits(clock.elapsed_s)}{aim}, {state}{', REACHED' if reached else ''}"


class Timers:
    """Timers by key. A step's key is whatever its screen makes of it.

    ``now`` never goes back; ``wall`` is the time of day in seconds since 1970, which outlives the program.
    """

    def __init__(self, now: Callable[[], float] = passing_s, wall: Callable[[], float] = time.time) -> None:
        self._now = now
        self._wall = wall
        self._held: dict[str, Timer] = {}

    def toggle(self, key: str, about: str, aim_s: float | None) -> Timer:
        """Start a timer, or pause it, or let it go on."""
        if key not in self._held:
            clock = DwellClock(self._now)
            clock.aim(aim_s)
            self._held[key] = Timer(clock, about)
        self._held[key].clock.toggle()
        return self._held[key]

    def kept(self, key: str) -> KeptTimer:
        """How a timer stands, to be written down. Raises KeyError if there is none."""
        from kb.desk.making.steps import KeptTimer

        clock, about = self._held[key]
        since = datetime.fromtimestamp(self._wall(), UTC).isoformat() if clock.running else ""
        return KeptTimer(about=about, aim_s=clock.aim_s, counted_s=clock.elapsed_s, since=since)

    def take_up(self, kept: Mapping[str, KeptTimer]) -> None:
        """Let timers that were written down go on. One that is held here already knows better."""
        for key, one in kept.items():
            if key not in self._held:
                clock = DwellClock(self._now, counted_s=one.counted_s + self._since_s(one.since))
                # One that reached its aim while the program was closed rings now; a paused one had its say.
                if one.since:
                    clock.aim_s = one.aim_s
                    clock.start()
                else:
                    clock.aim(one.aim_s)
                self._held[key] = Timer(clock, one.about)

    def _since_s(self, since: str) -> float:
        """Seconds from a time of day until now; none for what is no time or lies ahead."""
        try:
            return max(0.0, self._wall() - datetime.fromisoformat(since).timestamp()) if since else 0.0
        except (ValueError, OverflowError):
            return 0.0

    def drop(self, key: str) -> None:
        """Away with a timer; no matter if there is none."""
        self._held.pop(key, None)

    def of(self, work: str) -> list[str]:
        """Keys of the timers of this work; a sheet MS 12 has none of MS 12/3."""
        return [one for one in self._held if one.rpartition("/")[0] == work]

    def words(self, key: str) -> str:
        """How a timer stands; empty if there is none."""
        held = self._held.get(key)
        return held.words if held else ""

    @property
    def any_runs(self) -> bool:
        return any(one.clock.running for one in self._held.values())

    @property
    def short(self) -> str:
        """The one that is nearest its aim, for the title line; empty if none runs."""
        running = [one.clock for one in self._held.values() if one.clock.running]
        if not running:
            return ""
        return digits(min(running, key=_left).elapsed_s)

    def due(self) -> Iterator[str]:
        """What each timer is for that has reached its aim since it was last asked."""
        for one in self._held.values():
            if one.clock.due():
                yield one.about


def _left(clock: DwellClock) -> float:
    return float("inf") if clock.aim_s is None else clock.aim_s - clock.elapsed_s
