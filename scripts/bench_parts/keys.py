"""From a key to the row that it brings: the whole app, with its thread, its layout, its painting."""

from __future__ import annotations

import asyncio
import gc
import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from textual import events
from textual.drivers.headless_driver import HeadlessDriver

from kb.desk.studio import Studio
from scripts.bench_parts.measure import Result, Spread, spread
from scripts.bench_parts.stage import Stage
from scripts.bench_parts.stores import typed_words

if TYPE_CHECKING:
    from kb.desk.materials.lookup import Found
    from kb.tui.screens.materials.materials import MaterialsScreen

SIZES = ((120, 40), (80, 24))
LONGEST_S = 5.0
ENOUGH = 8
"""Characters of a name by which its row is known, however far it was shortened."""


class Stroke(NamedTuple):
    """Seconds from a key until the terminal got the first row of what it found."""

    passed_s: float
    worked_s: float


class Terminal(HeadlessDriver):
    """Gets all that a terminal would get, and notes when the words that are waited for were among it."""

    wanted = ""
    seen: asyncio.Event
    at = Stroke(0.0, 0.0)

    @property
    def is_headless(self) -> bool:
        """Not, since then the codes for the terminal would not be made."""
        return False

    def write(self, data: str) -> None:
        """Note the time, of the clock and of the processor."""
        if self.wanted and self.wanted in data:
            self.at, self.wanted = now(), ""
            self.seen.set()


def now() -> Stroke:
    """Both clocks."""
    return Stroke(time.perf_counter(), time.process_time())


def typing(stage: Stage) -> list[Result]:
    """Words typed letter by letter into the screen of materials, at both sizes."""
    root, count = stage.with_names(stage.sizes.names), stage.sizes.names
    results = []
    for size in SIZES:
        found = asyncio.run(_typed(root, size, typed_words(count)[: stage.sizes.words]))
        name = f"key to painted row, {count:,} entries, {size[0]}x{size[1]}, 95 of 100"
        for key, what, costs in (
            ("keys", name, [one.passed_s for one in found]),
            ("keys-processor", f"{name}: time of the processor", [one.worked_s for one in found]),
        ):
            ordered = sorted(costs)
            high = Spread(ordered[round(0.95 * (len(ordered) - 1))], ordered[len(ordered) // 2], ordered[-1])
            note = "beside the value: middle and slowest stroke"
            results.append(Result(key, what, high, 0.030, "s", {"all strokes": (spread(costs), "s")}, note))
    return results


async def _typed(root: Path, size: tuple[int, int], words: list[str]) -> list[Stroke]:
    from kb.tui.app import BenchleafApp
    from kb.tui.screens.materials.materials import MaterialsScreen

    # As the command that starts the app does: what was loaded is not looked through again and again.
    gc.freeze()
    app = BenchleafApp(Studio(root))
    app.driver_class = Terminal
    found: list[Stroke] = []
    async with app.run_test(headless=False, size=size) as pilot:
        await pilot.press("f4")
        while not isinstance(app.screen, MaterialsScreen):
            await pilot.pause(0.05)
        await pilot.pause(0.5)
        # The first word loads what searching needs; it does not count.
        for number, word in enumerate(("acetone", *words)):
            strokes = await _letters(app.screen, word)
            found += strokes if number else []
            app.screen.typed.value = ""
            await pilot.pause(0.1)
    return found


async def _letters(screen: MaterialsScreen, word: str) -> list[Stroke]:
    terminal = screen.app._driver
    assert isinstance(terminal, Terminal)
    answer, found = screen._found, list[Stroke]()

    def answered(hits: list[Found]) -> None:
        same = [one.name for one in hits[:1]] == [one.name for one in screen.found[:1]]
        answer(hits)
        # A first row that stays is not painted again: then the next painting counts, with the other rows.
        terminal.wanted = hits[0].name[:ENOUGH] if hits and not same else " "

    screen._found = answered  # type: ignore[method-assign, assignment]
    for letter in word:
        terminal.seen = asyncio.Event()
        begun = now()
        screen.app.post_message(events.Key("space" if letter == " " else letter, letter))
        try:
            await asyncio.wait_for(terminal.seen.wait(), LONGEST_S)
        except TimeoutError:
            # Never painted: as slow as can be, and not left out.
            terminal.at = Stroke(begun[0] + LONGEST_S, begun[1] + LONGEST_S)
        found.append(Stroke(*(after - before for after, before in zip(terminal.at, begun, strict=True))))
        # What a key starts beside the list, the entry under the cursor, is not left to the next one.
        await asyncio.sleep(0.1)
    screen._found = answer  # type: ignore[method-assign]
    return found
