"""Photographs of a sheet by keys: taken in, paired, marked, compared in the background, stopped."""

from __future__ import annotations

from pathlib import Path
from threading import Event
from typing import Any

import numpy as np
import pytest
from PIL import Image
from textual.pilot import Pilot
from textual.widgets import DataTable, Input

from kb.desk.keep import verify
from kb.desk.sheet import pictures_paired
from kb.desk.sheet.pictures_paired import compare_pair, pair_by_area, pairs
from kb.desk.sheet.pictures_taken import add, taken
from kb.desk.studio import Studio
from kb.tui.screens.few_lines import FewLines
from kb.tui.screens.long_work import LongWork
from kb.tui.screens.note import NoteScreen
from kb.tui.screens.sheet.photographs import PhotographsScreen, half_blocks
from tests.screens.making_help import IDS, SIZES, NewApp
from tests.screens.photographed import two
from tests.screens.screen_help import flat, keys, keys_fit, settle

SHEET = "Tide table of an invented harbour"
DAY = "2026-11-02T10:00:00+00:00"


async def photographs(pilot: Pilot[Any]) -> PhotographsScreen:
    """Open the screen."""
    await settle(pilot)
    screen = PhotographsScreen(SHEET)
    pilot.app.push_screen(screen)
    await settle(pilot)
    return screen


async def fill_only(pilot: Pilot[Any], **words: str) -> None:
    """Put words into the lines of the form on top."""
    form = pilot.app.screen
    assert isinstance(form, FewLines)
    if face := words.pop("face", ""):
        # By its letter, as on every other form.
        form.query_one("#face").focus()
        await keys(pilot, face[0])
        assert form.values["face"] == face
    for name, text in words.items():
        form.query_one(f"#field-{name}", Input).value = text
    await settle(pilot)


async def fill(pilot: Pilot[Any], **words: str) -> None:
    """Put words into the lines of the form on top, and store them."""
    await fill_only(pilot, **words)
    await keys(pilot, "ctrl+s")
    assert not isinstance(pilot.app.screen, FewLines), flat(pilot.app)


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_from_two_files_to_a_verdict_by_keys(
    new_app: NewApp, studio: Studio, tmp_path: Path, size: tuple[int, int]
) -> None:
    """The swabbed area is asked for; the answer is on the screen and on record."""
    before, after, swab = two(tmp_path, "halo", 0.5)
    add(studio, before, {"sheet": SHEET, "new_sheet": True, "tags": ["during"]})
    async with new_app().run_test(size=size) as pilot:
        await photographs(pilot)
        assert keys_fit(pilot.app)
        for path, tag in ((before, "before"), (after, "after")):
            await keys(pilot, "a")
            await fill(pilot, file=str(path), area="F3", face="front", tags=tag)
        await keys(pilot, "p", "up", "up", "up", "c")
        assert isinstance(pilot.app.screen, FewLines)
        await fill_only(pilot, swab=swab)
        app: Any = pilot.app
        (kept,) = app.drafts.values()
        assert kept.says == f'the form "Swabbed area" for {SHEET}: F3, front', "of which sheet?"
        await fill(pilot, px_per_mm="20")
        await keys(pilot, "c")
        await settle(pilot)
        assert "POSSIBLE CHANGE" in flat(pilot.app)
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, NoteScreen)
        await keys(pilot, "escape", "escape")
    (found,) = pairs(studio, SHEET)
    assert found.verdict == "possible-change"
    assert len(taken(studio, SHEET)) == 3


async def test_work_in_the_background_is_stopped_and_others_do_not_wait_for_it(
    new_app: NewApp, studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While one pair is at work the desk answers; X ends it at its next step and the rest with it."""
    before, after, swab = two(tmp_path, "re-shot", 0.0)
    for area in ("F1", "F2"):
        for path, tag in ((before, "before"), (after, "after")):
            words = {
                "sheet": SHEET,
                "new_sheet": True,
                "area": area,
                "tags": [tag],
                "swab": swab,
                "px_per_mm": "20",
            }
            add(studio, path, words)
    pair_by_area(studio, SHEET)
    begun, go_on = Event(), Event()

    def slow(pair: object, progress: pictures_paired.Progress) -> None:
        progress("aligning", 0.2)
        begun.set()
        assert go_on.wait(20)
        progress("comparing", 0.6)

    monkeypatch.setattr(pictures_paired, "work_out", slow)
    app = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await photographs(pilot)
        screen = app.screen
        assert isinstance(screen, PhotographsScreen)
        screen.action_compare_all()
        while not begun.is_set():
            await pilot.pause()
        while "Comparing: aligning, 20 %; 1 more wait" not in flat(app):
            await pilot.pause()
        # The screen itself may be reading for a moment.
        assert app.desk_lock.acquire(timeout=10)
        app.desk_lock.release()
        screen.action_stop()
        go_on.set()
        await settle(pilot)
        assert "Comparing" not in flat(app)
    assert [one.verdict for one in pairs(studio, SHEET)] == ["", ""]


async def test_a_folder_is_taken_in_with_a_bar_and_stopped_between_two_all_is_whole(
    new_app: NewApp, studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Esc before the third picture: two are on record and on the screen; once more takes in the rest."""
    (card := tmp_path / "card").mkdir()
    for number in range(4):
        Image.new("RGB", (24, 32), (60 * number, 90, 120)).save(card / f"{number}.png")
    add(studio, card / "0.png", {"sheet": SHEET, "new_sheet": True, "tags": ["before"]})
    reached, go_on = Event(), Event()
    tell = LongWork._told

    def told(screen: LongWork, words: str) -> None:
        if words.endswith("(3 of 4)") and not reached.is_set():
            reached.set()
            assert go_on.wait(30)
        tell(screen, words)

    monkeypatch.setattr(LongWork, "_told", told)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await photographs(pilot)
        await keys(pilot, "a")
        await fill_only(pilot, file=str(card), tags="of the front")
        await keys(pilot, "ctrl+s")
        assert 'Not stored: "of" is no tag' in flat(pilot.app)
        await fill_only(pilot, tags="before")
        await pilot.press("ctrl+s")
        while not reached.is_set():
            await pilot.pause(0.01)
        await pilot.press("escape")
        go_on.set()
        await settle(pilot)
        assert "Stopped. Those taken in before are whole and on disk" in flat(pilot.app)
        assert len(taken(studio, SHEET)) == 2
        assert verify(studio) == []
        await keys(pilot, "escape", "a")
        # It was to be typed anew.
        assert [pilot.app.screen.values[name] for name in ("file", "tags")] == [str(card), "before"]
        await keys(pilot, "ctrl+s")
        await settle(pilot)
        assert "Taken in and on disk: 2 photographs." in flat(pilot.app)
        await keys(pilot, "escape")
        shown = pilot.app.screen
        assert isinstance(shown, PhotographsScreen)
        assert shown.query_one(DataTable).row_count == 4
        assert not shown.bench.drafts
    assert verify(studio) == []


def invented(folder: Path) -> tuple[Path, Path]:
    """Two drawn photographs, so that the picture of the screen does not change with the generator."""
    ys, xs = np.mgrid[:360, :480]
    ink = ((np.abs((ys % 90) - 45 - 18 * np.sin(xs / 17)) < 5) * 150).astype(np.uint8)
    stain = np.clip(110 - np.hypot(xs - 240, ys - 180), 0, 90).astype(np.uint8)
    made = []
    for name, dark in (("before", ink), ("after", np.maximum(ink, stain))):
        path = folder / f"{name}.png"
        Image.fromarray(np.stack([235 - dark, 225 - dark, 200 - dark], -1).astype(np.uint8)).save(path)
        made.append(path)
    return made[0], made[1]


@pytest.mark.parametrize("size", SIZES, ids=IDS)
def test_picture_of_the_photographs(
    new_app: NewApp, studio: Studio, tmp_path: Path, size: tuple[int, int], snap_compare: Any
) -> None:
    before, after = invented(tmp_path)
    for area, marked in (("F3", "240,180,90"), ("B2", "")):
        for path, tag in ((before, "before"), (after, "after")):
            words = {"sheet": SHEET, "new_sheet": True, "area": area, "face": "front", "tags": [tag]}
            add(studio, path, {**words, "swab": marked, "px_per_mm": "20" if marked else ""})
    for written in pair_by_area(studio, SHEET)[:1]:
        compare_pair(studio, written.id)

    async def at_the_pair(pilot: Pilot[Any]) -> None:
        screen = await photographs(pilot)
        for row in range(2):
            screen.query_one("DataTable").update_cell_at((row, 1), DAY[:10])  # type: ignore[attr-defined]
        await settle(pilot)

    assert snap_compare(new_app(), terminal_size=size, run_before=at_the_pair)


def test_pixels_stand_two_to_a_cell() -> None:
    """The upper pixel is the colour of the sign and the lower that of its ground; an odd row is doubled."""
    red, blue = (255, 0, 0), (0, 0, 255)
    drawn = half_blocks([[red, blue], [blue, red], [red, red]])
    assert drawn.plain == "▀▀\n▀▀"
    first = next(span.style for span in drawn.spans if span.start == 0)
    assert (first.foreground.rgb, first.background.rgb) == (red, blue)  # type: ignore[union-attr]
