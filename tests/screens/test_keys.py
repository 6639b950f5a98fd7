"""Keys as hands expect them: letters in either case, lists by letters, help by its mark."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from textual.containers import VerticalScroll
from textual.widgets import Static

from kb.tui.actions import key_name
from kb.tui.form import FormScreen
from kb.tui.screens.ask_why import ThrowsAway
from kb.tui.screens.choose.picker import PickerScreen
from kb.tui.screens.making.batch_form import BatchFormScreen
from kb.tui.screens.note import HelpScreen, NoteScreen, hanging
from kb.tui.screens.records.spot_test import SpotTestScreen
from kb.tui.widgets.blank import Blank
from kb.tui.widgets.rank_list import RankList
from tests.screens.invented import NewApp, asked
from tests.screens.screen_help import keys, settle, write

Invented = Callable[..., None]
SCREENS = Path(__file__).parents[2] / "kb" / "tui" / "screens"


@pytest.mark.parametrize(("key", "opens"), [("T", SpotTestScreen), ("S", NoteScreen), ("R", NoteScreen)])
async def test_a_letter_works_in_either_case(
    new_app: NewApp, invented: Invented, key: str, opens: type
) -> None:
    """The footer prints capitals, and Caps Lock must not silence the program."""
    invented()
    async with new_app().run_test(size=(100, 40)) as pilot:
        await asked(pilot)
        await keys(pilot, key)
        assert isinstance(pilot.app.screen, opens)


@pytest.mark.parametrize("key", ["f3", "f10", "ctrl+b"])
async def test_a_key_that_has_to_wait_says_so(new_app: NewApp, key: str) -> None:
    """Over a picker the keys of places did nothing and said nothing; once it is closed they lead."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "escape", "enter")
        picker = pilot.app.screen
        assert picker.is_modal
        await keys(pilot, key)
        assert pilot.app.screen is picker
        told = [one.message for one in pilot.app._notifications]
        assert told == [f"{key_name(key)}: Close what is open first; Esc does."]
        await keys(pilot, "escape", "f3")
        assert pilot.app.current_mode == "book"


async def test_j_and_k_move_and_a_question_mark_helps(new_app: NewApp, invented: Invented) -> None:
    """Down, down, up; and help without reaching for F1."""
    invented()
    async with new_app().run_test(size=(100, 40)) as pilot:
        await asked(pilot)
        ranks = pilot.app.screen.query_one(RankList)
        await keys(pilot, "j", "J", "k")
        assert ranks.highlighted == 1
        await keys(pilot, "question_mark")
        assert isinstance(pilot.app.screen, HelpScreen)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_lines_of_help_hang_under_their_text(new_app: NewApp, size: tuple[int, int]) -> None:
    """What a key does runs on under its words, at either size, and no line is broken once more."""
    async with new_app().run_test(size=size) as pilot:
        await settle(pilot)
        await keys(pilot, "f5", "f1")
        screen = pilot.app.screen
        assert isinstance(screen, HelpScreen)
        drawn = str(screen.query_one(".body", Static).content).split("\n\n")
        room = screen.query_one(VerticalScroll).scrollable_content_region.width
        keyed = [one for part in drawn if "N        " in part or "F1   " in part for one in part.split("\n")]
        assert len(keyed) > 12
        assert all(len(one) <= room for one in keyed), keyed
        assert "\n" + " " * 9 in hanging("N        Look next\nO        One word after the other of it", 24)


async def test_what_is_only_near_a_name_is_gone_down_to(new_app: NewApp) -> None:
    """Enter alone does not take a near spelling; Down stands on the first of them, and Enter takes that."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        await write(pilot, "natrual ruber")
        picker = pilot.app.screen
        assert isinstance(picker, PickerScreen)
        await keys(pilot, "enter")
        assert pilot.app.screen is picker
        first = next(one for one in picker.offers if one.what is not None)
        assert first.near
        await keys(pilot, "down", "enter")
        held = pilot.app.screen.query_one("#blank-tape", Blank).holds
        assert held == first.name


async def test_another_question_shows_its_best_row(new_app: NewApp, invented: Invented) -> None:
    """The list begins at its top again, wherever one stood in the answer before."""
    invented()
    async with new_app().run_test(size=(100, 40)) as pilot:
        await asked(pilot)
        ranks = pilot.app.screen.query_one(RankList)
        await keys(pilot, "j", "j", "j")
        assert ranks.highlighted == 3
        invented({1: "Another first"})
        pilot.app.screen._question_changed()
        await settle(pilot)
        assert (ranks.highlighted, ranks.scroll_offset.y) == (0, 0)


def test_what_throws_work_away_is_no_letter_of_another_screen() -> None:
    """Escape then T, typed in a hurry, opened a test elsewhere and destroyed a draft here."""
    assert '("delete", "throw"' in (SCREENS / "ask_why.py").read_text("utf-8")
    for form in (SpotTestScreen, FormScreen, BatchFormScreen):
        assert form.action_throw_away is ThrowsAway.action_throw_away
