"""The mouse in lists: one click goes to a line, two choose it, as in tables."""

from __future__ import annotations

from collections.abc import Callable

from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.choose.picker import PickerScreen
from kb.tui.screens.note import NoteScreen
from kb.tui.widgets.rank_list import RankList
from kb.tui.widgets.two_clicks import ClickList
from tests.screens.conftest import ask
from tests.screens.invented import NewApp
from tests.screens.screen_help import settle


async def test_one_click_goes_there_and_two_open(new_app: NewApp, invented: Callable[..., None]) -> None:
    """In the answer of a question, and in the list that fills a blank."""
    invented()
    async with new_app().run_test(size=(120, 40)) as pilot:
        await ask(pilot)
        ranks = pilot.app.screen.query_one(RankList)
        await pilot.click(ranks, offset=(5, 2))
        await settle(pilot)
        assert isinstance(pilot.app.screen, HomeScreen)
        assert ranks.highlighted == 2
        await pilot.click(ranks, offset=(5, 1), times=2)
        await settle(pilot)
        assert isinstance(pilot.app.screen, NoteScreen)
        assert ranks.highlighted == 1
        pilot.app.pop_screen()
        await settle(pilot)
        await pilot.click("#blank-paper")
        await settle(pilot)
        offers = pilot.app.screen.query_one(ClickList)
        await pilot.click(offers, offset=(5, 3))
        await settle(pilot)
        assert isinstance(pilot.app.screen, PickerScreen)
        await pilot.click(offers, offset=(5, 3), times=2)
        await settle(pilot)
        assert isinstance(pilot.app.screen, HomeScreen)
