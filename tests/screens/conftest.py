"""Apps on studios of their own, with a clock that a test turns by hand."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual._compositor import Compositor
from textual.app import App
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet
from textual.message_pump import MessagePump
from textual.pilot import Pilot
from textual.widgets import Input, Static

from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.screens.choose import ranking
from tests.screens import handlers, styles
from tests.screens.invented import invented_answer
from tests.screens.screen_help import post, settle, still


class HandClock:
    """A time function that stands still until it is moved on."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s

    def on(self, seconds: float) -> None:
        """Let time pass."""
        self.now_s += seconds


@pytest.fixture(autouse=True)
def exact_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pilot waits for what is still to happen, and not for some hundredths of a second."""
    monkeypatch.setattr("textual.app.wait_for_idle", still)
    monkeypatch.setattr("textual.pilot.wait_for_idle", still)


@pytest.fixture(autouse=True)
def in_zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Local time is universal time, so that pictures are the same everywhere; or that of a zone asked for."""

    def go(zone: str) -> None:
        monkeypatch.setenv("TZ", zone)
        if hasattr(time, "tzset"):
            time.tzset()

    go("UTC")
    yield go
    monkeypatch.undo()
    if hasattr(time, "tzset"):
        time.tzset()


@pytest.fixture(autouse=True)
def _styles_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The style sheets of all apps are the same: each is parsed once per process, not once per app."""
    parse = Stylesheet._parse_rules

    def parsed(sheet: Stylesheet, *place: Any, **more: Any) -> list[RuleSet]:
        key = (place, *more.items(), *sheet._variables.items())
        if key not in PARSED:
            PARSED[key] = parse(sheet, *place, **more)
        return PARSED[key]

    monkeypatch.setattr(Stylesheet, "_parse_rules", parsed)


PARSED: dict[Any, list[RuleSet]] = {}


@pytest.fixture(autouse=True)
def _cursor_stays_lit(monkeypatch: pytest.MonkeyPatch) -> None:
    """A cursor that blinks is dark in the picture that a busy machine takes after half a second."""
    monkeypatch.setattr(Input, "_toggle_cursor", lambda _: None)


@pytest.fixture(autouse=True)
def _styles_found_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Which rules a widget takes is worked out once for its place, and not in each of hundreds of apps."""
    monkeypatch.setattr(Stylesheet, "apply", styles.apply)
    monkeypatch.setattr(Stylesheet, "replace_rules", classmethod(styles.replace_rules))


@pytest.fixture(autouse=True)
def _handlers_found_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """What handles a message in a class is looked up once a test."""
    handlers.PLAIN.clear()
    monkeypatch.setattr(MessagePump, "_get_dispatch_methods", handlers.handlers)


@pytest.fixture(autouse=True)
def _painted_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A screen is painted when it is still for the first time and as the test leaves it, not at every change.

    Nobody watches here, and painting is most of the time a test takes; pictures paint for themselves. What
    only an intermediate paint would show is left to the hostile and the random keys of tests/faults.
    """
    now, leave = Compositor.render_update, App._shutdown

    def at_once_or_later(compositor: Compositor, full: bool = False, **how: Any) -> Any:
        return now(compositor, full, **how) if full else None

    async def painted_and_left(app: App[Any]) -> None:
        if app._screen_stacks.get(app._current_mode) and app.is_running and app.return_code in (None, 0):
            now(app.screen._compositor, True, screen_stack=app._background_screens)
        await leave(app)

    monkeypatch.setattr(Compositor, "render_update", at_once_or_later)
    monkeypatch.setattr(App, "_shutdown", painted_and_left)


@pytest.fixture
def hand_clock() -> HandClock:
    """The clock of the app of this test."""
    return HandClock()


@pytest.fixture(scope="session")
def invented_index(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a studio that says it is invented, opened once."""
    root = tmp_path_factory.mktemp("invented")
    (root / "studio.yaml").write_text("name: North Room\ninvented: true\nwho: AB\n")
    studio = Studio(root)
    studio.index.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    studio.close()
    return root


@pytest.fixture
def invented_studio(invented_index: Path, tmp_path: Path) -> Studio:
    """A copy of the invented studio."""
    root = tmp_path / "invented"
    shutil.copytree(invented_index, root)
    return Studio(root)


@pytest.fixture
def new_app(studio: Studio, hand_clock: HandClock) -> Callable[[], BenchleafApp]:
    """Makes the app on the studio of this test."""
    return lambda: BenchleafApp(studio, now=hand_clock)


@pytest.fixture
def invented(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Every ranking answers with invented rows."""

    def use(names: Mapping[int, str] | None = None) -> None:
        monkeypatch.setattr(ranking, "rank", lambda *_: invented_answer(names))

    return use


ASKED = ("natural rubber", "fresh", "bare paper", "rag")
"""A question, in words as people say them, that has an answer with many liquids: fresh tape, no medium."""


async def type_ahead(pilot: Pilot[Any], *words: str) -> None:
    """Press the keys of each word and Enter in one burst, as the keyboard buffer would hand them over."""
    for word in words:
        post(pilot, word)
        pilot.app.post_message(events.Key("enter", "\r"))
        await settle(pilot)
        await settle(pilot)


async def ask(pilot: Pilot[Any], *words: str, method: str = "poultice") -> None:
    """Fill the blanks of the sentence by typing, then the method."""
    await settle(pilot)
    await type_ahead(pilot, *(words or ASKED))
    if method:
        pilot.app.screen.query_one("#blank-method").focus()
        await settle(pilot)
        await type_ahead(pilot, method)


def popped_up(app: App[Any]) -> str:
    """The text of the pop-up on top, as one line of single blanks."""
    return " ".join(str(app.screen.query_one(".body", Static).content).split())
