"""Baths and washing by keyboard alone: the form, refusals in words, the plan, readings, the stop rule."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest
from textual.content import Content
from textual.pilot import Pilot

from kb.desk.errors import DeskError
from kb.desk.making.batches import all_batches
from kb.desk.sheet.names import found_sheet, known_sheets
from kb.desk.sheet.sheets import add_sheet
from kb.desk.studio import Studio
from kb.desk.water.readings import all_readings
from kb.tui.screens.ask_why import AskWhy
from kb.tui.screens.making.batches import BatchesScreen
from kb.tui.screens.sheet.sheet import SheetScreen
from kb.tui.screens.sheet.sheet_choice import open_sheet
from kb.tui.screens.water import baths, wash
from kb.tui.screens.water.bath_form import BathForm, InReach, reckon, with_record
from kb.tui.screens.water.baths import BATHS, BathsScreen
from kb.tui.screens.water.wash import WASH, Washed, WashScreen, _store, reading
from kb.tui.widgets.choice_row import ChoiceRow
from kb.tui.widgets.field import FormInput
from kb.tui.widgets.frame import KeyBar
from kb.tui.widgets.page import Page
from tests.screens.conftest import HandClock, type_ahead
from tests.screens.making_help import IDS, SECTIONS, SIZES, NewApp, make, opened, to_step
from tests.screens.screen_help import flat, keys, keys_fit, settle, shown, store, write


async def at_baths(pilot: Pilot[Any], *lines: str) -> BathsScreen:
    """Go to the baths and type volume, pH and so on, one after the other."""
    await settle(pilot)
    await keys(pilot, "f7")
    screen = pilot.app.screen
    assert isinstance(screen, BathsScreen)
    for text in lines:
        await write(pilot, text)
        await keys(pilot, "down")
    return screen


async def at_wash(pilot: Pilot[Any], sheet: str = "Letter 1") -> WashScreen:
    """Go on to washing and name the sheet."""
    await at_baths(pilot)
    await keys(pilot, "escape", "w")
    screen = pilot.app.screen
    assert isinstance(screen, WashScreen)
    await write(pilot, sheet)
    return screen


async def read(pilot: Pilot[Any], *lines: str) -> None:
    """Write readings down, one line each."""
    for text in lines:
        await write(pilot, text)
        await keys(pilot, "enter")


# -- baths -----------------------------------------------------------------------------------------


async def test_an_impossible_bath_is_refused_with_the_nearest(new_app: NewApp) -> None:
    """Open to the air limewater cannot hold pH 10.5; nothing more is asked than another pH."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await at_baths(pilot, "5 L", "10.5")
        await keys(pilot, "down", "down", "o")
        text = flat(pilot.app)
        assert "No such bath" in text
        assert "does not hold" in text
        assert "The nearest pH that can be reached is 8.2" in text


async def test_a_bath_says_amount_species_drift_and_reserve(new_app: NewApp) -> None:
    """Closed, the same volume has an answer; it changes with every choice."""
    async with new_app().run_test(size=(80, 120)) as pilot:
        screen = await at_baths(pilot, "5 L", "8.5")
        await keys(pilot, "down", "down", "c")
        text = flat(pilot.app)
        for words in ("Weigh ", "calcium hydroxide", "Dissolved: HCO3-", "Drops: nothing", "after 0.5 h"):
            assert words in text
        assert "Least of permanent paper" in text
        assert "The acid of the sheet is not known" in text
        assert "The mass of the sheet is not given" in text
        screen.query_one("#reagent").focus()
        await keys(pilot, "3")
        assert "its own carbon dioxide sets the pH" in flat(pilot.app)
        screen.query_one("#air").focus()
        await keys(pilot, "o")
        assert "magnesium bicarbonate, 5 l" in flat(pilot.app)
        assert "While full of gas" in flat(pilot.app)


async def test_words_that_are_no_amount_are_named(new_app: NewApp) -> None:
    """And an emptied form says what to type."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await at_baths(pilot, "5 bowls", "8")
        assert "bowls" in flat(pilot.app)
        assert "No such bath" in flat(pilot.app)
        await keys(pilot, "escape", "c")
        assert "Type a volume" in flat(pilot.app)


async def test_each_wrong_line_is_named_before_the_others_are_there(new_app: NewApp) -> None:
    """By its label, as soon as it stands there; and all of them, not only the first."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await at_baths(pilot, "", "2 L")
        screen.query_one("#field-temperature", FormInput).value = "20 C8"
        await settle(pilot)
        assert 'pH to reach: "2 L" is not a pH' in flat(pilot.app)
        assert "Temperature: " in flat(pilot.app)


async def test_a_ph_and_a_strength_together_are_refused(new_app: NewApp) -> None:
    """One of them only."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await at_baths(pilot, "5 L", "8", "", "0.01 mol/l")
        assert "either a pH to reach or a strength" in flat(pilot.app)


async def test_the_bath_knows_what_the_record_of_the_sheet_says(new_app: NewApp, studio: Studio) -> None:
    """A blueprint on the other face was not warned of, because the question did not name it."""
    add_sheet(studio, {"sheet": "Plan 3", "media_back": "blueprint", "paper": "rag"})
    near = with_record(studio, InReach(sheet="Plan 3", media=("letterpress-oil",)))
    assert near.media == ("letterpress-oil", "blueprint")
    assert "lueprint" in near.words
    answer = reckon(studio, BathForm(volume="5 l", target_ph="9"), near)
    assert answer.cautions[0].id == "prussian-blue-alkali"
    assert with_record(studio, InReach()) == InReach()


async def test_a_bath_for_what_takes_none_says_so_first(
    new_app: NewApp, studio: Studio, record: Callable[..., str]
) -> None:
    """Its ink had bled in water an hour ago, and reagent was weighed out for it without a word."""
    add_sheet(studio, {"sheet": "Plan 3", "paper": "rag paper"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened_sheet(pilot)
        assert "No bath" not in flat(pilot.app)
        record(studio, sheet="Plan 3", medium="inkjet-dye", parts={"water": 1.0}, harm={"bleed": 2})
        await keys(pilot, "f2", "f7")
        assert "No bath: Inkjet print cannot be wetted. Esc, then W says why. For: of sheet" in flat(
            pilot.app
        )


async def asked_oil_on_woodpulp(pilot: Pilot[Any]) -> None:
    """Ask the question anew: another medium and paper, and no sheet."""
    await keys(pilot, "f2")
    await settle(pilot)
    pilot.app.screen.query_one("#blank-medium").focus()
    await settle(pilot)
    await type_ahead(pilot, "letterpress", "wood-pulp paper")


async def opened_sheet(pilot: Pilot[Any]) -> None:
    """The one sheet of the book, by F10, and then the baths."""
    await settle(pilot)
    await keys(pilot, "f10")
    await write(pilot, "Plan 3")
    await keys(pilot, "enter")
    await settle(pilot)
    await keys(pilot, "f7")
    await settle(pilot)


async def test_a_bath_is_planned_for_what_was_touched_last(new_app: NewApp, studio: Studio) -> None:
    """F7 judged the bath of a question by the sheet that F10 had opened before, and C did not clear it."""
    add_sheet(studio, {"sheet": "Plan 3", "media_front": "blueprint", "paper": "rag"})
    add_sheet(studio, {"sheet": "Plan 4"})
    async with new_app().run_test(size=(110, 40)) as pilot:
        await opened_sheet(pilot)
        assert "For: of sheet Plan 3: Blueprint" in flat(pilot.app)
        bath = pilot.app.screen
        bath.query_one("#field-sheet_mass", FormInput).value = "25 g"
        await asked_oil_on_woodpulp(pilot)
        await keys(pilot, "f7")
        assert "For: of the question (F2): Letterpress" in flat(pilot.app)
        assert "Plan 3" not in flat(pilot.app)
        bath.query_one("#field-acid", FormInput).value = "40"
        await keys(pilot, "f10", "f7")
        await settle(pilot)
        assert "For: of sheet Plan 3: Blueprint" in flat(pilot.app)
        screen = pilot.app.screen
        assert isinstance(screen, BathsScreen)
        assert screen.form.sheet_mass == "25 g"
        await keys(pilot, "f10", "f10", *"Plan 4", "enter", "f7")
        assert "For: of sheet Plan 4" in flat(pilot.app)
        assert not screen.form.sheet_mass + screen.form.acid, "another sheet has another mass"
        said = " ".join(one.message for one in pilot.app._notifications)
        assert "those of Plan 3: they are taken away" in said
        await keys(pilot, "f10", "f10", *"Plan 3", "enter", "f7")
        await keys(pilot, "escape", "c")
        assert "For: nothing, so nothing is warned of" in flat(pilot.app)
        assert screen.near == InReach()
        await keys(pilot, "f2", "f7")
        assert "For: of the question (F2): Letterpress" in flat(pilot.app)


async def test_washing_without_the_sheet_is_that_of_the_question(new_app: NewApp, studio: Studio) -> None:
    """It said that no medium and paper is named, although F2 named both."""
    add_sheet(studio, {"sheet": "Plan 3", "media_front": "blueprint", "paper": "rag"})
    async with new_app().run_test(size=(110, 60)) as pilot:
        await settle(pilot)
        await asked_oil_on_woodpulp(pilot)
        await opened_sheet(pilot)
        await keys(pilot, "escape", "w")
        await settle(pilot)
        assert "of sheet Plan 3" in flat(pilot.app)
        assert "Letterpress" not in flat(pilot.app)
        await keys(pilot, "slash", "end", "ctrl+u")
        assert "Washing of Letterpress" in flat(pilot.app)
        assert ", of the question (F2)" in flat(pilot.app)


async def test_washing_after_an_alkaline_bath_is_alkaline(new_app: NewApp) -> None:
    """It began with plain water; and after C the W that leads there was typed into the volume."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await at_baths(pilot, "5 L", "8")
        await keys(pilot, "escape", "w")
        assert pilot.app.screen.query_one("#alkali", ChoiceRow).value == "alkaline"
        await keys(pilot, "escape", "escape", "c", "w")
        assert isinstance(pilot.app.screen, WashScreen)
        assert screen.form.volume == ""
        assert pilot.app.screen.query_one("#alkali", ChoiceRow).value == "water"


async def test_what_no_balance_reads_is_measured_first(new_app: NewApp) -> None:
    """3.59 mg stood before the 2.27 ml that one can do; grams are still weighed first."""
    async with new_app().run_test(size=(80, 40)) as pilot:
        screen = await at_baths(pilot, "5 L", "8")
        text = screen.page.text
        assert text.startswith("Measure")
        assert "ml" in text[: text.index("Weigh")]
        assert "which is little for a balance" in " ".join(text.split())
        await keys(pilot, "escape", "c", "slash")
        await write(pilot, "5 L")
        await keys(pilot, "down", "down", "down")
        await write(pilot, "0.01 mol/l")
        assert screen.page.text.startswith("Weigh")


async def test_what_warns_and_is_cut_says_so_with_its_key(new_app: NewApp, studio: Studio) -> None:
    """Warnings of a plan were folded under "more lines", with no key and no word that they warn."""
    add_sheet(studio, {"sheet": "Plan 3", "media_front": "blueprint", "paper": "paper-woodpulp"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened_sheet(pilot)
        await keys(pilot, "escape", "w")
        await settle(pilot)
        assert "more lines   1 opens them" in pilot.app.screen.query_one(Page).text
        assert " to mind" in flat(pilot.app)
        await keys(pilot, "1")
        assert "more lines" not in pilot.app.screen.query_one(Page).text


# -- washing ---------------------------------------------------------------------------------------


async def test_the_plan_is_that_of_the_media_in_the_question(new_app: NewApp) -> None:
    """Without a test with water on this sheet: test first; a medium that forbids it: no bath."""
    async with new_app().run_test(size=(80, 60)) as pilot:
        await settle(pilot)
        await keys(pilot, "down", "down")
        pilot.app.screen.query_one("#blank-medium").focus()
        await settle(pilot)
        await type_ahead(pilot, "copying pencil", "rag")
        await at_wash(pilot)
        text = flat(pilot.app)
        assert "Washing of Copying" in text
        assert "NO." in text
        assert "No bath: Copying pencil cannot be wetted." in text, "the answer names what forbids it"


async def test_on_a_low_screen_sheet_answer_and_what_follows_are_in_view(
    new_app: NewApp, studio: Studio
) -> None:
    """The name of the sheet was cut in half a line, and an empty line stood under the answer."""
    name = "Deed of sale with two seals, invented, 1762"
    add_sheet(
        studio,
        {"sheet": name, "media-front": "copying pencil", "paper": "rag", "size": "420 x 300 mm"},
    )
    async with new_app().run_test(size=(80, 24)) as pilot:
        await at_wash(pilot, name)
        lines = shown(pilot.app).splitlines()
        assert "Size        420 x 300 mm, on record" in shown(pilot.app), "nobody need type it again"
        assert "such as 100 g/m2" in shown(pilot.app)
        assert any(name in line for line in lines[:3]), lines
        (at,) = [place for place, line in enumerate(lines) if "No bath: " in line]
        assert "─" in lines[at + 1]


async def test_readings_are_one_line_each_and_the_stop_rule_is_told(new_app: NewApp, studio: Studio) -> None:
    """Every reading is on disk at once; two that agree say change, two baths that agree say stop."""
    found_sheet(studio, "Letter 1")
    async with new_app().run_test(size=(80, 40)) as pilot:
        await at_wash(pilot)
        await keys(pilot, "escape", "r")
        await read(pilot, "bath 1, 5 min, pH 5.8, 420 uS, 18 C, colour straw")
        assert "TOO FEW READINGS" in flat(pilot.app)
        await read(pilot, "20 min; pH 6,4; 300 µS/cm; colour pale straw")
        assert "Test first, no bath. GO ON: Still changing" in flat(pilot.app), "never tested with water"
        await read(pilot, "30 min, pH 6.4, 300 uS, colour pale straw")
        assert "CHANGE THE WATER" in flat(pilot.app)
        await read(pilot, "bath 2, 30 min, pH 6.4, 300 uS, colour pale straw")
        assert "STOP: Bath 2 ended as bath 1 did" in flat(pilot.app)
        assert "- bath 1, 20 min: pH 6.4, 300 µS/cm, pale straw" in flat(pilot.app)
    found = [one.reading for one in all_readings(studio, "Letter 1")]
    assert [one.bath for one in found] == [1, 1, 1, 2]
    assert (found[0].ph, found[0].conductivity_us_cm, found[0].temperature_c) == (5.8, 420.0, 18.0)


@pytest.mark.parametrize(
    ("text", "field", "value"),
    [
        ("1:30:00", "minutes", 90.0),
        ("1 h 30 min", "minutes", 90.0),
        ("90 s, pH 7", "minutes", 1.5),
        ("0,18 mS", "conductivity_us_cm", 180.0),
        ("66 F", "temperature_c", 18.9),
        ("320,5 uS, 18,5 C, pH 7,012", "ph", 7.012),
    ],
)
def test_a_reading_takes_what_every_place_takes(studio: Studio, text: str, field: str, value: float) -> None:
    """Figures are read by the reader of their field, and known by their unit."""
    line = text if "minutes" not in field or "pH" in text else f"{text}, pH 7"
    assert getattr(reading(studio, "Letter 1", line), field) == pytest.approx(value)


def test_a_reading_of_a_bath_that_is_forbidden_says_so(studio: Studio) -> None:
    """It is stored, for it was read; but not without a word."""
    add_sheet(studio, {"sheet": "Letter 1", "media-front": "copying pencil"})
    assert _store(studio, sheet="Letter 1", new=False, text="pH 6, 5 min").startswith(" No bath: ")
    assert len(all_readings(studio)) == 1
    with pytest.raises(DeskError, match="Nothing was recorded"):
        _store(studio, sheet="Letter 2", new=True, text="pH 15")
    assert [one.name for one in known_sheets(studio)] == ["Letter 1"], "what is refused founds no sheet"


async def test_a_line_that_is_not_understood_is_kept_and_not_stored(new_app: NewApp, studio: Studio) -> None:
    """Half a reading is none; the piece is named."""
    found_sheet(studio, "Letter 1")
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await at_wash(pilot)
        await keys(pilot, "escape", "r")
        await read(pilot, "pH 7, rather brown")
        assert '"rather brown" is not understood' in flat(pilot.app)
        assert screen.typing.value == "pH 7, rather brown"
        # It was stored as 1.25.
        screen.typing.value = "bath 1, pH 7, 1,250 uS"
        await keys(pilot, "enter")
        assert '"1,250 uS" can be read in two ways' in flat(pilot.app)
        screen.typing.value = "bath 1 20 min, pH 7"
        await keys(pilot, "enter")
        assert 'a comma is missing after "bath 1"' in flat(pilot.app)
        assert screen.typing.cursor_position == len("bath 1 20 min")
    assert all_readings(studio) == []


async def test_the_key_of_the_reading_is_no_part_of_it(new_app: NewApp, studio: Studio) -> None:
    """Pressed once more in the line after a reading was stored; the one word with an r is kept."""
    found_sheet(studio, "Letter 1")
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await at_wash(pilot)
        await keys(pilot, "escape", "r")
        await read(pilot, "pH 7, 5 min")
        await keys(pilot, "R")
        await read(pilot, "bath 2, pH 6, 5 min")
        assert [one.reading.bath for one in all_readings(studio)] == [1, 2]
        await write(pilot, "remarks cold")
        assert screen.typing.value == "remarks cold"


async def test_a_reading_that_is_not_stored_is_told_before_it_goes(new_app: NewApp, studio: Studio) -> None:
    """Esc and Esc lost it without a word; a draft of it went to the sheet whose name was typed halfway."""
    for name in ("Letter 1", "Letter 12"):
        found_sheet(studio, name)
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        screen = await at_wash(pilot)
        await keys(pilot, "escape", "r", *"pH7", "escape")
        told = "Not stored yet: pH7. R, then Enter stores it; Esc again leaves without it."
        assert [one.message for one in app._notifications] == [told]
        # Whoever does something else in between is told again.
        await keys(pilot, "down", "escape")
        assert app.screen is screen
        await keys(pilot, "f3", "f7")
        assert (app.screen, screen.typing.value) == (screen, "pH7")
        await keys(pilot, "escape")
        assert app.screen is screen
        # What is typed anew behind the warning, in the line gone to by mouse, has not been warned of.
        for anew in "89":
            screen.typing.focus()
            await keys(pilot, anew, "escape")
            assert [one.message for one in app._notifications] == [told.replace("pH7", anew)]
            await keys(pilot, "end")
        screen.typing.focus()
        await keys(pilot, *"pH7", "escape")
        assert app.screen is screen
        await keys(pilot, "escape")
        assert isinstance(app.screen, BathsScreen)
        assert [one.message for one in app._notifications] == ["Left without: pH7."]
        assert not app.drafts
        screen = await at_wash(pilot, "")
        await keys(pilot, *"Letter", "space", "1", "2")
        assert screen.typing.value == ""


async def test_a_reading_is_stored_once_by_its_own_screen(new_app: NewApp, studio: Studio) -> None:
    """A second washing of the sheet had the draft of the first, and stored it too."""
    add_sheet(studio, {"sheet": "Letter 1"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        screen = await at_wash(pilot)
        await keys(pilot, "escape", "r", *"pH7", "escape")
        open_sheet(app, "Letter 1", lambda name: app.push_screen(WashScreen(InReach(name))))
        await settle(pilot)
        assert app.screen is not screen
        assert app.screen.typing.value == ""
        await keys(pilot, "f7", "r", "enter")
        assert len(all_readings(studio)) == 1
        await keys(pilot, "escape", "escape")
        assert isinstance(app.screen, BathsScreen)


async def test_the_program_does_not_end_over_a_reading_without_a_word(new_app: NewApp) -> None:
    """It promised a draft for forms that have one; a reading has none."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        await at_wash(pilot)
        await keys(pilot, "escape", "r", *"pH7", "f3", "ctrl+q")
        assert "A reading is not stored yet, and no draft keeps it: pH7." in flat(app)
        await keys(pilot, "s", "f7")
        assert app.screen.typing.value == "pH7"


async def test_esc_does_not_leave_a_reading_that_goes_to_the_disk(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where it was refused then, nobody was told, and it was gone."""
    go = threading.Event()

    def slow(*_: Any, **__: Any) -> str:
        go.wait(10)
        raise DeskError("There is no room on the disk.")

    monkeypatch.setattr(wash, "_store", slow)
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        screen = await at_wash(pilot, "")
        await keys(pilot, "escape", "r", *"pH7")
        for key in ("enter", "escape", "escape"):
            await pilot.press(key)
        go.set()
        await settle(pilot)
        assert app.screen is screen
        assert "Not stored: There is no room on the disk." in flat(app)
        assert screen.typing.value == "pH7"


async def test_a_reading_taken_back_no_longer_counts(new_app: NewApp, studio: Studio) -> None:
    """With a reason; the record stays in the book."""
    found_sheet(studio, "Letter 1")
    async with new_app().run_test(size=(80, 40)) as pilot:
        await at_wash(pilot)
        await keys(pilot, "escape", "r")
        await read(pilot, "pH 6, 5 min", "pH 6, 10 min")
        await keys(pilot, "escape", "w")
        assert isinstance(pilot.app.screen, AskWhy)
        await write(pilot, "meter not set")
        await keys(pilot, "enter", "enter")
        assert "TOO FEW READINGS" in flat(pilot.app)
        assert len(all_readings(studio)) == 1
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, BathsScreen)


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("0.3 mS/cm", {"conductivity_us_cm": 300.0}),
        ("1 h, by float, water deionised", {"minutes": 60.0, "method": "float", "water": "deionised"}),
        ("ph7.1, colour [b]brown[/b]", {"ph": 7.1, "colour": "[b]brown[/b]"}),
        ("immersion; note: bubbles", {"method": "immersion", "remarks": "bubbles"}),
        ("64 F, color straw", {"colour": "straw"}),
    ],
)
def test_what_a_line_says(studio: Studio, text: str, fields: dict[str, Any]) -> None:
    """Units, commas as decimal marks, words."""
    found = reading(studio, "Letter 1", text)
    assert {name: getattr(found, name) for name in fields} == pytest.approx(fields)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "Nothing was read"),
        ("bath 2", "Nothing was read"),
        ("pH 7, pH 8", "twice"),
        ("30 s", "Nothing was read"),
        ("7 bowls", "7 bowls"),
    ],
)
def test_lines_that_say_nothing(studio: Studio, text: str, words: str) -> None:
    """Refused with the reason; never guessed."""
    with pytest.raises(DeskError, match=words):
        reading(studio, "Letter 1", text)


# -- a working day ---------------------------------------------------------------------------------


async def test_a_day_of_making_and_washing(new_app: NewApp, studio: Studio, hand_clock: HandClock) -> None:
    """Paste with timers, its label, a wash with readings, the buffer, the plan of the sheet."""
    store(studio, 1, sheet="Letter 1", medium="letterpress-oil", harm={"bleed": 0})
    async with new_app().run_test(size=(80, 60)) as pilot:
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
        (paste,) = all_batches(studio)
        await keys(pilot, "p", "escape", "escape")

        await at_baths(pilot, "5 L", "8.5")
        await keys(pilot, "down", "down", "c")
        assert "Weigh " in flat(pilot.app)
        await keys(pilot, "escape", "w")
        await write(pilot, "Letter 1")
        await keys(pilot, "escape", "r")
        await read(
            pilot,
            "bath 1, 10 min, pH 5.9, 350 uS",
            "bath 2, 30 min, pH 8.3, water calcium hydroxide",
            f"pH 8.3, 40 min, batch {paste.short}",
        )
        await keys(pilot, "escape", "escape", "f3")
        assert "Letter 1" in shown(pilot.app)
        await keys(pilot, "p")
        assert isinstance(pilot.app.screen, SheetScreen)
        text = flat(pilot.app)
        assert "Batches that touched it" in text
        assert f"- {paste.short}" in text
    assert [one.reading.bath for one in all_readings(studio, "Letter 1")] == [1, 2, 2]
    assert (studio.root / "exports" / f"label-{paste.short}.svg").exists()


# -- looks -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_fits(new_app: NewApp, size: tuple[int, int]) -> None:
    """No key is cut off, in the form as on the answer, and the title names the screen."""
    async with new_app().run_test(size=size) as pilot:
        await at_baths(pilot)
        assert keys_fit(pilot.app)
        assert "[F7 Bath]" in shown(pilot.app)
        await keys(pilot, "escape")
        assert keys_fit(pilot.app)
        await keys(pilot, "w", "escape")
        assert keys_fit(pilot.app)
        await keys(pilot, "r")
        assert "Enter Store" in shown(pilot.app).splitlines()[-1], "no word said how a reading is stored"


async def test_help_names_every_key(new_app: NewApp) -> None:
    """F1 explains both screens."""
    async with new_app().run_test(size=(110, 70)) as pilot:
        await at_baths(pilot)
        await keys(pilot, "escape")
        for acts, on in ((BATHS, "w"), (WASH, "escape")):
            await keys(pilot, "f1")
            for act in acts:
                assert act.says[:40] in flat(pilot.app)
            await keys(pilot, "escape", on)


@pytest.mark.parametrize("size", SIZES, ids=IDS)
def test_picture_of_a_bath(
    new_app: NewApp, size: tuple[int, int], snap_compare: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Form and answer, with invented words."""
    monkeypatch.setattr(baths, "reckon", lambda *_, **__: None)
    monkeypatch.setattr(baths, "sections", lambda _: SECTIONS)
    monkeypatch.setattr(baths, "seen_first", lambda *_: [Content("Weigh     an invented amount")])

    async def before(pilot: Pilot[Any]) -> None:
        await at_baths(pilot, "5 L", "8.5")

    assert snap_compare(new_app(), terminal_size=size, run_before=before)


@pytest.mark.parametrize("size", SIZES, ids=IDS)
def test_picture_of_a_wash(
    new_app: NewApp, size: tuple[int, int], snap_compare: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sheet, plan and the line for a reading, with invented words."""
    monkeypatch.setattr(wash, "fetch", lambda *_, **__: Washed(SECTIONS))

    async def before(pilot: Pilot[Any]) -> None:
        await at_wash(pilot)

    assert snap_compare(new_app(), terminal_size=size, run_before=before)


async def test_the_way_back_stands_last_at_the_foot_of_the_washing(new_app: NewApp) -> None:
    """As at every other foot; it stood before the key that writes a reading down."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        screen = WashScreen(InReach())
        await pilot.app.push_screen(screen)
        screen.set_focus(screen.page)
        await settle(pilot)
        assert str(screen.query_one(KeyBar).content) == "R Reading  / Form  Esc Back"
