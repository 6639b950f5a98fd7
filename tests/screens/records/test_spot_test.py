"""The spot-test form: clock, grades, storing, leaving, looks."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual.pilot import Pilot
from textual.widgets import Digits, Input, Static

from kb.book.kinds.batch import Batch
from kb.book.kinds.parts import Portion
from kb.book.kinds.spot_test import HARM_KINDS
from kb.desk.errors import DeskError
from kb.desk.making.batches import mark_bad
from kb.desk.records.book_list import amend_record
from kb.desk.records.record import list_tests, show_test
from kb.desk.records.record import write as write_record
from kb.desk.sheet.names import known_sheets
from kb.desk.sheet.sheets import add_sheet
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.choose.picker import PickerScreen
from kb.tui.screens.note import AskScreen, NoteScreen
from kb.tui.screens.records.book import BookScreen
from kb.tui.screens.records.draft import Draft, RoundDraft
from kb.tui.screens.records.spot_test import SpotTestScreen, store
from kb.tui.widgets.choice_row import ChoiceRow
from kb.tui.widgets.field import NEW_SHEET, RoundRow
from kb.tui.widgets.frame import KeyBar
from tests.screens.conftest import HandClock, popped_up
from tests.screens.drafts import a_draft
from tests.screens.invented import SIZES, NewApp
from tests.screens.screen_help import HOSTILE, STEERING, flat, keys, keys_fit, settle, shown, write

MOMENT_S = 0.5
TIMED = [RoundDraft("30")]


async def form(pilot: Pilot[Any], draft: Draft | None = None) -> SpotTestScreen:
    """Open the form on a draft."""
    await settle(pilot)
    app = pilot.app
    assert isinstance(app, BenchleafApp)
    app.draft = draft or a_draft()
    screen = app.screen
    assert isinstance(screen, HomeScreen)
    screen._open_form()
    await settle(pilot)
    assert isinstance(app.screen, SpotTestScreen)
    return app.screen


# -- the clock -------------------------------------------------------------------------------------


async def test_clock_fills_the_rounds_and_survives_leaving(new_app: NewApp, hand_clock: HandClock) -> None:
    """Ctrl+T anywhere starts and pauses; it runs on in the book; each run fills its own round."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        await keys(pilot, "ctrl+t")
        hand_clock.on(20)
        await keys(pilot, "f3")
        hand_clock.on(25)
        pilot.app.tick()  # type: ignore[attr-defined]
        await settle(pilot)
        assert "dwell 00:45" in shown(pilot.app), "the book shows the running clock"
        await keys(pilot, "f2")
        assert pilot.app.screen is screen
        assert screen.query_one(Digits).value == "00:45"
        assert "running" in shown(pilot.app)
        await keys(pilot, "ctrl+t")
        assert screen.draft.rounds[0].dwell == "45"
        assert screen.query_one("#field-round-0-dwell", Input).value == "45"
        await keys(pilot, "ctrl+t")
        hand_clock.on(5)
        await keys(pilot, "ctrl+t")
        assert screen.draft.rounds[0].dwell == "50", "going on belongs to the same round"
        await keys(pilot, "ctrl+r", "ctrl+t")
        hand_clock.on(12)
        await keys(pilot, "ctrl+r")
        assert [one.dwell for one in screen.draft.rounds] == ["50", "12", ""]
        assert "Dwell of round 3: ready" in shown(pilot.app)
        assert "2 timed - practice is at least 3" in flat(pilot.app)
        for dwell_s in (3, 4):
            await keys(pilot, "ctrl+t")
            hand_clock.on(dwell_s)
            await keys(pilot, "ctrl+t", "ctrl+r")
        # The table grows with the clock, and by Ctrl+O.
        await keys(pilot, "ctrl+o")
        assert [one.dwell for one in screen.draft.rounds] == ["50", "12", "3", "4", ""]
        assert screen.query_one("#field-round-3-dwell", Input).value == "4"
        assert screen.query("#field-round-4-wet")


async def test_space_works_on_the_clock_and_the_bell_rings(
    new_app: NewApp, hand_clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Space starts the clock that has the focus; the aim is rung and told in words."""
    rung: list[int] = []
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        monkeypatch.setattr(pilot.app, "bell", lambda: rung.append(1))
        screen.query_one("#field-aim", Input).value = "0:30"
        screen.query_one("#clock").focus()
        await keys(pilot, "space")
        assert keys_fit(pilot.app), "the way back was cut"
        hand_clock.on(31)
        await keys(pilot, "f3")
        pilot.app.tick()  # type: ignore[attr-defined]
        pilot.app.tick()  # type: ignore[attr-defined]
        assert rung == [1]
        await keys(pilot, "f2")
        assert "REACHED" in shown(pilot.app)
        await keys(pilot, "space")
        assert screen.draft.rounds[0].dwell == "31"


async def test_a_form_at_rest_is_not_drawn_anew(
    new_app: NewApp, hand_clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The clock is asked four times a second, and each update lays out every line: none within one."""
    drawn: list[str] = []
    update = Static.update

    def noted(widget: Static, *given: Any, **more: Any) -> None:
        drawn.append(str(widget))
        update(widget, *given, **more)

    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        for running in (False, True):
            if running:
                await keys(pilot, "ctrl+t")
            hand_clock.on(7)
            screen._tick()
            pilot.app.tick()  # type: ignore[attr-defined]
            with monkeypatch.context() as watched:
                watched.setattr(Static, "update", noted)
                drawn.clear()
                screen._tick()
                pilot.app.tick()  # type: ignore[attr-defined]
                assert not drawn
                hand_clock.on(1)
                pilot.app.tick()  # type: ignore[attr-defined]
                assert bool(drawn) == running


# -- grades ----------------------------------------------------------------------------------------


async def test_grades_by_number_keys_go_on_by_themselves(new_app: NewApp) -> None:
    """Seven digits grade release and six kinds of harm; "-" takes one back; words stand beside them. Faster
    than the screen follows none overwrites the grade before it."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        screen.query_one("#release").focus()
        await keys(pilot, *"301-204")
        assert screen.draft.release == "3"
        assert [screen.draft.harm.get(kind, "") for kind in HARM_KINDS] == ["0", "1", "", "2", "0", "4"]
        text = shown(pilot.app)
        assert "[4]" in text
        assert "loss" in text
        assert "not looked at" in text
        assert pilot.app.focused is screen.query_one(f"#harm-{HARM_KINDS[-1]}"), "the last line stays"
        await keys(pilot, "minus")
        assert not screen.draft.harm[HARM_KINDS[-1]]
        screen.set_focus(screen.query_one("#release"))
        await write(pilot, "3012341")
        assert screen.draft.release == "3"
        assert [screen.draft.harm[kind] for kind in HARM_KINDS] == list("012341")


async def test_choices_by_arrows_and_letters(new_app: NewApp) -> None:
    """Left and Right move a choice, its letter takes it and goes on, Up and Down leave the line; Ctrl+N goes
    from part to part, and back to the first."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        stops = []
        for _ in range(5):
            await keys(pilot, "ctrl+n")
            stops.append(pilot.app.focused.id if pilot.app.focused else "")
        # Rounds are no stop: whoever counts on grades there would type them into a dwell.
        assert stops == ["release", "field-magnification", "field-sheet", "release", "field-magnification"]
        screen.query_one("#face").focus()
        await keys(pilot, "right")
        assert screen.draft.face == "front"
        await keys(pilot, "b")
        assert screen.draft.face == "back"
        assert pilot.app.focused is screen.query_one("#field-x_mm")
        await keys(pilot, "up", "right", "left", "left", "left")
        assert screen.draft.face == ""
        await keys(pilot, "down")
        assert pilot.app.focused is screen.query_one("#field-x_mm")


# -- storing ---------------------------------------------------------------------------------------


async def test_storing_asks_each_time_if_nothing_was_looked_at(new_app: NewApp, studio: Studio) -> None:
    """Ctrl+S asks; going back keeps the form; pressed again it asks again, and S stores, as "not looked"."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        await keys(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, AskScreen)
        assert 'never as "no harm"' in popped_up(pilot.app)
        assert "Release is not graded." in popped_up(pilot.app)
        await keys(pilot, "b")
        assert pilot.app.screen is screen
        assert list_tests(studio) == []
        # A second press stored it past the warning.
        await keys(pilot, "ctrl+s", "ctrl+s")
        assert isinstance(pilot.app.screen, AskScreen)
        assert list_tests(studio) == []
        await keys(pilot, "s")
        assert isinstance(pilot.app.screen, HomeScreen)
        (stored,) = list_tests(studio)
        assert (stored.release, stored.harm) == (None, None)


@pytest.mark.parametrize(
    ("medium", "graded", "asked"),
    [
        ("iron gall ink", {"gloss": "0", "tideline": "1"}, True),
        ("iron gall ink", {"gloss": "0", "offset": "0"}, False),
        ("iron gall ink", {"gloss": "2"}, False),
        ("bare paper", {"gloss": "0"}, False),
        ("", {"gloss": "0"}, False),
    ],
)
async def test_storing_says_that_the_ink_was_passed_by(
    new_app: NewApp, studio: Studio, medium: str, graded: dict[str, str], asked: bool
) -> None:
    """Three such tests freed acetone on a dye of which nobody had looked whether it bled."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        screen.draft.put("medium", medium)
        screen.draft.put("release", "3")
        for kind, grade in graded.items():
            screen.draft.put(f"harm-{kind}", grade)
        await keys(pilot, "ctrl+s")
        await settle(pilot)
        assert isinstance(pilot.app.screen, AskScreen) == asked
        if asked:
            said = "Bleeding, offset and colour were not looked at, so that is no clean look at the ink."
            assert said in " ".join(popped_up(pilot.app).split())
            await keys(pilot, "b")
            assert list_tests(studio) == []


@pytest.mark.parametrize("key", ["escape", "f3", "f9"])
async def test_what_is_asked_before_storing_opens_over_the_form_alone(
    new_app: NewApp, studio: Studio, key: str
) -> None:
    """Keys in one burst: the question lay over another screen, and an S meant for that stored the test."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        screen.draft.put("medium", "iron gall ink")
        screen.draft.put("harm-tideline", "0")
        for one in ("ctrl+s", key):
            pilot.app.post_message(events.Key(one, None))
        for _ in range(3):
            await settle(pilot)
        over = pilot.app.screen_stack[-2:]
        assert not isinstance(over[-1], AskScreen) or over[0] is screen
        assert len(list(filter(lambda one: isinstance(one, AskScreen), pilot.app.screen_stack))) < 2
        await keys(pilot, "s")
        await settle(pilot)
        assert list_tests(studio) == [] or over[0] is screen


async def test_storing_asks_once_if_no_round_is_written_down(new_app: NewApp, studio: Studio) -> None:
    """It was stored with a notice that came too late; the dwell is asked for, and one more key stores."""
    add_sheet(studio, {"sheet": "Map 7"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot, a_draft(sheet="Map 7", release="1", harm={"bleed": "0"}))
        await keys(pilot, "ctrl+s")
        assert pilot.app.screen is screen
        asked = "No round has a dwell, so nobody can repeat this test. Type it, or Ctrl+S once more stores"
        assert f"{asked} without." in flat(pilot.app)
        assert pilot.app.focused is screen.query_one("#field-round-0-dwell")
        assert list_tests(studio) == []
        await keys(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, HomeScreen)
    assert len(list_tests(studio)) == 1


async def test_a_name_that_no_sheet_bears_is_marked_and_leads_to_those_there_are(
    new_app: NewApp, studio: Studio
) -> None:
    """One learnt of it after all was graded, and was offered nothing but to go back or to write it down. A
    number stood there to the end, and nobody saw on which sheet the test would lie."""
    add_sheet(studio, {"sheet": "Map 7"})
    add_sheet(studio, {"sheet": "Tide table broadside", "number": "QN-02"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot, a_draft(release="3", harm={"bleed": "0"}, rounds=TIMED))
        await write(pilot, "qn-02")
        assert screen.draft.sheet == "qn-02"
        await keys(pilot, "down")
        assert screen.draft.sheet == "Tide table broadside"
        await keys(pilot, "up", "end")
        await write(pilot, " zz")
        await keys(pilot, "down")
        assert screen.draft.sheet == "Tide table broadside zz", "what names no sheet stays, to be asked about"
        await keys(pilot, "up", "ctrl+u")
        await write(pilot, "deed")
        await keys(pilot, "down")
        assert "deed" in shown(pilot.app).split("Sheet  ")[1].split("\n")[0]
        assert NEW_SHEET in shown(pilot.app)
        await keys(pilot, "up", "ctrl+e")
        assert isinstance(pilot.app.screen, PickerScreen)
        assert pilot.app.screen.typed == "deed", "what is near in spelling is not looked for by hand"
        await keys(pilot, "escape")
        await write(pilot, " ")
        await keys(pilot, "down")
        assert NEW_SHEET in shown(pilot.app), "a blank at the end makes no other name of it"
        await keys(pilot, "up", "backspace", "backspace")
        assert NEW_SHEET not in shown(pilot.app)
        await keys(pilot, "ctrl+n", "ctrl+s")
        assert "^Y" in flat(pilot.app)
        assert "^E Choose among the 2 sheets there are" in flat(pilot.app)
        await keys(pilot, "ctrl+e", "escape")
        assert pilot.app.screen is screen
        assert 'Not stored: there is no sheet "dee" in the book' in flat(pilot.app)
        assert pilot.app.focused is screen.query_one("#field-sheet"), "the line to mend was a screen above"
        assert list_tests(studio) == []
        await keys(pilot, "ctrl+s", "ctrl+e")
        await write(pilot, "tide")
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, HomeScreen)
    (stored,) = list_tests(studio)
    assert stored.sheet == "Tide table broadside"


async def test_the_list_of_sheets_fills_the_line_before_anything_is_graded(
    new_app: NewApp, studio: Studio
) -> None:
    """Ctrl+E on the line of the sheet; on other lines it goes to their end, as everywhere."""
    add_sheet(studio, {"sheet": "Map 7"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        assert "^E Sheets" in shown(pilot.app).splitlines()[-1]
        await keys(pilot, "ctrl+e")
        await write(pilot, "map")
        await keys(pilot, "enter")
        assert pilot.app.screen is screen
        assert screen.draft.sheet == "Map 7"
        assert pilot.app.focused is screen.query_one("#field-site"), "what is chosen need not be left by hand"
        await keys(pilot, "ctrl+e")
        assert pilot.app.screen is screen


async def test_the_line_one_is_on_stays_in_sight_when_the_terminal_is_made_smaller(new_app: NewApp) -> None:
    """The form went back to its top, and a figure graded a line that nobody saw."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        screen = await form(pilot)
        screen.query_one("#harm-colour").focus()
        await settle(pilot)
        await pilot.resize_terminal(80, 24)
        await settle(pilot)
        assert "»Colour" in shown(pilot.app)


async def test_a_stop_after_a_spot_that_did_harm_stands_before_what_was_stored(
    new_app: NewApp, studio: Studio
) -> None:
    """The ink bled, and what was stored hid for a minute that no liquid is left to try. What is said of a
    record goes once it is corrected."""
    add_sheet(studio, {"sheet": "Map 7"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await write(pilot, "brown gummed paper over printing ink on wood pulp paper")
        await keys(pilot, "enter", "t")
        await write(pilot, "Map 7")
        while pilot.app.focused is not pilot.app.screen.query_one("#release"):
            await pilot.press("ctrl+n")
        await keys(pilot, *"42", "ctrl+s", "ctrl+s", "ctrl+y")
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        said = str(home.query_one("#said", Static).content)
        first = (
            "Stored and on disk: the test of Water on Map 7. No test is worth its risk: what would act was"
        )
        assert said.startswith(first)
        assert "No test is worth its risk" in flat(pilot.app)
        (one,) = list_tests(studio)
        amend_record(studio, one.id, {"harm": {"bleed": 0}}, "read the wrong line")
        studio.refresh()
        await keys(pilot, "f3", "f2")
        assert home.ranked is not None
        assert "Stored" not in str(home.query_one("#said", Static).content)


async def test_after_a_test_the_question_is_about_its_sheet(new_app: NewApp, studio: Studio) -> None:
    """The spot just made on it counted as one of anywhere, and nothing named the sheet; another tape does
    not take it along."""
    add_sheet(studio, {"sheet": "Map 7"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await form(pilot, a_draft(sheet="Map 7", release="3", harm={"bleed": "0"}, rounds=TIMED))
        await keys(pilot, "ctrl+s")
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        assert "sheet [Map 7" in shown(pilot.app)
        assert "The answer is now for Map 7" in flat(pilot.app)
        await write(pilot, "duct tape on iron gall ink")
        await keys(pilot, "enter")
        assert home.asked.filled["tape"]
        assert "sheet [none" in shown(pilot.app)
        draft = a_draft(sheet="Map 7")
        draft.site = "corner"
        pilot.app.draft = draft  # type: ignore[attr-defined]
        await keys(pilot, "escape", "t")
        assert "A spot test of Acetone on Map 7 is on the form and not stored." in popped_up(pilot.app)


async def test_on_a_low_screen_the_clock_is_one_line_and_all_grades_are_in_view(
    new_app: NewApp, hand_clock: HandClock
) -> None:
    """Its figures took three of 24 lines, and the grades were cut; a dwell says its unit."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot, a_draft(sheet="Map 7"))
        await keys(pilot, "ctrl+t")
        hand_clock.on(45)
        await keys(pilot, "ctrl+t")
        await keys(pilot, "ctrl+n")
        (line,) = [line for line in shown(pilot.app).splitlines() if "00:45" in line]
        assert "Dwell of round 1: paused" in line
        assert "┏" not in shown(pilot.app)
        for words in ("Release", "Colour", "How it was looked at", "Remarks"):
            assert words in shown(pilot.app), words
        screen.query_one("#field-round-0-dwell").focus()
        await keys(pilot, "home")
        rows = [str(one.query_one(".unit", Static).content) for one in screen.query(RoundRow)]
        assert rows == ["s", "s", "s"]
        await write(pilot, "2:")
        assert str(screen.query_one("#round-0 .unit", Static).content) == "", "2:45 bears its own"
    async with new_app().run_test(size=(120, 40)) as pilot:
        await form(pilot)
        assert "┏" in shown(pilot.app), "where there is room it is read from across the table"


def test_what_is_understood_is_said_of_what_was_typed_only(studio: Studio) -> None:
    """Ids and names that the row had brought filled four lines, and were cut."""
    assert "Understood" not in store(studio, a_draft(release="3")).said
    words = "ethyl alcohol 1, water 1"
    typed = store(studio, a_draft(release="3", liquid_text=words, medium="iron gall")).said
    assert f"Understood: {words} = Ethanol 50 % + Water 50 %; iron gall = Iron gall ink" in typed
    with pytest.raises(DeskError, match="Nothing was recorded"):
        store(studio, a_draft(release="3", sheet="Map 7", new_sheet=True, site="far " * 20_000))
    assert not known_sheets(studio), "what is refused founds no sheet"


async def test_a_batch_that_must_not_be_used_is_named_before_the_test_is_stored(
    new_app: NewApp, studio: Studio
) -> None:
    """Also one made from another that is bad; the command said it, the form did not."""
    gel = write_record(studio, "batch", Batch(name="gel", made_at="2026-05-01")).id
    portion = Portion(name="gel", amount=10.0, unit="g", batch=gel)
    thinned = write_record(studio, "batch", Batch(name="thinned", weights=(portion,))).id
    mark_bad(studio, gel, "mould")
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        screen.draft.batch = thinned
        await keys(pilot, "ctrl+s")
        await settle(pilot)
        assert isinstance(pilot.app.screen, AskScreen)
        assert "must not be used: mould" in " ".join(popped_up(pilot.app).split())
        await keys(pilot, "b")
        assert list_tests(studio) == []


async def test_what_is_typed_is_what_is_stored(new_app: NewApp, studio: Studio, tmp_path: Path) -> None:
    """Every field reaches the book; the id is shown and the words say that it is on disk."""
    picture = tmp_path / "a.jpg"
    picture.write_bytes(b"picture")
    add_sheet(studio, {"sheet": "Map 7"})
    async with new_app().run_test(size=(120, 40)) as pilot:
        screen = await form(pilot)
        for name, text in {
            "sheet": "Map 7",
            "site": "upper left",
            "x_mm": "12,5",
            "y_mm": "30 mm",
            "liquid_text": "acetone 1, ethanol 3",
            "method": "swab",
            "batch": "B1",
            "round-0-dwell": "1:30",
            "round-0-amount": "one drop",
            "round-1-dwell": "2 min",
            "round-1-wet": "darkens",
            "magnification": "10x",
            "light": "raking",
            "photos": f"before: {picture}",
            "remarks": HOSTILE,
        }.items():
            screen.query_one(f"#field-{name}", Input).value = text
        for row, value in {
            "face": "back",
            "carrier_present": "residue",
            "release": "2",
            "harm-gloss": "1",
        }.items():
            screen.query_one(f"#{row}", ChoiceRow).choose(value)
        await keys(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, HomeScreen)
        (summary,) = list_tests(studio)
        found = show_test(studio, summary.id).test
        assert (found.sheet, found.site.words, found.site.face) == ("Map 7", "upper left", "back")
        assert (found.site.x_mm, found.site.y_mm) == (12.5, 30.0)
        assert found.parts == {"acetone": 0.25, "ethanol": 0.75}
        assert (found.method, found.batch, found.carrier_present) == ("swab", "B1", False)
        assert [one.dwell_s for one in found.rounds] == [90.0, 120.0]
        assert found.rounds[1].wet == "darkens"
        assert (found.release, found.harm) == (2, {"gloss": 1})
        assert (found.magnification, found.light, found.remarks) == ("10x", "raking", HOSTILE)
        assert found.photos[0].when == "before"
        assert (found.adhesive, found.medium) == ("natural-rubber-resin", "bare-paper")
        said = "Stored and on disk: the test of acetone 1, ethanol 3 on Map 7."
        assert said in flat(pilot.app)
        assert summary.id not in flat(pilot.app), "an id says nothing to who reads it"
        assert "2 of at least 3 rounds" in flat(pilot.app)
        assert "Ctrl+Z takes it back within a minute" in flat(pilot.app)
        # It stands above the answer, and a notice would say it twice.
        assert not [one.message for one in pilot.app._notifications if said in one.message]
        # What is taken back is no longer called stored.
        await keys(pilot, "ctrl+z")
        assert pilot.app.screen.note.startswith("Taken back: spot test: ")
        assert "release 2, worst harm 1, on Map 7." in pilot.app.screen.note
        assert summary.id not in pilot.app.screen.note
        assert said not in flat(pilot.app)


async def test_what_is_wrong_is_named_and_nothing_is_lost(new_app: NewApp, studio: Studio) -> None:
    """All fields to be mended are named at once; the form keeps what was typed, and then stores."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        add_sheet(studio, {"sheet": "Map 7"})
        wrong = a_draft(sheet="Map 7", x_mm="left", liquid_text="aceton water", release="1")
        screen = await form(pilot, wrong)
        screen.query_one("#field-round-0-wet", Input).value = "darkens"
        screen.draft.harm["bleed"] = "0"
        screen.query_one("#harm-colour").focus()
        await keys(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, NoteScreen)
        assert "The test is not stored" in flat(pilot.app)
        text = popped_up(pilot.app)
        assert 'x is "left": type millimetres' in text
        assert "Round 1 has no dwell" in text
        assert "Nothing was written. All that you typed is still on the form." in text
        assert list_tests(studio) == []
        await keys(pilot, "escape")
        assert pilot.app.screen is screen
        for name, words in {"x_mm": "", "liquid_text": "acetone", "round-0-dwell": "30"}.items():
            line = screen.query_one(f"#field-{name}", Input)
            assert pilot.app.focused is line, "the cursor stayed where it was, below what is to be mended"
            assert screen.query_one("#form").region.contains_region(line.region)
            line.value = words
            screen.query_one("#harm-colour").focus()
            await keys(pilot, "ctrl+s", "escape")
        await keys(pilot, "ctrl+s")
        assert len(list_tests(studio)) == 1


async def test_a_full_disk_is_told_and_the_form_stays(
    new_app: NewApp, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error of the book says what happened, what was kept and what to do."""

    def full(*_: object) -> None:
        raise DeskError("The disk is full.")

    monkeypatch.setattr("kb.tui.screens.records.spot_test.add_test", full)
    async with new_app().run_test(size=(80, 24)) as pilot:
        add_sheet(studio, {"sheet": "Map 7"})
        kept = a_draft(
            sheet="Map 7", release="1", harm={"bleed": "0"}, rounds=[*TIMED], plain={"remarks": "keep me"}
        )
        screen = await form(pilot, kept)
        await keys(pilot, "ctrl+s")
        text = popped_up(pilot.app)
        assert "The disk is full." in text
        assert "What was kept" in text
        assert "What to do" in text
        await keys(pilot, "escape")
        assert screen.draft.plain["remarks"] == "keep me"
        assert pilot.app.screen is screen


def test_a_test_that_was_written_is_stored_even_if_the_list_fails(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After the write nothing turns the answer into a failure: storing again would double the test."""

    def fail(_: Studio) -> bool:
        raise OSError("index")

    draft = a_draft(release="3")
    assert studio.compiled
    monkeypatch.setattr(Studio, "refresh", fail)
    stored = store(studio, draft)
    assert "The list does not show it yet" in stored.said
    monkeypatch.undo()
    studio.refresh()
    assert [one.id for one in list_tests(studio)] == [stored.id]


async def test_storing_while_another_screen_is_shown(new_app: NewApp, studio: Studio) -> None:
    """Going to the book before the disk has answered: the book stays, and the form is closed behind it. A
    second press meanwhile is passed over."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        add_sheet(studio, {"sheet": "Map 7"})
        screen = await form(pilot, a_draft(sheet="Map 7", release="1", harm={"bleed": "0"}, rounds=[*TIMED]))
        screen.action_store()
        screen.action_store()
        pilot.app.switch_mode("book")
        await settle(pilot)
        assert len(list_tests(studio)) == 1
        assert isinstance(pilot.app.screen, BookScreen)
        await keys(pilot, "f2")
        await settle(pilot)
        assert isinstance(pilot.app.screen, HomeScreen)
        assert "Stored and on disk" in flat(pilot.app)


# -- leaving ---------------------------------------------------------------------------------------


async def test_escape_keeps_what_was_typed(new_app: NewApp) -> None:
    """Esc goes back and says so; the draft is there again by T; thrown away, after asking, it is gone. An
    untouched form asks nothing."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await form(pilot)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, HomeScreen)
        await form(pilot)
        app = pilot.app
        assert isinstance(app, BenchleafApp)
        await keys(pilot, "down")
        await write(pilot, "lower left")
        await keys(pilot, "escape")
        assert isinstance(app.screen, HomeScreen)
        assert any("Kept as a draft" in one.message for one in app._notifications)
        assert app.draft is not None
        app.screen.action_test()
        await settle(pilot)
        assert isinstance(app.screen, AskScreen)
        await keys(pilot, "g")
        assert isinstance(app.screen, SpotTestScreen)
        assert app.screen.query_one("#field-site", Input).value == "lower left"
        await keys(pilot, "f9", "escape")
        assert isinstance(app.screen, SpotTestScreen)
        await keys(pilot, "f9", "delete")
        assert isinstance(app.screen, HomeScreen)
        assert app.draft is None
        assert app.drafts == {}


# -- how it looks ----------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_form_fits(new_app: NewApp, size: tuple[int, int]) -> None:
    """Clock and keys are always visible, every field can be reached, nothing is wider than the screen."""
    async with new_app().run_test(size=size) as pilot:
        screen = await form(pilot, a_draft(remarks="x" * 300, about="y" * 300))
        assert screen.query_one(KeyBar).region.bottom == size[1]
        assert screen.query_one(KeyBar).fits
        assert screen.region.contains_region(screen.query_one("#clock").region)
        for widget in screen.query("ChoiceRow, FormInput"):
            assert widget.region.right <= size[0], widget
        for widget in screen.focus_chain:
            widget.focus()
            await pilot.pause()
            assert screen.region.contains_region(widget.region), widget


async def test_hostile_text_in_the_form_is_shown_as_it_is(new_app: NewApp, studio: Studio) -> None:
    """Markup stays text; what could steer a terminal becomes a mark before it is shown or stored."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        draft = a_draft(release="1", harm={"bleed": "0"}, site=HOSTILE, remarks="a" + STEERING, about=HOSTILE)
        await form(pilot, draft)
        text = shown(pilot.app)
        assert text.count("[b]bold[/b] [/] [TODO]") == 2
        assert "\x1b" not in text
        assert "\u202e" not in text
        # Twice: no sheet is named.
        await keys(pilot, "ctrl+s", "ctrl+s")
        (summary,) = list_tests(studio)
        found = show_test(studio, summary.id).test
        assert found.site.words == HOSTILE
        assert "\x1b" not in found.remarks


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_picture_of_the_form(
    new_app: NewApp, hand_clock: HandClock, snap_compare: Any, size: tuple[int, int]
) -> None:
    """The form half filled in, with a clock that was paused."""

    async def half(pilot: Pilot[Any]) -> None:
        screen = await form(pilot, a_draft(sheet="Map 7", release="3", harm={"bleed": "0", "gloss": "2"}))
        await keys(pilot, "ctrl+t")
        hand_clock.on(45)
        await keys(pilot, "ctrl+t")
        for field in screen.query(Input):
            field.cursor_blink = False
        screen.query_one("#release").focus()
        await settle(pilot)

    assert snap_compare(new_app(), terminal_size=size, run_before=half)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_a_whole_test_in_eight_keys(
    new_app: NewApp, hand_clock: HandClock, studio: Studio, size: tuple[int, int]
) -> None:
    """Clock on and off, on to the grades, release, no harm of six kinds, store; every grade is in view."""
    async with new_app().run_test(size=size) as pilot:
        screen = await form(pilot)
        await keys(pilot, "ctrl+t")
        hand_clock.on(30)
        await keys(pilot, "ctrl+t", "ctrl+n")
        assert pilot.app.focused is screen.query_one("#release")
        for row in ("release", *(f"harm-{kind}" for kind in HARM_KINDS)):
            assert screen.query_one("#form").region.contains_region(screen.query_one(f"#{row}").region), row
        await keys(pilot, "3")
        assert not any(screen.draft.harm.values()), "nothing is graded that nobody chose"
        assert "A No harm seen" in shown(pilot.app).splitlines()[-1]
        await keys(pilot, "a")
        assert screen.draft.harm == dict.fromkeys(HARM_KINDS, "0")
        assert "All six kinds of harm are graded 0" in flat(pilot.app)
        assert screen.query_one(KeyBar).fits
        await keys(pilot, "ctrl+s")
        assert "No sheet is named, so this test counts as of none." in flat(pilot.app)
        assert pilot.app.focused is screen.query_one("#field-sheet")
        assert list_tests(studio) == []
        await keys(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, HomeScreen)
    (stored,) = list_tests(studio)
    test = show_test(studio, stored.id).test
    assert (test.release, test.harm) == (3, dict.fromkeys(HARM_KINDS, 0))


async def test_what_was_seen_stays_when_the_rest_is_said_to_be_unharmed(new_app: NewApp) -> None:
    """A fills only what has no grade, and says what stays; a dwell that is no dwell is named at once."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        await keys(pilot, "ctrl+n", "3", "2", "a")
        assert screen.draft.harm == {**dict.fromkeys(HARM_KINDS, "0"), "bleed": "2"}
        assert "bleed 2 stays; the others are 0: looked at, none seen. Ctrl+S stores." in flat(pilot.app)
        screen.query_one("#field-round-0-dwell").focus()
        await write(pilot, "32A")
        assert screen.draft.rounds_done == 0
        assert 'The dwell is "32A": type seconds' in flat(pilot.app)


async def test_a_long_name_of_a_medium_is_read_whole_where_there_is_room(new_app: NewApp) -> None:
    """Its line is half as wide as the screen; the rows below are empty on a high one."""
    name = "Letterpress and relief printing ink (carbon black in drying oil)"
    async with new_app().run_test(size=(120, 40)) as pilot:
        screen = await form(pilot)
        medium = screen.query_one("#field-medium", Input)
        medium.value = name
        await settle(pilot)
        assert "drying oil)" in flat(pilot.app)
        medium.value = "Iron gall ink"
        await settle(pilot)
        assert flat(pilot.app).count("Iron gall ink") == 1


async def test_the_form_opens_on_what_comes_first(new_app: NewApp) -> None:
    """A name typed at once is that of the sheet, and its A grades nothing; where the sheet is known it is the
    place. Ctrl+Q never loses a form without a word."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await form(pilot)
        await write(pilot, "Map 12")
        assert (screen.draft.sheet, screen.draft.site) == ("Map 12", "")
        assert not any(screen.draft.harm.values())
        await keys(pilot, "escape")
        screen = await form(pilot, a_draft(sheet="Map 12"))
        await write(pilot, "lower left")
        assert (screen.draft.sheet, screen.draft.site) == ("Map 12", "lower left")
        await keys(pilot, "ctrl+q")
        assert "not stored yet" in popped_up(pilot.app)
        await keys(pilot, "s")
        assert pilot.app.screen is screen
        await keys(pilot, "ctrl+q", "l")
        assert not pilot.app.is_running or pilot.app._exit


async def test_what_was_stored_is_said_for_a_minute(
    new_app: NewApp, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Then Ctrl+Z no longer takes it back, and the line is there for the answer."""
    add_sheet(studio, {"sheet": "Map 7"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        await form(pilot, a_draft(sheet="Map 7", release="1", harm={"bleed": "0"}, rounds=[*TIMED]))
        monkeypatch.setattr("kb.desk.records.book_list.WITHIN_S", MOMENT_S)
        await keys(pilot, "ctrl+s")
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        await asyncio.sleep(2 * MOMENT_S)
        await settle(pilot)
        assert home.note == ""
        assert "Stored and on disk" not in flat(pilot.app)


async def test_half_a_place_is_asked_about_and_harm_is_graded_at_a_grade_only(
    new_app: NewApp, studio: Studio
) -> None:
    """A letter too many on the row of the face put x into y, and A there graded all harm unseen."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        add_sheet(studio, {"sheet": "Map 7"})
        half = a_draft(sheet="Map 7", y_mm="42", release="1", rounds=[*TIMED])
        screen = await form(pilot, half)
        screen.query_one("#face").focus()
        await keys(pilot, "a")
        assert not any(screen.draft.harm.values())
        screen.query_one("#release").focus()
        await keys(pilot, "a", "ctrl+s")
        assert "only x or y is typed" in flat(pilot.app)
        assert list_tests(studio) == []
        await keys(pilot, "ctrl+s")
        assert len(list_tests(studio)) == 1
