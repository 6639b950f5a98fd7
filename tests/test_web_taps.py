"""The app in a headless browser, by taps: its buttons, and the line of places in the app itself.

The browser is driven over its own debugging line, so that no package is needed for it.
"""

from __future__ import annotations

import asyncio
import base64
import json
import re
import shutil
import subprocess
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit
from urllib.request import urlopen

import pytest

from tests import test_web

BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), "")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not BROWSER, reason="no Chromium on this machine"),
    pytest.mark.parametrize("served", ["here"], indirect=True),
]
SIZE = (1180, 820)
served = test_web.served


@contextmanager
def browser(folder: Path) -> Iterator[str]:
    """A browser of its own; gives the address of the debugging line of its one page."""
    words = [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--remote-debugging-port=0",
        f"--user-data-dir={folder}",
    ]
    words += [f"--window-size={SIZE[0]},{SIZE[1]}", "about:blank"]
    running = subprocess.Popen([BROWSER, *words], stderr=subprocess.PIPE, text=True)
    assert running.stderr is not None
    try:
        place = next(
            found[1] for line in running.stderr if (found := re.search(r"listening on ws://([^/]+)/", line))
        )
        pages = json.loads(urlopen(f"http://{place}/json/list", timeout=20).read())
        yield next(one["webSocketDebuggerUrl"] for one in pages if one["type"] == "page")
    finally:
        running.terminate()
        running.wait(20)


class Page:
    """The page: what it asked for, what the program sent to it, and taps."""

    def __init__(self, line: Any) -> None:
        self.line = line
        self.count = 0
        self.asked: list[str] = []
        self.cells = (0, 0)
        self.text = ""

    async def do(self, method: str, **params: Any) -> Any:
        """One command of the debugging line; what happens meanwhile is taken in."""
        self.count += 1
        await self.line.send_str(json.dumps({"id": self.count, "method": method, "params": params}))
        while (message := await self.hear()).get("id") != self.count:
            pass
        return message.get("result")

    async def hear(self) -> dict[str, Any]:
        """The next message."""
        message: dict[str, Any] = json.loads((await self.line.receive()).data)
        told = message.get("params", {})
        if message.get("method") == "Network.requestWillBeSent":
            self.asked.append(told["request"]["url"])
        elif message.get("method") == "Network.webSocketCreated":
            asks = parse_qs(urlsplit(told["url"]).query)
            self.cells = int(asks["width"][0]), int(asks["height"][0])
        elif message.get("method") == "Network.webSocketFrameReceived":
            data = told["response"]["payloadData"]
            self.text += (
                base64.b64decode(data).decode("utf-8", "replace") if told["response"]["opcode"] == 2 else data
            )
        return message

    async def until(self, words: str) -> None:
        """Until the program has sent the words; what it sent before is forgotten."""
        while words not in self.text:
            await self.hear()
        self.text = ""

    async def tap(self, x: float, y: float) -> None:
        """A finger, at pixels of the page."""
        await self.do("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])
        await self.do("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    async def place(self, what: str) -> dict[str, float]:
        """Where something of the page stands."""
        code = f"JSON.stringify(({what}).getBoundingClientRect())"
        found = await self.do("Runtime.evaluate", expression=code)
        place: dict[str, float] = json.loads(found["result"]["value"])
        return place


@asynccontextmanager
async def opened(address: str, base: str) -> AsyncIterator[Page]:
    """The first screen, seen by a browser that is touched."""
    from aiohttp import ClientSession

    async with (
        asyncio.timeout(90),
        ClientSession() as session,
        session.ws_connect(address, max_msg_size=0, headers={}) as line,
    ):
        page = Page(line)
        await page.do("Network.enable")
        await page.do("Emulation.setTouchEmulationEnabled", enabled=True)
        await page.do("Page.navigate", url=f"{base}/")
        await page.until("Look up a liquid")
        yield page


def test_buttons_and_places_are_tapped(served: tuple[str, str], tmp_path: Path) -> None:
    """A button opens the book, a tap on the line of places the air; nothing is asked of another machine."""
    base, _ = served

    async def tapped(address: str) -> list[str]:
        async with opened(address, base) as page:
            for button in ("Esc", "Book"):
                named = f"[...document.querySelectorAll('button')].find(one => one.innerText == '{button}')"
                place = await page.place(named)
                await page.tap(place["x"] + place["width"] / 2, place["y"] + place["height"] / 2)
            await page.until("Narrow to")
            screen = await page.place("document.querySelector('.xterm-screen')")
            wide, high = screen["width"] / page.cells[0], screen["height"] / page.cells[1]
            # As the line of places has it, two blanks between them and one at its edge.
            column = (
                " Benchleaf  F2 Ask  [F3 Book]  F4 Materials  F5 Identify  F6 Make  F7 Bath  F8 Air".index(
                    "F8"
                )
            )
            await page.tap(screen["x"] + (column + 1) * wide, screen["y"] + high / 2)
            await page.until("Fresh air")
            return page.asked

    with browser(tmp_path / "browser") as address:
        asked = asyncio.run(tapped(address))
    assert asked
    assert all(one.startswith((base, "data:", "blob:", "about:")) for one in asked)
