"""The screen of other studios, by keyboard alone: who is in the pool, weights, adding, dropping, giving."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from kb.desk.pool.pool import add, view
from kb.desk.records.record import add_test
from kb.desk.studio import Studio
from kb.index.pool_file import parse
from kb.model.question import Question
from kb.tui.app import BenchleafApp
from kb.tui.screens.choose.ranking import rank, why
from kb.tui.screens.few_lines import FewLines
from kb.tui.screens.note import AskScreen
from kb.tui.screens.pool import pool
from kb.tui.screens.pool.pool import POOL, PoolScreen
from kb.tui.screens.shelf.shelf import ShelfScreen
from tests.conftest import spot
from tests.pool_help import harmed, released, studio_id, written
from tests.screens.invented import SIZES
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, settle, shown, write

TODAY = date(2026, 6, 15)


@pytest.fixture(autouse=True)
def _this_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files are added on a day that never changes."""
    monkeypatch.setattr(pool, "today", lambda: TODAY)


async def opened(pilot: Pilot[None], *pressed: str) -> PoolScreen:
    """Go to the materials, from there to the shelf, from there to the pool."""
    await settle(pilot)
    await keys(pilot, "f4", "down", "h", "o")
    screen = pilot.app.screen
    assert isinstance(screen, PoolScreen)
    await keys(pilot, *pressed)
    return screen


def stocked(studio: Studio, tmp_path: Path) -> Studio:
    """Three studios, one of them with most of the counts, one with a hostile label."""
    studio.settings_file.write_text("name: North Room\nwho: AB\n")
    files = [
        written(tmp_path, 1, [released(4, 0, 3, 9, 40)], [harmed(20, 3, 0, 0, 0)], "Studio North"),
        written(tmp_path, 2, [released(1, 0, 0, 2, 5)], label="Studio by the river"),
        written(tmp_path, 3, [released(0, 0, 0, 1, 1)], label=HOSTILE),
    ]
    add(studio, files, TODAY)
    return studio


async def test_an_empty_pool_says_what_to_do(studio: Studio) -> None:
    """And the keys that need a row are not offered."""
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        assert "A takes in a counts file" in flat(pilot.app)
        await keys(pilot, "w", "x")
        assert pilot.app.screen is screen
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, ShelfScreen)


@pytest.mark.parametrize("size", SIZES)
async def test_the_rows_say_who_and_how_much(studio: Studio, tmp_path: Path, size: tuple[int, int]) -> None:
    """The largest share first, the warning below; stored text stays text; every key fits."""
    stocked(studio, tmp_path)
    async with BenchleafApp(studio).run_test(size=size) as pilot:
        await opened(pilot)
        seen = flat(pilot.app)
        assert "Other studios: 3; 66 tests of release, 23 looks for harm" in seen
        assert seen.index("Studio North") < seen.index("Studio by the river")
        assert "come from one studio (Studio North)" in seen
        assert "[b]bold[/b]" in shown(pilot.app)
        assert keys_fit(pilot.app)
        await keys(pilot, "down")
        assert f"Studio by the river ({studio_id(2)[:8]}): 8 tests of release" in flat(pilot.app)


async def test_weights_are_set_and_what_is_no_weight_is_said(studio: Studio, tmp_path: Path) -> None:
    """The form stays until it can be stored."""
    stocked(studio, tmp_path)
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "w")
        assert isinstance(pilot.app.screen, FewLines)
        await keys(pilot, "end", *["backspace"] * 3)
        await write(pilot, "much")
        await keys(pilot, "ctrl+s")
        assert "from 0 to 1" in flat(pilot.app)
        await keys(pilot, *["backspace"] * 4)
        await write(pilot, "0,5")
        await keys(pilot, "ctrl+s")
        assert pilot.app.screen is screen
        assert view(studio).studios[0].weight == 0.5
        assert "weight 0.5" in flat(pilot.app)


async def test_a_studio_is_dropped_after_asking(studio: Studio, tmp_path: Path) -> None:
    """Escape keeps it."""
    stocked(studio, tmp_path)
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        await opened(pilot, "x")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "escape")
        assert len(view(studio).studios) == 3
        # Twice the key that opened it, as a key that bounces sends it, drops nothing.
        await keys(pilot, "x", "x")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "delete")
        assert view(studio).studios[0].label == "Studio by the river"
        assert "Other studios: 2" in flat(pilot.app)


async def test_a_file_is_added_or_refused_with_its_reason(studio: Studio, tmp_path: Path) -> None:
    """A file that is none is said in the form, and the path is kept."""
    good = written(tmp_path, 1, [released(0, 0, 0, 0, 3)], label="North")
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "a", "ctrl+s")
        assert "Say where the file is" in flat(pilot.app)
        form = pilot.app.screen
        blank: Any = form.query_one("#field-file")
        blank.value = str(tmp_path / "none.json")
        await keys(pilot, "ctrl+s")
        # To its last word, also where the path makes it long.
        assert "was not added" in flat(pilot.app)
        assert "Nothing was changed." in flat(pilot.app)
        blank.value = str(good)
        await keys(pilot, "ctrl+s")
        assert pilot.app.screen is screen
        assert [one.added for one in view(studio).studios] == ["2026-06-15"]
        assert "North" in flat(pilot.app)


async def test_own_counts_are_given(studio: Studio) -> None:
    """Written into the studio's folder of exports, with the label that was typed."""
    for _ in range(2):
        add_test(studio, spot(release=4, sheet="Chart of the bay"))
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot, "g")
        await write(pilot, "South")
        await keys(pilot, "ctrl+s")
        assert pilot.app.screen is screen
        (said,) = (one.message for one in pilot.app._notifications)
        assert said.startswith("The file is exports/counts.json in the studio's folder: ")
        assert said.endswith("can point to one object; G again with at least 3 leaves them out.")
        assert len(said) < 3 * 76, "of more the notice showed the last three lines"
        text = (studio.root / "exports" / "counts.json").read_bytes()
        assert (parse(text).label, b"Chart" in text) == ("South", False)
        await keys(pilot, "g", "tab")
        await write(pilot, "x")
        await keys(pilot, "ctrl+s")
        assert "whole number" in flat(pilot.app)


async def test_help_names_every_key(studio: Studio) -> None:
    """F1 lists what can be done here."""
    async with BenchleafApp(studio).run_test(size=(120, 40)) as pilot:
        await opened(pilot, "f1")
        seen = flat(pilot.app)
        assert all(act.says in seen for act in POOL)


def test_the_reasons_of_a_row_name_other_studios(studio: Studio, tmp_path: Path) -> None:
    """In the order of trust, between own tests and print; where there is no pool they are not named."""
    asked = Question(adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil")
    without = rank(studio, asked, None)
    assert all("ther studios" not in why(without, one) for one in without.rows)
    stocked(studio, tmp_path)
    ranked = rank(studio, asked, None)
    (row,) = (one for one in ranked.rows if one.liquid == "n-heptane")
    told = why(ranked, row)
    assert "Tests: own 0, like these 0, other studios 66, in print 0" in told
    assert "- Other studios: the same class, 66 tests by 3 studios, 58 released." in told


@pytest.mark.parametrize("size", SIZES)
def test_picture_of_the_pool(
    size: tuple[int, int], snap_compare: Any, studio: Studio, tmp_path: Path
) -> None:
    """As it looks with three studios."""
    stocked(studio, tmp_path)

    async def before(pilot: Pilot[None]) -> None:
        await opened(pilot)

    assert snap_compare(BenchleafApp(studio), terminal_size=size, run_before=before)
