"""Timers of steps: paste that cooks, starch that soaks, a press that stands. Several may run at once.

They live in the app and count on while other screens are shown. They end with the program; the ticks of
steps, which the desk keeps, do not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from time import monotonic
from typing import NamedTuple

from kb.tui.clock import DwellClock, digits


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
    """Timers by key. A step's key is whatever its screen makes of it."""

    def __init__(self, now: Callable[[], float] = monotonic) -> None:
        self._now = now
        self._held: dict[str, Timer] = {}

    def toggle(self, key: str, about: str, aim_s: float | None) -> Timer:
        """Start a timer, or pause it, or let it go on."""
        if key not in self._held:
            clock = DwellClock(self._now)
            clock.aim(aim_s)
            self._held[key] = Timer(clock, about)
        self._held[key].clock.toggle()
        return self._held[key]

    def drop(self, key: str) -> None:
        """Away with a timer; no matter if there is none."""
        self._held.pop(key, None)

    def drop_all(self, start: str) -> None:
        """Away with every timer whose key begins so."""
        for key in [one for one in self._held if one.startswith(start)]:
            self.drop(key)

    def words(self, key: str) -> str:
        """How a timer stands; empty if there is none."""
        held = self._held.get(key)
        return held.words if held else ""

    @property
    def any_runs(self) -> bool:
        """Whether one counts now."""
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
