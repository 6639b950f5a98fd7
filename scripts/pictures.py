#!/usr/bin/env python3
"""Export the pictures that the README shows, from the app itself on a fresh copy of the demo studio."""

from __future__ import annotations

import asyncio
import tempfile
from pathlib import Path
from typing import Any

from textual import events
from textual.pilot import Pilot

from kb.desk.demo import open_demo
from kb.tui.app import BenchleafApp

DOCS = Path(__file__).resolve().parents[1] / "docs"
SIZE = (120, 40)


async def rest(pilot: Pilot[Any], turns: int = 12) -> None:
    """Let workers finish and the screen settle."""
    for _ in range(turns):
        await pilot.pause(0.05)
        await pilot.app.workers.wait_for_complete()


async def type_in(pilot: Pilot[Any], text: str) -> None:
    """Type a text and press Enter."""
    for letter in text:
        pilot.app.post_message(events.Key("space" if letter == " " else letter, letter))
    await rest(pilot, 4)
    pilot.app.post_message(events.Key("enter", "\r"))
    await rest(pilot, 4)


def keep(app: BenchleafApp, name: str) -> None:
    """Write one picture."""
    DOCS.mkdir(exist_ok=True)
    (DOCS / f"{name}.svg").write_text(app.export_screenshot(title="Benchleaf"), encoding="utf-8")


async def draw(root: Path) -> None:
    """The screens of a working day."""
    app = BenchleafApp(open_demo(root))
    async with app.run_test(size=SIZE) as pilot:
        await rest(pilot)
        for words in ("masking tape", "oily", "letterpress", "wood pulp"):
            await type_in(pilot, words)
        await pilot.press("escape")
        await rest(pilot)
        keep(app, "home")
        await pilot.press("m")
        await rest(pilot)
        keep(app, "map")
        await pilot.press("escape", "b")
        await rest(pilot, 30)
        keep(app, "blends")
        await pilot.press("escape", "t")
        await rest(pilot)
        keep(app, "spot-test")
        await pilot.press("f3")
        await rest(pilot)
        keep(app, "book")
        await pilot.press("e", "slash")
        await type_in(pilot, "mends")
        await rest(pilot)
        keep(app, "records")
        await pilot.press("p")
        await rest(pilot, 30)
        keep(app, "plan")
        await pilot.press("m")
        await rest(pilot)
        keep(app, "mend")
        await pilot.press("escape", "escape")
        await rest(pilot)
        await pilot.press("f4")
        await rest(pilot)
        await type_in(pilot, "acetone")
        await rest(pilot)
        keep(app, "materials")
        for key, name in (("f5", "identify"), ("f6", "make"), ("f7", "bath"), ("f8", "air")):
            await pilot.press(key)
            await rest(pilot)
            keep(app, name)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        asyncio.run(draw(Path(folder) / "demo"))
