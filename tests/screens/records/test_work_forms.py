"""Writing down a mend, a toning test and a housing, by keyboard alone."""

from __future__ import annotations

import re
from typing import Any, cast

import msgspec
import pytest
from textual import events
from textual.app import App
from textual.pilot import Pilot
from textual.widgets import Input

from kb.book.append import BookError
from kb.book.kinds.batch import Batch
from kb.cli.main import main
from kb.desk.making.batches import mark_bad
from kb.desk.records import fill
from kb.desk.records.fill import Begun, Understood
from kb.desk.sheet.facts import SheetFacts
from kb.desk.sheet.names import found_sheet
from kb.desk.sheet.sheets import keep_facts
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.form import WORK, FormScreen, write_down
from kb.tui.screens.choose.picker import PickerScreen
from kb.tui.screens.note import AskScreen
from kb.tui.screens.sheet.sheet import SheetScreen
from tests.screens.conftest import popped_up
from tests.screens.making_help import IDS, SIZES, NewApp
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, post, settle, shown, store, write
from tests.work_help import housings, mends, tonings

FACTS = SheetFacts(size="210 x 300 mm", grammage="90 g/m2", humidity="45-55 %", tear="plain")
PASTE = "wheat-paste-hot-plate"


def notices(app: App[Any]) -> str:
    """All notices in the corner."""
    return " ".join(notice.message for notice in app._notifications)


async def form(pilot: Pilot[Any], key: str, name: str = "Letter 1") -> FormScreen:
    """From the first screen to the plan of a sheet and on to a form."""
    await settle(pilot)
    found_sheet(cast("BenchleafApp", pilot.app).studio, name)
    await keys(pilot, "escape", "ctrl+l")
    await write(pilot, name)
    await keys(pilot, "enter", key)
    screen = pilot.app.screen
    assert isinstance(screen, FormScreen)
    return screen


def line(screen: FormScreen, name: str) -> Input:
    """One line of a form."""
    return screen.query_one(f"#field-{name}", Input)


async def put(pilot: Pilot[Any], screen: FormScreen, name: str, text: str) -> None:
    """Go to a line, empty it and put a text there in one go."""
    line(screen, name).focus()
    await pilot.press("home", "ctrl+k")
    pilot.app.post_message(events.Paste(text))
    await settle(pilot)
    await settle(pilot)


def paste(studio: Studio, hours: int = 1, **fields: Any) -> str:
    """A batch of paste that keeps."""
    usual = {"recipe": PASTE, "name": "Wheat paste", "made_at": "2026-01-05", "expires": "2099-01-01"}
    return store(studio, hours, kind="batch", body=Batch(**{**usual, **fields}))


async def test_a_mend_is_filled_from_what_is_known_and_stored(new_app: NewApp, studio: Studio) -> None:
    """Nothing that nobody chose: tissue of the plan, newest paste, length of the tear come by a key."""
    paste(studio, 1)
    newest = paste(studio, 2)
    paste(studio, 3, expires="2026-01-06")
    mark_bad(studio, paste(studio, 4), "mould")
    paste(studio, 5, recipe="", name="Gellan gum")
    keep_facts(studio, "Letter 1", FACTS)
    async with new_app().run_test(size=(80, 40)) as pilot:
        screen = await form(pilot, "m")
        assert line(screen, "sheet").value == "Letter 1"
        assert not any(line(screen, name).value for name in ("tissue", "batch", "length"))
        assert "[P plain]" not in flat(pilot.app)
        assert "What was not measured or chosen stays empty." in flat(pilot.app)
        for name in ("tissue", "batch"):
            line(screen, name).focus()
            await keys(pilot, "ctrl+e")
            assert line(screen, name).value
        assert newest.startswith(line(screen, "batch").value)
        assert f"Batch {line(screen, 'batch').value}: Wheat paste, made 2026-01-05" in flat(pilot.app)
        before = line(screen, "tissue").value
        line(screen, "tissue").focus()
        await keys(pilot, "ctrl+e")
        assert line(screen, "tissue").value != before
        screen.query_one("#tear").focus()
        await keys(pilot, "p")
        await put(pilot, screen, "length", "4.5 cm")
        assert "plain tear 45 mm" in flat(pilot.app)
        await put(pilot, screen, "remarks", HOSTILE)
        await keys(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, SheetScreen)
        (made,) = mends(studio, "Letter 1")
        assert f"Stored and on disk: mend {made.id}." in notices(pilot.app)
        assert "Done so far" in flat(pilot.app)
        assert "Mend: plain tear 45 mm" in flat(pilot.app)
    assert (made.mend.batch, made.mend.length_mm, made.mend.adhesive) == (newest, 45.0, PASTE)
    assert made.mend.remarks == HOSTILE


async def test_what_a_mend_offers_is_whole_on_a_small_screen(
    new_app: NewApp, studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """ "Ctrl+E: 45 mm, the open" and "planned: 7 mm ~ common" were cut; the command named kinds of tear and
    not what they are."""
    keep_facts(studio, "Letter 1", msgspec.structs.replace(FACTS, tear_length="45 mm"))
    async with new_app().run_test(size=(80, 24)) as pilot:
        await form(pilot, "m")
        row = next(one for one in shown(pilot.app).splitlines() if one.startswith(" Length"))
        assert re.fullmatch(r" Length +Ctrl\+E: [\d.]+ mm, open tear +Width +planned: [\d.]+ mm~ *", row)
    with pytest.raises(SystemExit):
        main(["mend", "add", "--help"])
    assert "plain from one edge, scarfed in layers" in " ".join(capsys.readouterr().out.split())


async def test_a_bad_or_expired_batch_is_told_while_one_types_and_when_it_is_stored(
    new_app: NewApp, studio: Studio
) -> None:
    """It can be stored all the same: it was used."""
    bad = paste(studio, 1)
    mark_bad(studio, bad, "mould")
    old = paste(studio, 2, expires="2026-01-06")
    async with new_app().run_test(size=(100, 40)) as pilot:
        screen = await form(pilot, "m")
        assert line(screen, "batch").value == ""
        await put(pilot, screen, "batch", bad)
        assert f"! Batch {bad[:10]} (Wheat paste) must not be used: mould" in flat(pilot.app)
        await put(pilot, screen, "batch", old)
        assert "had expired on 2026-01-06" in flat(pilot.app)
        await keys(pilot, "ctrl+s")
        assert "had expired on 2026-01-06" in notices(pilot.app)
    assert [one.mend.batch for one in mends(studio)] == [old]


async def test_what_cannot_be_stored_is_said_and_kept(
    new_app: NewApp, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Words that are no figure, no batch of that name, a full disk: all that was typed stays."""

    def full(*_: object, **__: object) -> None:
        raise BookError("The disk is full. Nothing was recorded.")

    async with new_app().run_test(size=(80, 40)) as pilot:
        screen = await form(pilot, "m")
        await put(pilot, screen, "length", "long")
        await keys(pilot, "ctrl+s")
        assert pilot.app.screen is screen
        assert "Not stored: Length: " in flat(pilot.app)
        assert "Length: " in flat(pilot.app)
        assert "long" in flat(pilot.app)
        assert line(screen, "length").has_focus
        await put(pilot, screen, "length", "45 mm")
        await put(pilot, screen, "batch", "01XYZ")
        await keys(pilot, "ctrl+s")
        assert "No batch has an id that begins with" in flat(pilot.app)
        await keys(pilot, "home", "ctrl+k")
        with monkeypatch.context() as broken:
            broken.setattr("kb.book.append.append", full)
            await keys(pilot, "ctrl+s")
            assert "Not stored: The disk is full" in flat(pilot.app)
            assert line(screen, "length").value == "45 mm"
        await keys(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, SheetScreen)
    assert len(mends(studio)) == 1


async def test_a_form_that_was_begun_is_not_lost_by_one_key(new_app: NewApp, studio: Studio) -> None:
    """Escape keeps a draft, leaving the program asks; one that nobody wrote in just closes."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot, "h")
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, SheetScreen)
        await keys(pilot, "h")
        await write(pilot, "21 x 30 cm")
        await keys(pilot, "f3", "ctrl+q")
        assert "A housing on the form is not stored yet" in popped_up(pilot.app)
        await keys(pilot, "s", "f10", "escape")
        assert "Kept as a draft: a housing for Letter 1." in notices(pilot.app)
        assert isinstance(pilot.app.screen, SheetScreen)
        for sheet, size in (("Letter 2", "40 x 50 cm"), ("Letter 3", "41 x 51 cm")):
            write_down(screen.bench, "housing", sheet)
            await settle(pilot)
            await write(pilot, size)
            await keys(pilot, "escape")
        await keys(pilot, "h")
        assert line(pilot.app.screen, "size").value == "21 x 30 cm", "that of another sheet took its place"
        assert "As it was left" in flat(pilot.app), "as if it had been typed now"
        await keys(pilot, "f9")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "delete")
        assert isinstance(pilot.app.screen, SheetScreen)
        await keys(pilot, "h")
        assert line(pilot.app.screen, "size").value == ""
        await keys(pilot, "escape")
        screen.bench.drop_draft("form-housing-2")
        write_down(screen.bench, "housing", "Letter 3")
        await settle(pilot)
        assert line(pilot.app.screen, "size").value == "41 x 51 cm", "not found with those before it gone"
        await keys(pilot, "escape", "ctrl+b")
        assert [line(pilot.app.screen, name).value for name in ("sheet", "size")] == [
            "Letter 3",
            "41 x 51 cm",
        ]
    assert housings(studio) == []


async def test_a_toning_test_shows_the_difference_as_soon_as_both_readings_are_typed(
    new_app: NewApp, studio: Studio
) -> None:
    """In figures and words; the next trial starts from the same reading of the sheet."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        screen = await form(pilot, "t")
        await write(pilot, "Invented tissue")
        await put(pilot, screen, "colourant", "raw umber 0.4 g; water 20 ml")
        await put(pilot, screen, "aim", "88.1 1.2 12.5")
        assert "The difference shows here" in flat(pilot.app)
        await put(pilot, screen, "dry", "86.9 1.4")
        assert '"86.9 1.4" is not a reading; write L a b' in flat(pilot.app)
        await put(pilot, screen, "dry", "86.9 1.4 23.1")
        assert "Difference (CIEDE2000)" in flat(pilot.app)
        assert "seen at once" in flat(pilot.app).lower()
        screen.query_one("#bleeds").focus()
        await keys(pilot, "s")
        assert "! The dry colour gives off on a damp swab" in flat(pilot.app)
        await keys(pilot, "ctrl+s", "t")
        again = pilot.app.screen
        assert isinstance(again, FormScreen)
        assert line(again, "aim").value == "88.1 1.2 12.5"
        assert line(again, "dry").value == ""
    (made,) = tonings(studio, "Letter 1")
    assert made.difference is not None
    assert made.toning.bleeds == "slightly"
    assert [(one.name, one.unit) for one in made.toning.colourants] == [("raw umber", "g"), ("water", "ml")]


async def test_a_gap_is_held_against_the_one_that_the_sheet_needs(new_app: NewApp, studio: Studio) -> None:
    """Too small is said as a warning, enough as a sentence; what the plan asks for stands in the line."""
    keep_facts(studio, "Letter 1", FACTS)
    async with new_app().run_test(size=(100, 40)) as pilot:
        screen = await form(pilot, "h")
        assert line(screen, "size").value == "210 x 300 mm"
        assert line(screen, "into").value == ""
        assert "at least" in line(screen, "gap").placeholder
        await put(pilot, screen, "gap", "0.1 x 9 mm")
        assert "! Gap left and right 0.1 mm is TOO SMALL" in flat(pilot.app)
        assert "Gap top and bottom 9 mm is enough" in flat(pilot.app)
        line(screen, "into").focus()
        await keys(pilot, *"drawer", "ctrl+e", "ctrl+e", "ctrl+z")
        assert line(screen, "into").value == "drawer", "what was typed was gone"
        await keys(pilot, "ctrl+u", "ctrl+e", "ctrl+e")
        assert line(screen, "into").value == "window mat"
        await keys(pilot, "ctrl+s")
        assert "TOO SMALL" in notices(pilot.app)
    (made,) = housings(studio, "Letter 1")
    assert (made.housing.into, made.housing.gap_width_mm, made.housing.humidity_low) == (
        "window mat",
        0.1,
        45,
    )


async def test_a_letter_right_behind_what_is_filled_in_stands_in_the_empty_line(
    new_app: NewApp, studio: Studio
) -> None:
    """It stood behind the size that the record had just filled in."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot, "h")
        screen.set_focus(screen.query_one("#field-size"))
        screen._typed.clear()
        screen._begun(Begun({"sheet": "Letter 1", "size": "210 x 297 mm"}, {}, {}))
        # Nothing is waited for here: a key may be the very next event.
        assert screen.focused is line(screen, "into")
        post(pilot, "frame")
        await settle(pilot)
        assert line(pilot.app.screen, "size").value == "210 x 297 mm"
        assert line(pilot.app.screen, "into").value == "frame"


async def test_from_the_palette_of_any_screen(new_app: NewApp) -> None:
    """Where no sheet is in view it is asked for; on a row of the book it is that of the row."""
    async with new_app().run_test(size=(80, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "f6", "ctrl+p")
        await write(pilot, "write down a mend")
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, PickerScreen)
        await write(pilot, "Map 3")
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, FormScreen)
        assert pilot.app.screen.kind.key == "mend"
        assert line(pilot.app.screen, "sheet").value == "Map 3"
        assert pilot.app.screen.focused is pilot.app.screen.query_one("#tear")


async def test_help_names_every_key(new_app: NewApp) -> None:
    """F1 explains the form."""
    async with new_app().run_test(size=(110, 60)) as pilot:
        await form(pilot, "h")
        await keys(pilot, "f1")
        for act in WORK:
            assert act.says in flat(pilot.app)
        assert "The gap is what was left" in flat(pilot.app)


@pytest.mark.parametrize("size", SIZES, ids=IDS)
@pytest.mark.parametrize("key", ["m", "t", "h"])
def test_picture_of_a_form(
    new_app: NewApp, size: tuple[int, int], key: str, snap_compare: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Lines, hints, and what speaks against it, with invented words."""

    def begin(_: object, *, kind: str, sheet: str) -> Begun:
        hints = {"gap": "at least 3 x 4 mm", "tissue": "Ctrl+E: invented tissue", "into": "Ctrl+E: frame"}
        return Begun({"sheet": sheet}, hints, {})

    said = Understood(
        ("It will say: an invented line that says how it is understood",), (HOSTILE, "an expired batch")
    )
    monkeypatch.setattr(fill, "begin", begin)
    monkeypatch.setattr(fill, "understood", lambda *_, **__: said)

    async def before(pilot: Pilot[Any]) -> None:
        await form(pilot, key)
        assert keys_fit(pilot.app)

    assert snap_compare(new_app(), terminal_size=size, run_before=before)
