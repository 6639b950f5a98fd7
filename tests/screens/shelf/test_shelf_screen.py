"""The shelf screen, by keyboard alone: liquids held and forbidden, bottles, and what is due."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from textual.pilot import Pilot

from kb.book.kinds.bottle import Bottle
from kb.desk.shelf.bottles import all_bottles, open_bottle
from kb.desk.shelf.shelf import allowed, forbid, hold, shelf
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.going_on import LEAVE_FIRST
from kb.tui.screens.few_lines import FewLines
from kb.tui.screens.note import AskScreen
from kb.tui.screens.shelf.shelf import LISTS, SHELF, ShelfScreen
from tests.screens.making_help import NewApp
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, settle, shown, write

TODAY = date(2026, 6, 15)


@pytest.fixture(autouse=True)
def _this_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """Things are due by a day that never changes."""
    monkeypatch.setattr("kb.tui.screens.shelf.shelf.today", lambda: TODAY)


async def opened(pilot: Pilot[None], *pressed: str) -> ShelfScreen:
    """Go to the materials, from there to the shelf."""
    await settle(pilot)
    await keys(pilot, "f4", "down", "h")
    screen = pilot.app.screen
    assert isinstance(screen, ShelfScreen)
    await keys(pilot, *pressed)
    return screen


def stocked(studio: Studio) -> Studio:
    """A shelf with three liquids, two prohibitions and four bottles."""
    # The name of who writes is shown, so it must not be that of whoever runs the tests.
    studio.settings_file.write_text("name: North Room\nwho: AB\n")
    hold(studio, ["acetone", "diethyl-ether", "ethanol"])
    forbid(studio, liquids=["benzene"], why="it causes cancer", rule="health")
    forbid(studio, families=["ketone"], why="the hood is small", rule="building")
    for fields in (
        {"liquid": "acetone", "opened": "2026-01", "expires": "2026-06-30", "lot": "4711"},
        {"liquid": "diethyl-ether", "label": "by the window", "opened": "2026-01-10"},
        {"liquid": "ethanol"},
        {"liquid": "ethanol", "label": HOSTILE, "opened": "2025", "expires": "2026-05"},
    ):
        open_bottle(studio, Bottle(**fields), TODAY)
    return studio


async def test_the_first_liquid_is_asked_about_and_then_listed(studio: Studio) -> None:
    """Until something is listed all count as held; listing the first one changes that, so it is asked."""
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        assert "none listed, so all" in flat(pilot.app)
        await keys(pilot, "space")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "escape")
        assert not shelf(studio).listed
        await keys(pilot, "space", "y")
        assert pilot.app.screen is screen
        assert sum(one.held for one in shelf(studio).liquids) == 1
        assert "1 of" in flat(pilot.app)
        await keys(pilot, "down", "space", "space")
        assert sum(one.held for one in shelf(studio).liquids) == 1


async def test_held_ones_come_first_and_the_row_says_why(studio: Studio) -> None:
    """What is held stands on top; what stands against a liquid is told below in full."""
    stocked(studio)
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        text = flat(pilot.app)
        assert "Acetone held FORBIDDEN" in text
        assert "Acetone is forbidden here (rule of the building): the hood is small." in text
        await keys(pilot, "down")
        assert "Diethyl ether is listed as held. Nothing stands against it here." in flat(pilot.app)
        assert [one.id for one in screen.stock.view.liquids][:3] == ["acetone", "diethyl-ether", "ethanol"]  # type: ignore[union-attr]


async def test_forbid_asks_why_and_whose_rule(studio: Studio) -> None:
    """Without a reason nothing is stored and the form stays; with one, the ranking leaves it out."""
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "x")
        assert isinstance(pilot.app.screen, FewLines)
        await keys(pilot, "ctrl+s")
        assert "Not stored: Say why" in flat(pilot.app)
        await write(pilot, "it stinks")
        await keys(pilot, "enter", "h", "ctrl+s")
        assert pilot.app.screen is screen
        (rule,) = shelf(studio).forbids
        assert (rule.why, rule.rule) == ("it stinks", "health")
        assert not allowed(studio, {rule.liquids[0]: 1.0}).allowed
        assert "Health: it stinks" in flat(pilot.app)


async def test_a_reason_half_written_is_not_lost_by_one_key(studio: Studio) -> None:
    """Escape leaves without storing and keeps it: it stands there when the form is opened again."""
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "x")
        await write(pilot, "it")
        await keys(pilot, "escape")
        assert pilot.app.screen is screen
        assert not shelf(studio).forbids
        await keys(pilot, "x")
        assert isinstance(pilot.app.screen, FewLines)
        assert "it" in pilot.app.screen.values.values()


async def test_allow_asks_once_more(studio: Studio) -> None:
    """On a prohibition it takes all of it back; a liquid that its family forbids stays forbidden."""
    stocked(studio)
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        await opened(pilot, "a")
        assert "the hood is small" in flat(pilot.app)
        await keys(pilot, "delete")
        assert len(shelf(studio).forbids) == 2
        await keys(pilot, "tab", "a", "k")
        assert len(shelf(studio).forbids) == 2
        await keys(pilot, "down", "a", "delete")
        assert [one.liquids for one in shelf(studio).forbids] == [("benzene",)]
        assert allowed(studio, {"acetone": 1.0}).allowed


async def test_what_is_due_stands_in_words(studio: Studio) -> None:
    """Capitals behind a mark, how long, and the whole sentence with what the rule rests on below."""
    stocked(studio)
    async with BenchleafApp(studio).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot, "tab", "tab")
        text = flat(pilot.app)
        for words in (
            "Bottles: 4; 4 due",
            "! EXPIRES SOON, 15 days to go",
            "! PEROXIDE TEST DUE, 66 days late",
            "! NO DATE KNOWN",
            "! EXPIRED, 15 days ago",
        ):
            assert words in " ".join(text.split()), words
        assert "[TODO]" in text
        await keys(pilot, "down")
        assert screen.bottle is not None
        assert "common practice, no source" in flat(pilot.app)


async def test_what_is_due_stands_first(studio: Studio) -> None:
    """On a small screen the rest of the bottles lies below the edge."""
    stocked(studio)
    open_bottle(studio, Bottle(liquid="toluene", opened="2026-05-01", expires="2030-01"), TODAY)
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        assert screen.stock is not None
        rows = [row.key for row in screen.listed("shelf-bottles").of_rows]
        due = [bool(screen.stock.due.get(key)) for key in rows]
        assert due == sorted(due, reverse=True)
        assert not due[-1]


async def test_a_new_bottle(studio: Studio) -> None:
    """The liquid of a row one went to is filled in; any name will do; a wrong date keeps the form."""
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "down", "n")
        form = pilot.app.screen
        assert isinstance(form, FewLines)
        # The cursor starts on the first empty line, below the liquid of the row.
        assert (form.values["liquid"], form.focused.id) == ("1,2-Dichloroethane", "field-label")
        await keys(pilot, "escape", "up", "n")
        await write(pilot, "alcohol")
        assert pilot.app.screen.values["liquid"] == "alcohol", "it was the label of a liquid nobody chose"
        await keys(pilot, "ctrl+s")
        assert "Not stored:" in flat(pilot.app)
        await keys(pilot, *["backspace"] * 7)
        await write(pilot, "diethyl ether")
        await keys(pilot, "down")
        await write(pilot, "shelf 2")
        await keys(pilot, "down", "down")
        await write(pilot, "someday")
        await keys(pilot, "ctrl+s")
        assert "Not stored:" in flat(pilot.app)
        await keys(pilot, *["backspace"] * 7)
        await write(pilot, "2027-03")
        await keys(pilot, "ctrl+s")
        assert pilot.app.screen is screen
        (bottle,) = all_bottles(studio)
        told = (bottle.liquid, bottle.label, bottle.opened, bottle.expires)
        assert told == ("diethyl-ether", "shelf 2", "2026-06-15", "2027-03")
        assert "Diethyl ether (shelf 2)" in flat(pilot.app)


async def test_peroxides_tested_and_bottle_finished(studio: Studio) -> None:
    """A test takes what was due off; a finished bottle leaves the list; both stay in the book."""
    ether = open_bottle(studio, Bottle(liquid="diethyl-ether", opened="2026-01-10"), TODAY).id
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        await opened(pilot, "tab", "tab")
        assert "PEROXIDE TEST DUE" in flat(pilot.app)
        await keys(pilot, "p", "ctrl+s")
        assert "Not stored: Say what the test showed" in flat(pilot.app)
        await write(pilot, "below 1 mg/l")
        await keys(pilot, "ctrl+s")
        text = flat(pilot.app)
        assert "PEROXIDE TEST DUE" not in text
        assert "peroxides tested 2026-06-15 below 1 mg/l" in text
        await keys(pilot, "e")
        await keys(pilot, *["backspace"] * 5)
        await write(pilot, "2027-01-01")
        await keys(pilot, "ctrl+s")
        assert "lies ahead" in flat(pilot.app)
        await keys(pilot, *["backspace"] * 10)
        await write(pilot, "2026-06-14")
        await keys(pilot, "ctrl+s")
        assert "No bottle is written down" in flat(pilot.app)
        (kept,) = all_bottles(studio, finished=True)
        assert (kept.id, kept.finished, kept.peroxide_result) == (ether, "2026-06-14", "below 1 mg/l")


async def test_a_bottle_written_down_by_mistake(studio: Studio) -> None:
    """W asks why; the bottle is off the list."""
    open_bottle(studio, Bottle(liquid="acetone", opened="2026-01-10"), TODAY)
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        await opened(pilot, "tab", "tab", "w")
        await write(pilot, "twice")
        await keys(pilot, "enter", "enter")
        assert all_bottles(studio, finished=True) == []


async def test_keys_that_do_nothing_here_are_not_shown(studio: Studio) -> None:
    """Each part has its own; together they are all, and none is cut off."""
    stocked(studio)
    for size in ((80, 24), (120, 40)):
        async with BenchleafApp(studio).run_test(size=size) as pilot:
            await opened(pilot)
            seen = []
            for _ in LISTS:
                assert keys_fit(pilot.app)
                seen.append(shown(pilot.app).splitlines()[-1])
                await keys(pilot, "tab")
            assert "Hold" in seen[0]
            assert "Hold" not in seen[2]
            assert "Peroxides" in seen[2]
            assert "Peroxides" not in seen[0]
            assert all(not act.foot or any(act.word in line for line in seen) for act in SHELF)


async def test_from_the_palette_and_back(studio: Studio) -> None:
    """The palette reaches the shelf from any screen; Escape goes to the materials, over which it stands."""
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "ctrl+p")
        await write(pilot, "shelf")
        await keys(pilot, "enter")
        await settle(pilot)
        assert isinstance(pilot.app.screen, ShelfScreen)
        assert pilot.app.current_mode == "materials"
        await keys(pilot, "f1")
        # Keys come first in the help; what it explains is further down.
        await keys(pilot, "pagedown")
        assert "peroxide former" in flat(pilot.app)
        await keys(pilot, "escape", "escape")
        assert pilot.app.screen.TITLE_WORDS == "Materials"  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("word", "shown_then", "mode"),
    [("pool of", "PoolScreen", "materials"), ("batches and", "BatchesScreen", "recipes")],
)
async def test_what_lies_over_a_place_is_reached_from_any(
    studio: Studio, word: str, shown_then: str, mode: str
) -> None:
    """Who did not know the place found neither: the palette had no word for them."""
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "ctrl+p")
        await write(pilot, word)
        await keys(pilot, "enter")
        await settle(pilot)
        assert type(pilot.app.screen).__name__ == shown_then
        assert pilot.app.current_mode == mode


async def test_a_damaged_shelf_file_is_named(studio: Studio) -> None:
    """What is wrong in the file comes first below the lists, and nothing is written over it."""
    studio.make()
    studio.shelf_file.write_text("holds: [no-such-liquid]\n")
    async with BenchleafApp(studio).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot)
        assert "shelf.yaml" in flat(pilot.app)
        assert screen.listed("shelf-liquids").row_count > 20


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
def test_picture_of_the_shelf(size: tuple[int, int], snap_compare: Any, new_studio: Any) -> None:
    """Three parts, what is due, the row in full."""
    studio = stocked(new_studio("north"))

    async def before(pilot: Pilot[None]) -> None:
        await opened(pilot, "tab", "tab", "down")

    assert snap_compare(BenchleafApp(studio), terminal_size=size, run_before=before)


async def test_the_palette_goes_to_what_is_open_already(new_app: NewApp) -> None:
    """Each time laid one more shelf and one more pool over the last; batches that were open were a form."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        await settle(pilot)

        async def by_palette(words: str, *first: str) -> list[str]:
            await keys(pilot, *first, "ctrl+p")
            await write(pilot, words)
            await keys(pilot, "enter")
            return [type(screen).__name__ for screen in app.screen_stack]

        pool = ["MaterialsScreen", "ShelfScreen", "PoolScreen"]
        for first in ((), (), ("f2",)):
            assert await by_palette("pool of", *first) == pool
        assert await by_palette("shelf", "f2") == pool[:2]
        await by_palette("pool of")
        await keys(pilot, "a")
        assert await by_palette("pool of", "f2") == [*pool, "FewLines"]
        assert [one.message for one in app._notifications] == [LEAVE_FIRST]
        app.clear_notifications()
        for first in ((), (), ("f2",)):
            assert await by_palette("batches and", *first) == ["RecipesScreen", "BatchesScreen"]
        assert not app._notifications
