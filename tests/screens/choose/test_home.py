"""The home screen: blanks, picker, ranking, reasons, pop-ups; by keyboard alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual import events
from textual.widgets import Input, OptionList

from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.model.question import Dials, Question
from kb.tui.app import BenchleafApp
from kb.tui.screens.choose import ranking
from kb.tui.screens.choose.asked import Asked, Filled
from kb.tui.screens.choose.find import offers
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.choose.picker import PickerScreen
from kb.tui.screens.choose.ranking import Ranked
from kb.tui.screens.records.spot_test import SpotTestScreen
from kb.tui.widgets.blank import Blank
from kb.tui.widgets.rank_list import RankList
from tests.screens.conftest import ask
from tests.screens.invented import NewApp, asked, home, invented_answer
from tests.screens.screen_help import flat, keys, settle, shown, write

# -- what is asked and answered --------------------------------------------------------------------


async def test_first_time_hint_says_what_to_do(new_app: NewApp) -> None:
    """With no question yet three lines say where to begin, and the first blank has the focus."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        text = shown(pilot.app)
        assert "Type part of a name into a blank above" in text
        assert "T on a row starts a spot test" in text
        assert isinstance(pilot.app.focused, Blank)
        assert pilot.app.focused.kind.name == "tape"


async def test_studio_is_opened_after_the_first_paint(studio: Studio) -> None:
    """Before the index is open the screen is there already, and says what it waits for."""
    made: list[Studio] = []

    def make() -> Studio:
        made.append(studio)
        return studio

    app = BenchleafApp(make)
    assert not made
    async with app.run_test() as pilot:
        await settle(pilot)
        assert made == [studio]
        assert app.opened
        assert "Opening the studio" not in shown(app)


async def test_studio_that_cannot_be_opened_is_told_and_tried_again(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The error stands on the screen in words; F9 tries again."""
    monkeypatch.setattr(
        Studio, "settings", property(lambda _: (_ for _ in ()).throw(DeskError("It is busy.")))
    )
    async with new_app().run_test() as pilot:
        await settle(pilot)
        assert "The studio could not be opened. It is busy." in flat(pilot.app)
        monkeypatch.undo()
        await keys(pilot, "f9")
        assert isinstance(pilot.app, BenchleafApp)
        assert pilot.app.opened


async def test_a_misspelt_name_is_asked_about_and_never_taken_of_itself(new_app: NewApp) -> None:
    """Enter takes nothing whose spelling is only near; Down goes to it, and then Enter does."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await write(pilot, "natrual ruber")
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, PickerScreen)
        assert "Nothing by that name. Near in spelling" in flat(pilot.app)
        await keys(pilot, "down", "enter")
        assert home(pilot.app).asked.filled["tape"].id == "natural-rubber-resin"


async def test_typing_words_into_blanks_gives_a_ranking(new_app: NewApp) -> None:
    """Words fill the blanks one after the other, and the list is there with its reasons."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await ask(pilot)
        screen = home(pilot.app)
        assert screen.asked.filled["tape"].id == "natural-rubber-resin"
        assert screen.asked.filled["medium"].id == "bare-paper"
        assert screen.ranked is not None
        assert screen.ranked.answer.question.method == "local-poultice"
        first = screen.ranked.rows[0]
        text = flat(pilot.app)
        assert f"1 {first.name}"[:10] in text
        assert "released without harm in the end" in text


async def test_tape_brings_its_carrier_which_may_be_overruled(new_app: NewApp) -> None:
    """A tape fills the blank of the carrier; emptying that blank leaves the tape's own in force."""
    async with new_app().run_test() as pilot:
        await settle(pilot)
        await write(pilot, "masking tape")
        await keys(pilot, "enter")
        screen = home(pilot.app)
        assert screen.asked.filled["tape"].kind == "tape"
        assert screen.asked.filled["carrier"].id == "crepe-paper"
        assert screen.ranked is not None
        assert screen.ranked.answer.question.carrier == "crepe-paper"


async def test_emptied_blank_means_not_known(new_app: NewApp) -> None:
    """Del empties a blank, and the answer is no longer about it."""
    async with new_app().run_test() as pilot:
        await ask(pilot, method="")
        await keys(pilot, "slash", "right", "delete")
        screen = home(pilot.app)
        assert "stage" not in screen.asked.filled
        assert screen.ranked is not None
        assert screen.ranked.answer.question.stage == ""


async def test_clear_empties_the_question_and_the_hint_comes_back(
    new_app: NewApp, invented: Callable[..., None]
) -> None:
    """C on the list forgets the question."""
    invented()
    async with new_app().run_test() as pilot:
        await asked(pilot)
        was = home(pilot.app).asked.copy()
        await keys(pilot, "c")
        assert home(pilot.app).asked.empty
        assert not pilot.app.screen.query(RankList)
        assert "Type part of a name into a blank above" in shown(pilot.app)
        assert "Ctrl+Z brings it back" in flat(pilot.app), "one letter took all of it away"
        await keys(pilot, "ctrl+z")
        assert home(pilot.app).asked == was
        assert isinstance(pilot.app.focused, RankList)
        await keys(pilot, "ctrl+z")
        assert "nothing to take back" in " ".join(one.message for one in pilot.app._notifications)


async def test_a_late_answer_never_overwrites_a_newer_one(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two questions in a row: the answer shown is that of the second."""
    monkeypatch.setattr(
        ranking, "rank", lambda _, question, __: invented_answer({1: f"About {question.stage}"})
    )
    async with new_app().run_test() as pilot:
        await settle(pilot)
        screen = home(pilot.app)
        for stage in ("first", "second"):
            screen.asked.put("stage", Filled("stage", stage, stage))
            screen.rank()
        await settle(pilot)
        assert screen.ranked is not None
        assert screen.ranked.rows[0].name == "About second"


async def test_ranking_that_fails_is_told_and_the_question_kept(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error in the thread is a sentence on the screen, not the end of the app."""

    def fail(*_: object) -> Ranked:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(ranking, "rank", fail)
    async with new_app().run_test() as pilot:
        await asked(pilot)
        assert "No ranking: No space left on device. The question is kept" in flat(pilot.app)
        assert not home(pilot.app).asked.empty


async def test_print_and_dials_change_what_is_asked(new_app: NewApp, monkeypatch: pytest.MonkeyPatch) -> None:
    """P leaves print out; the dials reach the desk as they were set."""
    told: list[Dials | None] = []

    def note(_: Studio, __: Question, dials: Dials | None) -> Ranked:
        told.append(dials)
        return invented_answer()

    monkeypatch.setattr(ranking, "rank", note)
    async with new_app().run_test() as pilot:
        await asked(pilot)
        app: Any = pilot.app
        app.settings_dials = Dials(harm_aversion=20.0)
        home(app).note = "Not understood and left out: an invented word."
        await keys(pilot, "d", "escape")
        assert app.dials is None, "nothing was turned"
        assert "Not understood and left out" in home(app).note
        await keys(pilot, "d", "b", "escape")
        note = "Risk turned (D): a harm costs 8 spots. Not understood and left out"
        assert note in flat(app), "what was not understood is as wrong with another risk"
        await keys(pilot, "d")
        assert "the studio's own are 20 and 60 %" in flat(app)
        await keys(pilot, "o", "escape")
        assert told[-1] == Dials(harm_aversion=20.0), "no way back to the studio's own"
        app.settings_dials, app.dials = Dials(), None
        await keys(pilot, "p")
        assert told[-1] is not None
        assert told[-1].use_print is False
        assert "Print left out (P)." in flat(pilot.app)
        await keys(pilot, "d", "c")
        assert "usual: above 60 % held back" in flat(pilot.app), "it was cut before its verb at 80 columns"
        await keys(pilot, "down", "s", "down", "y", "ctrl+s")
        assert told[-1] == Dials(harm_aversion=32.0, ceiling=0.8, use_print=True)
        # It holds for the next question too, and nothing said so.
        assert "Risk turned (D): a harm costs 32 spots, ceiling 80 %." in flat(pilot.app)
        await keys(pilot, "c")
        await asked(pilot)
        assert "Risk turned (D): a harm costs 32 spots, ceiling 80 %." in flat(pilot.app)
        await keys(pilot, "d", "u", "down", "u", "escape")
        assert "Risk turned" not in flat(pilot.app), "Esc drops nothing, as in the other small forms"


async def test_refused_rows_are_listed_when_nothing_is_proposed(new_app: NewApp) -> None:
    """A stop is told over the list; a test of a refused liquid can still be started."""
    async with new_app().run_test() as pilot:
        await ask(pilot, "animal glue", "aged", "iron gall", "rag", method="")
        screen = home(pilot.app)
        assert screen.ranked is not None
        assert screen.ranked.answer.stop is not None
        assert "No test is worth its risk: water is barred on this sheet" in flat(pilot.app)
        assert screen.ranked.rows == screen.ranked.answer.refused[: ranking.UNLINED] != ()
        await keys(pilot, "t")
        assert type(pilot.app.screen).__name__ == "SpotTestScreen"


# -- the picker ------------------------------------------------------------------------------------


async def test_picker_moves_by_arrows_and_leaves_by_escape(new_app: NewApp) -> None:
    """Up and Down move while the line keeps the focus; Esc changes nothing."""
    async with new_app().run_test() as pilot:
        await settle(pilot)
        await keys(pilot, "enter")
        screen = pilot.app.screen
        assert isinstance(screen, PickerScreen)
        assert screen.offers[0].name == "not known"
        await keys(pilot, "down", "down", "up")
        assert screen.query_one(OptionList).highlighted == 1
        assert isinstance(pilot.app.focused, Input)
        await keys(pilot, "escape")
        assert home(pilot.app).asked.empty


async def test_typing_ahead_loses_no_key(new_app: NewApp) -> None:
    """Words and Enter in one burst, faster than any picker opens: each word lands in its own blank."""
    async with new_app().run_test() as pilot:
        await settle(pilot)
        for word in ("masking", "fresh", "ballpo"):
            for letter in word:
                pilot.app.post_message(events.Key(letter, letter))
            pilot.app.post_message(events.Key("enter", "\r"))
        for _ in range(4):
            await settle(pilot)
        filled = home(pilot.app).asked.filled
        assert filled["tape"].name.lower().startswith("masking")
        assert (filled["stage"].id, filled["medium"].id) == ("fresh", "ballpoint")


async def test_a_question_is_pasted(new_app: NewApp) -> None:
    """Into the blank one is on, over two lines: nothing came of it, and nothing was said."""
    async with new_app().run_test() as pilot:
        await settle(pilot)
        pilot.app.post_message(events.Paste("masking tape, fresh,\r\nballpoint\n"))
        for _ in range(3):
            await settle(pilot)
        assert isinstance(pilot.app.screen, PickerScreen)
        assert pilot.app.screen.query_one(Input).value == "masking tape, fresh, ballpoint"
        await keys(pilot, "enter")
        filled = home(pilot.app).asked.filled
        assert (filled["stage"].id, filled["medium"].id) == ("fresh", "ballpoint")


async def test_enter_on_nothing_found_goes_on_typing(new_app: NewApp) -> None:
    """What was typed after a vain Enter stands in the line, which has the focus."""
    async with new_app().run_test() as pilot:
        await settle(pilot)
        for letter in "qqqqzz":
            pilot.app.post_message(events.Key(letter, letter))
        pilot.app.post_message(events.Key("enter", "\r"))
        pilot.app.post_message(events.Key("x", "x"))
        for _ in range(3):
            await settle(pilot)
        assert isinstance(pilot.app.screen, PickerScreen)
        assert pilot.app.screen.query_one(Input).value == "qqqqzzx"
        assert isinstance(pilot.app.focused, Input)


async def test_not_known_is_first_and_nothing_found_is_told(new_app: NewApp) -> None:
    """The first line empties the blank; words that fit nothing say so and can be left."""
    async with new_app().run_test() as pilot:
        await ask(pilot, "acrylic", method="")
        await keys(pilot, "slash", "enter", "home")
        await keys(pilot, "up", "up", *["pageup"] * 4, "enter")
        assert home(pilot.app).asked.empty
        await keys(pilot, "slash")
        await write(pilot, "qqqqzzzz")
        assert "Nothing like that is known" in shown(pilot.app)
        await keys(pilot, "enter", "escape")
        assert home(pilot.app).asked.empty


def test_new_sheet_is_offered_by_the_name_typed(studio: Studio, record: Callable[..., str]) -> None:
    """A sheet need not be in the book; those that are come with their number of tests."""
    record(studio, sheet="Map 7")
    found = offers(studio, "sheet", "map")
    assert [one.name for one in found] == ["none", "Map 7", "map"], "a known sheet comes before a new one"
    assert found[1].words == "1 test"
    assert [one.name for one in offers(studio, "sheet", "Map 7")] == ["none", "Map 7"]


async def test_what_stays_from_the_question_before_is_said(new_app: NewApp) -> None:
    """Identify fills in the tape of another object: whose ink and paper still stand there is said."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await ask(pilot, "acrylic", "aged", "iron gall", "rag", method="")
        home(pilot.app).take(
            lambda asked: asked.put("tape", Filled("adhesive", "animal-glue", "Animal glue"))
        )
        await settle(pilot)
        said = "Still from the question before: Iron gall ink, Rag paper with gelatin size. C clears all."
        assert said in flat(pilot.app)


def test_stages_of_the_adhesive_are_those_offered(studio: Studio) -> None:
    """With an adhesive or a tape in its blank, the stages it goes through and no other, as it ages."""
    named = Asked({"tape": Filled("adhesive", "natural-rubber-resin", "Natural rubber")})
    plain, own = offers(studio, "stage", ""), offers(studio, "stage", "", named)
    assert [one.what.id for one in own if one.what] == ["induction", "oily", "crosslinked"]
    assert own[0].name == plain[0].name == "not known"
    assert {one.name for one in own} < {one.name for one in plain}


def test_long_lists_are_cut_and_say_so(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """With nothing typed a huge catalogue lists its first entries and tells how many more there are."""
    from kb.desk.materials import lookup

    monkeypatch.setattr(lookup, "names", lambda _, kind: [(f"{kind}-{n}", f"Name {n}") for n in range(5_000)])
    found = offers(studio, "medium", "")
    assert len(found) == 302
    assert found[-1].name == "... and 4,700 more"
    assert found[-1].stays


def test_without_a_terminal_the_command_says_what_to_do(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """Started from a script the app does not draw into a file; it points to the plain commands."""
    from kb.cli.app import start

    assert start(studio) != 0
    assert "The app needs a terminal" in capsys.readouterr().err


def test_a_terminal_that_places_no_text_is_named(
    studio: Studio, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """TERM=dumb, as an editor's shell has it: control codes would be printed as rubbish."""
    from kb.cli.app import start

    for stream in ("stdin", "stdout", "stderr"):
        monkeypatch.setattr(f"sys.{stream}.isatty", lambda: True)
    monkeypatch.setenv("TERM", "dumb")
    assert start(studio) != 0
    assert "TERM=dumb" in capsys.readouterr().err


async def test_t_without_a_row_says_what_is_missing(new_app: NewApp) -> None:
    """Off the blanks it says so in one line; in a blank it is a letter, and the picker says what T is."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        pilot.app.screen.set_focus(None)
        await keys(pilot, "t")
        assert isinstance(pilot.app.screen, HomeScreen)
        assert "nothing is asked yet: name the tape first (/)." in flat(pilot.app)
        await keys(pilot, "slash", "t")
        assert isinstance(pilot.app.screen, PickerScreen)
        assert "No row to test yet (T): name the tape first" in flat(pilot.app)


async def test_t_that_opened_a_picker_is_one_key_from_the_first_row(
    new_app: NewApp, invented: Callable[..., None]
) -> None:
    """With an answer in view and the cursor in a blank: Esc leads to the list, T tests its first row."""
    invented()
    async with new_app().run_test(size=(80, 24)) as pilot:
        await ask(pilot, "natural rubber", "fresh", method="")
        assert isinstance(pilot.app.focused, Blank)
        await keys(pilot, "t")
        assert "For a spot test of the first row: Esc, then T" in flat(pilot.app)
        await keys(pilot, "escape", "t")
        assert isinstance(pilot.app.screen, SpotTestScreen)
        assert pilot.app.screen.draft.liquid_text == "Invented liquid 1"


async def test_a_glue_that_was_typed_beside_a_tape_is_asked_about_and_recorded(
    new_app: NewApp, studio: Studio
) -> None:
    """Brown paper tape usually bears animal glue: who says starch is asked and stored as starch."""
    line = "sticky brown paper tape with starch glue over watercolour on rag paper"
    async with new_app().run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await write(pilot, line)
        await keys(pilot, "enter")
        screen = home(pilot.app)
        assert screen.ranked is not None
        asked_for = screen.ranked.answer.question
        assert (asked_for.tape, asked_for.adhesive) == ("gummed-paper", "starch-dextrin")
        assert "[Starch or dextrin on B" in flat(pilot.app)
        await keys(pilot, "t")
        assert isinstance(pilot.app.screen, SpotTestScreen)
        assert "Brown or white gummed paper tape (Starch or dextrin)" in flat(pilot.app)
        draft = pilot.app.screen.draft
        test = draft.test(studio)
        assert (test.tape, test.adhesive) == ("gummed-paper", "starch-dextrin")
        # Another tape brings its own glue again.
        await keys(pilot, "escape")
        screen.asked.put("tape", Filled("tape", "gummed-linen", "Gummed linen tape"))
        _, usual, _ = studio.compiled.tapes["gummed-linen"]
        assert screen.asked.question(studio).adhesive == usual
        assert screen.asked.shown("tape") == "Gummed linen tape"


async def test_the_form_names_the_glue_that_the_record_will_bear(new_app: NewApp) -> None:
    """Also where nobody typed one."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await write(pilot, "brown paper tape over watercolour on rag paper")
        await keys(pilot, "enter", "t")
        assert "Brown or white gummed paper tape (Animal glue or gelatin)" in flat(pilot.app)
