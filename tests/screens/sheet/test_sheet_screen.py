"""The plan of a sheet by keyboard alone: from the book, from anywhere; what is missing; the text file."""

from __future__ import annotations

import json
from typing import Any

import pytest
from textual.pilot import Pilot

from kb.cli.main import main
from kb.desk.sheet.facts import SheetFacts, plain_name, sheet_facts
from kb.desk.sheet.plan import sheet_plan
from kb.desk.sheet.sheets import keep_facts
from kb.desk.studio import Studio
from kb.tui.screens.choose.picker import PickerScreen
from kb.tui.screens.sheet import sheet
from kb.tui.screens.sheet.sheet import SHEET, Planned, SheetScreen
from tests.screens.conftest import popped_up
from tests.screens.making_help import IDS, SECTIONS, SIZES, NewApp
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, settle, shown, store, write


async def planned(pilot: Pilot[Any], name: str = "Letter 1") -> SheetScreen:
    """Ask for the plan of a sheet by its name, from the first screen."""
    await settle(pilot)
    await keys(pilot, "escape", "ctrl+l")
    assert isinstance(pilot.app.screen, PickerScreen)
    await write(pilot, name)
    await keys(pilot, "enter")
    assert isinstance(pilot.app.screen, SheetScreen)
    return pilot.app.screen


async def test_p_on_a_row_of_the_book_shows_its_sheet(new_app: NewApp, studio: Studio) -> None:
    """Its tests and the media that they name; Esc leads back to the row."""
    store(studio, 1, sheet="Letter 1", medium="letterpress-oil", harm={"bleed": 0}, release=3)
    store(studio, 2, sheet="Map 2", parts={"ethanol": 1.0})
    async with new_app().run_test(size=(80, 90)) as pilot:
        await settle(pilot)
        await keys(pilot, "f3", "down")
        book = pilot.app.screen
        await keys(pilot, "p")
        assert isinstance(pilot.app.screen, SheetScreen)
        await keys(pilot, "0")
        text = flat(pilot.app)
        assert "Plan of Letter 1" in text
        assert "Acetone on" in text
        assert "Ethanol" not in text
        assert "medium Letterpress" in text
        assert "every medium within reach" not in text
        await keys(pilot, "escape")
        assert pilot.app.screen is book


async def test_what_is_missing_is_named_and_a_figure_fills_its_part(new_app: NewApp, studio: Studio) -> None:
    """No figure is guessed; what was typed is there after a restart."""
    async with new_app().run_test(size=(80, 120)) as pilot:
        await planned(pilot)
        text = flat(pilot.app)
        assert "Not planned: the grammage of the sheet is missing" in text
        assert "Not planned: it needs width and height" in text
        await keys(pilot, "slash")
        for figure in ("420 x 594 mm", "100 g/m2", "0.15", "40-60 %"):
            await write(pilot, figure)
            await keys(pilot, "down")
        await keys(pilot, "escape", "0")
        text = flat(pilot.app)
        assert "Thickness 0.15 mm" in text, "a figure stood there without the unit in which it was taken"
        assert "For the mend look for" in text
        assert "Gap left and right" in text
        assert "Not planned" not in text
        assert "width and height: for water" not in text
        assert "direction of the grain" in text
    assert sheet_facts(Studio(studio.root), "Letter 1").size == "420 x 594 mm"
    assert sheet_facts(studio, "Letter 2") == SheetFacts()


async def test_a_figure_that_cannot_be_is_named_and_not_kept(new_app: NewApp, studio: Studio) -> None:
    """The page stays as it was; sound figures are kept, and whoever leaves is asked. A tear longer than its
    sheet is not recorded."""
    async with new_app().run_test(size=(80, 40)) as pilot:
        await planned(pilot)
        await keys(pilot, "slash")
        await write(pilot, "large")
        assert '"large" is not a size' in flat(pilot.app)
        assert "Missing for a full plan" in flat(pilot.app)
        screen = pilot.app.screen
        await keys(pilot, "down", *"90", "down", *"0.2", "escape", "escape")
        assert 'Not kept, Size: "large" is not a size' in popped_up(pilot.app), "it went without a question"
        await keys(pilot, "s", "ctrl+q")
        assert "Plan of Letter 1: Size as typed is not kept yet." in popped_up(pilot.app)
        await keys(pilot, "s", "escape", "l")
        assert pilot.app.screen is not screen
        found = sheet_facts(studio, "Letter 1")
        assert (found.size, found.grammage, found.thickness) == ("", "90 g/m2", "0.2 mm")
        await keys(pilot, "ctrl+l", "slash", *"210 x 297 mm", "escape")
        pilot.app.screen.query_one("#field-tear_length").focus()
        await keys(pilot, *"9000 mm", "escape")
        assert "Not kept, Tear length: 9000 mm is longer than both sides" in flat(pilot.app)
    assert sheet_facts(studio, "Letter 1").tear_length == ""


async def test_the_page_is_written_as_text_and_never_overwritten(new_app: NewApp, studio: Studio) -> None:
    """The same page once; another page beside it."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await planned(pilot)
        await keys(pilot, "e")
        assert "plan-letter-1" in popped_up(pilot.app).replace(" ", "")
        await keys(pilot, "escape", "e", "escape")
        folder = studio.root / "exports"
        assert len(list(folder.iterdir())) == 1
        await keys(pilot, "slash")
        await write(pilot, "420 x 594 mm")
        await keys(pilot, "escape", "e")
        texts = [one.read_text(encoding="utf-8") for one in folder.iterdir()]
    assert len(texts) == 2
    assert all("Missing for a full plan" in one and "Letter 1" in one for one in texts)


async def test_other_sheet_and_wash_are_one_key_away(new_app: NewApp) -> None:
    """O chooses another; W goes to its readings and back."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await planned(pilot)
        await keys(pilot, "w")
        assert "Letter 1" in shown(pilot.app)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, SheetScreen)
        await keys(pilot, "o")
        await write(pilot, "Map 2")
        await keys(pilot, "enter")
        assert "Plan of Map 2" in shown(pilot.app)


async def test_hostile_words_are_shown_as_they_are(new_app: NewApp, studio: Studio) -> None:
    """Brackets in the name of a sheet stay brackets, and its file has a plain name."""
    store(studio, 1, sheet=HOSTILE)
    async with new_app().run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "f3", "p")
        assert f"Plan of {HOSTILE}" in flat(pilot.app)
        await keys(pilot, "slash")
        await write(pilot, "10 x 10 cm")
        await keys(pilot, "down")
    assert sheet_facts(studio, HOSTILE).size == "100 x 100 mm"
    assert plain_name("../../etc").count("/") == 0
    assert plain_name("A 1") != plain_name("A-1")


def test_a_torn_note_of_an_older_version_counts_as_none(studio: Studio) -> None:
    """Half a file is not read as facts; what is kept goes into the record, and the file away."""
    path = studio.root / "working" / f"sheet-{plain_name('Letter 1')}.json"
    path.parent.mkdir(parents=True)
    path.write_bytes(b'{"sheet":"Letter 1","facts":{"si')
    assert sheet_facts(studio, "Letter 1") == SheetFacts()
    keep_facts(studio, "Letter 1", SheetFacts(size="1 x 1 m"))
    assert sheet_facts(studio, "Letter 1").size == "1000 x 1000 mm"
    assert not path.exists()


def test_the_command_says_the_same(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """One plan behind both front ends."""
    store(studio, 1, sheet="Letter 1", medium="letterpress-oil", harm={"bleed": 0})
    studio.refresh()
    facts = SheetFacts(grammage="100 g/m2")
    missing = sheet_plan(studio, "Letter 1", facts).missing
    words = ["--studio", str(studio.root), "plan", "Letter 1", "--grammage", "100 g/m2"]
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["missing"] == list(missing)
    assert main(words) == 0
    assert "Missing for a full plan" in capsys.readouterr().out


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_fits(new_app: NewApp, size: tuple[int, int]) -> None:
    """No key is cut off."""
    async with new_app().run_test(size=size) as pilot:
        await planned(pilot)
        assert keys_fit(pilot.app)
        await keys(pilot, "slash")
        assert keys_fit(pilot.app)


async def test_help_names_every_key(new_app: NewApp) -> None:
    """F1 explains the screen."""
    async with new_app().run_test(size=(110, 60)) as pilot:
        await planned(pilot)
        await keys(pilot, "f1")
        for act in SHEET:
            assert act.says in flat(pilot.app)


@pytest.mark.parametrize("size", SIZES, ids=IDS)
def test_picture_of_a_plan(
    new_app: NewApp, size: tuple[int, int], snap_compare: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Figures and page, with invented words."""
    monkeypatch.setattr(sheet, "fetch", lambda *_, **__: Planned(SECTIONS, ""))

    async def before(pilot: Pilot[Any]) -> None:
        await planned(pilot)

    assert snap_compare(new_app(), terminal_size=size, run_before=before)
