"""Keys that come faster than the screen is laid out, and answers that come under another screen."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from textual import events
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input, OptionList

from kb.desk.records.book_list import list_records
from kb.desk.records.fill import Begun
from kb.desk.records.record import show_test
from kb.desk.sheet.facts import sheet_facts
from kb.desk.sheet.names import found_sheet
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.form import FormScreen
from kb.tui.palette import Palette
from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.choose.picker import PickerScreen
from kb.tui.screens.few_lines import FewLines
from kb.tui.screens.note import AskScreen
from kb.tui.screens.records.book import BookScreen
from kb.tui.screens.records.draft import RoundDraft
from kb.tui.screens.records.spot_test import SpotTestScreen
from kb.tui.screens.sheet.sheet import SheetScreen
from kb.tui.screens.water.bath_form import InReach
from kb.tui.screens.water.wash import WashScreen
from kb.tui.widgets.choice_row import ChoiceRow
from kb.tui.widgets.field import FormInput
from kb.tui.widgets.frame import KeyBar
from tests.screens.drafts import a_draft
from tests.screens.screen_help import keys, post, settle, shown, write

NewApp = Callable[[], BenchleafApp]


async def on_form(pilot: Pilot[Any], **typed: Any) -> Any:
    """The form of a spot of acetone, with what is typed there already; the app."""
    await settle(pilot)
    app: Any = pilot.app
    app.draft = a_draft(**typed)
    await app.push_screen(SpotTestScreen(app.draft))
    await settle(pilot)
    return app


class Asked(AtDesk, Screen["str | None"]):
    """Any screen that is left with what the desk says."""


@pytest.mark.parametrize("key", ["pagedown", "pageup", "down", "enter"])
async def test_a_page_key_right_behind_the_palette_key(new_app: NewApp, key: str) -> None:
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        for _ in range(2):
            pilot.app.action_command_palette()
        palette = Palette()
        pilot.app.push_screen(palette)
        palette._action_command_list("page_down")
        await pilot.press("ctrl+p", key, "escape", "escape")
        await settle(pilot)
        assert pilot.app.is_running


async def test_a_screen_under_another_is_left_when_it_is_on_top_again(new_app: NewApp) -> None:
    left: list[Any] = []
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        asked, above = Asked(), Screen[None]()
        pilot.app.push_screen(asked, left.append)
        await settle(pilot)
        pilot.app.push_screen(above)
        await settle(pilot)
        asked.ask(lambda studio: "stored", partial(asked.dismiss), group="store")
        await pilot.app.workers.wait_for_complete()
        await settle(pilot)
        assert pilot.app.screen is above
        assert left == []
        above.dismiss(None)
        await settle(pilot)
        await settle(pilot)
        assert left == ["stored"]
        assert pilot.app.screen is not asked


async def test_what_is_typed_behind_an_arrow_key_is_for_the_next_line(new_app: NewApp) -> None:
    """All keys of a form in one burst, as a keyboard hands them over while the program is busy."""
    async with new_app().run_test(size=(100, 30)) as pilot:
        await settle(pilot)
        await pilot.press("f8")
        await settle(pilot)
        burst = [*"toluene", "down", "down", *"10ml", "down", "down", "down", *"2", "up", "up", *"5", "enter"]
        for key in [*burst, *"20m3"]:
            pilot.app.post_message(events.Key(key, key if len(key) == 1 else None))
        await settle(pilot)
        await settle(pilot)
        typed = {line.name: line.value for line in pilot.app.screen.query(FormInput)}
    found = [typed[name] for name in ("liquid", "amount", "per_hour", "room", "air_changes")]
    assert found == ["toluene", "10ml", "5", "20m3", "2"]


async def test_keys_typed_ahead_on_the_spot_test_land_where_they_were_meant(new_app: NewApp) -> None:
    """To the grades, release 3, bleed 0, past one, 2, in one burst: all went into the place of the spot."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        app = await on_form(pilot)
        for key in ("ctrl+n", "3", "0", "tab", "2"):
            app.post_message(events.Key(key, key if len(key) == 1 else None))
        await settle(pilot)
        await settle(pilot)
        lines = {one.name: one.value for one in app.screen.query(FormInput)}
        assert (app.draft.release, app.draft.harm) == ("3", {"bleed": "0", "tideline": "2"})
        assert lines["site"] == ""


async def test_what_the_desk_says_late_takes_no_letter_from_a_form(new_app: NewApp) -> None:
    """Letters and choices that are in a line before the form has heard of them, when what is known comes."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        form = FormScreen("mend", "Letter 9")
        await pilot.app.push_screen(form)
        await settle(pilot)
        site, reversal = form.query_one("#field-site", FormInput), form.query(ChoiceRow).first()
        site.value = "half"
        reversal.choose(reversal.choices[1].value)
        form._begun(Begun({"site": "", "remarks": "from the plan"}, {}, {}))
        await settle(pilot)
        assert (site.value, form.values["site"]) == ("half", "half")
        assert reversal.value == form.values[reversal.id or ""] == reversal.choices[1].value
        assert form.values["remarks"] == "from the plan"


async def test_what_is_typed_before_a_sheet_is_read_is_kept(new_app: NewApp, studio: Studio) -> None:
    """The rest of its lines are filled; what was typed and chosen meanwhile goes into its record."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        plan = SheetScreen("Letter 9")
        await pilot.app.push_screen(plan)
        plan.query_one("#field-size", FormInput).value = "200 x 300 mm"
        await settle(pilot)
        plan.keep()
        await settle(pilot)
        assert plan.query_one("#field-size", FormInput).value == "200 x 300 mm"
        assert sheet_facts(studio, "Letter 9").size == "200 x 300 mm"


async def test_a_reading_that_is_begun_while_the_last_one_is_stored_stays(new_app: NewApp) -> None:
    """Only what was stored leaves the line."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        wash = WashScreen(InReach())
        await pilot.app.push_screen(wash)
        await settle(pilot)
        for typed, left in (("50 uS", ""), ("40 uS", "40 uS")):
            wash.typing.value = typed
            wash._stored(" Go on.", "50 uS")
            assert wash.typing.value == left


async def test_delete_behind_the_key_that_asks_takes_no_letter(new_app: NewApp) -> None:
    """Throw it away? Delete says yes; typed before the question was there it took a letter of the form."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        app = await on_form(pilot)
        site = app.screen.query_one("#field-site", FormInput)
        site.value, site.cursor_position = "corner", 3
        site.focus()
        await settle(pilot)
        for key in ("f9", "delete"):
            app.post_message(events.Key(key, None))
        await settle(pilot)
        assert site.value == "corner"


@pytest.mark.parametrize(
    ("burst", "stands"),
    [
        ((*"10", "backspace", *"2 cm"), "12 cm"),
        ((*"30", "ctrl+u", *"40 cm"), "40 cm"),
        ((*"0 cm", "home", "4"), "40 cm"),
        ((*"40c", "left", "space", "end", "m"), "40 cm"),
    ],
)
async def test_a_line_is_corrected_in_the_order_of_the_keys(
    new_app: NewApp, studio: Studio, burst: tuple[str, ...], stands: str
) -> None:
    """In a burst what takes letters away came behind those typed after it: 10 corrected to 12 stayed 10."""
    found_sheet(studio, "Letter 9")
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f10", "enter", "slash")
        for key in burst:
            letter = " " if key in {"space", " "} else key if len(key) == 1 else None
            pilot.app.post_message(events.Key("space" if letter == " " else key, letter))
        await settle(pilot)
        await settle(pilot)
        assert isinstance(pilot.app.screen, FewLines)
        assert pilot.app.screen.values["size"] == stands


async def test_what_is_pasted_is_kept_to_its_last_line(new_app: NewApp, studio: Studio) -> None:
    """Of two lines out of a letter the second was lost without a word."""
    found_sheet(studio, "Letter 9")
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f10", "enter", "slash")
        pilot.app.post_message(events.Paste("\nlower edge,\r\nas it came\x07\n"))
        await settle(pilot)
        await settle(pilot)
        assert isinstance(pilot.app.screen, FewLines)
        assert pilot.app.screen.values["size"] == "lower edge, as it came\N{REPLACEMENT CHARACTER}"


async def test_ctrl_s_stores_the_last_letters_too(new_app: NewApp, studio: Studio) -> None:
    """In a burst it came before them: a size was stored without its end, or not at all."""
    found_sheet(studio, "Letter 9")
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f10", "enter", "slash")
        post(pilot, "420 x 594 mm")
        pilot.app.post_message(events.Key("ctrl+s", None))
        for _ in range(3):
            await settle(pilot)
    assert sheet_facts(studio, "Letter 9").size == "420 x 594 mm"


async def test_a_form_marks_no_line_but_the_one_it_begins_with(
    new_app: NewApp, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a slow machine the first bore the mark for a while, and what was typed stood in the second."""
    found_sheet(studio, "Letter 9")
    focused: list[str] = []
    set_focus = Screen.set_focus

    def noted(screen: Screen[Any], widget: Any, *given: Any, **more: Any) -> None:
        focused.append(getattr(widget, "name", None) or "")
        set_focus(screen, widget, *given, **more)

    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f10", "enter", "slash")
        await write(pilot, "420 x 594 mm")
        await keys(pilot, "ctrl+s")
        monkeypatch.setattr(Screen, "set_focus", noted)
        await keys(pilot, "slash")
    assert focused[:1] == ["number"]


async def test_a_behind_the_grades_leaves_the_harm_that_was_seen(new_app: NewApp, studio: Studio) -> None:
    """3, 0, 0, 1, A in one burst: A came before the form had heard of the grades, and stored 0 for the 1."""
    found_sheet(studio, "Letter 9")
    async with new_app().run_test(size=(80, 24)) as pilot:
        app = await on_form(pilot, sheet="Letter 9", rounds=[RoundDraft("30")])
        for key in ("ctrl+n", *"3001a", "ctrl+s"):
            app.post_message(events.Key(key, key if len(key) == 1 else None))
        await settle(pilot)
        await settle(pilot)
    (kept,) = list_records(studio, kinds=("test",))
    stored = show_test(studio, kept.id).test
    assert (stored.release, stored.harm["tideline"], sum(stored.harm.values())) == (3, 1, 1)


async def test_the_key_behind_ctrl_s_lands_in_no_line(new_app: NewApp) -> None:
    """Ctrl+S, then S to store it as it is, in one burst or while the desk is asked: it stood in a line."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        app = await on_form(pilot, sheet="Letter 9", site="corner", medium="iron gall ink")
        for key in ("ctrl+s", "s"):
            app.post_message(events.Key(key, key if len(key) == 1 else None))
        await settle(pilot)
        await settle(pilot)
        # Nobody has read the question yet, so the key is no answer to it either.
        assert isinstance(app.screen, AskScreen)
        assert app.draft.site == "corner"
        await keys(pilot, "b", "x")
        assert app.draft.site == "cornerx"


async def test_a_key_behind_ctrl_s_does_not_name_the_sheet(new_app: NewApp) -> None:
    """What is missing is asked for, and the line that says it has the cursor: the sheet was called "s"."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        app = await on_form(pilot, site="corner", release="3", harm={"bleed": "0"})
        app.screen.query_one("#field-site").focus()
        await settle(pilot)
        for key in ("ctrl+s", "s"):
            app.post_message(events.Key(key, key if len(key) == 1 else None))
        await settle(pilot)
        await settle(pilot)
        assert isinstance(app.screen, SpotTestScreen)
        assert (app.draft.sheet, app.draft.site) == ("", "corner")
        await write(pilot, "Map 7")
        assert app.draft.sheet == "Map 7"


@pytest.mark.parametrize("key", ["f3", "f4", "f5", "f6", "f7", "f8", "f10", "f12"])
async def test_a_letter_behind_the_key_of_a_place_opens_no_picker(new_app: NewApp, key: str) -> None:
    """In one burst the letter came to the question first, which took it for the name of a tape."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        for one in (key, "c"):
            pilot.app.post_message(events.Key(one, one if len(one) == 1 else None))
        await settle(pilot)
        await settle(pilot)
        top = pilot.app.screen
        assert isinstance(top, PickerScreen) == (key == "f10"), top
        if isinstance(top, PickerScreen):
            assert top.heading == "Which sheet?"


async def test_a_key_behind_f3_is_a_key_of_the_list(new_app: NewApp) -> None:
    """E for records of every kind stood in the filter as a word, since the line had the cursor at first."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        for key in ("f3", "e"):
            pilot.app.post_message(events.Key(key, key if len(key) == 1 else None))
        await settle(pilot)
        await settle(pilot)
        book = pilot.app.screen
        assert isinstance(book, BookScreen)
        assert (book.everything, book.query_one("#book-filter", Input).value) == (True, "")


async def test_a_key_behind_the_key_of_the_plan_is_no_letter_of_the_size(
    new_app: NewApp, studio: Studio
) -> None:
    """The plan is read first, but its first line had the cursor for a moment."""
    found_sheet(studio, "Letter 9")
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        pilot.app.push_screen(SheetScreen("Letter 9"))
        post(pilot, "m")
        await settle(pilot)
        await settle(pilot)
        assert isinstance(pilot.app.screen, FormScreen)
        assert all(not one.query_one("#field-size", Input).value for one in pilot.app.screen_stack[1:2])


async def test_the_rows_of_a_picker_follow_the_size_of_the_terminal(new_app: NewApp) -> None:
    """Made for 120 columns they broke in two at 80, and half of them went out of sight."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "t", "a", "down")
        options = pilot.app.screen.query_one(OptionList)
        at = options.highlighted
        await pilot.resize_terminal(80, 24)
        await settle(pilot)
        await settle(pilot)
        rows = shown(pilot.app).split("\n")
        assert any("not known" in row and "leave the blank empty" in row for row in rows)
        assert options.highlighted == at


async def test_the_keys_at_the_foot_keep_their_place(new_app: NewApp) -> None:
    """From one line of a form to the next, Store and Offers changed places."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.app.push_screen(FormScreen("mend", "Letter 9"))
        await settle(pilot)
        feet = set()
        for _ in range(4):
            feet.add(str(pilot.app.screen.query_one(KeyBar).content))
            await keys(pilot, "down")
        assert feet == {"^S Store  ^E Offers  Esc Back"}
