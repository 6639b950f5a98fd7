"""How the home screen looks: that it fits, shows stored text as it is, and explains itself; pictures."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.screens.choose.asked import Filled
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.note import HelpScreen, NoteScreen
from kb.tui.widgets.frame import INVENTED, KeyBar
from kb.tui.widgets.rank_list import RankList
from tests.screens.conftest import ask
from tests.screens.invented import SIZES, NewApp, asked, home
from tests.screens.screen_help import HOSTILE, STEERING, flat, keys, settle, shown

# -- what is shown ---------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_screen_fits(new_app: NewApp, invented: Callable[..., None], size: tuple[int, int]) -> None:
    """At least five rows, the reasons and every key are visible, and nothing hangs over the edge."""
    invented()
    async with new_app().run_test(size=size) as pilot:
        await asked(pilot)
        screen = pilot.app.screen
        assert screen.query_one(RankList).size.height >= 5
        assert screen.query_one("#why").size.height >= 5
        bar_at_foot = screen.query_one(KeyBar)
        assert bar_at_foot.region.bottom == size[1]
        assert bar_at_foot.fits
        for widget in screen.query("Blank, #said, #rank-head, RankList, #why, KeyBar, TitleBar"):
            assert screen.region.contains_region(widget.region), widget
        lines = shown(pilot.app).splitlines()
        # The name has the room; what the figure means in words stands with the row one stands on.
        assert sum("Invented" in text and " 62 " in text for text in lines) >= 5
        assert any("62 % (31 to 88)" in text for text in lines)
        assert any(" likely" in text for text in lines)
        assert "T Test" in lines[-1]
        assert "C Clear" in lines[-1]


async def test_invented_studio_says_so_on_every_screen(invented_studio: Studio) -> None:
    """The line stands at 80 columns on the question, the book, the materials and the form."""
    async with BenchleafApp(invented_studio).run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        for key in ("f3", "f4", "f2"):
            await keys(pilot, key)
            assert INVENTED in shown(pilot.app)
        await ask(pilot, "acrylic", method="")
        home(pilot.app).action_to_list()
        await keys(pilot, "t")
        assert INVENTED in shown(pilot.app)
        assert pilot.app.screen.query_one(KeyBar).region.bottom == 24


async def test_hostile_names_are_shown_as_they_are(new_app: NewApp, invented: Callable[..., None]) -> None:
    """Markup in a name stays text, in the list, its reasons and every pop-up; escapes become a mark."""
    invented({1: HOSTILE, 2: "steer" + STEERING})
    async with new_app().run_test(size=(120, 40)) as pilot:
        await asked(pilot)
        screen = home(pilot.app)
        screen.asked.put("paper", Filled("paper", HOSTILE, HOSTILE))
        screen.asked.put("stage", Filled("stage", "x", "[/b] [TODO]"))
        screen._question_changed()
        await settle(pilot)
        text = shown(pilot.app)
        assert "[b]bold[/b]" in text
        assert "[/b] [TODO]" in text
        assert "steer\N{REPLACEMENT CHARACTER}[2J" in text
        await keys(pilot, "r")
        assert isinstance(pilot.app.screen, NoteScreen)
        assert HOSTILE in shown(pilot.app)
        for taken in shown(pilot.app):
            assert taken == "\n" or unicodedata.category(taken) not in {"Cc", "Cs"}


async def test_pop_ups_show_safety_reasons_and_what_was_left_out(
    new_app: NewApp, invented: Callable[..., None]
) -> None:
    """S, R and V open a text, Esc closes it and the list has the focus again."""
    invented()
    async with new_app().run_test(size=(120, 40)) as pilot:
        await asked(pilot)
        for key, words in (
            ("s", "H225 Highly flammable"),
            ("r", "Same class here: 2 tests"),
            ("enter", "Why: Invented liquid 1"),
            ("v", "Invented vetoed: Melts the carrier."),
        ):
            await keys(pilot, key)
            assert isinstance(pilot.app.screen, NoteScreen)
            assert words in flat(pilot.app)
            await keys(pilot, "escape")
            assert isinstance(pilot.app.focused, RankList)


async def test_moving_in_the_list_moves_the_reasons(new_app: NewApp, invented: Callable[..., None]) -> None:
    """The pane is about the row one stands on."""
    invented()
    async with new_app().run_test(size=(120, 40)) as pilot:
        await asked(pilot)
        await keys(pilot, "down", "down")
        assert str(pilot.app.screen.query_one("#why").border_title) == "Invented liquid 3"


async def test_every_screen_explains_itself_by_f1(new_app: NewApp, invented: Callable[..., None]) -> None:
    """F1 opens the help of the screen one is on, also over a pop-up, and closes it again."""
    invented()
    async with new_app().run_test(size=(120, 40)) as pilot:
        await asked(pilot)
        for path, words in (
            ((), "Help: Question"),
            (("slash", "enter"), "Help: Choose"),
            (("escape", "down", "d"), "Help: Risk"),
            (("escape", "s"), "Help: Note"),
            (("escape", "t"), "Help: Spot test"),
            (("f3",), "Help: "),
            (("f4",), "Help: "),
        ):
            await keys(pilot, *path, "f1")
            assert isinstance(pilot.app.screen, HelpScreen), words
            assert words in shown(pilot.app)
            await keys(pilot, "f1")
            assert not isinstance(pilot.app.screen, HelpScreen)


async def test_palette_lists_every_action_of_the_screen(new_app: NewApp) -> None:
    """Each action of the home screen and of the app can be found by name, and the looks too."""
    async with new_app().run_test() as pilot:
        await settle(pilot)
        screen = pilot.app.screen
        titles = {command.title for command in pilot.app.get_system_commands(screen)}
        named = [one for one in (*HomeScreen.BINDINGS, *BenchleafApp.BINDINGS) if one.description]  # type: ignore[union-attr]
        wanted = {binding.description for binding in named}  # type: ignore[union-attr]
        assert len(wanted) > 20  # a second key for what is listed already has no name of its own
        assert wanted <= titles
        assert {"Look: paper", "Look: light", "Look: high-contrast"} <= titles


@pytest.mark.parametrize("theme", ["paper", "light", "lamp", "high-contrast"])
async def test_every_look_paints(new_app: NewApp, invented: Callable[..., None], theme: str) -> None:
    """Changing the look repaints the screen, and a row still has its mark as a word."""
    invented()
    async with new_app().run_test() as pilot:
        await asked(pilot)
        pilot.app.theme = theme
        await settle(pilot)
        assert "free!" in shown(pilot.app)


async def test_no_color_is_honoured(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """With NO_COLOR set what is drawn has no hue, and the focus is still marked by signs."""
    monkeypatch.setenv("NO_COLOR", "1")
    async with BenchleafApp(studio).run_test() as pilot:
        await settle(pilot)
        assert pilot.app.no_color
        assert "»tape or adhesive" in shown(pilot.app)


# -- pictures --------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_picture_of_the_empty_home(new_app: NewApp, snap_compare: Any, size: tuple[int, int]) -> None:
    """What a first-time user sees."""
    assert snap_compare(new_app(), terminal_size=size, run_before=settle)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_picture_of_a_ranking(
    new_app: NewApp, invented: Callable[..., None], snap_compare: Any, size: tuple[int, int]
) -> None:
    """List and reasons, one under or beside the other."""
    invented({3: HOSTILE})
    assert snap_compare(new_app(), terminal_size=size, run_before=asked)


def test_picture_of_help(new_app: NewApp, invented: Callable[..., None], snap_compare: Any) -> None:
    """F1 over a ranking."""
    invented()

    async def helped(pilot: Pilot[Any]) -> None:
        await asked(pilot)
        await keys(pilot, "f1")

    assert snap_compare(new_app(), terminal_size=(80, 24), run_before=helped)


def test_stylesheets_are_shipped() -> None:
    """Both sheets lie beside the app, where the installed package has them too."""
    from kb.tui import app

    assert Path(BenchleafApp.CSS_PATH).is_file()  # type: ignore[arg-type]
    assert app.LATER_CSS.is_file()


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_a_notice_covers_nothing(
    new_app: NewApp, invented: Callable[..., None], size: tuple[int, int]
) -> None:
    """It has lines of its own over the keys: question, answer, reasons and keys can be read meanwhile."""
    invented()
    async with new_app().run_test(size=size, notifications=True) as pilot:
        await asked(pilot)
        app: Any = pilot.app
        app.say(f"Test {'0' * 26} is on disk. Ctrl+Z takes it back within a minute.", title="Stored")
        await settle(pilot)
        notice = app.screen.query_one("Toast")
        assert notice.region.area
        for widget in app.screen.query("TitleBar, #ask, #said, #rank-head, RankList, #why, KeyBar"):
            assert widget.region.area
            assert not notice.region.overlaps(widget.region), widget


async def test_one_notice_stands_for_several_and_takes_three_lines_at_most(
    new_app: NewApp, invented: Callable[..., None]
) -> None:
    """Three keys in turn left three notices over half of a low screen; what warns stays until it is read."""
    invented()
    async with new_app().run_test(size=(80, 24), notifications=True) as pilot:
        await asked(pilot)
        app: Any = pilot.app
        app.say("Its clock ran: look at that dwell.", warn=True)
        for text in ("The first of three.", "The second of three.", "The third of three. " * 6):
            app.say(text)
            await settle(pilot)
        assert [one.severity for one in app._notifications] == ["warning", "information"]
        rows = sorted(
            row for one in app.screen.query("Toast") for row in range(one.region.y, one.region.bottom)
        )
        assert rows[0] == 20
        assert rows[-1] == 22, "the keys are at the foot"
        assert "The third of three." in flat(app)
        assert "The second" not in flat(app)


async def test_of_several_notices_the_last_is_in_view(new_app: NewApp, invented: Callable[..., None]) -> None:
    """Two of two lines each: of the last, which said what speaks against a mend, its first line was shown."""
    invented()
    async with new_app().run_test(size=(80, 24), notifications=True) as pilot:
        await asked(pilot)
        app: Any = pilot.app
        for text in (
            "The form that was kept from before. " * 4,
            "The batch of this mend is marked. " * 3 + "Bad.",
        ):
            app.say(text, warn=True)
        await settle(pilot)
        await settle(pilot)
        assert "Bad." in flat(app)
        app.say("Nothing is open.")
        await settle(pilot)
        await settle(pilot)
        assert "Nothing is open." in flat(app)
        app.clear_notifications()
        app.say("Of three lines. " * 12 + "All.", warn=True)
        app.say(f"Begins {'w' * 69} {'w' * 69} ends.")
        await settle(pilot)
        app._unnotify(next(one for one in app._notifications if one.severity == "warning"))
        await settle(pilot)
        await settle(pilot)
        assert "Begins www" in flat(app), "now that there is room"
        assert "www ends." in flat(app)
