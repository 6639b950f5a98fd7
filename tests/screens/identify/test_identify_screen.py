"""The Identify screen: looks answered by keyboard alone, the ranking, and what goes into the question."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest
from textual import events
from textual.pilot import Pilot
from textual.widgets import Input, OptionList

from kb.desk.choose.may_be import possible_from
from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.screens.choose.asked import Filled
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.choose.picker import PickerScreen
from kb.tui.screens.identify import looking
from kb.tui.screens.identify.finding import FindingScreen, LookList
from kb.tui.screens.identify.looking import CANNOT, in_short
from kb.tui.screens.note import AskScreen, NoteScreen
from kb.tui.widgets.rank_list import RankList
from tests.screens.conftest import popped_up
from tests.screens.identified_help import (
    answer,
    five_looks,
    go_to,
    here,
    invented_looks,
    invented_weighed,
    opened,
    weigh_as_invented,
)
from tests.screens.invented import NewApp
from tests.screens.screen_help import flat, keys, settle, shown, write


async def test_rows_are_drawn_for_the_room_they_have(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An answer that came before the screen was arranged was drawn too wide, and each row broke in two."""
    weigh_as_invented(monkeypatch)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        for width in (120, 80, 120):
            await pilot.resize_terminal(width, 40)
            # As if the screen had been told of its size before its lists had theirs.
            monkeypatch.setattr(type(screen), "on_resize", lambda _: None, raising=False)
            await settle(pilot)
            for found in (screen.tapes, screen.looks):
                room = found.size.width
                rows = [str(found.get_option_at_index(at).prompt) for at in range(found.option_count)]
                assert max(map(len, rows)) <= room, (width, found.id)
                assert found is screen.looks or max(map(len, rows)) >= room - 6, width


# -- by keyboard alone -----------------------------------------------------------------------------


async def test_five_looks_put_masking_tape_first_and_u_asks_with_it(new_app: NewApp) -> None:
    """Five findings by number keys and a typed year; U fills tape, carrier and stage, and the list is up."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await five_looks(pilot)
        screen = here(pilot.app)
        assert screen.weighed is not None
        first = screen.weighed.answer.ranked[0]
        assert first.tape == "masking-rubber"
        assert "Masking tape: very likely" in flat(pilot.app)
        await keys(pilot, "u")
        assert isinstance(pilot.app.screen, AskScreen), "one letter leaves nothing"
        assert popped_up(pilot.app).count("Masking tape: very likely") == 1, "said twice in one box"
        await keys(pilot, "u")
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        assert home.asked.filled["tape"] == Filled("tape", "masking-rubber", first.name)
        assert home.asked.filled["carrier"].id == "crepe-paper"
        assert home.asked.filled["stage"].id == "oily", "likely, so it is filled in"
        assert home.ranked is not None
        assert home.ranked.answer.question.adhesive == "natural-rubber-resin"
        assert isinstance(pilot.app.focused, RankList)
        assert "»" not in shown(pilot.app)
        assert "Masking tape" in shown(pilot.app)


async def test_n_goes_to_the_look_that_tells_most_and_follows_the_findings(new_app: NewApp) -> None:
    """N opens the first of the desk's proposals, also right after an answer, and from the tapes too."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        for pressed in (("end",), ("enter", "2"), ("tab",)):
            await keys(pilot, *pressed)
            await keys(pilot, "n")
            assert screen.weighed is not None
            best = screen.weighed.answer.next_looks[0]
            assert screen.looks.here is not None
            assert screen.looks.here.look == best.look
            assert isinstance(pilot.app.screen, FindingScreen)
            assert pilot.app.screen.look.look == best.look
            await keys(pilot, "escape")
            assert isinstance(pilot.app.focused, LookList)
            assert f"Next (N): {in_short(best)} - tells most" in flat(pilot.app)
        assert "made-of" in screen.looked.found


async def test_n_waits_for_the_answer_to_what_was_just_found(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pressed while the desk still weighs, N goes by the new answer and not by the old one."""
    gate = threading.Event()
    gate.set()

    def slow(studio: Studio, found: dict[str, str], *, fresh: bool = False) -> looking.Weighed:
        gate.wait(10)
        left = [one for one in invented_looks() if one.look not in found]
        return invented_weighed(next_looks=tuple(left))

    monkeypatch.setattr(looking, "weigh", slow)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        gate.clear()
        await pilot.press("n", "escape", "-")
        await go_to_quick(pilot, "gloss")
        screen._put(screen.looks.here, "f0")
        await pilot.press("n")
        await pilot.pause()
        assert screen.looks.here is not None
        assert screen.looks.here.look == "gloss", "nothing is known yet"
        gate.set()
        await settle(pilot)
        assert screen.looks.here.look == "weave"
        assert isinstance(pilot.app.screen, FindingScreen), "and it is opened"


async def go_to_quick(pilot: Pilot[Any], wanted: str) -> None:
    """To a look without waiting for the desk."""
    here(pilot.app).looks.go_to(wanted)
    await pilot.pause()


async def test_a_asks_with_all_that_is_possible_and_del_forgets_it(new_app: NewApp, studio: Studio) -> None:
    """The blank says how many possibilities the signs leave; the answer is averaged; Del empties both."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await answer(pilot, "made-of", "2")
        await keys(pilot, "a", "a")
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        possible = tuple(possible_from(studio, {"made-of": "paper"}))
        assert home.asked.may_be == possible
        assert f"not sure: {len(possible)} possibilities (signs)" in shown(pilot.app)
        assert home.ranked is not None
        assert home.ranked.answer.question.may_be == possible
        assert f"Averaged over {len(possible)} things" in home.ranked.answer.rests_on
        await keys(pilot, "slash", "delete")
        assert home.asked.may_be == ()
        assert home.asked.empty
        assert "not sure" not in shown(pilot.app)


async def test_other_tape_replaces_the_possibilities(new_app: NewApp) -> None:
    """A tape picked in the blank is known: nothing is averaged any more; clearing leaves nothing behind."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await answer(pilot, "made-of", "2")
        await keys(pilot, "a", "a", "slash", "enter")
        assert isinstance(pilot.app.screen, PickerScreen)
        await keys(pilot, *"acrylic", "enter")
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        assert home.ranked is not None
        assert home.ranked.answer.question.may_be == ()
        assert home.ranked.answer.question.adhesive
        await keys(pilot, "f5", "a", "a")
        assert home.asked.may_be
        await keys(pilot, "c")
        assert home.asked.may_be == ()


async def test_what_was_found_survives_leaving_the_screen(new_app: NewApp) -> None:
    """Off to the book and back: the findings stand, and the ranking with them."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await answer(pilot, "made-of", "2")
        await keys(pilot, "f3", "f2", "f5")
        screen = here(pilot.app)
        assert screen.looked.found == {"made-of": "paper"}
        assert isinstance(pilot.app, BenchleafApp)
        assert pilot.app.looked is screen.looked
        assert screen.looks.here is not None
        assert screen.looks.here.look == "made-of"
        assert "What the strip is made of  paper" in shown(pilot.app)


async def test_findings_are_taken_back_passed_over_cleared_and_brought_back(new_app: NewApp) -> None:
    """-, Del and ? on a line and in its list, C for all, Z to undo; a look passed over is not proposed."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        await answer(pilot, "made-of", "2")
        await keys(pilot, "minus")
        assert screen.looked.found == {}
        await keys(pilot, "question_mark")
        assert screen.looked.found == {"made-of": CANNOT}
        assert "cannot be looked at" in shown(pilot.app)
        assert screen.weighed is not None
        assert "made-of" not in [one.look for one in screen.weighed.answer.next_looks]
        assert not screen.looked.told
        await keys(pilot, "right", "minus")
        assert screen.looked.found == {}
        await keys(pilot, "enter", "question_mark", "delete")
        assert screen.looked.found == {}
        await answer(pilot, "gloss", "1")
        await answer(pilot, "made-of", "3")
        await keys(pilot, "c")
        assert screen.looked.found == {}
        await keys(pilot, "z")
        assert screen.looked.found == {"gloss": "glossy", "made-of": "cloth"}
        await keys(pilot, "z")
        assert screen.looked.found == {}


async def test_words_are_typed_in_a_line_of_their_own(new_app: NewApp) -> None:
    """/ takes what one sees, Z takes all back; what is not known is said."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        await keys(pilot, "slash", *"clear glossy brittle amber", "enter")
        wanted = {"colour": "clear", "gloss": "glossy", "hardness": "brittle", "adhesive-colour": "amber"}
        assert screen.looked.found == wanted
        assert isinstance(pilot.app.focused, LookList)
        assert any("brittle = hardness" in note.message for note in pilot.app._notifications)
        await keys(pilot, "z")
        assert screen.looked.found == {}
        await keys(pilot, "z", "c")
        assert screen.looked.found == {}
        assert any("Z brings them back" in note.message for note in pilot.app._notifications)
        assert "Z Undo" in flat(pilot.app)
        await keys(pilot, "slash", *"zzyxq", "enter")
        assert any("zzyxq" in note.message for note in pilot.app._notifications)
        assert screen.looked.found == {}
        assert not isinstance(pilot.app.focused, LookList), "the line stays, to be corrected"
        assert flat(pilot.app).endswith("Take the words Esc Back to the looks"), "/ is a letter here"
        await keys(pilot, "escape")
        assert isinstance(pilot.app.focused, LookList)


@pytest.mark.parametrize("words", ["clear glossy brittle amber", "yellow brittle", "amber brittle"])
async def test_words_typed_without_the_line_land_in_it(new_app: NewApp, words: str) -> None:
    """Letters of a phrase fired as keys: the first that is none opens the line, with those before it."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        await write(pilot, words)
        await settle(pilot)
        assert pilot.app.screen is screen
        assert screen.query_one("#seen", Input).value == words
        await keys(pilot, "enter")
        assert screen.looked.found["hardness"] == "brittle"
        # Letter by letter too, and over words that were left.
        await keys(pilot, "slash", *"zzyxq", "enter", "escape", *"yellow")
        assert screen.query_one("#seen", Input).value == "yellow", (
            "its first letters went, or it stood behind"
        )
        await keys(pilot, "escape", "slash", *"zzyxq", "enter", "escape")
        await write(pilot, "/brittle")
        await settle(pilot)
        assert screen.query_one("#seen", Input).value == "brittle"
        await keys(pilot, "escape")
        # A word that begins with a key that leads away asks first, and what comes behind leaves nothing.
        await keys(pilot, "a")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, *"mber")
        assert isinstance(pilot.app.screen, AskScreen)


async def test_nothing_answered_does_no_harm(new_app: NewApp) -> None:
    """Every key with nothing looked at: no crash, nothing filled in, and words that say why."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        assert "Nothing has been looked at yet" in flat(pilot.app)
        await keys(pilot, "minus", "delete", "c", "z", "a")
        assert pilot.app.screen is screen
        assert screen.looked.found == {}
        assert any("Nothing was looked at yet" in note.message for note in pilot.app._notifications)
        await keys(pilot, "o")
        assert isinstance(pilot.app.screen, NoteScreen)
        assert "Nothing was looked at yet" in flat(pilot.app)
        await keys(pilot, "escape", "u")
        assert isinstance(pilot.app.screen, AskScreen), "no tape stands out"
        await keys(pilot, "escape")
        assert pilot.app.screen is screen
        await keys(pilot, "enter", "escape", "g", "tab", "end", "up", "down", "tab", "down", "escape")
        assert screen.looked.found == {}
        assert isinstance(pilot.app.focused, LookList)


async def test_enter_twice_records_nothing(new_app: NewApp) -> None:
    """One stands on "not looked" when a look opens, so a key too many claims no finding; so with the year."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await answer(pilot, "gloss", "enter")
        await answer(pilot, "year", "enter")
        assert here(pilot.app).looked.found == {}


async def test_arrows_choose_and_what_holds_is_shown(new_app: NewApp) -> None:
    """Down and Enter take a finding; opened again one stands on it, and it says that it holds."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await answer(pilot, "gloss", "down", "down", "enter")
        assert here(pilot.app).looked.found == {"gloss": "satin"}
        await keys(pilot, "right")
        assert isinstance(pilot.app.screen, FindingScreen)
        assert pilot.app.screen.query_one(OptionList).highlighted == 2
        assert "2 a soft even sheen (as it is now)" in flat(pilot.app)
        await keys(pilot, "9")
        assert isinstance(pilot.app.screen, FindingScreen), "there is no ninth"
        await keys(pilot, "escape")
        assert here(pilot.app).looked.found == {"gloss": "satin"}


async def test_year_is_typed_or_its_span_chosen(new_app: NewApp) -> None:
    """1952, "1920s" and the arrow keys; words that are no year are told and kept; - takes the year back."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        looked = here(pilot.app).looked
        await answer(pilot, "year", *"1952", "enter")
        assert looked.found == {"year": "from-1946"}
        assert "1952 (1946 to 1960)" in shown(pilot.app)
        await keys(pilot, "enter", *["backspace"] * 4, *"1920s", "enter")
        assert looked.found == {"year": "from-1925"}
        await keys(pilot, "enter", *["backspace"] * 5, *"zz9", "enter")
        assert isinstance(pilot.app.screen, FindingScreen)
        assert "zz9" in shown(pilot.app)
        assert looked.found == {"year": "from-1925"}
        await keys(pilot, *["backspace"] * 3, "down", "enter")
        assert looked.found == {"year": "from-1930"}
        assert looked.said == {}
        await keys(pilot, "enter", "minus")
        assert looked.found == {}
        await keys(pilot, "enter", "question_mark")
        assert looked.found == {"year": CANNOT}


async def test_typing_ahead_loses_no_finding(new_app: NewApp) -> None:
    """Enter, number, down, Enter, number in one burst: both findings are noted, each with its own look."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        burst = ("enter", "2", "down", "enter", "1")
        for key in burst:
            pilot.app.post_message(events.Key(key, key if len(key) == 1 else "\r"))
        for _ in range(4):
            await settle(pilot)
        assert here(pilot.app).looked.found == {"made-of": "paper", "form": "strip"}


async def test_year_typed_ahead_lands_in_the_line(new_app: NewApp) -> None:
    """Enter and the year in one burst."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await go_to(pilot, "year")
        for key in ("enter", *"1935", "enter"):
            pilot.app.post_message(events.Key(key, key if len(key) == 1 else "\r"))
        for _ in range(4):
            await settle(pilot)
        looked = here(pilot.app).looked
        assert (looked.found, looked.said) == ({"year": "from-1930"}, {"year": "1935"})


async def test_a_tape_that_is_not_sure_asks_before_it_is_used(new_app: NewApp) -> None:
    """Less likely than even: stay, use all, or use it all the same; the one under the cursor is meant."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        await answer(pilot, "made-of", "2")
        await keys(pilot, "tab", "down", "u")
        assert isinstance(pilot.app.screen, AskScreen)
        assert screen.here is not None
        second = screen.here.tape
        assert second is not None
        assert second.name in flat(pilot.app)
        await keys(pilot, "u")
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        assert home.asked.filled["tape"].id == second.tape
        assert "stage" not in home.asked.filled, "no stage is likely"
        await keys(pilot, "f5", "u", "a")
        assert pilot.app.screen is home
        assert home.asked.may_be
        assert "carrier" not in home.asked.filled, "the carrier came with the tape and goes with it"


async def test_signs_that_fit_nothing_and_a_flat_answer_are_told(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Signs of four different tapes: the verdict says so, and U asks; a flat answer is told as it comes."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await answer(pilot, "made-of", "3")
        await answer(pilot, "water-strip", "2")
        await answer(pilot, "flame", "1")
        await answer(pilot, "polars", "1")
        assert "These signs fit no listed tape." in flat(pilot.app)
        await keys(pilot, "u")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "escape")
        weigh_as_invented(monkeypatch, verdict="These signs do not tell the tapes apart: the answer is flat.")
        await keys(pilot, "z")
        assert "the answer is flat" in flat(pilot.app)


async def test_a_question_under_an_open_form_is_filled_in_all_the_same(
    new_app: NewApp, invented: Callable[..., None]
) -> None:
    """While a spot test is open the form stays; the notice says where the question is."""
    invented()
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        home.take(lambda asked: asked.put("stage", Filled("stage", "oily", "Oily")))
        await settle(pilot)
        await keys(pilot, "t", "f5")
        await answer(pilot, "made-of", "2")
        await keys(pilot, "a", "a")
        assert type(pilot.app.screen).__name__ == "SpotTestScreen"
        assert any("you see it when you leave" in note.message for note in pilot.app._notifications)
        assert home.asked.may_be
        assert home.asked.filled["stage"].id == "oily", "what the user said of the stage stays"
        await keys(pilot, "escape")
        assert pilot.app.screen is home
        assert "not sure:" in shown(pilot.app)


# -- trouble ---------------------------------------------------------------------------------------


async def test_desk_that_fails_is_told_and_findings_are_kept(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The error stands on the screen; coming back tries again."""

    def fail(*_: object, **__: object) -> looking.Weighed:
        raise DeskError("The table of looks is missing.")

    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        monkeypatch.setattr(looking, "weigh", fail)
        await answer(pilot, "made-of", "2")
        assert "No answer: The table of looks is missing." in flat(pilot.app)
        assert "paper" in shown(pilot.app)
        monkeypatch.undo()
        await keys(pilot, "f2", "f5")
        assert "No tape stands out yet." in flat(pilot.app)
        assert here(pilot.app).looked.found == {"made-of": "paper"}


async def test_an_older_answer_never_overwrites_a_newer_one(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two findings in a row: what is shown answers both."""
    monkeypatch.setattr(
        looking, "weigh", lambda _, found, **__: invented_weighed(verdict=f"About {sorted(found)}")
    )
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        for one in invented_looks()[:2]:
            screen._put(one, "f0")
        await settle(pilot)
        assert "About ['gloss', 'weave']" in flat(pilot.app)


async def test_what_the_question_says_of_the_tape_is_seen_already(new_app: NewApp) -> None:
    """The answer sends to F5 for one more look, which does not ask again; what C clears stays so."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await write(pilot, "yellowed clear tape over graphite, rag paper")
        await keys(pilot, "enter")
        assert "See first what it is (F5)." in flat(pilot.app)
        await keys(pilot, "f5")
        assert here(pilot.app).looked.found == {"adhesive-colour": "amber", "colour": "clear"}
        await keys(pilot, "c", "f2", "f5")
        assert here(pilot.app).looked.found == {}
