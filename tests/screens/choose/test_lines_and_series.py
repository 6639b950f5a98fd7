"""The whole question in one line, lines that open, and the card of a series typed back in."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from threading import Event
from time import sleep
from typing import Any

import pytest
from msgspec.structs import replace
from textual.pilot import Pilot
from textual.widgets import Input, Static

from kb.desk.errors import DeskError
from kb.desk.records import record
from kb.desk.records.record import Written, add_test, list_tests, show_test
from kb.desk.sheet.names import found_sheet
from kb.desk.shelf.shelf import hold
from kb.desk.studio import Studio
from kb.model.question import Dials, Possible
from kb.tui.screens.choose import ranking
from kb.tui.screens.choose.picker import PickerScreen
from kb.tui.screens.choose.ranking import NOT_PROPOSED
from kb.tui.screens.choose.row_actions import over_list
from kb.tui.screens.choose.series import SeriesScreen
from kb.tui.screens.note import NoteScreen
from kb.tui.screens.records.draft import Chosen
from tests.screens.conftest import popped_up
from tests.screens.invented import NewApp, home
from tests.screens.screen_help import flat, keys, post, settle, shown, write

LINE = "brittle yellow clear tape over iron gall ink on rag paper, both sides, zebra"
RUBBER = "oily natural rubber on letterpress on wood pulp"


async def test_a_whole_line_fills_the_blanks_and_says_what_it_left_out(new_app: NewApp) -> None:
    """Enter in the first blank takes all of it; what was left out stands over the list."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await write(pilot, LINE)
        assert isinstance(pilot.app.screen, PickerScreen)
        said = " ".join(str(pilot.app.screen.query_one("#found", Static).content).split())
        assert said.startswith(
            "Not understood and left out: zebra. Understood: brittle = hardness: hard and brittle"
        )
        await keys(pilot, "enter")
        screen = home(pilot.app)
        assert screen.asked.filled["medium"].id == "iron-gall"
        assert screen.asked.filled["paper"].id == "paper-rag"
        assert [one.id for one in screen.asked.several["back"]] == ["iron-gall"]
        assert screen.asked.signs == ("hardness=brittle", "adhesive-colour=amber", "colour=clear")
        text = flat(pilot.app)
        assert "Not understood and left out: zebra." in text
        assert "released without harm in the end" in text


async def test_what_was_not_understood_leads_and_one_key_takes_the_closest(new_app: NewApp) -> None:
    """Ranked without its medium an answer looks as whole as any."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await write(pilot, "oily masking tape over watercolur on rag paper")
        await keys(pilot, "enter")
        screen = home(pilot.app)
        said = " ".join(str(screen.query_one("#said", Static).content).split())
        assert said.startswith(
            "Not understood and left out: watercolur (Watercolour?). The answer is not whole"
        )
        assert "Y takes the closest." in flat(pilot.app)
        assert "medium" not in screen.asked.filled
        await keys(pilot, "y")
        assert screen.asked.filled["medium"].id == "watercolour"
        assert "Not understood" not in flat(pilot.app)
        await keys(pilot, "y")  # nothing is left to take
        assert screen.asked.filled["medium"].id == "watercolour"


async def test_a_line_about_what_lies_under_it_keeps_the_tape(new_app: NewApp) -> None:
    """Said in two lines it emptied the tape without a word, and another liquid led."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await write(pilot, "oily natural rubber on toner, parchment, both sides")
        await keys(pilot, "enter")
        await write(pilot, "/")
        await write(pilot, "letterpress on wood-pulp paper")
        await keys(pilot, "enter")
        asked = home(pilot.app).asked
        assert {blank: one.id for blank, one in asked.filled.items()} == {
            "tape": "natural-rubber-resin",
            "stage": "oily",
            "medium": "letterpress-oil",
            "paper": "paper-woodpulp",
        }
        assert not asked.several, "toner lay under the line before"
        assert "The tape stays; C clears all." in flat(pilot.app)
        await write(pilot, "/")
        await write(pilot, "starch paste over watercolour")
        await keys(pilot, "enter")
        assert {blank: one.id for blank, one in asked.filled.items()} == {
            "tape": "starch-dextrin",
            "medium": "watercolour",
        }, "another tape is another question"


async def test_a_tape_that_is_named_in_a_line_stays_a_name(new_app: NewApp) -> None:
    """A line that only names a tape is no question, and is taken as the name it is."""
    async with new_app().run_test() as pilot:
        await settle(pilot)
        await write(pilot, "cloth surgical or book tape")
        await keys(pilot, "enter")
        assert home(pilot.app).asked.filled["tape"].id == "cloth-surgical"


async def _ranked(pilot: Pilot[Any]) -> None:
    await settle(pilot)
    await write(pilot, RUBBER)
    await keys(pilot, "enter")
    home(pilot.app).action_to_list()
    await settle(pilot)


async def test_a_line_opens_and_closes_and_its_alikes_can_be_tested(new_app: NewApp) -> None:
    """Space shows what acts alike; T takes the liquid one stands on."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await _ranked(pilot)
        ranks = home(pilot.app).ranks
        assert ranks is not None
        closed = len(ranks.visible_rows)
        assert 2 <= closed <= 7
        await keys(pilot, "space")
        rows = ranks.visible_rows
        lead = rows[0].one
        assert len(rows) == closed + len(home(pilot.app).ranked.alike[lead.liquid])  # type: ignore[union-attr]
        await keys(pilot, "down", "t")
        form = pilot.app.screen
        assert form.query_one("#field-liquid_text", Input).value == rows[1].one.name != lead.name
        await keys(pilot, "escape", "space")
        assert len(ranks.visible_rows) == closed
        assert ranks.here == lead


async def test_chemistry_stands_under_why_only(new_app: NewApp) -> None:
    """The pane speaks in words and says what comes next; RED and the counts come with R."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await _ranked(pilot)
        pane = str(pilot.app.screen.query_one("#reasons", Static).content)
        assert "RED" not in pane
        assert "P(release)" not in pane
        for words in ("1st in the series", "If it releases:", "If it does not:", "If it harms:", "Alike"):
            assert words in pane
        await keys(pilot, "r")
        assert isinstance(pilot.app.screen, NoteScreen)
        assert "RED" in popped_up(pilot.app)


async def test_each_line_of_a_card_stands_under_the_name_of_its_liquid(new_app: NewApp) -> None:
    """On a low screen the name had gone out of sight and that of the next liquid stood there; and Tab stopped
    where no line is, so that what was typed of one spot was lost or stood beside another."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await _ranked(pilot)
        steps = home(pilot.app).ranked.answer.series  # type: ignore[union-attr]
        await keys(pilot, "e")
        screen = pilot.app.screen
        assert len(steps) > 2
        back = [f"spot-{place}" for place in range(len(steps) - 1, -1, -1)]
        down = True
        for name in [*back[::-1], *back[1:]]:
            assert screen.focused is not None
            assert screen.focused.id == name
            rows = shown(pilot.app).splitlines()
            at = screen.focused.region.y
            place = int(name.removeprefix("spot-"))
            assert f"{place + 1}. {steps[place].name}"[:40] in " ".join(rows[max(at - 2, 4) : at])
            down = down and name != back[0]
            await keys(pilot, "tab" if down else "shift+tab")
        assert screen.focused is screen.query_one("#sheet")


async def test_a_card_is_typed_back_in(new_app: NewApp, studio: Studio) -> None:
    """All filled lines are stored at once, said back with id and CAS number, and the answer follows."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await _ranked(pilot)
        steps = home(pilot.app).ranked.answer.series  # type: ignore[union-attr]
        await keys(pilot, "e")
        screen = pilot.app.screen
        assert isinstance(screen, SeriesScreen)
        await write(pilot, "30s, relase 2")
        await keys(pilot, "ctrl+s")
        asked = (
            "No sheet is named, so this test counts as of none. Type it, or Ctrl+S once more stores without."
        )
        assert asked in flat(pilot.app)
        assert screen.focused is screen.query_one("#sheet")
        await keys(pilot, "ctrl+s")
        said = str(screen.query_one("#series-said", Static).content)
        assert '"relase 2" is not understood. Write beside the liquid' in said
        assert screen.focused is screen.query_one("#spot-0")
        assert list_tests(studio) == []
        screen.query_one("#spot-0", Input).value = "30s, 1 min, release 1, bleed 0"
        screen.query_one("#spot-1", Input).value = "30s, release 4, bleed 0, gloss 0 at lower left"
        screen.query_one("#sheet", Input).value = "Tide table"
        await keys(pilot, "ctrl+s")
        assert 'No sheet in the book is called "Tide table". There is none in it yet.' in popped_up(pilot.app)
        await keys(pilot, "b")
        assert 'Not stored: there is no sheet "Tide table"' in flat(pilot.app)
        assert list_tests(studio) == []
        await keys(pilot, "ctrl+s", "ctrl+y")
        assert home(pilot.app)
        assert home(pilot.app).asked.id_of("sheet") == "Tide table"
        assert "The answer is now for Tide table" in flat(pilot.app)
        stored = {one.liquid: show_test(studio, one.id).test for one in list_tests(studio)}
        assert set(stored) == {steps[0].liquid, steps[1].liquid}
        first, second = stored[steps[0].liquid], stored[steps[1].liquid]
        assert [one.dwell_s for one in first.rounds] == [30.0, 60.0]
        assert (first.sheet, first.adhesive, first.release) == ("Tide table", "natural-rubber-resin", 1)
        assert (second.site.words, second.harm) == ("lower left", {"bleed": 0, "gloss": 0})
        assert "Stored and on disk" in flat(pilot.app)
        assert "CAS" in flat(pilot.app)
        assert not [one.id for one in list_tests(studio) if one.id in flat(pilot.app)], "an id says nothing"


async def test_a_card_is_stored_once_on_a_slow_disk(
    new_app: NewApp, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While it is being stored the key is passed over, and nobody leaves before the answer."""
    begun = Event()

    def slow(*given: Any) -> Written:
        begun.set()
        sleep(0.15)
        return add_test(*given)

    monkeypatch.setattr(record, "add_test", slow)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await _ranked(pilot)
        await keys(pilot, "e")
        screen = pilot.app.screen
        assert isinstance(screen, SeriesScreen)
        screen.action_store()
        await write(pilot, "30s, relase 2")
        await keys(pilot, "ctrl+s")
        screen.query_one("#spot-0", Input).value = "30s, release 1, bleed 0"
        screen.action_store()
        await asyncio.to_thread(begun.wait, 5)
        screen.action_store()
        screen.action_leave()
        await settle(pilot)
        assert home(pilot.app)
        assert "Stored and on disk" in flat(pilot.app)
        assert len(list_tests(studio)) == 1


async def test_what_is_stored_of_a_card_is_not_stored_again(
    new_app: NewApp, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk refused the second spot: the next try stored the first one twice."""
    full = [True]

    def add(*given: Any) -> Written:
        if list_tests(studio) and full.pop():
            full.append(False)
            raise DeskError("There is no room on the disk.")
        return add_test(*given)

    monkeypatch.setattr(record, "add_test", add)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await _ranked(pilot)
        await keys(pilot, "e")
        for place in (0, 1):
            pilot.app.screen.query_one(f"#spot-{place}", Input).value = "30s, release 1, bleed 0"
        await keys(pilot, "ctrl+s", "ctrl+s")
        await settle(pilot)
        assert "Not stored: spot 2 and what follows. There is no room on the disk." in flat(pilot.app)
        assert [pilot.app.screen.query_one(f"#spot-{place}", Input).value for place in (0, 1)] == [
            "",
            "30s, release 1, bleed 0",
        ]
        await keys(pilot, "ctrl+s")
        await settle(pilot)
        assert home(pilot.app)
        assert len(list_tests(studio)) == 2


async def test_a_short_shelf_is_said_where_nothing_acts(new_app: NewApp, studio: Studio) -> None:
    """One vetoed liquid was listed as held, and the answer said of all liquids that none acts."""
    hold(studio, ["benzene"])
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await write(pilot, "masking tape on newsprint with copying pencil")
        await keys(pilot, "enter")
        ranked = home(pilot.app).ranked
        assert ranked is not None
        assert ranked.answer.stop is not None
        out = len(ranked.answer.left_out)
        said = " ".join(str(home(pilot.app).query_one("#said", Static).content).split())
        assert f"Left out: {out} (V). {ranked.answer.stop.text}" in said
        assert f"Left out: {out} (V)." in flat(pilot.app)
        assert not ranked.rows
        assert "What is listed" not in said
        home(pilot.app).action_left_out()
        await settle(pilot)
        assert f"Left out ({out})" in popped_up(pilot.app)
        assert "Acetone is not listed as held" in popped_up(pilot.app)


async def test_words_that_have_no_room_end_in_a_sign(new_app: NewApp, studio: Studio) -> None:
    """The stop ended in "or leaving" on a low screen, as if that were all; there is room on a high one."""
    hold(studio, ["benzene"])
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        await settle(pilot)
        app.dials = Dials(harm_aversion=32.0, ceiling=0.5)
        await write(pilot, "masking tape on newsprint with copying pencil")
        await keys(pilot, "enter")
        assert "Risk turned (D): a harm costs 32 spots, ceiling 50 %. Left out: " in flat(app)
        assert shown(app).splitlines()[8].endswith(" …")
        await pilot.resize_terminal(100, 40)
        await settle(pilot)
        assert "or leaving it. #" in flat(app)
        await pilot.resize_terminal(80, 24)
        await settle(pilot)
        assert shown(app).splitlines()[8].endswith(" …")


async def test_escape_keeps_what_is_written_on_a_card(new_app: NewApp, studio: Studio) -> None:
    """One key threw away the outcomes of all spots. They stand there again, by liquid, until stored."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        await _ranked(pilot)
        await keys(pilot, "e")
        assert "such as 30s" in flat(app)
        assert "Esc keeps a draft" in flat(app)
        await keys(pilot, "tab")
        await write(pilot, "30s, release 1, bleed 0")
        second = app.screen.steps[1].liquid
        await keys(pilot, "escape", "e")
        screen = app.screen
        assert isinstance(screen, SeriesScreen)
        assert screen.filled == {1: "30s, release 1, bleed 0"}
        await keys(pilot, "escape")
        # Another spot is stored on a form of its own, and the series goes on without that liquid.
        first = app.screen.ranked.answer
        app.screen.ranked = app.screen.ranked._replace(answer=replace(first, series=first.series[:1]))
        await keys(pilot, "e")
        assert app.screen.filled == {}
        said = str(app.screen.query_one("#series-said", Static).content)
        assert f"no longer has: {second}: 30s, release 1, bleed 0." in said
        await write(pilot, "30s, release 0, bleed 0")
        await keys(pilot, "ctrl+s", "ctrl+s")
        await settle(pilot)
        assert [one.liquid for one in list_tests(studio)] == [first.series[0].liquid]
        assert [one.values for one in app.drafts.values()] == [
            {"sheet": "", second: "30s, release 1, bleed 0"}
        ]
        app.screen.ranked = app.screen.ranked._replace(answer=first)
        ranked = app.screen.ranked
        await keys(pilot, "f4", "ctrl+b")
        assert isinstance(app.screen, SeriesScreen)
        assert app.screen.filled == {1: "30s, release 1, bleed 0"}
        await keys(pilot, "escape", "c", "ctrl+b")
        assert "Ask again, then E: the card of the series" in flat(app)
        await keys(pilot, "k")
        app.screen.ranked = ranked
        await keys(pilot, "ctrl+b", "f9", "delete")
        assert home(app)
        assert not app.drafts


async def test_a_card_is_found_again_once_its_question_has_a_sheet(new_app: NewApp, studio: Studio) -> None:
    """Any stored test put the sheet into the question, and another chance of a tape made another card."""
    found_sheet(studio, "Letter 1")
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        await _ranked(pilot)
        await keys(pilot, "e", "tab", *"30s", "escape")
        app.screen._tested_on("Letter 1")
        app.screen.rank()
        await settle(pilot)
        assert app.screen.ranked.answer.question.sheet == "Letter 1"
        await keys(pilot, "e")
        assert app.screen.filled == {1: "30s"}
        await keys(pilot, "escape", "f4", "ctrl+b")
        assert app.screen.filled == {1: "30s"}
        await keys(pilot, "f9", "delete")
        asked = home(app).ranked
        for weight in (0.4, 0.7):
            app.screen.ranked = _may_be(asked, weight)
            await keys(pilot, "e", *"1", "escape")
        assert len(app.drafts) == 1


async def test_a_card_goes_to_no_other_sheet_than_the_one_it_was_begun_for(new_app: NewApp) -> None:
    """Each sheet has its card of the same question; a question without a sheet finds what was left last."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        await _ranked(pilot)
        asked = app.screen.ranked
        for sheet, text in (("Letter 1", "30s"), ("Map 7", "60s")):
            app.screen.ranked = _may_be(asked, 0.4, sheet)
            await keys(pilot, "e")
            assert app.screen.filled == {}
            assert app.screen.query_one("#sheet", Input).value == sheet
            await keys(pilot, *text, "escape")
        for sheet, text in (("Letter 1", "30s"), ("letter 1", "30s"), ("Map 7", "60s"), ("", "60s")):
            app.screen.ranked = _may_be(asked, 0.4, sheet)
            await keys(pilot, "e")
            assert app.screen.filled == {0: text}
            await keys(pilot, "escape")
        # Without a sheet both fit: the one that is chosen is opened.
        app.screen.ranked = _may_be(asked, 0.4)
        await keys(pilot, "ctrl+b", "2")
        assert (app.screen.filled, app.screen.query_one("#sheet", Input).value) == ({0: "30s"}, "Letter 1")
        assert len(app.drafts) == 2
        # They read alike, and "Ask again" did not say of which sheet.
        await keys(pilot, "escape")
        app.screen.ranked = _may_be(asked, 0.4, "Map 7")
        await keys(pilot, "ctrl+b")
        listed = [answer for _, _, answer in app.screen.answers[1:]]
        assert [answer.rpartition('"')[2] for answer in listed] == [" on Letter 1", " on Map 7"]
        await keys(pilot, "1")
        says = next(kept.says for kept in app.drafts.values() if kept.says.endswith("Letter 1"))
        assert app.screen.text == f"Ask again, then E: {says}."


async def test_a_card_begun_before_its_question_had_a_sheet_is_stored_on_that_sheet(
    new_app: NewApp, studio: Studio
) -> None:
    """The line of the sheet stood empty, and the spots of the sheet asked for were stored without it."""
    for name in ("Letter 1", "Map 7"):
        found_sheet(studio, name)
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        await _ranked(pilot)
        # Without a sheet in the question one is typed on the card, and stands there again.
        await keys(pilot, "e", *"30s")
        app.screen.query_one("#sheet", Input).focus()
        await write(pilot, "Letter 1")
        await keys(pilot, "escape", "e")
        assert (app.screen.filled, app.screen.query_one("#sheet", Input).value) == ({0: "30s"}, "Letter 1")
        await keys(pilot, "f9", "delete", "e", "tab")
        await write(pilot, "30s, release 1, bleed 0")
        await keys(pilot, "escape")
        app.screen._tested_on("Map 7")
        app.screen.rank()
        await settle(pilot)
        await keys(pilot, "e")
        assert app.screen.query_one("#sheet", Input).value == "Map 7"
        assert app.screen.filled == {1: "30s, release 1, bleed 0"}
        await keys(pilot, "ctrl+s")
        await settle(pilot)
        assert [one.sheet for one in list_tests(studio)] == ["Map 7"]
        assert not app.drafts


async def test_a_card_of_another_question_can_be_thrown_away(new_app: NewApp) -> None:
    """F9 was on a card that could no longer be opened."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        await _ranked(pilot)
        await keys(pilot, "e", *"30s", "escape", "c", "ctrl+b", "escape")
        assert len(app.drafts) == 1
        await keys(pilot, "f4", "ctrl+b", "delete")
        assert not app.drafts
        assert home(app)


def _may_be(ranked: Any, weight: float, sheet: str = "") -> Any:
    """The same answer to a question whose tape may be rubber, on a sheet."""
    possible = Possible(adhesive="natural-rubber", stage="", carrier="", weight=weight)
    question = replace(ranked.answer.question, sheet=sheet, may_be=(possible,))
    return ranked._replace(answer=replace(ranked.answer, question=question))


async def test_the_card_is_written_as_a_file(new_app: NewApp, studio: Studio) -> None:
    """To be printed; its place is said."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await _ranked(pilot)
        await keys(pilot, "e", "ctrl+w")
        assert "The card is written:" in flat(pilot.app)
        (card,) = studio.root.rglob("series-*.txt")
        assert "release ___" in card.read_text(encoding="utf-8")


async def test_signs_are_kept_with_a_sheet(new_app: NewApp, studio: Studio) -> None:
    """W in identify names the sheet; its next question starts from what was seen."""
    from kb.desk.sheet.names import sheet_record
    from kb.tui.screens.identify.screen import IdentifyScreen

    async with new_app().run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "f5")
        screen = pilot.app.screen
        assert isinstance(screen, IdentifyScreen)
        await keys(pilot, "w")
        assert not isinstance(pilot.app.screen, PickerScreen), "nothing was looked at yet"
        screen.looked.put("gloss", "glossy", "")
        await keys(pilot, "w")
        await write(pilot, "Plan 1")
        await keys(pilot, "enter")
        await settle(pilot)
        assert sheet_record(studio, "Plan 1").signs == ("gloss=glossy",)


def test_places_are_said_in_words(record: Callable[..., str], studio: Studio) -> None:
    """A leader by its line, an alike behind its leader, a liquid tried here as such."""
    from kb.model.question import Question
    from kb.tui.screens.choose.ranking import rank

    asked = Question(
        adhesive="natural-rubber-resin",
        stage="oily",
        medium="letterpress-oil",
        paper="paper-woodpulp",
        sheet="Tide table",
    )
    ranked = rank(studio, asked, None)
    lead = ranked.rows[0]
    assert ranked.place_of(lead.liquid) == "1st"
    assert ranked.place_of(ranked.alike[lead.liquid][0].liquid) == f"1st, behind {lead.name}"
    assert ranked.place_of("benzene") == "vetoed"
    record(studio, sheet="Tide table", parts=dict(lead.parts), release=0, harm={"bleed": 0})
    assert rank(studio, asked, None).place_of(lead.liquid).startswith("not proposed (already tried")


async def test_a_test_of_a_row_that_is_not_proposed_says_so(new_app: NewApp) -> None:
    """In the head of the form, in front and with the reason, for as long as one works on it."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        await write(pilot, "aged acrylic on ballpoint on wood pulp")
        await keys(pilot, "enter")
        screen = home(pilot.app)
        screen.action_to_list()
        await settle(pilot)
        ranked, ranks = screen.ranked, screen.ranks
        assert ranked is not None
        assert ranks is not None
        at, one = next((n, row) for n, row in enumerate(ranked.rows) if not ranked.proposed(row))
        assert ranks.visible_rows[at].place == NOT_PROPOSED
        ranks.highlighted = at
        assert "Spot held" in ranking.reasons(ranked, one)
        await keys(pilot, "t")
        head = str(pilot.app.screen.query_one("#clock-about", Static).content)
        assert head.strip().startswith(f"NOT PROPOSED, {one.refused}.")
        await keys(pilot, "escape")
        screen._blend_chosen(Chosen(one.name, dict(one.parts)))
        await settle(pilot)
        head = str(pilot.app.screen.query_one("#clock-about", Static).content)
        assert head.strip().startswith(f"NOT PROPOSED, {one.refused}."), (
            "by way of the blends it was not said"
        )
    async with new_app().run_test(size=(120, 40)) as pilot:
        await _ranked(pilot)
        await keys(pilot, "t")
        assert "NOT PROPOSED" not in flat(pilot.app)


@pytest.mark.parametrize(
    ("key", "typed", "lands"), [("e", "30s, release 2", "spot-0"), ("t", "Map 7", "field-sheet")]
)
async def test_what_is_typed_behind_the_key_of_a_row_lands_where_one_begins_or_nowhere(
    new_app: NewApp, key: str, typed: str, lands: str
) -> None:
    """In one burst: what was seen of a spot stood in the line of the sheet."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await _ranked(pilot)
        post(pilot, f"{key}{typed}")
        for _ in range(3):
            await settle(pilot)
        begun = pilot.app.screen.query_one(f"#{lands}", Input)
        lines = [one.value for one in pilot.app.screen.query(Input) if one is not begun]
        assert begun.value in {"", typed}
        # The number of rounds and the like stand there from the start.
        assert not [one for one in lines if one and one in typed]


def test_what_was_stored_names_its_liquid_in_front_of_a_stop() -> None:
    """A line too low on the card is another liquid, and "Stored and on disk." hid which."""
    xylene = "Stored and on disk: Xylene, mixed isomers; release 4; bleed 2; not looked at: offset, gloss."
    water = "Stored and on disk: Water; release 0; bleed 0; not looked at: offset, gloss, surface, colour."
    stop = "No test is worth its risk."
    first = "Stored and on disk: Xylene, mixed isomers. No test is worth its risk. "
    assert over_list(xylene, stop, stop=True).startswith(first)
    both = over_list(f"{xylene} {water}", stop, stop=True)
    assert both.startswith(first.replace(" isomers.", " isomers and Water."))
    short = "Stored and on disk: the test of Water on Map 7. Ctrl+Z takes it back within a minute."
    assert over_list(short, stop, stop=True).startswith("Stored and on disk: the test of Water on Map 7. No")
