"""How the Identify screen looks: that it fits, shows stored text as it is, and explains itself; pictures."""

from __future__ import annotations

import unicodedata
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from kb.desk.studio import Studio
from kb.science.numbers import chance
from kb.tui.app import BenchleafApp
from kb.tui.screens.choose.asked import Asked, Filled, possible_words
from kb.tui.screens.identify import looking
from kb.tui.screens.identify.identified import (
    bar,
    look_next,
    places,
    reasons,
    row,
    tells,
)
from kb.tui.screens.identify.looking import GROUPS, Looked, dated, group_of, in_short, rows, weigh
from kb.tui.screens.note import HelpScreen, NoteScreen
from kb.tui.widgets.frame import INVENTED, KeyBar
from tests.screens.conftest import HandClock
from tests.screens.identified_help import (
    answer,
    five_looks,
    here,
    invented_looks,
    invented_weighed,
    opened,
    weigh_as_invented,
)
from tests.screens.invented import SIZES, NewApp
from tests.screens.screen_help import HOSTILE, STEERING, flat, keys, settle, shown

# -- what is shown ---------------------------------------------------------------------------------


async def test_hostile_names_are_shown_as_they_are(new_app: NewApp, monkeypatch: pytest.MonkeyPatch) -> None:
    """Markup in the names of looks and tapes stays text wherever it is shown; escapes become a mark."""
    weigh_as_invented(monkeypatch, {0: HOSTILE, 1: HOSTILE, 2: "steer" + STEERING}, verdict=HOSTILE)
    async with new_app().run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        text = shown(pilot.app)
        assert text.count("[b]bold[/b] [/]") >= 3
        assert "steer\N{REPLACEMENT CHARACTER}[2J" in text
        await keys(pilot, "enter")
        assert HOSTILE in shown(pilot.app)
        await keys(pilot, "escape", "tab", "enter")
        assert isinstance(pilot.app.screen, NoteScreen)
        assert HOSTILE in shown(pilot.app)
        for taken in shown(pilot.app):
            assert taken == "\n" or unicodedata.category(taken) not in {"Cc", "Cs"}


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_screen_fits(invented_studio: Studio, size: tuple[int, int]) -> None:
    """Looks, tapes, reasons, every key and the title are visible, and nothing hangs over the edge."""
    async with BenchleafApp(invented_studio).run_test(size=size) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        assert screen.looks.size.height >= 6
        assert screen.tapes.size.height >= 4
        assert screen.query_one("#tape-why").size.height >= 5
        assert screen.query_one(KeyBar).fits
        assert screen.query_one(KeyBar).region.bottom == size[1]
        for widget in screen.query("#told, #looks, #look-next, #tapes, #tape-why, KeyBar, TitleBar"):
            assert screen.region.contains_region(widget.region), widget
        lines = shown(pilot.app).splitlines()
        assert "[F5 Ident" in lines[0]
        assert "…" not in lines[0]
        assert INVENTED in lines[1]
        assert "C Clear" in lines[-1]
        await five_looks(pilot)
        assert screen.query_one(KeyBar).fits
        assert "likely" in shown(pilot.app)


@pytest.mark.parametrize("running", [False, True], ids=["still", "clock"])
async def test_title_fits_80_columns_on_every_screen(
    new_app: NewApp, hand_clock: HandClock, running: bool
) -> None:
    """Nothing is cut, and where one is stands in brackets, also beside a clock of an hour and more."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert isinstance(pilot.app, BenchleafApp)
        if running:
            pilot.app.clock.start()
            hand_clock.on(5000)
        for key in ("f2", "f3", "f4", "f5"):
            await keys(pilot, key)
            pilot.app.tick()
            await settle(pilot)
            first = shown(pilot.app).splitlines()[0]
            assert "…" not in first
            assert all(label in first for label in ("F2 Ask", "F3 Book", "F4 Mat", "F5 Ident", "F1 Help"))
            assert f"[{key.upper()} " in first


async def test_help_and_palette_name_every_key(new_app: NewApp) -> None:
    """F1 explains the screen and its pop-ups; the palette finds each action."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        for path, words in (((), "Help: Identify"), (("enter",), "Help: Finding")):
            await keys(pilot, *path, "f1")
            assert isinstance(pilot.app.screen, HelpScreen)
            assert words in shown(pilot.app)
            await keys(pilot, "f1")
        await keys(pilot, "escape")
        titles = {command.title for command in pilot.app.get_system_commands(pilot.app.screen)}
        assert {"Next", "Use tape", "Use all", "Clear", "Undo", "Sources", "Group", "Identify"} <= titles


async def test_reasons_and_their_sources_open_in_full(new_app: NewApp) -> None:
    """Enter on a tape gives all reasons with their marks; O names the sources behind them."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        await five_looks(pilot)
        await keys(pilot, "tab", "enter")
        assert isinstance(pilot.app.screen, NoteScreen)
        text = pilot.app.screen.text
        for words in ("+ What is the strip made of", "Look next:", "no analysis"):
            assert words in text
        await keys(pilot, "escape", "o")
        assert isinstance(pilot.app.screen, NoteScreen)
        assert "Sources: " in pilot.app.screen.text
        assert "Rests on: " in pilot.app.screen.text


async def test_moving_in_the_tapes_moves_the_reasons(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pane is about the tape one stands on, and stays with it when another finding comes."""
    weigh_as_invented(monkeypatch)
    async with new_app().run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        await keys(pilot, "tab", "down")
        why = pilot.app.screen.query_one("#tape-why")
        assert str(why.border_title) == "Invented shiny tape"
        here(pilot.app).weigh()
        await settle(pilot)
        assert str(why.border_title) == "Invented shiny tape"


async def test_not_listed_is_no_tape_to_use(new_app: NewApp) -> None:
    """The line for what is not listed says what it is, and U on it fills nothing in."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        await keys(pilot, "tab", "end")
        assert screen.here is not None
        assert screen.here.tape is None
        assert "none of the listed tapes" in flat(pilot.app)
        await keys(pilot, "u")
        assert pilot.app.screen is screen
        assert any("That is no tape" in note.message for note in pilot.app._notifications)


async def test_groups_are_gone_through_by_g(new_app: NewApp) -> None:
    """Each press stands on the first look of the next group, and the last leads back to the first."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        screen = here(pilot.app)
        seen = []
        for _ in range(len(GROUPS)):
            assert screen.looks.here is not None
            seen.append(group_of(screen.looks.here))
            await keys(pilot, "g")
        assert seen == list(range(len(GROUPS)))
        assert screen.looks.here is not None
        assert screen.looks.here.look == "made-of"


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_picture_of_the_screen(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch, snap_compare: Any, size: tuple[int, int]
) -> None:
    """Looks, tapes and reasons, one under or beside the other."""
    weigh_as_invented(monkeypatch, {3: HOSTILE})

    async def before(pilot: Pilot[Any]) -> None:
        await opened(pilot)
        await answer(pilot, "gloss", "1")
        await answer(pilot, "uv", "question_mark")

    assert snap_compare(new_app(), terminal_size=size, run_before=before)


def test_picture_of_a_look(new_app: NewApp, monkeypatch: pytest.MonkeyPatch, snap_compare: Any) -> None:
    """How to look, and what may be found."""
    weigh_as_invented(monkeypatch)

    async def before(pilot: Pilot[Any]) -> None:
        await opened(pilot)
        await answer(pilot, "water-strip")

    assert snap_compare(new_app(), terminal_size=(80, 24), run_before=before)


def test_picture_of_the_year(new_app: NewApp, monkeypatch: pytest.MonkeyPatch, snap_compare: Any) -> None:
    """A line to type in, and the spans."""
    weigh_as_invented(monkeypatch)

    async def before(pilot: Pilot[Any]) -> None:
        await opened(pilot)
        await answer(pilot, "own-year")
        pilot.app.screen.query_one(Input).cursor_blink = False

    assert snap_compare(new_app(), terminal_size=(80, 24), run_before=before)


# -- words -----------------------------------------------------------------------------------------


def test_findings_that_the_catalogue_no_longer_has_are_left_out(studio: Studio) -> None:
    """A look or finding that was taken out of the catalogue stops nothing."""
    found = {"made-of": "paper", "gone": "x", "gloss": "gone"}
    assert [one.look for one in weigh(studio, found).answer.findings] == ["made-of"]
    assert looking.possible(studio, found) == looking.possible(studio, {"made-of": "paper"})


def test_every_shipped_look_has_its_place_and_short_words(studio: Studio) -> None:
    """No look of the catalogue goes by what it takes, no place is left over, and the year is known as one."""
    listed = weigh(studio, {}).looks
    assert {one.look for one in listed} == set(looking.PLACES)
    assert [one.look for one in listed if dated(one)] == ["year"]
    assert all(len(in_short(one)) <= looking.WORDS for one in listed)
    texts = [one.text for one in rows(listed, Looked(), "", 78)]
    assert len(texts) == len(listed) + len(GROUPS)
    assert not any("…" in text for text in texts)


def test_a_look_of_a_studio_goes_by_what_it_takes() -> None:
    """A look that is not named: its cost says the group, spans of years are a date; it shows its question."""
    by_name = {one.look: one for one in invented_looks()}
    groups = {name: GROUPS[group_of(one)] for name, one in by_name.items()}
    assert groups["own-finger"].startswith("Finger")
    assert groups["own-laboratory"] == "Laboratory"
    assert groups["own-year"] == "Date"
    assert in_short(by_name["own-finger"]) == "Invented pull"


def test_chances_in_words_never_claim_certainty() -> None:
    """Figures stop short of all and nothing, and the dots keep their width."""
    chances = (0.0, 0.005, 0.006, 0.5, 0.994, 0.995, 1.0)
    assert [chance(p) for p in chances] == ["<1 %", "<1 %", "1 %", "50 %", "99 %", ">99 %", ">99 %"]
    assert (bar(0.0), bar(0.5), bar(1.0)) == ("··········", "●●●●●·····", "●●●●●●●●●●")


def test_what_a_look_tells_is_said_beside_the_best_one() -> None:
    """Most, more for more, nearly as much, something, little; each with its bits and what it takes."""
    said = invented_weighed().answer
    assert [tells(one, said) for one in said.next_looks][:2] == [
        "tells most",
        "tells nearly as much (needs a loose end)",
    ]
    assert [tells(one, said, bits=True) for one in said.next_looks] == [
        "tells most (0.60 bits)",
        "tells nearly as much (0.40 bits; needs a loose end)",
        "tells something (0.30 bits; removes a crumb)",
        "tells something (0.20 bits; needs a lamp or filter)",
        "tells more but takes more (1.40 bits; needs a laboratory)",
        "tells little (0.10 bits)",
    ]
    assert look_next(invented_weighed(next_looks=()).answer) == "No look left tells anything more."


def test_reasons_say_sign_mark_stage_pairs_and_disclaimer() -> None:
    """+, - and = stand before the reasons; the mark, the pair, the next look and the disclaimer are there."""
    said = invented_weighed().answer
    text = reasons(said, places(said)[0])
    for words in (
        "Stage, if it is this: Invented fresh ●●●●· 70 %; Invented old ●●··· 30 %.",
        "+ Shine speaks for it.  ~ from memory",
        "- Weave speaks against it.",
        "= Lamp says nothing.",
        "Look next: Invented weave - tells most",
        "Cannot be told apart\n- No look left tells these two apart.",
        "Invented disclaimer: no analysis.",
    ):
        assert words in text


def test_not_listed_stands_by_its_chance_and_last_before_any_sign() -> None:
    """The line for what is not listed is ranked like a tape, except while nothing was looked at."""
    last = places(invented_weighed().answer)
    assert [one.tape is None for one in last] == [False, False, False, True]
    first = places(invented_weighed(unknown=0.9).answer)
    assert first[0].tape is None
    assert row(first[0], 60).startswith(" - something that is not listed")
    assert row(first[0], 60).endswith(" 90 % ●●●●●●●●●·")
    unlooked = places(invented_weighed(unknown=0.9, findings=()).answer)
    assert unlooked[-1].tape is None


def test_blank_says_how_many_possibilities(studio: Studio) -> None:
    """One or several; the desk gets them only while the blank says so, and a copy keeps them."""
    possible = looking.possible(studio, {"made-of": "paper"})
    assert possible_words(possible[:1]) == "not sure: 1 possibility (signs)"
    asked = Asked()
    asked.put_signs(possible, ("made-of=paper",))
    assert not asked.empty
    assert asked.copy().question(studio).may_be == possible
    assert asked.copy().question(studio).signs == ("made-of=paper",)
    assert asked.in_words() == f"Lift not sure: {len(possible)} possibilities from ? on ?"
    asked.put("tape", Filled("adhesive", "acrylic", "Acrylic"))
    assert asked.question(studio).may_be == asked.question(studio).signs == ()


def test_what_came_with_a_tape_goes_with_it_unless_it_was_changed() -> None:
    """A carrier filled by the tape leaves with it; one that the user chose stays."""
    carrier = Filled("carrier", "c", "C")
    asked = Asked()
    asked.put("tape", Filled("tape", "a", "A"), {"carrier": carrier})
    asked.put("tape", None)
    assert asked.filled == {}
    asked.put("tape", Filled("tape", "a", "A"), {"carrier": carrier})
    asked.put("carrier", Filled("carrier", "own", "Own"))
    asked.put("tape", None)
    assert asked.filled["carrier"].id == "own"
