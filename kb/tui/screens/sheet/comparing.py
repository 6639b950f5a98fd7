"""Pairs of photographs compared in the background: one after the other, with progress, until stopped."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from threading import Event, Lock
from typing import TYPE_CHECKING, Any

from kb.desk.errors import DeskError

if TYPE_CHECKING:
    from kb.desk.sheet.pictures_paired import Pair
    from kb.desk.studio import Studio

Desk = Callable[[Callable[["Studio"], Any]], Any]
"""Does something with the studio while nobody else does."""


class Comparing:
    """A queue that outlives the screen. ``told`` is called from its thread whenever something changed.

    ``begin`` does a work in a thread of its own.
    """

    def __init__(self, desk: Desk, begin: Callable[[Callable[[], None]], object]) -> None:
        self.desk = desk
        self.begin = begin
        self.told: Callable[[], None] = lambda: None
        self.current = ""
        """Id of the pair at work."""
        self.words = ""
        self.share = 0.0
        self.failures: list[Exception] = []
        self._waiting: deque[str] = deque()
        self._stop = Event()
        self._lock = Lock()
        self._running = False

    @property
    def waiting(self) -> int:
        """How many pairs come after the one at work."""
        return len(self._waiting)

    def add(self, pairs: list[str]) -> None:
        """Have pairs compared after those that wait already."""
        with self._lock:
            self._waiting.extend(one for one in pairs if one not in self._waiting and one != self.current)
            if self._running or not self._waiting:
                return
            self._running = True
            self._stop.clear()
        self.begin(self._work)

    def stop(self) -> None:
        """End the work at its next step; nothing is kept of the pair at work."""
        self._waiting.clear()
        self._stop.set()

    def _next(self) -> str:
        with self._lock:
            self.current = self._waiting.popleft() if self._waiting else ""
            self._running = bool(self.current)
            return self.current

    def _work(self) -> None:
        while pair_id := self._next():
            try:
                self._one(pair_id)
            except Exception as error:
                self.failures.append(error)
            self._stop.clear()
        self.words, self.share = "", 0.0
        self.told()

    def _one(self, pair_id: str) -> None:
        from kb.desk.sheet.pictures_paired import keep, one_pair, work_out

        pair: Pair = self.desk(lambda studio: one_pair(studio, pair_id))
        # Without the lock: whoever tests or records meanwhile does not wait for it.
        compared = work_out(pair, self._progress)
        self._progress("keeping", 1.0)
        self.desk(lambda studio: keep(studio, pair, compared))
        self.told()

    def _progress(self, text: str, share: float) -> None:
        if self._stop.is_set():
            raise DeskError("Stopped; nothing was kept of the pair at work.")
        self.words, self.share = text, share
        self.told()
