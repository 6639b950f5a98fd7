"""What the tests of the book and materials screens share: fixed tests, waiting, the text on screen."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime, timedelta
from typing import Any

from textual.app import App
from textual.pilot import Pilot

from kb.book.append import append
from kb.book.ulid import new_ulid
from kb.desk.studio import Studio
from kb.model.record import SpotTest
from kb.tui.widgets.frame import KeyBar

START = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
HOSTILE = "[b]bold[/b] [/] [TODO] [link=file:///etc]a[/link] \\"
STEERING = "\x1b[2J\x1b]0;t\x07\x9b31m\u202e"


def store(
    studio: Studio, hours: int, *, who: str = "AB", kind: str = "test", body: Any = None, **fields: Any
) -> str:
    """Put a record of a fixed time in the book, with a fixed id; returns the id."""
    at = START + timedelta(hours=hours)
    record_id = new_ulid(int(at.timestamp() * 1000))[:10] + f"{hours:016d}"
    usual: dict[str, Any] = {"parts": {"acetone": 1.0}, "sheet": "Letter 1"}
    body = body or SpotTest(**{**usual, **fields})
    append(studio.book_dir, bench="bench-a", who=who, kind=kind, body=body, at=at, record_id=record_id)
    return record_id


async def settle(pilot: Pilot[Any]) -> None:
    """Until no worker is busy and no message waits."""
    await pilot.pause()
    while busy := [worker for worker in pilot.app.workers if not worker.is_finished]:
        await asyncio.gather(*(worker.wait() for worker in busy), return_exceptions=True)
        await pilot.pause()
    await pilot.pause()


async def keys(pilot: Pilot[Any], *pressed: str) -> None:
    """Press keys one after the other, each when the one before has done all it does."""
    for key in pressed:
        await pilot.press(key)
        await settle(pilot)


async def write(pilot: Pilot[Any], text: str) -> None:
    """Type a text."""
    await pilot.press(*({" ": "space"}.get(letter, letter) for letter in text))
    await settle(pilot)


def shown(app: App[Any]) -> str:
    """The text on the screen as a terminal gets it, without its codes."""
    strips = app.screen._compositor.render_strips()
    return "\n".join("".join(segment.text for segment in strip).rstrip() for strip in strips)


def flat(app: App[Any]) -> str:
    """The same as one line of single blanks, for words that may be wrapped."""
    return " ".join(shown(app).replace("│", " ").split())


def keys_fit(app: App[Any]) -> bool:
    """Whether no key is cut off the foot of the screen."""
    return all(child.region.right <= app.size.width for child in app.screen.query_one(KeyBar).children)
