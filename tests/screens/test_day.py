"""A working day by keyboard alone: ask, test, time, grade, store, see it change, look it up."""

from __future__ import annotations

from collections.abc import Callable

from textual.widgets import Input

from kb.desk.record import list_tests, show_test
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.screens.book import BookScreen
from kb.tui.screens.home import HomeScreen
from kb.tui.screens.note import NoteScreen
from kb.tui.screens.spot_test import SpotTestScreen
from tests.screens.conftest import HandClock, ask, popped_up
from tests.screens.screen_help import flat, keys, settle, shown, write


async def test_a_day_at_the_bench(
    new_app: Callable[[], BenchleafApp], studio: Studio, hand_clock: HandClock
) -> None:
    """No mouse, no command line: the test that was made changes the next answer and stands in the book."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await ask(pilot)
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        assert home.ranked is not None
        first = home.ranked.rows[0]
        await keys(pilot, "escape", "s", "escape", "t")

        form = pilot.app.screen
        assert isinstance(form, SpotTestScreen)
        assert form.query_one("#field-liquid_text", Input).value == first.name
        await write(pilot, "lower left")
        await keys(pilot, "up")
        await write(pilot, "Map 7")
        for dwell_s in (30, 60, 90):
            await keys(pilot, "ctrl+t")
            hand_clock.on(dwell_s)
            await keys(pilot, "ctrl+t", "ctrl+r")
        while pilot.app.focused is not form.query_one("#release"):
            await pilot.press("ctrl+n")
        await keys(pilot, *"0400000", "ctrl+s")

        assert pilot.app.screen is home
        (stored,) = list_tests(studio)
        text = flat(pilot.app)
        assert f"Stored and on disk: {stored.id}" in text
        assert home.ranked.rows[0].liquid != first.liquid
        assert f"{first.name} was 1st, now " in " ".join(home.note.split())

        detail = show_test(studio, stored.id)
        assert detail.test.parts == first.parts
        assert detail.test.method == "local-poultice"
        assert [one.dwell_s for one in detail.test.rounds] == [30.0, 60.0, 90.0]
        assert (detail.test.release, detail.test.harm["bleed"], detail.test.sheet) == (0, 4, "Map 7")
        assert detail.not_looked == ()

        await keys(pilot, "f3")
        assert isinstance(pilot.app.screen, BookScreen)
        assert "Map 7" in shown(pilot.app)
        await keys(pilot, "f2")
        assert pilot.app.screen is home


async def test_what_another_bench_wrote_comes_in_by_going_back(
    new_app: Callable[[], BenchleafApp], studio: Studio, record: Callable[..., str]
) -> None:
    """A test written by another program counts as soon as one comes back to the question."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await ask(pilot, method="")
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        assert home.ranked is not None
        before = home.ranked
        other = Studio(studio.root)
        record(other, stage="fresh", medium="bare-paper", paper="paper-rag", release=4, harm={"bleed": 0})
        other.close()
        await keys(pilot, "f3", "f2")
        await settle(pilot)
        assert home.ranked is not before
        assert home.ranked.answer.suggestions or home.ranked.answer.refused
        assert any(one.evidence.own for one in (*home.ranked.answer.suggestions, *home.ranked.answer.refused))


async def test_a_day_with_liquids(new_app: Callable[[], BenchleafApp], studio: Studio) -> None:
    """Ask, see the map, find a blend, read how it dries, test it, work out the air, write the card."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await ask(pilot)
        await keys(pilot, "escape", "m")
        assert "Solubility map" in flat(pilot.app)
        await keys(pilot, "escape", "b", "r")
        await settle(pilot)
        assert isinstance(pilot.app.screen, NoteScreen)
        assert "What is left on the sheet as it dries" in popped_up(pilot.app)
        await keys(pilot, "escape", "t")
        form = pilot.app.screen
        assert isinstance(form, SpotTestScreen)
        assert "%" in form.query_one("#field-liquid_text", Input).value
        while pilot.app.focused is not form.query_one("#release"):
            await pilot.press("ctrl+n")
        await keys(pilot, *"4000000", "ctrl+s")
        (stored,) = list_tests(studio)
        assert " + " in stored.liquid
        await keys(pilot, "f8")
        assert "Screening figures, not a measurement" in flat(pilot.app)
        await keys(pilot, "f2", "k")
        assert "The safety card is written:" in flat(pilot.app)
