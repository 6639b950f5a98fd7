"""A working day by keyboard alone: ask, test, time, grade, store, see it change, look it up."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual.app import App
from textual.pilot import Pilot
from textual.widgets import Input

from kb.desk.keep import verify
from kb.desk.making.batches import all_batches, trace
from kb.desk.records.book_list import list_records
from kb.desk.records.record import list_tests, show_test
from kb.desk.sheet.facts import SheetFacts
from kb.desk.sheet.sheets import keep_facts
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.form import FormScreen
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.liquids.blends import BlendsScreen
from kb.tui.screens.making.batches import BatchesScreen
from kb.tui.screens.note import NoteScreen
from kb.tui.screens.records.book import BookScreen
from kb.tui.screens.records.record_view import RecordScreen
from kb.tui.screens.records.spot_test import SpotTestScreen
from kb.tui.screens.sheet.press import PressScreen
from kb.tui.screens.sheet.sheet import SheetScreen
from tests.screens.conftest import HandClock, ask, popped_up
from tests.screens.making_help import make, opened, to_step
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
        await write(pilot, "Map 7")
        await keys(pilot, "down")
        await write(pilot, "lower left")
        for dwell_s in (30, 60, 90):
            await keys(pilot, "ctrl+t")
            hand_clock.on(dwell_s)
            await keys(pilot, "ctrl+t", "ctrl+r")
        while pilot.app.focused is not form.query_one("#release"):
            await pilot.press("ctrl+n")
        await keys(pilot, *"0400000", "ctrl+s")
        assert 'No sheet in the book is called "Map 7"' in flat(pilot.app)
        await keys(pilot, "ctrl+y")

        assert pilot.app.screen is home
        (stored,) = list_tests(studio)
        text = flat(pilot.app)
        assert f"Stored and on disk: the test of {first.name} on Map 7." in text
        assert home.ranked.rows[0].liquid != first.liquid
        assert " ".join(home.note.split()).startswith(f"{first.name} was 1st, now ")

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
        await keys(pilot, "escape", "b")
        blends = pilot.app.screen
        assert isinstance(blends, BlendsScreen)
        while blends.here is None:
            await keys(pilot, "down")
        await keys(pilot, "r")
        await settle(pilot)
        assert isinstance(pilot.app.screen, NoteScreen)
        assert "What is left on the sheet as it dries" in popped_up(pilot.app)
        await keys(pilot, "escape", "t")
        form = pilot.app.screen
        assert isinstance(form, SpotTestScreen)
        assert "%" in form.query_one("#field-liquid_text", Input).value
        while pilot.app.focused is not form.query_one("#release"):
            await pilot.press("ctrl+n")
        # Twice: no sheet is named.
        await keys(pilot, *"4000000", "ctrl+s", "ctrl+s")
        (stored,) = list_tests(studio)
        assert " + " in stored.liquid
        await keys(pilot, "f8")
        assert "Screening figures, not a measurement" in flat(pilot.app)
        await keys(pilot, "f2", "w")
        assert "The safety card is written:" in flat(pilot.app)


def notices(app: App[Any]) -> str:
    """All notices in the corner."""
    return " ".join(notice.message for notice in app._notifications)


async def lines(pilot: Pilot[Any], *typed: str) -> None:
    """Write into one line after the other, with the arrow key between them."""
    for text in typed:
        await write(pilot, text)
        await keys(pilot, "down")


async def paste(pilot: Pilot[Any], hand_clock: HandClock) -> None:
    """120 ml by the steps of the recipe, each timed and ticked; the batch and its label."""
    screen = await opened(pilot)
    await make(pilot, "120 ml")
    for step in range(1, 5):
        await to_step(pilot, screen, step)
        await keys(pilot, "t")
        hand_clock.on(1900)
        await keys(pilot, "t", "space")
    assert "Steps: 4 of 4 ticked" in flat(pilot.app)
    await keys(pilot, "b", "ctrl+t", "ctrl+s")
    assert isinstance(pilot.app.screen, BatchesScreen)
    await keys(pilot, "p")
    assert "use by" in popped_up(pilot.app).lower()
    await keys(pilot, "escape", "escape")


async def wash(pilot: Pilot[Any]) -> None:
    """Two baths: within the first two readings agree, and the second ends as the first did."""
    await keys(pilot, "w", "r")
    await write(pilot, "bath 1, 10 min, pH 6.1, 300 uS")
    await keys(pilot, "enter")
    await write(pilot, "20 min, pH 6.1, 302 uS")
    await keys(pilot, "enter")
    assert "CHANGE THE WATER" in flat(pilot.app)
    await write(pilot, "bath 2, 20 min, pH 6.1, 301 uS")
    await keys(pilot, "enter")
    assert "STOP: Bath 2 ended as bath 1 did" in flat(pilot.app)
    await keys(pilot, "escape", "escape")


async def buffer(pilot: Pilot[Any]) -> None:
    """The bath is worked out on the screen of baths, and read once the sheet is in it."""
    await keys(pilot, "f7")
    await lines(pilot, "5 L", "8.5")
    await keys(pilot, "down", "down", "c")
    assert "Weigh " in flat(pilot.app)
    await keys(pilot, "escape", "w")
    await write(pilot, "Letter 7")
    await keys(pilot, "escape", "r")
    await write(pilot, "bath 3, 20 min, pH 8.4, water calcium hydroxide")
    await keys(pilot, "enter", "escape", "escape")


ALL_OF_IT = 9
"""Records of the day of mending: a sheet and its tear, written down first, and seven pieces of work."""


async def read_all(pilot: Pilot[Any], kind: str, *words: str) -> None:
    """Narrow the list of everything to a kind, open each record from the top, and find the words."""
    book = pilot.app.screen
    assert isinstance(book, BookScreen)
    await keys(pilot, "escape", "slash")
    await write(pilot, kind)
    await keys(pilot, "enter", "home")
    assert len(book.table.rows_shown) == (len(words) or ALL_OF_IT), kind
    for word in words:
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, RecordScreen)
        assert word in flat(pilot.app)
        await keys(pilot, "escape", "down")


async def test_a_day_of_mending(
    new_app: Callable[[], BenchleafApp], studio: Studio, hand_clock: HandClock
) -> None:
    """Paste, label, mend, wash, buffer, tone, press, frame: every record is listed, opened and read."""
    known = SheetFacts(grammage="90 g/m2", thickness="0.12 mm", humidity="45-55 %", tear_length="60 mm")
    keep_facts(studio, "Letter 7", known)
    async with new_app().run_test(size=(80, 50)) as pilot:
        await paste(pilot, hand_clock)
        (made,) = all_batches(studio)
        assert (studio.root / "exports" / f"label-{made.short}.svg").exists()

        await keys(pilot, "ctrl+l")
        await write(pilot, "Letter 7")
        await keys(pilot, "enter")
        plan = pilot.app.screen
        assert isinstance(plan, SheetScreen)
        await keys(pilot, "slash")
        await write(pilot, "210 x 300 mm")
        await keys(pilot, "escape", "m")
        form = pilot.app.screen
        assert isinstance(form, FormScreen)
        assert form.kind.key == "mend"
        for name in ("tissue", "batch", "length"):
            field = form.query_one(f"#field-{name}", Input)
            assert not field.value
            field.focus()
            await keys(pilot, "ctrl+e")
        assert form.query_one("#field-batch", Input).value == made.short
        assert form.query_one("#field-length", Input).value == "60 mm"
        form.query_one("#tear").focus()
        await keys(pilot, "p")
        await write(pilot, "lower edge")
        assert "It will say: plain tear 60 mm, lower edge" in flat(pilot.app)
        await keys(pilot, "ctrl+s")
        assert pilot.app.screen is plan
        (mend,) = list_records(studio, kinds=("mend",))
        assert f"Stored and on disk: mend {mend.id}." in notices(pilot.app)

        await wash(pilot)
        await buffer(pilot)
        await keys(pilot, "f10", "t")
        assert isinstance(pilot.app.screen, FormScreen)
        assert pilot.app.screen.kind.key == "toning"
        await keys(pilot, "ctrl+e", "down")
        await lines(pilot, "raw umber 0.4 g; water 20 ml", "", "2", "88.1 1.2 12.5")
        await write(pilot, "86.9 1.4 13.1")
        assert "Difference (CIEDE2000) 0.9: not seen side by side" in flat(pilot.app)
        await keys(pilot, "ctrl+s", "d", "m", "t")
        assert isinstance(pilot.app.screen, PressScreen)
        hand_clock.on(301)
        pilot.app.tick()
        await settle(pilot)
        assert "Letter 7, step 1 of pressing - change the blotters: the time" in notices(pilot.app)
        await keys(pilot, "space", "escape", "h")
        frame = pilot.app.screen
        assert isinstance(frame, FormScreen)
        assert frame.kind.key == "housing"
        assert frame.query_one("#field-size", Input).value == "210 x 300 mm"
        frame.query_one("#field-place", Input).focus()
        await lines(pilot, "cabinet 3", "1 x 1 mm")
        assert "TOO SMALL" in flat(pilot.app)
        await keys(pilot, "up", "end", "ctrl+u")
        await write(pilot, "6 x 6 mm")
        assert "TOO SMALL" not in flat(pilot.app)
        await keys(pilot, "ctrl+s")
        assert "Done so far" in flat(pilot.app)
        assert "Framed" in flat(pilot.app)

        await keys(pilot, "f3", "e")
        await read_all(pilot, "mends", f"from batch {made.id}")
        await read_all(pilot, "toning", "raw umber")
        await read_all(pilot, "housing", "cabinet 3")
        await read_all(pilot, "batches", "wheat starch")
        await read_all(pilot, "readings", "calcium hydroxide", "301", "302", "300")
        await read_all(pilot, "Letter 7")
    assert trace(studio, made.id).sheets == ("Letter 7",)
    assert verify(studio) == []
