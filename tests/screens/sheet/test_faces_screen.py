"""A whole invented treatment by keys: sheet, damage, strips drawn, patches, a stop, the record."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace
from textual.coordinate import Coordinate
from textual.pilot import Pilot
from textual.widgets import DataTable, Input, Static

from kb.desk.memory import memory
from kb.desk.records.book_list import list_records
from kb.desk.sheet.names import known_sheets
from kb.desk.sheet.report import html, report
from kb.desk.sheet.report import text as text_of
from kb.desk.sheet.sheets import add_condition, add_sheet, condition_list
from kb.desk.sheet.sheets import settle as check_off
from kb.desk.sheet.tape import add_strip, done, start, strips, tape_view
from kb.desk.studio import Studio
from kb.tui.day import day_of
from kb.tui.form import FormScreen, write_down
from kb.tui.screens.ask_why import LINES
from kb.tui.screens.choose.asked import Filled
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.choose.picker import PickerScreen
from kb.tui.screens.few_lines import FewLines
from kb.tui.screens.note import AskScreen, NoteScreen
from kb.tui.screens.sheet.face_grid import StripPen, face_cells, label_of, scale_for
from kb.tui.screens.sheet.faces import FacesScreen
from kb.tui.screens.sheet.photographs import PhotographsScreen
from kb.tui.screens.sheet.sheet_choice import open_sheet
from kb.tui.text import without_commands
from kb.tui.widgets.choice_row import ChoiceRow
from tests.screens.making_help import IDS, SIZES, NewApp
from tests.screens.photographed import two
from tests.screens.screen_help import flat, keys, keys_fit, settle, shown, write

SHEET = "Tide table of an invented harbour"


async def faces(pilot: Pilot[Any]) -> FacesScreen:
    """Open the sheet from the first screen, by a part of its name."""
    await settle(pilot)
    await keys(pilot, "escape", "f10")
    await write(pilot, "tide")
    await keys(pilot, "enter")
    assert isinstance(pilot.app.screen, FacesScreen)
    return pilot.app.screen


def taped(studio: Studio, release: str = "") -> None:
    """The sheet with one strip; its first patch was tried, where a grade is given."""
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    add_strip(studio, {"sheet": SHEET, "face": "front", "at": "20, 20", "size": "60 x 20 mm"})
    if release:
        start(studio, SHEET, {"liquid": "n-heptane", "method": "swab"})
        done(studio, SHEET, {"colour": "none", "release": release})


async def fill(pilot: Pilot[Any], **words: str) -> None:
    """Put words into the lines of the form on top, and store them."""
    form = pilot.app.screen
    assert isinstance(form, FewLines)
    for name, text in words.items():
        for field in form.query(f"#field-{name}").results(Input):
            field.value = text
        for row in form.query(f"#{name}").results(ChoiceRow):
            assert text in {one.value for one in row.choices}
            row.choose(text)
    await keys(pilot, "ctrl+s")
    assert not isinstance(pilot.app.screen, FewLines), flat(pilot.app)


async def photographed(pilot: Pilot[Any], folder: Path, patch: str) -> None:
    """From the faces to the photographs: two files of a patch, compared, the possible change read; back."""
    before, after, swab = two(folder, "halo", 0.5)
    await keys(pilot, "o")
    assert isinstance(pilot.app.screen, PhotographsScreen)
    face = "front" if patch.startswith("F") else "back"
    for path, tag in ((before, "before"), (after, "after")):
        await keys(pilot, "a")
        await fill(pilot, file=str(path), area=patch, face=face, tags=tag, swab=swab, px_per_mm="20")
    await keys(pilot, "p", "up", "c")
    await settle(pilot)
    assert "POSSIBLE CHANGE" in flat(pilot.app)
    await keys(pilot, "enter")
    assert isinstance(pilot.app.screen, NoteScreen)
    await keys(pilot, "escape", "escape")
    assert isinstance(pilot.app.screen, FacesScreen)


async def washed_mended_housed(pilot: Pilot[Any]) -> None:
    """From the faces to the plan of the sheet: a reading of a bath, two mends, a housing; and back."""
    await keys(pilot, "p", "w", "r")
    await write(pilot, "bath 1, 10 min, pH 6.4")
    await keys(pilot, "enter", "escape", "escape")
    for key, name, typed in (("m", "length", "45 mm"), ("m", "length", "12 mm"), ("h", "gap", "6 mm")):
        await keys(pilot, key)
        form = pilot.app.screen
        assert isinstance(form, FormScreen)
        form.query_one(f"#field-{name}", Input).value = typed
        await settle(pilot)
        await keys(pilot, "ctrl+s")
        assert not isinstance(pilot.app.screen, FormScreen), flat(pilot.app)
    await keys(pilot, "escape")
    assert isinstance(pilot.app.screen, FacesScreen)


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_a_whole_treatment_by_keys(
    new_app: NewApp, studio: Studio, tmp_path: Path, size: tuple[int, int]
) -> None:
    add_sheet(studio, {"sheet": SHEET})
    async with new_app().run_test(size=size) as pilot:
        await faces(pilot)
        assert "size" in flat(pilot.app)
        await keys(pilot, "slash")
        await fill(pilot, size="210 x 297 mm", number="TT-04", owner="Invented museum")
        await keys(pilot, "c")
        await fill(pilot, damage="tear", face="front", place="lower edge", width_mm="4.5 cm")
        # Three strips on each face: a corner, three steps along, two across.
        for number in range(6):
            await keys(pilot, "a", *["tab"] * (number % 2), *["down"] * (8 * (number // 2)), "enter")
            await keys(pilot, *["right"] * 12, *["down"] * 4, "enter")
        assert len(strips(studio, SHEET)) == 6
        assert keys_fit(pilot.app)
        lifted = []
        for number in range(8):
            lifted.append(tape_view(studio, SHEET).next)
            await keys(pilot, "n")
            await fill(pilot, liquid="n-heptane", method="swab")
            await keys(pilot, "n")
            await fill(
                pilot, release="3", harm="0", colour="pink" if number == 3 else "none", volume="0.8 ml"
            )
            if number == 3:
                assert "Stop: patch" in flat(pilot.app)
                await keys(pilot, "n")
                assert isinstance(pilot.app.screen, FacesScreen)
                await keys(pilot, "g")
                await fill(pilot, decision="less liquid")
        assert len(set(lifted)) == 8
        assert {name[0] for name in lifted} == {"F", "B"}
        await photographed(pilot, tmp_path, lifted[-1])
        assert f"Stop: patch {lifted[-1][1:]}" in flat(pilot.app)
        await keys(pilot, "g")
        await fill(pilot, decision="looked at under the glass: no ink moved")
        await keys(pilot, "x")
        await fill(pilot, why="over the seal")
        text = flat(pilot.app)
        assert "8 of" in text
        assert "D lifted" in text
        await washed_mended_housed(pilot)
        await keys(pilot, "k")
        await fill(pilot, treated="mended with tissue")
        await keys(pilot, "r")
        assert isinstance(pilot.app.screen, NoteScreen)
        assert "A browser shows it and prints it." in flat(pilot.app), "where it lies, and no word what for"
        await keys(pilot, "escape", "escape")
    page = next(Path(studio.root, "exports").glob("record-*.html")).read_text(encoding="utf-8")
    assert "less liquid" in page
    assert "looked at under the glass" in page
    assert "over the seal" in page
    assert [line.treated for line in condition_list(studio, SHEET)] == ["mended with tissue"]
    kinds = [one.kind for one in list_records(studio, sheet=SHEET, limit=0)]
    assert [kinds.count(kind) for kind in ("reading", "mend", "housing")] == [1, 2, 1]
    made = report(studio, SHEET)
    paper = text_of(made)
    assert "pH 6.4" in paper
    assert paper.count("Mend: ") == 2
    assert "mended with tissue" in page
    assert html(made).count("<svg") == 3, "two faces, and the pair side by side"
    assert len(list_records(studio, kinds=("patch",), sheet=SHEET)) == 9


async def test_a_liquid_typed_at_once_is_no_remark(new_app: NewApp, studio: Studio) -> None:
    """Liquid and method stand there from the patch before; the cursor stood in the empty line under them."""
    taped(studio, release="3")
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        await keys(pilot, "n")
        liquid = pilot.app.screen.query_one("#field-liquid", Input)
        assert pilot.app.focused is liquid
        await write(pilot, "ethanol")
        assert liquid.value == "ethanol", "it stood behind that of the patch before"


async def test_a_patch_that_nothing_lifted_says_so_as_it_begins_again(
    new_app: NewApp, studio: Studio
) -> None:
    """The plan's liquid stands in the form, and it is the one that did nothing."""
    taped(studio, release="0")
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        await keys(pilot, "n")
        assert "Begin patch 1, front again: nothing was released" in flat(pilot.app)


async def test_a_grade_of_a_patch_goes_on_as_one_of_a_spot_test_does(new_app: NewApp, studio: Studio) -> None:
    """Two figures typed one after the other are two grades; harm that was not graded is asked about once, and
    in gloves too one sees that: the lines took all the room, and a second Ctrl+S stored it."""
    taped(studio)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        pilot.app.set_class(True, "-gloves")
        await keys(pilot, "n")
        await fill(pilot, liquid="n-heptane")
        await keys(pilot, "n", *"none", "enter", "3", "ctrl+s")
        assert 'never as "no harm". Ctrl+S once more stores it so.' in flat(pilot.app)
        await keys(pilot, "0", "3", "enter", "6", "ctrl+s")
    (patch,) = [one.done for one in tape_view(studio, SHEET).patches if one.done]
    assert (patch.colour, patch.release, patch.harm, patch.rounds, patch.swabs) == ("none", 3, 0, 3, 6)


async def test_a_bare_figure_is_no_colour_and_every_answer_has_room(new_app: NewApp, studio: Studio) -> None:
    """A grade typed one line too early is refused with a sentence; no choice of the form is cut."""
    taped(studio)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        assert "patches lifted, front + back" in flat(pilot.app)
        await keys(pilot, "n")
        await fill(pilot, liquid="n-heptane")
        await keys(pilot, "n")
        assert "C cannot tell" in flat(pilot.app)
        await keys(pilot, "4", "enter", "0", "ctrl+s", "ctrl+s")
        assert '"4" is no colour' in flat(pilot.app)
        (patch,) = [one.done for one in tape_view(studio, SHEET).patches if one.done]
        assert patch.progress == "running"


async def test_a_strip_is_typed_as_well_as_drawn_and_its_keys_stand_at_the_foot(
    new_app: NewApp, studio: Studio
) -> None:
    """Place, size and which tape; Esc puts the pen down, and the keys of the sheet come back."""
    add_sheet(studio, {"sheet": SHEET, "size": "420 x 600 mm"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        await keys(pilot, "a")
        foot = shown(pilot.app).splitlines()[-1]
        assert all(words in foot for words in ("Corner, store", "Turn", "Weak", "Figures"))
        assert "Photos" not in foot
        assert "Decide" not in foot
        assert keys_fit(pilot.app)
        await keys(pilot, "f")
        await fill(pilot, face="back", at="140, 435", size="60 x 25 mm", tape="brown paper")
        assert "Decide" in shown(pilot.app).splitlines()[-1]
    (strip,) = [row.body for row in strips(studio, SHEET)]
    assert (strip.face, strip.outline.split()[0], strip.tape) == ("back", "140,435", "brown paper")


async def test_a_size_without_a_unit_is_said_to_be_in_mm_before_and_after_it_is_stored(
    new_app: NewApp, studio: Studio
) -> None:
    """41 x 56, measured in cm, was stored as mm without a word; the line said nothing of it either."""
    add_sheet(studio, {"sheet": SHEET})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        await keys(pilot, "slash")
        assert "no unit: mm" in flat(pilot.app)
        told = 'Size: "41 x 56" bears no unit, so it counts as mm.'
        size = pilot.app.screen.query_one("#field-size", Input)
        size.value = "41 x 56"
        await settle(pilot)
        assert told in flat(pilot.app)
        size.value = "41 x 56 cm"
        await settle(pilot)
        assert "bears no unit" not in flat(pilot.app)
        size.value = "41 x 56"
        await keys(pilot, "ctrl+s")
        assert f"Stored: {told}" in [one.message for one in pilot.app._notifications]
        # What was stored before is not typed now.
        await keys(pilot, "slash")
        await fill(pilot, number="7")
        assert not pilot.app._notifications


async def test_a_form_asks_about_a_sheet_that_the_book_does_not_know(new_app: NewApp, studio: Studio) -> None:
    """Back changes nothing; the one meant is a figure; no letter founds a new one."""
    add_sheet(studio, {"sheet": SHEET})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        for typed, answer in (("tide tabel", "b"), ("tide tabel", "1"), ("Bill, invented", "ctrl+y")):
            write_down(pilot.app, "mend", typed)
            await settle(pilot)
            await keys(pilot, "ctrl+s")
            assert isinstance(pilot.app.screen, AskScreen)
            await keys(pilot, *"ny", "enter")
            assert isinstance(pilot.app.screen, AskScreen)
            await keys(pilot, answer)
            if answer == "b":
                assert isinstance(pilot.app.screen, FormScreen)
                assert not list_records(studio, kinds=("mend",))
                await keys(pilot, "escape")
    studio.refresh()
    assert [one.sheet for one in list_records(studio, kinds=("mend",))] == ["Bill, invented", SHEET]
    assert len(list_records(studio, kinds=("sheet",))) == 2


async def test_what_cannot_be_is_said_and_the_form_keeps_what_was_typed(
    new_app: NewApp, studio: Studio
) -> None:
    add_sheet(studio, {"sheet": SHEET})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        await keys(pilot, "c")
        form = pilot.app.screen
        assert "[- not said] F front" in shown(pilot.app), "a letter was refused as a face"
        told = flat(pilot.app)
        assert "Found [B before] D during" in told, "what it takes unasked was cut, though there was room"
        assert "Ctrl+E fills in, again the next: tear" in told, (
            "said after a refusal alone, or behind the words"
        )
        damage = form.query_one("#field-damage", Input)
        for typed, *offers in (
            ("old", "fold", "old mend", "fold"),
            ("dir", "surface dirt", "surface dirt"),
            ("brown stain near top", "stain"),
            ("brown", "brown"),
        ):
            await write(pilot, typed)
            for word in offers:
                await keys(pilot, "ctrl+e")
                assert damage.value == word, "not one of those that were listed"
            await keys(pilot, "ctrl+z")
            assert damage.value == typed, "what was typed was gone"
            await keys(pilot, "ctrl+u")
        await write(pilot, "broken")
        await keys(pilot, "down", "f", *"edge", "ctrl+s")
        assert pilot.app.screen is form
        assert "tideline" in flat(pilot.app)
        assert pilot.app.focused is form.query_one("#field-damage"), "what mends it went elsewhere"
        assert form.query_one("#field-damage", Input).value == "broken"
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, FacesScreen)
        app: Any = pilot.app
        left = {"damage": "broken", "face": "front", "place": "edge"}
        assert [one.values for one in app.drafts.values()] == [left]
        assert any("Kept as a draft" in one.message for one in app._notifications)
        await keys(pilot, "c", "f9", "delete")
        assert not any("Kept as a draft" in one.message for one in app._notifications), "it was thrown away"


async def test_a_refusal_leads_to_the_line_that_it_is_about(new_app: NewApp, studio: Studio) -> None:
    """An amount in a wrong unit was refused without its line, and the cursor stayed on another; where nothing
    was typed "it lacks the field damage" was said."""
    add_sheet(studio, {"sheet": SHEET})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        await keys(pilot, "slash")
        form = pilot.app.screen
        form.query_one("#field-grammage", Input).value = "120 grams"
        form.query_one("#field-marks", Input).focus()
        await keys(pilot, "ctrl+s")
        assert "Not stored: '120 grams' is an amount of mass" in flat(pilot.app)
        assert pilot.app.focused is form.query_one("#field-grammage")
        await keys(pilot, "f9", "delete", "c", "down", "f", *"edge", "ctrl+s")
        form = pilot.app.screen
        assert "Not stored: What: say what is wrong, such as a tear." in flat(pilot.app)
        assert pilot.app.focused is form.query_one("#field-damage")


async def test_help_over_a_form_leads_past_no_form(new_app: NewApp, studio: Studio) -> None:
    """Keys of places wait over a small form; by way of its help they did not, and left it open behind."""
    add_sheet(studio, {"sheet": SHEET})
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await faces(pilot)
        await keys(pilot, "c", "f1", "f4")
        assert isinstance(pilot.app.screen, NoteScreen)
        await keys(pilot, "escape", "escape", "f1", "f4")
        assert pilot.app.screen is not screen
        assert pilot.app.current_mode == "materials"


async def test_the_faces_lead_to_the_plan_and_count_every_ink(new_app: NewApp, studio: Studio) -> None:
    """The plan had no key at the foot, a third ink was not told, and what was done stayed cut to 80 columns
    in a wider terminal."""
    media = "iron gall ink, watercolour, graphite"
    add_sheet(studio, {"sheet": SHEET, "media_front": media, "size": "210 x 297 mm"})
    place = "lower edge, left of the avenue, under the old strip, through the title"
    add_condition(studio, {"sheet": SHEET, "damage": "tear", "place": place})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        assert "P Plan" in shown(pilot.app).splitlines()[-1]
        assert "iron gall ink, watercolour +1, 210" in flat(pilot.app)
        assert place not in flat(pilot.app)
        await pilot.resize_terminal(120, 40)
        await settle(pilot)
        assert place in flat(pilot.app)


async def test_escape_keeps_what_was_written_of_a_patch(new_app: NewApp, studio: Studio) -> None:
    """Of this sheet and this patch only; opened again it stands there, and F9 throws it away after asking."""
    for sheet in (SHEET, "Letter 9"):
        add_sheet(studio, {"sheet": sheet, "size": "200 x 300 mm"})
        add_strip(studio, {"sheet": sheet, "face": "front", "at": "10, 20", "size": "25 x 60 mm"})
        start(studio, sheet, {"liquid": "n-heptane", "method": "swab"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        await keys(pilot, "n")
        pilot.app.screen.query_one("#field-remarks", Input).focus()
        await write(pilot, "came off in one")
        await keys(pilot, "escape", "f10")
        await write(pilot, "Letter 9")
        await keys(pilot, "enter", "n")
        assert pilot.app.screen.query_one("#field-remarks", Input).value == ""
        await keys(pilot, "escape", "f10")
        await write(pilot, "tide")
        await keys(pilot, "enter", "n")
        assert pilot.app.screen.query_one("#field-remarks", Input).value == "came off in one"
        assert "from 10 mm across and 20 mm down" in flat(pilot.app)
        await keys(pilot, "f9", "delete")
        assert isinstance(pilot.app.screen, FacesScreen)
        app: Any = pilot.app
        assert not app.drafts


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_states_are_told_by_letter_and_pattern(
    new_app: NewApp, studio: Studio, size: tuple[int, int]
) -> None:
    from kb.desk.sheet.tape import done, start

    add_sheet(studio, {"sheet": SHEET, "size": "410 x 560 mm"})
    for face in ("front", "back"):
        add_strip(studio, {"sheet": SHEET, "face": face, "at": "5, 60", "size": "400 x 200 mm"})
    for colour in ("none", "pink"):
        start(studio, SHEET, {})
        done(studio, SHEET, {"colour": colour})
    async with new_app().run_test(size=size) as pilot:
        await faces(pilot)
        text = shown(pilot.app)
        assert "D" in text
        assert "L" in text
        assert {"█", "▓", "░"} <= set(text)


async def test_the_drawing_follows_its_room(new_app: NewApp, studio: Studio) -> None:
    """It was drawn for the room before the screen was arranged, and stayed small."""
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    async with new_app().run_test(size=(120, 40)) as pilot:
        screen = await faces(pilot)
        small = screen.scale()
        screen.query_one("#faces").styles.height = 28
        await settle(pilot)
        large = screen.scale()
        assert small is not None
        assert large is not None
        assert (
            str(screen.query_one("#front", Static).render()).count("\n") + 1
            == large.down + 2
            > small.down + 2
        )


@pytest.mark.parametrize("size", SIZES, ids=IDS)
def test_picture_of_the_two_faces(
    new_app: NewApp, studio: Studio, size: tuple[int, int], snap_compare: Any
) -> None:
    """What was lifted, what waits for a look, what comes next, on an invented sheet."""
    from kb.desk.sheet.tape import done, start

    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm", "number": "TT-04", "owner": "Invented museum"})
    for face, at in (("front", "20, 30"), ("back", "40, 30"), ("front", "20, 240")):
        add_strip(studio, {"sheet": SHEET, "face": face, "at": at, "size": "150 x 25 mm"})
    add_strip(
        studio, {"sheet": SHEET, "face": "front", "at": "20, 235", "size": "30 x 40 mm", "weak": "fold"}
    )
    for colour in ("none", "none", "none", "pink"):
        start(studio, SHEET, {"liquid": "n-heptane", "method": "swab"})
        done(studio, SHEET, {"colour": colour, "release": "3", "harm": "0"})

    async def both(pilot: Pilot[Any]) -> None:
        await faces(pilot)
        table = pilot.app.screen.query_one(DataTable)
        for row in range(table.row_count):
            table.update_cell_at(Coordinate(row, 0), "2 Nov 10:00")
        await settle(pilot)

    assert snap_compare(new_app(), terminal_size=size, run_before=both)


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_small_patches_are_drawn_so_that_each_bears_its_number(
    new_app: NewApp, studio: Studio, size: tuple[int, int]
) -> None:
    """A strip across a ledger leaf was five cells, one a patch; Z shows the whole sheet, the pen too."""
    from kb.desk.sheet.tape import done, start

    add_sheet(studio, {"sheet": SHEET, "size": "400 x 620 mm"})
    for face in ("front", "back"):
        add_strip(studio, {"sheet": SHEET, "face": face, "at": "220, 500", "size": "60 x 18 mm"})
    start(studio, SHEET, {"liquid": "n-heptane"})
    done(studio, SHEET, {"colour": "none", "release": "3", "harm": "0"})
    async with new_app().run_test(size=size) as pilot:
        screen = await faces(pilot)
        for patch in tape_view(studio, SHEET).patches:
            drawn = str(screen.query_one(f"#{patch.face}", Static).content)
            assert patch.id[1:] in drawn, patch.id
            assert "┊" in drawn, "it is a part of the sheet"
        assert "1D" in str(screen.query_one("#back", Static).content), "the plan began there"
        assert "front: Z whole" in shown(pilot.app)
        patch = next(
            one for one in tape_view(studio, SHEET).patches if one.id == tape_view(studio, SHEET).next
        )
        left, top = (min(corner[axis] for corner in patch.polygon) for axis in (0, 1))
        assert f"{left:.0f} across, {top:.0f} mm down" in flat(pilot.app)
        await keys(pilot, "z")
        whole = str(screen.query_one("#front", Static).content)
        assert "┊" not in whole
        assert "2" not in whole
        assert "front: Z nearer" in shown(pilot.app)
        await keys(pilot, "z", "a")
        assert "┊" not in str(screen.query_one("#front", Static).content), (
            "a strip is drawn on the whole sheet"
        )


async def test_a_face_without_tape_is_drawn_whole(new_app: NewApp, studio: Studio) -> None:
    """Beside the one whose patches are drawn nearer; its edge offers nothing."""
    add_sheet(studio, {"sheet": SHEET, "size": "400 x 620 mm"})
    add_strip(studio, {"sheet": SHEET, "face": "front", "at": "220, 500", "size": "60 x 18 mm"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await faces(pilot)
        assert "┊" in str(screen.query_one("#front", Static).content)
        assert "┊" not in str(screen.query_one("#back", Static).content)
        assert "back: Z" not in shown(pilot.app)


async def test_what_is_lifted_is_said_in_patches_and_in_area(new_app: NewApp, studio: Studio) -> None:
    """Patches differ in size; what came off in part counts for its part, and what waits for a look leads."""
    from kb.desk.sheet.report import report, text
    from kb.desk.sheet.tape import done, start
    from kb.desk.sheet.view import sheet_view

    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    add_strip(studio, {"sheet": SHEET, "face": "front", "at": "20, 30", "size": "60 x 20 mm"})
    start(studio, SHEET, {"liquid": "n-heptane"})
    done(studio, SHEET, {"colour": "none", "release": "3", "harm": "0"})
    assert "1 of 3 patches lifted, 4.0 of 12.0 cm²" in " ".join(sheet_view(studio, SHEET).tape_words)
    start(studio, SHEET, {"liquid": "n-heptane"})
    done(studio, SHEET, {"colour": "pink", "share_percent": "50", "harm": "0"})
    said = " ".join(text(report(studio, SHEET)).split())
    assert "Lifted: 1 of 3 patches, 6.0 of 12.0 cm²." in said
    assert "Old tape was lifted in 2 small steps, 6 cm² in all." in report(studio, SHEET).owner
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        assert "! 1 to look at 1 of 3 patches lifted, front + back: 6.0 of 12.0 cm²" in flat(pilot.app)


def test_a_drawing_keeps_the_shape_of_the_sheet() -> None:
    for columns, rows in ((25, 11), (40, 20), (10, 30)):
        scale = scale_for(410, 560, columns, rows)
        assert scale.across + 2 <= columns
        assert scale.down + 2 <= rows
        assert scale.mm_down / scale.mm_across == pytest.approx(2.0, rel=0.25)
    assert {len(row) for row in face_cells((), scale)} == {scale.across + 2}


def test_a_small_drawing_shows_what_was_worked_on(studio: Studio) -> None:
    """Where many patches share a cell the lifted one is seen, and the one that is next."""
    add_sheet(studio, {"sheet": SHEET, "size": "420 x 600 mm"})
    add_strip(studio, {"sheet": SHEET, "face": "front", "at": "20, 20", "size": "20 x 100 mm"})
    todo = tape_view(studio, SHEET).patches
    lifted = [replace(one, state="done") if place == 0 else one for place, one in enumerate(todo)]
    scale = scale_for(420, 600, 14, 10)
    drawn = {cell.means for row in face_cells(lifted, scale) for cell in row}
    assert any(means.startswith("done") for means in drawn)
    chosen = face_cells(todo, scale, todo[0].id)
    assert any(cell.means for row in chosen for cell in row)


def test_a_narrow_patch_bears_its_number_between_its_pattern(studio: Studio) -> None:
    """Three cells are enough; two patches of two cells would run into each other."""
    add_sheet(studio, {"sheet": SHEET, "size": "420 x 600 mm"})
    add_strip(studio, {"sheet": SHEET, "face": "front", "at": "20, 20", "size": "60 x 20 mm"})
    todo = replace(tape_view(studio, SHEET).patches[1], state="todo")
    assert [label_of(todo, room).replace(todo.id[1:], "n") for room in (2, 3, 4)] == ["", "n", " n "]
    assert label_of(replace(todo, state="done"), 2) == f"{todo.id[1:]}D"


def test_the_pen_stays_on_the_sheet_and_steps_finely_with_shift() -> None:
    pen = StripPen(100, 200)
    for key in ["left"] * 50 + ["up"] * 50 + ["shift+right"]:
        pen.key(key)
    assert pen.at == (1.0, 0.0)
    pen.key("enter")
    assert pen.key("enter") is False
    for key in ("right", "down", "w", "tab"):
        pen.key(key)
    assert pen.strip() == {"face": "front", "at": "1, 0", "size": "5 x 5 mm", "weak": "fold"}
    assert pen.key("q") is None
    assert pen.key("enter") is True


async def test_a_new_sheet_can_be_begun_here_once_it_is_said(new_app: NewApp, studio: Studio) -> None:
    """It opened empty frames and named a command line; nothing that was typed on it could be stored."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "escape", "f10")
        await write(pilot, "Poster of 1931")
        assert "Enter takes it as a new one" in flat(pilot.app)
        await keys(pilot, "escape")
        assert known_sheets(studio) == []
        assert memory(studio.root).sheet == "", "there is no such sheet to come back to"
        assert not isinstance(pilot.app.screen, FacesScreen)
        await keys(pilot, "f10")
        await write(pilot, "Poster of 1931")
        await keys(pilot, "enter")
        await settle(pilot)
        # Once is enough: the line said that it is new, and that Enter writes it down.
        assert isinstance(pilot.app.screen, FacesScreen)
        assert any("Ctrl+Z takes it back" in one.message for one in pilot.app._notifications)
        assert [one.name for one in known_sheets(studio)] == ["Poster of 1931"]
        assert memory(studio.root).sheet == "Poster of 1931"
        await keys(pilot, "slash")
        await fill(pilot, size="500 x 700 mm")
        assert "500 x 700 mm" in flat(pilot.app)


async def test_a_new_sheet_that_was_taken_before_its_line_was_there_is_asked_about(
    new_app: NewApp, studio: Studio
) -> None:
    """Whoever types ahead has read nothing; a number that a sheet bears is that sheet, however taken."""
    add_sheet(studio, {"sheet": SHEET, "number": "TT-4"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "escape", "f10")
        picker = pilot.app.screen
        assert isinstance(picker, PickerScreen)
        await write(pilot, "Poster of 1931")
        picker._waiting = True
        picker.take()
        await settle(pilot)
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "b")
        pilot.app.new_sheet = "TT-4"
        open_sheet(pilot.app, "TT-4")
        await settle(pilot)
        assert getattr(pilot.app.screen, "sheet", "") == SHEET
        assert [one.name for one in known_sheets(studio)] == [SHEET]


async def test_a_medium_that_the_catalogue_does_not_know_is_named_on_the_sheet(
    new_app: NewApp, studio: Studio
) -> None:
    """ "irongall" was stored without a word, and no answer reckoned with it; the paper stood by its id."""
    add_sheet(studio, {"sheet": SHEET, "media_front": "irongall, printing ink", "paper": "rag paper"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        now = str(pilot.app.screen.query_one("#now", Static).content)
        assert "No name here: irongall. No answer can reckon with it" in now
        assert "printing" not in now
        assert "paper-rag" not in flat(pilot.app)
        assert "Rag paper" in flat(pilot.app)


async def test_the_question_is_asked_from_the_sheet(new_app: NewApp, studio: Studio) -> None:
    """F2 knew nothing of the sheet one came from, so its inks were no part of the answer. A question about
    another sheet gives way."""
    taped(studio)
    add_sheet(studio, {"sheet": "Map 9"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await faces(pilot)
        assert "L: which liquid first" in flat(pilot.app)
        await keys(pilot, "l")
        assert pilot.app.current_mode == "home"
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        assert home.asked.id_of("sheet") == SHEET
        home.asked.put("tape", Filled("tape", "masking-rubber", "Masking tape"))
        home.asked.put_sheet(SHEET)
        assert home.asked.id_of("tape") == "masking-rubber"
        home.asked.put_sheet("Map 9")
        assert (home.asked.id_of("sheet"), home.asked.id_of("tape")) == ("Map 9", "")


async def test_a_sheet_that_was_taken_back_is_left(new_app: NewApp, studio: Studio) -> None:
    """Its faces stayed, F10 came back to them, and letters of the next name were keys there."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "escape", "f10")
        await write(pilot, "Poster of 1931")
        await keys(pilot, "enter")
        await settle(pilot)
        await keys(pilot, "ctrl+z")
        await settle(pilot)
        assert known_sheets(studio) == []
        assert not isinstance(pilot.app.screen, FacesScreen)
        await keys(pilot, "f10")
        assert isinstance(pilot.app.screen, PickerScreen)
        await write(pilot, "Poster of 1931")
        await keys(pilot, "enter")
        await settle(pilot)
        assert [one.name for one in known_sheets(studio)] == ["Poster of 1931"]


async def test_a_sheet_chosen_as_new_for_a_form_is_not_asked_about_again(
    new_app: NewApp, studio: Studio
) -> None:
    """It was taken from the line that says it is new, and storing asked once more. A name that is only typed
    is asked about."""
    add_sheet(studio, {"sheet": SHEET})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        write_down(pilot.app, "mend", "")
        await settle(pilot)
        form = pilot.app.screen
        await keys(pilot, "ctrl+e")
        await write(pilot, "Poster of 1931")
        assert "Enter takes it as a new one." in flat(pilot.app)
        await keys(pilot, "enter")
        form.query_one("#field-sheet", Input).value = "Poster of 1913"
        await keys(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "b")
        form.query_one("#field-sheet", Input).value = "Poster of 1931"
        await keys(pilot, "ctrl+s")
        await settle(pilot)
        assert not isinstance(pilot.app.screen, AskScreen)
    studio.refresh()
    assert {one.name for one in known_sheets(studio)} == {SHEET, "Poster of 1931"}


async def test_what_was_founded_says_nothing_of_a_sheet_asked_for_since(
    new_app: NewApp, studio: Studio
) -> None:
    """The answer of the disk came late, and made a name that nobody had looked up one of the book."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "escape", "f10")
        await write(pilot, "Poster of 1931")
        await keys(pilot, "enter")
        await settle(pilot)
        screen = pilot.app.screen
        assert isinstance(screen, FacesScreen)
        screen._known("Poster of 1931", "Poster of 1931", True)
        screen.show_instead("Poster of 1913")
        await settle(pilot)
        assert isinstance(pilot.app.screen, AskScreen)
        assert not screen.known
        assert memory(studio.root).sheet == "Poster of 1931"


async def test_damage_that_is_checked_off_is_chosen_by_its_words(new_app: NewApp, studio: Studio) -> None:
    """The form asked for a number, and those behind the second one were cut off its heading."""
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    for number in range(12):
        add_condition(studio, {"sheet": SHEET, "damage": "stain", "place": f"invented place {number}"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await faces(pilot)
        await keys(pilot, "k")
        assert "invented place 11" in flat(pilot.app)
        await keys(pilot, "escape", "k", "d")
        assert "Check off: stain, invented place 11" in flat(pilot.app)
        await fill(pilot, treated="reduced")
        assert [one.words for one in condition_list(studio, SHEET) if one.treated] == [
            "stain, invented place 11, reduced"
        ]
        await keys(pilot, "k", "0")
        assert pilot.app.screen is screen


async def test_damages_of_the_same_words_have_a_draft_each(new_app: NewApp, studio: Studio) -> None:
    """What was written of one tear stood on the form of the other, and was stored there."""
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    tears = [add_condition(studio, {"sheet": SHEET, "damage": "tear"}).id for _ in range(2)]
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        await faces(pilot)
        await keys(pilot, "k")
        days = [day_of(one.at) for one in condition_list(studio, SHEET)]
        listed = [f"tear, no. {number}, {day}" for number, day in enumerate(days, 1)]
        assert [answer for _, _, answer in app.screen.answers[1:]] == listed
        await keys(pilot, "1", *"kozo", "escape", "k", "2")
        assert app.screen.values["treated"] == ""
        await keys(pilot, *"paste", "escape", "k", "1")
        assert app.screen.values["treated"] == "kozo"
        await keys(pilot, "escape", "f4", "ctrl+b")
        forms = [answer for _, _, answer in app.screen.answers[1:]]
        assert forms == [f'the form "Check off: tear, no. {number}" for {SHEET}' for number in (1, 2)]
        await keys(pilot, "2")
        assert app.screen.values["treated"] == "paste"
        await keys(pilot, "ctrl+s")
        assert [(one.id, one.treated) for one in condition_list(studio, SHEET)] == [
            (tears[0], ""),
            (tears[1], "paste"),
        ]
        # What is checked off is counted still: a third has a number of its own, and the first its draft.
        long = "invented place, " * 4
        for words in ({"damage": "tear"}, *({"damage": "stain", "place": f"{long}{end}"} for end in "ab")):
            add_condition(studio, {"sheet": SHEET, **words})
        await faces(pilot)
        await keys(pilot, "k")
        said = [answer.rpartition(",")[0] for _, _, answer in app.screen.answers[1:]]
        assert said[:2] == ["tear, no. 1", "tear, no. 3"]
        assert [one[-7:] for one in said[2:]] == [", no. 1", ", no. 2"]
        await keys(pilot, "1")
        assert app.screen.values["treated"] == "kozo"
        # Two sheets of long names, apart only at their end, and the place behind it.
        for sheet in "AB":
            patch = f"Quarter sheet of an invented atlas {sheet}: front, from 120 mm across and 30.5 mm down"
            app.keep_draft(f"lines-{sheet}", f'the form "Begin patch 12, front" for {patch}', {}, {})
        await keys(pilot, "escape", "f4", "ctrl+b")
        forms = {answer for _, _, answer in app.screen.answers[1:3]}
        assert len(forms) == 2, "cut to the same words"


async def test_a_damage_that_is_the_first_of_its_words_keeps_its_draft(
    new_app: NewApp, studio: Studio
) -> None:
    """It has a number as soon as there is another."""
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    add_condition(studio, {"sheet": SHEET, "damage": "tear"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        screen = await faces(pilot)
        await keys(pilot, "k")
        assert app.screen.heading == "Check off: tear"
        await keys(pilot, *"kozo", "escape")
        add_condition(studio, {"sheet": SHEET, "damage": "tear"})
        screen.look()
        await settle(pilot)
        await keys(pilot, "k", "1")
        assert app.screen.heading == "Check off: tear, no. 1"
        assert app.screen.values["treated"] == "kozo"


async def test_what_was_checked_off_meanwhile_is_not_written_over(new_app: NewApp, studio: Studio) -> None:
    """A draft of before took the place of what stood there, without a word."""
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    tear = add_condition(studio, {"sheet": SHEET, "damage": "tear"}).id
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        screen = await faces(pilot)
        await keys(pilot, "k", *"kozo", "escape")
        check_off(Studio(studio.root), tear, "paste")
        await keys(pilot, "ctrl+b", "ctrl+s")
        await settle(pilot)
        assert "Not stored: It is checked off: paste." in flat(app)
        assert "F3 lists records and corrects them; F9 throws this away." in flat(app), "no key was named"
        assert [one.treated for one in condition_list(studio, SHEET)] == ["paste"]
        await keys(pilot, "f9", "delete")
        assert app.screen is screen
        assert not app.drafts


async def test_what_another_version_left_to_check_off_is_not_opened(new_app: NewApp, studio: Studio) -> None:
    """It knows the number of a damage and not which one that was: opened, it could not be stored."""
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    before = {"number": "1", "1": add_condition(studio, {"sheet": SHEET, "damage": "tear"}).id}
    again = {
        "title": "Check off",
        "says": SHEET,
        "lines": [["treated", "Done"]],
        "before": before,
        "store": "kb.tui.screens.sheet.faces:_settle",
        "args": [],
        "given": {"sheet": SHEET, "before": before},
    }
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        screen = await faces(pilot)
        app.keep_draft(f"{LINES}1", 'the form "Check off"', {"treated": "kozo"}, again)
        await keys(pilot, "ctrl+b")
        assert app.screen is screen
        assert "was written by another version" in [one.message for one in app._notifications][-1]
        assert not app.drafts


async def test_nothing_is_said_of_a_sheet_before_it_is_read(new_app: NewApp, studio: Studio) -> None:
    """A key right behind the name was told that there is no tape, no damage and no size."""
    taped(studio)
    add_condition(studio, {"sheet": SHEET, "damage": "stain"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await faces(pilot)
        screen.shown = None
        for act in (screen.action_next, screen.action_skip, screen.action_decide, screen.action_settle):
            act()
        screen.action_draw()
        await settle(pilot)
        told = {notice.message for notice in pilot.app._notifications}
        assert told == {"The sheet is still being read: press it once more."}
        assert pilot.app.screen is screen


async def test_no_form_asks_for_words_where_nothing_is_to_be_done(new_app: NewApp, studio: Studio) -> None:
    """X and G opened one; what was typed was refused at its end. The others say what they are about."""
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await faces(pilot)
        for key, said in (("x", "There is no tape yet"), ("g", "No patch waits for a decision")):
            await keys(pilot, key)
            assert pilot.app.screen is screen
            assert any(said in notice.message for notice in pilot.app._notifications)
        add_strip(studio, {"sheet": SHEET, "face": "front", "at": "20, 20", "size": "60 x 20 mm"})
        screen.look()
        await settle(pilot)
        await keys(pilot, "x")
        assert "Leave out patch 1, front" in flat(pilot.app)
        await keys(pilot, "escape")
        start(studio, SHEET, {"liquid": "n-heptane", "method": "swab"})
        done(studio, SHEET, {"colour": "yellow", "release": "2"})
        screen.look()
        await settle(pilot)
        await keys(pilot, "x")
        assert pilot.app.screen is screen
        await keys(pilot, "g")
        assert "Patch F1 showed colour" in flat(pilot.app)
        assert "benchleaf" not in flat(pilot.app).replace("Benchleaf", "")


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_sheets_are_found_from_every_place(
    new_app: NewApp, studio: Studio, size: tuple[int, int]
) -> None:
    """The line of places names F10, the palette knows patches, the list tells tape and takes no "none"."""
    add_sheet(studio, {"sheet": SHEET, "size": "210 x 297 mm"})
    add_sheet(studio, {"sheet": "Bill, invented"})
    add_strip(studio, {"sheet": SHEET, "face": "front", "at": "20, 30", "size": "60 x 20 mm"})
    async with new_app().run_test(size=size) as pilot:
        await settle(pilot)
        assert "F10 Sheet" in shown(pilot.app).splitlines()[0]
        assert any("patch" in one.title for one in pilot.app.get_system_commands(pilot.app.screen))
        await keys(pilot, "escape", "f10")
        listed = flat(pilot.app)
        assert "tape, no test" in listed
        assert "none" not in listed
        await write(pilot, "bill")
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, FacesScreen)
        assert "[F10 Sheet]" in shown(pilot.app).splitlines()[0]
        assert "Say its size first" in flat(pilot.app)
        assert "benchleaf" not in flat(pilot.app).replace("Benchleaf", "")
        await keys(pilot, "f10")
        await write(pilot, "tide")
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, FacesScreen)
        assert pilot.app.screen.sheet == SHEET
        assert "N begins it" in flat(pilot.app)
        await keys(pilot, "escape")
        assert not isinstance(pilot.app.screen, FacesScreen)


def test_what_the_desk_says_names_no_command_in_the_app() -> None:
    """A key does it there; what else is said stays, and nothing becomes empty."""
    told = {
        'No tape is written down for "X". Add it: benchleaf strip add "X" ...': (
            'No tape is written down for "X".'
        ),
        "Name one that there is, or say that it is a new one (--new-sheet). Nothing was recorded.": (
            "Name one that there is, or say that it is a new one. Nothing was recorded."
        ),
        '"a" is no record of a condition; benchleaf condition list shows them.': (
            '"a" is no record of a condition.'
        ),
        "Say it: benchleaf sheet amend": "Say it: benchleaf sheet amend",
        "5.5 g is too much; 3 g is not.": "5.5 g is too much; 3 g is not.",
    }
    assert {text: without_commands(text) for text in told} == told
