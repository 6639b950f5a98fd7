"""Keys that come faster than the screen is laid out, and answers that come under another screen."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from textual import events
from textual.screen import Screen

from kb.tui.app import BenchleafApp
from kb.tui.palette import Palette
from kb.tui.screens.at_desk import AtDesk
from kb.tui.widgets.field import FormInput
from tests.screens.screen_help import settle

NewApp = Callable[[], BenchleafApp]


class Asked(AtDesk, Screen["str | None"]):
    """Any screen that is left with what the desk says."""


@pytest.mark.parametrize("key", ["pagedown", "pageup", "down", "enter"])
async def test_a_page_key_right_behind_the_palette_key(new_app: NewApp, key: str) -> None:
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        for _ in range(2):
            pilot.app.action_command_palette()
        palette = Palette()
        pilot.app.push_screen(palette)
        palette._action_command_list("page_down")
        await pilot.press("ctrl+p", key, "escape", "escape")
        await settle(pilot)
        assert pilot.app.is_running


async def test_a_screen_under_another_is_left_when_it_is_on_top_again(new_app: NewApp) -> None:
    left: list[Any] = []
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        asked, above = Asked(), Screen[None]()
        pilot.app.push_screen(asked, left.append)
        await settle(pilot)
        pilot.app.push_screen(above)
        await settle(pilot)
        asked.ask(lambda studio: "stored", partial(asked.dismiss), group="store")
        await pilot.app.workers.wait_for_complete()
        await settle(pilot)
        assert pilot.app.screen is above
        assert left == []
        above.dismiss(None)
        await settle(pilot)
        await settle(pilot)
        assert left == ["stored"]
        assert pilot.app.screen is not asked


async def test_what_is_typed_behind_an_arrow_key_is_for_the_next_line(new_app: NewApp) -> None:
    """All keys of a form in one burst, as a keyboard hands them over while the program is busy."""
    async with new_app().run_test(size=(100, 30)) as pilot:
        await settle(pilot)
        await pilot.press("f8")
        await settle(pilot)
        burst = [*"toluene", "down", "down", *"10ml", "down", "down", "down", *"2", "up", "up", *"5", "enter"]
        for key in [*burst, *"20m3"]:
            pilot.app.post_message(events.Key(key, key if len(key) == 1 else None))
        await settle(pilot)
        await settle(pilot)
        typed = {line.name: line.value for line in pilot.app.screen.query(FormInput)}
    found = [typed[name] for name in ("liquid", "amount", "per_hour", "room", "air_changes")]
    assert found == ["toluene", "10ml", "5", "20m3", "2"]
