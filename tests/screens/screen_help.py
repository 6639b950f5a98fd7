"""What the tests of the book and materials screens share: fixed tests, waiting, the text on screen."""

from __future__ import annotations

import asyncio
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from weakref import WeakSet

from textual import events
from textual._context import active_app
from textual.app import App
from textual.content import Content
from textual.keys import _character_to_key
from textual.pilot import Pilot
from textual.screen import Screen
from textual.timer import Timer

from kb.book.append import append
from kb.book.kinds.parts import Photo, Site
from kb.book.kinds.spot_test import Round, SpotTest
from kb.desk.studio import Studio
from kb.model.record import Amend, Withdraw
from kb.tui.widgets.frame import KeyBar

START = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
HOSTILE = "[b]bold[/b] [/] [TODO] [link=file:///etc]a[/link] \\"
STEERING = "\x1b[2J\x1b]0;t\x07\x9b31m\u202e"


def store(
    studio: Studio, hours: int, *, who: str = "AB", kind: str = "test", body: Any = None, **fields: Any
) -> str:
    """Put a record of a fixed time in the book, with a fixed id; returns the id."""
    at = START + timedelta(hours=hours)
    now_ms = int(at.timestamp() * 1000)
    # new_ulid never goes back within a process, so its ids would depend on the tests run before.
    record_id = "".join(DIGITS[now_ms >> shift & 31] for shift in range(45, -1, -5)) + f"{hours:016d}"
    usual: dict[str, Any] = {"parts": {"acetone": 1.0}, "sheet": "Letter 1"}
    body = body or SpotTest(**{**usual, **fields})
    append(studio.book_dir, bench="bench-a", who=who, kind=kind, body=body, at=at, record_id=record_id)
    return record_id


DEADLINE_S = 60.0
"""An app that is never still within this time has gone round in circles."""


async def still(*_: float) -> None:
    """Until nothing in the app can go on by itself: no message waits, nothing is to be painted.

    Textual's own pilot sleeps and looks whether the processor was used meanwhile. Here it is known
    exactly: when the event loop has nothing ready, only a worker, a timer or a key can bring more.
    Workers are not waited for. The arguments are those of the function that this one stands in for.
    """
    loop: Any = asyncio.get_running_loop()
    app = active_app.get()
    end_s = loop.time() + DEADLINE_S
    while loop.time() < end_s:
        await asyncio.sleep(0)
        if loop._ready:
            continue
        if app._exit or not app._screen_stacks.get(app._current_mode):
            return
        if not app.animator._complete_event.is_set() or any(map(soon, (*app._timers, *app.screen._timers))):
            await asyncio.sleep(NAP_S)
        elif waiting := [
            one for one in (app.screen, *app._background_screens) if due(one, top=one is app.screen)
        ]:
            for screen in waiting:
                screen._on_timer_update()
            if app._batch_count:
                await asyncio.sleep(NAP_S)
        else:
            return
    raise AssertionError("The app is never still.")


SOON_S = 0.2
"""Timers shorter than this, as that of a list on which one has come to rest, belong to what is going on."""
NAP_S = SOON_S / 80


def soon(timer: Timer) -> bool:
    """Whether the timer fires once and in a moment."""
    return timer._repeat == 0 and timer._interval < SOON_S and not (timer._task is None or timer._task.done())


def due(screen: Screen[Any], *, top: bool) -> bool:
    """Whether the screen is to be painted; its timer may be off all the same until the next message comes.

    A screen under another one always has something to paint when it has just painted.
    """
    if screen._update_timer._active.is_set() or screen._layout_required:
        return True
    if not top:
        return False
    flags = (screen._scroll_required, screen._repaint_required, screen._recompose_required)
    return any(flags) or bool(screen._dirty_widgets or screen._callbacks)


async def settle(pilot: Pilot[Any]) -> None:
    """Until no worker is busy and no message waits."""
    await still()
    while busy := [worker for worker in pilot.app.workers if not worker.is_finished]:
        await asyncio.gather(*(worker.wait() for worker in busy), return_exceptions=True)
        await still()
    if (screen := pilot.app.screen) not in PAINTED:
        PAINTED.add(screen)
        screen._compositor.render_update(full=True, screen_stack=pilot.app._background_screens)


PAINTED = WeakSet[Screen[Any]]()
"""Screens that were still once: painted then, and again only where a test looks at them or leaves them."""


async def keys(pilot: Pilot[Any], *pressed: str) -> None:
    """Press keys one after the other, each when the one before has done all it does."""
    for key in pressed:
        await pilot.app._press_keys((key,))
        await settle(pilot)


def post(pilot: Pilot[Any], text: str) -> None:
    """The keys of a text in one burst, as a keyboard hands them over while the program is busy."""
    for letter in text:
        key = letter if letter.isalnum() else _character_to_key(letter)
        pilot.app.post_message(events.Key(key, letter))


async def write(pilot: Pilot[Any], text: str) -> None:
    """Type a text in one burst and wait until it has done all it does."""
    post(pilot, text)
    await settle(pilot)
    await settle(pilot)


def shown(app: App[Any]) -> str:
    """The text on the screen as a terminal gets it, without its codes."""
    strips = app.screen._compositor.render_strips()
    return "\n".join("".join(segment.text for segment in strip).rstrip() for strip in strips)


def flat(app: App[Any]) -> str:
    """The same as one line of single blanks, for words that may be wrapped."""
    return " ".join(shown(app).replace("│", " ").split())


def keys_fit(app: App[Any]) -> bool:
    """Whether no key is cut off the foot of the screen, which is one line."""
    bar = app.screen.query_one(KeyBar)
    words = bar.render()
    assert isinstance(words, Content)
    return bar.size.height == 1 and 0 < words.cell_length <= bar.content_size.width


FULL = {
    "adhesive": "invented-adhesive",
    "stage": "invented-stage",
    "carrier": "invented-carrier",
    "medium": "invented-ink",
    "paper": "invented-paper",
    "method": "invented-method",
    "site": Site(words="lower left corner", face="back", x_mm=12.5, y_mm=30),
    "rounds": (Round(dwell_s=150, amount="one drop", wet="darkens", dry="pale"), Round(dwell_s=30)),
    "release": 4,
    "harm": {"bleed": 1, "gloss": 0},
    "light": "raking",
    "photos": (Photo(path="photos/a.jpg", sha256="ab" * 32),),
    "remarks": "second try",
}
"""Ids that no catalogue has, so that the pictures do not change with it."""


def still_book(blank_index: Path, root: Path) -> Studio:
    """Seven tests: plain, amended, withdrawn, a control, a blend, hostile words. Nobody changes them."""
    shutil.copy(blank_index, root / "index.db")
    studio = Studio(root)
    store(studio, 1, **FULL)
    store(studio, 2, parts={"n-heptane": 0.5, "acetone": 0.5}, medium="letterpress-oil")
    amended = store(studio, 3, parts={"ethanol": 1.0}, sheet="Letter 2", release=1, harm={"bleed": 2})
    withdrawn = store(studio, 4, who="CD", sheet="Map, 1892", release=0)
    store(studio, 5, control=True, sheet="Map, 1892", harm={"colour": 3})
    store(studio, 6, sheet=HOSTILE, remarks=HOSTILE + STEERING)
    store(studio, 7, sheet="Letter 3", release=3, harm={"tideline": 4})
    store(studio, 8, kind="amend", body=Amend(of=amended, set={"release": 2}, why="graded too early"))
    store(studio, 9, kind="withdraw", body=Withdraw(of=withdrawn, why="wrong bottle"))
    return studio
