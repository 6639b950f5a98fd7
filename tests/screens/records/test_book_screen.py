"""The bench book screen, by keyboard alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from kb.book.append import BookError
from kb.desk.drafts import drafts
from kb.desk.records.record import list_tests, show_test
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.screens.ask_why import AskWhy
from kb.tui.screens.records import book
from kb.tui.screens.records.amend import AmendScreen
from kb.tui.screens.records.book import BookScreen
from kb.tui.screens.records.record_view import RecordScreen
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, settle, shown, still_book, store, write


@pytest.fixture(scope="module")
def still(blank_index: Path, tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A book that nobody writes in."""
    return still_book(blank_index, tmp_path_factory.mktemp("still"))


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A studio to write in. Each test of this file adds the record that it changes."""
    root = tmp_path_factory.mktemp("written")
    (root / "studio.yaml").write_text("who: AB\nbench: bench-a\n")
    return Studio(root)


async def opened(pilot: Pilot[None]) -> BookScreen:
    """Go to the bench book."""
    await settle(pilot)
    await keys(pilot, "f3")
    screen = pilot.app.screen
    assert isinstance(screen, BookScreen)
    return screen


def listed(screen: BookScreen) -> list[str]:
    """Sheets in the list, from the top."""
    return [row.sheet for row in screen.table.rows_shown]


async def test_the_list_says_grades_harm_and_state_in_words(still: Studio) -> None:
    """Newest first; what was not looked at is never shown as harmless."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        assert listed(screen)[0] == "Letter 3"
        rows = {row.date + row.sheet: (row.release, row.harm, row.state) for row in screen.table.rows_shown}
        assert rows["2026-01-05Letter 3"] == ("3 lightly", "4 loss", "")
        assert rows["2026-01-05Letter 2"] == ("2 in part", "2 slight", "amended")
        text = flat(pilot.app)
        for words in ("withdrawn", "amended", "not looked", "control", "not graded", "7 tests, 1 of them"):
            assert words in text


async def test_the_filter_narrows_and_says_how_it_was_understood(still: Studio) -> None:
    """A whole name narrows, a misspelt one is told and asked about; Escape in the list empties the filter."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "slash")
        await write(pilot, "ethanl")
        assert 'Not understood: "ethanl"' in flat(pilot.app)
        await keys(pilot, *["backspace"] * 6)
        await write(pilot, "ethanol")
        assert listed(screen) == ["Letter 2"]
        assert "Only liquid Ethanol" in flat(pilot.app)
        await keys(pilot, "enter")
        assert screen.focused is screen.table
        await keys(pilot, "escape")
        assert len(listed(screen)) == 7


async def test_a_scanned_id_opens_its_record_where_one_finds_or_filters(still: Studio) -> None:
    """In capitals or not, whole or as a label prints it; other words go on as before."""
    record = list_tests(still)[0].id
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        for place, typed in (("f3", record), ("f3", record[:12].lower()), ("f4", record)):
            await settle(pilot)
            await keys(pilot, "f2", place)
            await settle(pilot)
            await keys(pilot, "escape", "slash")
            field = pilot.app.screen.query("Input").first(Input)
            field.value = typed
            await settle(pilot)
            field.focus()
            await keys(pilot, "enter")
            await settle(pilot)
            assert isinstance(pilot.app.screen, RecordScreen), (place, typed)
            assert record in flat(pilot.app)
            await keys(pilot, "escape")
        field.value = "zzzzzzz9"
        await keys(pilot, "enter")
        await settle(pilot)
        assert not isinstance(pilot.app.screen, RecordScreen)


async def test_a_filter_that_nothing_fits_says_what_to_do(still: Studio) -> None:
    """No silent empty list."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await keys(pilot, "slash")
        await write(pilot, "xylene")
        assert "No test fits" in flat(pilot.app)


async def test_enter_opens_everything_in_a_record(still: Studio) -> None:
    """Grades in words, what was not looked at by name, rounds, place, photographs, history."""
    async with BenchleafApp(still).run_test(size=(100, 60)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "slash")
        await write(pilot, "acetone letter 1")
        await keys(pilot, "enter", "enter")
        assert isinstance(pilot.app.screen, RecordScreen)
        text = flat(pilot.app)
        for words in (
            "release 4 releases clean",
            "bleeding 1 trace on the blotter only",
            "tideline not looked at",
            "2 min 30 s; one drop; wet: darkens; dry: pale",
            "from left edge 12.5 mm",
            "photos/a.jpg (after); SHA-256 abababababab...",
            "second try",
            "written 5 Jan 2026 10:00, AB",
        ):
            assert words in text
        await keys(pilot, "escape")
        assert pilot.app.screen is screen


async def test_history_shows_who_when_why_and_old_and_new(still: Studio) -> None:
    """The value first written can still be read after a correction."""
    async with BenchleafApp(still).run_test(size=(100, 60)) as pilot:
        await opened(pilot)
        await keys(pilot, "slash")
        await write(pilot, "ethanol")
        await keys(pilot, "enter", "enter")
        text = flat(pilot.app)
        assert "5 Jan 2026 17:00, AB. Why: graded too early" in text
        assert "release: 1 softens slightly -> 2 swells, can be rolled off in part" in text
        assert "state amended" in text


async def test_amend_by_keyboard(written: Studio) -> None:
    """Field, value, reason; the line first written stays byte for byte, the list says amended."""
    record = store(written, 20, release=1, sheet="To amend")
    file = written.book_dir / "bench-a.jsonl"
    before = file.read_bytes()
    async with BenchleafApp(written).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "a")
        assert isinstance(pilot.app.screen, AmendScreen)
        assert "Nothing is erased" in flat(pilot.app)
        await keys(pilot, "enter", "backspace", "9", "enter")
        assert 'Release is graded 0 to 4, not "9"' in flat(pilot.app)
        await keys(pilot, "backspace", "3", "shift+tab", "down")
        assert not pilot.app.screen.query_one("#amend-value", Input).value, "meant for another field"
        await keys(pilot, "enter", "end", "backspace", "1", "escape")
        assert any("Kept as a draft" in notice.message for notice in pilot.app._notifications)
        await keys(pilot, "a", "shift+tab", "up", "enter")
        assert pilot.app.screen.query_one("#amend-value", Input).value == "3", "gone by a look at another"
        # Both grades are parts of one whole; what is emptied stays so.
        await keys(pilot, "shift+tab", *["down"] * 3, "enter", "end", "backspace", "2", "shift+tab")
        await keys(pilot, *["down"] * 4, "enter", "home", "ctrl+k", "shift+tab", "up", "down")
        assert "To amend -> -" in flat(pilot.app), "what waits to be stored was not to be seen"
        await keys(pilot, "enter", "enter")
        assert "release: 1 softens slightly -> 3 releases with light work; bleeding: " in flat(pilot.app)
        await keys(pilot, "enter")
        assert "Say why first" in flat(pilot.app)
        await write(pilot, "misread")
        await keys(pilot, "enter")
        assert pilot.app.screen is screen
        assert screen.table.here is not None
        assert screen.table.here.state == "amended"
    found = show_test(written, record)
    kinds = ("bleed", "tideline")
    assert (found.test.release, *(found.test.harm[kind] for kind in kinds)) == (3, 1, 2), "only the last"
    assert not found.test.sheet
    assert found.history[-1].why == "misread"
    assert file.read_bytes().startswith(before)


async def test_amend_that_changes_nothing_is_refused(written: Studio) -> None:
    """The form says so and stays; nothing is written."""
    record = store(written, 21, release=2, sheet="Unchanged")
    async with BenchleafApp(written).run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await keys(pilot, "a", "enter", "enter")
        assert "nothing would change" in flat(pilot.app)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, BookScreen)
    assert len(show_test(written, record).history) == 1


async def test_withdraw_by_keyboard(written: Studio) -> None:
    """A reason, a second Enter; the record stays readable, marked; a second withdrawal is not offered."""
    record = store(written, 22, sheet="To withdraw")
    async with BenchleafApp(written).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "w")
        assert isinstance(pilot.app.screen, AskWhy)
        assert "Nothing is erased" in flat(pilot.app)
        assert "; 6 Jan 2026 07:00, AB; not graded;" in flat(pilot.app)
        assert record in flat(pilot.app), "two tests alike are told apart"
        await keys(pilot, "ctrl+s")
        assert "Say why first" in flat(pilot.app), "the key that stores every other form did nothing here"
        await keys(pilot, "enter")
        assert "Say why first" in flat(pilot.app)
        await write(pilot, "wrong bottle")
        await keys(pilot, "enter")
        assert show_test(written, record).state == ""
        await keys(pilot, "enter")
        assert pilot.app.screen is screen
        assert screen.table.here is not None
        assert screen.table.here.state == "withdrawn"
        await keys(pilot, "w")
        assert pilot.app.screen is screen
        assert any("withdrawn already" in notice.message for notice in pilot.app._notifications)
    assert show_test(written, record).history[-1].why == "wrong bottle"


async def test_a_written_reason_is_not_lost_by_one_key(studio: Studio) -> None:
    """Escape leaves and keeps it; at the next start Ctrl+B opens it from any place."""
    record = store(studio, 23, sheet="Kept")
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "w")
        await write(pilot, "dull")
        await keys(pilot, "escape")
        assert pilot.app.screen is screen
        assert any("Kept as a draft" in notice.message for notice in pilot.app._notifications)
        await keys(pilot, "w")
        assert pilot.app.screen.query_one("#change-why", Input).value == "dull"
        await write(pilot, "er")
    assert show_test(studio, record).state == ""
    async with BenchleafApp(Studio(studio.root)).run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f4", "ctrl+b")
        assert isinstance(pilot.app.screen, AskWhy)
        await keys(pilot, "enter", "enter")
        assert any("Stored in the bench book" in notice.message for notice in pilot.app._notifications)
        assert drafts(studio.root) == {}
    # The studio of the first app has not looked since: another program wrote.
    studio.refresh()
    assert show_test(studio, record).history[-1].why == "duller"


async def test_what_cannot_be_stored_is_said_and_kept(
    written: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk: the sentence of the book is shown, the reason stays in the form."""
    store(written, 24, sheet="Full disk")

    def full(*_: object, **__: object) -> None:
        raise BookError("The disk is full. Nothing was recorded.")

    async with BenchleafApp(written).run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await keys(pilot, "w")
        await write(pilot, "dull")
        monkeypatch.setattr("kb.book.append.append", full)
        await keys(pilot, "enter", "enter")
        assert isinstance(pilot.app.screen, AskWhy)
        assert "Not stored: The disk is full. Nothing was recorded." in flat(pilot.app)
        assert "dull" in flat(pilot.app)


async def test_pages(still: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """Going past the end of a page fetches the next; only one page is held."""
    monkeypatch.setattr(book, "PAGE", 3)
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        first = [row.id for row in screen.table.rows_shown]
        assert len(first) == 3
        await keys(pilot, "down", "down", "down")
        second = [row.id for row in screen.table.rows_shown]
        assert len(second) == 3
        assert max(second) < min(first)
        assert "Shown: 4 to 6" in flat(pilot.app)
        await keys(pilot, "o")
        assert [row.id for row in screen.table.rows_shown] == [min(row.id for row in list_tests(still))]
        await keys(pilot, "n", "up")
        assert [row.id for row in screen.table.rows_shown] == first
        assert screen.table.cursor_row == 2


async def test_hostile_words_are_shown_as_they_are(still: Studio) -> None:
    """Brackets stay brackets in the list and in the record; control characters become a visible mark."""
    async with BenchleafApp(still).run_test(size=(140, 60)) as pilot:
        await opened(pilot)
        await keys(pilot, "down", "enter")
        text = flat(pilot.app)
        assert f"sheet {HOSTILE}" in text
        assert f"{HOSTILE}\N{REPLACEMENT CHARACTER}[2J" in text
        assert not {*shown(pilot.app)} & {*"\x00\x07\x1b\x7f\x9b\u202e"}


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
async def test_fits(still: Studio, size: tuple[int, int]) -> None:
    """All keys, all columns and every heading are on the screen."""
    async with BenchleafApp(still).run_test(size=size) as pilot:
        screen = await opened(pilot)
        assert keys_fit(pilot.app)
        assert screen.table.virtual_size.width <= screen.table.size.width
        for heading in ("Date", "Sheet", "Tape", "Liquid", "Release", "Harm", "State"):
            assert heading in shown(pilot.app)
        await keys(pilot, "a")
        for words in ("New value", "Why?", "Esc keeps a draft"):
            assert words in shown(pilot.app)


async def test_large_screen_shows_the_record_under_the_list(still: Studio) -> None:
    """It follows the cursor; a small screen says the row in words below instead."""
    async with BenchleafApp(still).run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        assert re.search(r"tideline +4 loss", shown(pilot.app))
        await keys(pilot, "down", "down")
        assert re.search(r"colour +3 clear change", shown(pilot.app))
        await pilot.resize_terminal(80, 24)
        await settle(pilot)
        assert "Map, 1892: Acetone, Swab" in flat(pilot.app)


async def test_a_column_sorts_the_page_and_the_cursor_stays_on_its_record(still: Studio) -> None:
    """By a key or a click on the heading; what it is sorted by is said, and the other list starts anew."""
    async with BenchleafApp(still).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "down")
        here = screen.record_in_view()
        await keys(pilot, "full_stop", "full_stop", "full_stop")
        assert listed(screen) == sorted(listed(screen), key=lambda name: (not name, name.casefold()))
        assert "sorted by sheet" in flat(pilot.app)
        assert screen.record_in_view() == here
        await pilot.click(screen.table, offset=(3, 0))
        await settle(pilot)
        dates = [row.date for row in screen.table.rows_shown]
        assert dates == sorted(dates)
        await keys(pilot, "e")
        await settle(pilot)
        assert "sorted by" not in flat(pilot.app)


async def test_an_empty_book_says_how_to_begin(new_studio: Callable[[str], Studio]) -> None:
    """No bare empty table, and no keys that do nothing."""
    async with BenchleafApp(new_studio("empty")).run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        assert "The bench book is empty" in flat(pilot.app)
        assert "Withdraw" not in shown(pilot.app)
        await keys(pilot, "a", "w", "enter", "down", "o")
        assert isinstance(pilot.app.screen, BookScreen)


async def test_help_explains_the_screen(still: Studio) -> None:
    """F1 names every key of the footer."""
    async with BenchleafApp(still).run_test(size=(100, 50)) as pilot:
        await opened(pilot)
        await keys(pilot, "f1")
        text = flat(pilot.app)
        for act in book.BOOK:
            assert act.says in text


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
def test_picture_of_the_list(still: Studio, size: tuple[int, int], snap_compare: Any) -> None:
    """The list, alone and with the record beside it."""

    async def before(pilot: Pilot[None]) -> None:
        await opened(pilot)
        await keys(pilot, "down", "down", "down", "down")

    assert snap_compare(BenchleafApp(still), terminal_size=size, run_before=before)
