"""The app in a browser: served here and to nobody else, whole in itself, and driven over its line."""

from __future__ import annotations

import asyncio
import json
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.error import HTTPError, URLError
from urllib.request import Request, urlopen

import pytest

pytestmark = pytest.mark.slow
ROOT = Path(__file__).parents[1]


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@pytest.fixture(scope="module", params=["here", "network"])
def served(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[str, str]]:
    """The address of a server on the demo studio, and its token."""
    port, folder = free_port(), tmp_path_factory.mktemp("web")
    words = ["web", "--demo", "--studio", str(folder / "demo"), "--port", str(port)]
    words += ["--network"] if request.param == "network" else []
    running = subprocess.Popen(
        [sys.executable, "-m", "kb", *words],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert running.stdout is not None
    first = running.stdout.readline()
    token = found[1] if (found := re.search(r"token=(\S+)", first)) else ""
    assert bool(token) == (request.param == "network")
    base = f"http://127.0.0.1:{port}"
    for _ in range(100):
        try:
            urlopen(f"{base}/", timeout=2).read()
        except HTTPError:
            break
        except URLError:
            time.sleep(0.1)
        else:
            break
    yield base, token
    running.terminate()
    running.wait(20)


def got(base: str, path: str, **headers: str) -> tuple[int, str]:
    """Status and text of a page."""
    try:
        with urlopen(Request(base + path, headers=headers), timeout=10) as answer:
            return answer.status, answer.read().decode("utf-8", "replace")
    except HTTPError as error:
        return error.code, error.read().decode()


def test_the_page_is_whole_in_itself(served: tuple[str, str]) -> None:
    """No asset of it comes from elsewhere, and every one that it names is there."""
    base, token = served
    status, text = got(base, f"/?token={token}")
    assert status == 200
    assert "//" not in re.sub(r"(//[^/\n]*$|ws://[^\"]*)", "", text, flags=re.M)
    for path in re.findall(r"[\"'](/static/[^\"']+)", text):
        assert got(base, f"{path}?token={token}")[0] == 200, path
    for label in ("Clock", "Next part", "Esc", "Store"):
        assert f">{label}</button>" in text


def test_who_may_not_come_in(served: tuple[str, str]) -> None:
    """A page of another site; a name that points here; on the network, whoever has no token."""
    base, token = served
    asks = f"/?token={token}"
    assert got(base, asks, Origin="http://elsewhere.example")[0] == 403
    if token:
        assert got(base, "/")[0] == 403
        assert got(base, f"/?token={token[:-1]}")[0] == 403
        assert got(base, "/ws")[0] == 403
    else:
        assert got(base, asks, Host="elsewhere.example")[0] == 403


def test_the_app_draws_and_takes_keys(served: tuple[str, str]) -> None:
    """Over its line one sees the first screen, and F8, sent as a button sends it, opens the air."""
    base, token = served

    async def seen() -> str:
        from aiohttp import ClientSession

        text = b""
        async with (
            ClientSession() as session,
            session.ws_connect(
                f"{base}/ws?token={token}&width=100&height=30", headers={"Origin": base}
            ) as line,
        ):
            async with asyncio.timeout(60):
                while b"Ask" not in text:
                    message = await line.receive()
                    text += message.data if isinstance(message.data, bytes) else str(message.data).encode()
                await line.send_str(json.dumps(["stdin", "\x1b[19~"]))
                while b"Fresh air" not in text:
                    message = await line.receive()
                    text += message.data if isinstance(message.data, bytes) else str(message.data).encode()
        return text.decode("utf-8", "replace")

    assert "Fresh air" in asyncio.run(seen())
