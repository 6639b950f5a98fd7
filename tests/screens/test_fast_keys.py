"""Keys that come faster than the screen is laid out, and answers that come under another screen."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from textual import events
from textual.screen import Screen

from kb.desk.records.fill import Begun
from kb.desk.sheet.facts import sheet_facts
from kb.desk.sheet.names import found_sheet
from kb.desk.studio import Studio
from kb.model.question import Question
from kb.tui.app import BenchleafApp
from kb.tui.form import FormScreen
from kb.tui.palette import Palette
from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.few_lines import FewLines
from kb.tui.screens.records.draft import Chosen, Draft
from kb.tui.screens.records.spot_test import SpotTestScreen
from kb.tui.screens.sheet.sheet import SheetScreen
from kb.tui.screens.water.bath_form import InReach
from kb.tui.screens.water.wash import WashScreen
from kb.tui.widgets.choice_row import ChoiceRow
from kb.tui.widgets.field import FormInput
from tests.screens.screen_help import keys, post, settle, write

NewApp = Callable[[], BenchleafApp]


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
        await settle(pilot)
        app: Any = pilot.app
        app.draft = Draft.begin(Question(), Chosen("Acetone", {"acetone": 1.0}), "nothing")
        await app.push_screen(SpotTestScreen(app.draft))
        await settle(pilot)
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
        await settle(pilot)
        app: Any = pilot.app
        app.draft = Draft.begin(Question(), Chosen("Acetone", {"acetone": 1.0}), "nothing")
        await app.push_screen(SpotTestScreen(app.draft))
        await settle(pilot)
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
