"""The blends screen, by keyboard alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec
import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from kb.desk.liquids.blends import find_blends
from kb.desk.liquids.drying import drying_path
from kb.desk.materials.safety import DEFER
from kb.desk.studio import Studio
from kb.model.question import Question
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.liquids import blends
from kb.tui.screens.liquids.blends import BlendsScreen
from kb.tui.screens.liquids.solubility_map import MapScreen
from kb.tui.screens.note import AskScreen, HelpScreen, NoteScreen
from kb.tui.screens.records.spot_test import SpotTestScreen
from tests.screens.conftest import popped_up
from tests.screens.invented import SIZES, NewApp
from tests.screens.liquids_help import asked_for_rubber, blend, invented_blends
from tests.screens.screen_help import HOSTILE, STEERING, flat, keys, keys_fit, settle, shown

RUBBER = Question(adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil")


@pytest.fixture
def invented_found(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Every look finds invented blends."""

    def use(*found: Any) -> None:
        monkeypatch.setattr(blends, "look", lambda *_: invented_blends(*found))

    return use


def told(parts: list[tuple[str, list[str]]]) -> str:
    """Headings and lines of a pane, also those that are folded."""
    return "\n".join(line for heading, lines in parts for line in (heading, *lines))


async def opened(pilot: Pilot[Any]) -> BlendsScreen:
    """Ask, press B, and go down past the liquids that do without mixing to the first blend."""
    await asked_for_rubber(pilot)
    await keys(pilot, "b")
    screen = pilot.app.screen
    assert isinstance(screen, BlendsScreen)
    if screen.found is not None:
        await keys(pilot, *["down"] * min(blends.ALONE, len(screen.found.alone)))
    return screen


async def test_carrier_too_and_instead_ask_the_desk_anew(new_app: NewApp, studio: Studio) -> None:
    """C and I change what is looked for, say so, and change it back."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot)
        assert screen.found is not None
        before = [one.name for one in screen.found.blends]
        pure = screen.pure
        assert pure is not None
        await keys(pilot, "i")
        assert f"Instead of {screen.row.name if screen.row else ''} (I)." in flat(pilot.app)
        wanted = find_blends(studio, RUBBER, blends.LIMIT, instead_of=pure)
        found = [one.name for one in screen.found.blends] if screen.found else []
        assert found == [one.name for one in wanted.blends]
        await keys(pilot, "i", "c")
        assert "The carrier is to go too (C)." in flat(pilot.app)
        await keys(pilot, "c")
        assert screen.found is not None
        assert [one.name for one in screen.found.blends] == before


async def test_b_lists_what_the_desk_finds(new_app: NewApp, studio: Studio) -> None:
    """The rows are the desk's blends in its order, with what the first one gains and its clearance."""
    wanted = find_blends(studio, RUBBER, blends.LIMIT)
    async with new_app().run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot)
        assert screen.found is not None
        assert [one.name for one in screen.found.blends] == [one.name for one in wanted.blends]
        first = wanted.blends[0]
        text = flat(pilot.app)
        assert f"{len(wanted.blends)} blends for Natural rubber with resin, best first." in text
        assert f"{first.margin:+.2f}" in text
        assert screen.query_one("#blend-gist").border_title
        words = told(blends.gist(first, wanted))
        assert first.gain is not None
        assert first.gain.text[1:] in words
        assert f"Drying\n- {first.drying[0]}" in words
        assert all(name in words for name in (*first.red_into, *first.red_out_of))


async def test_enter_reads_parts_drying_and_safety(new_app: NewApp, studio: Studio) -> None:
    """Every part with its share, what is left at 50, 80 and 95 % loss, and the safety note of all parts."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        here = screen.here
        assert here is not None
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, NoteScreen)
        text = popped_up(pilot.app)
        path = drying_path(studio, blends.shares(here))
        for part, percent in here.parts_pct.items():
            assert f"{percent} % {path.names[part]}" in text
        for step in path.steps[1:]:
            rest = ", ".join(f"{path.names[one]} {share:.0f} %" for one, share in step.shares_pct.items())
            assert f"{step.lost_pct:.0f} % gone {rest}" in text
        assert {round(step.lost_pct) for step in path.steps} >= {50, 80, 95}
        assert text.startswith(DEFER)
        assert "Signal word:" in text
        assert path.model in text
        await keys(pilot, "escape")
        assert pilot.app.screen is screen


async def test_t_starts_a_spot_test_with_the_blend(new_app: NewApp) -> None:
    """The form holds the name and the shares of the blend under the cursor; leaving goes back home."""
    app = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "down")
        here = screen.here
        assert here is not None
        assert here.rank == 2
        await keys(pilot, "t")
        form = pilot.app.screen
        assert isinstance(form, SpotTestScreen)
        assert form.query_one("#field-liquid_text", Input).value == here.name
        assert app.draft is not None
        assert app.draft.parts == blends.shares(here)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, HomeScreen)


async def test_an_unfinished_test_is_asked_about(new_app: NewApp) -> None:
    """T on a blend never throws away what was typed before."""
    app = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await asked_for_rubber(pilot)
        await keys(pilot, "t", "x", "escape", "k")
        assert app.draft is not None
        kept = app.draft
        assert kept.dirty
        await keys(pilot, "b", "t")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "g")
        assert app.draft is kept
        await keys(pilot, "escape", "k", "b")
        home = pilot.app.screen
        assert isinstance(home, BlendsScreen)
        while home.here is None:
            await keys(pilot, "down")
        await keys(pilot, "t", "n")
        assert isinstance(pilot.app.screen, SpotTestScreen)
        assert app.draft is not kept
        assert " % + " in app.draft.liquid_text
        await keys(pilot, "escape", "t")
        assert app.draft is not None
        assert " % + " not in app.draft.liquid_text, "T at home takes the row there again"


async def test_a_plain_liquid_stands_first_and_can_be_tested(
    new_app: NewApp, invented_found: Callable[..., None]
) -> None:
    """What does without mixing is the first row; T starts a spot test with it."""
    invented_found()
    async with new_app().run_test(size=(120, 40)) as pilot:
        await asked_for_rubber(pilot)
        await keys(pilot, "b")
        assert "A plain liquid does as well: look there first." in flat(pilot.app)
        assert "Invented alone does without mixing." in flat(pilot.app)
        await keys(pilot, "t")
        form = pilot.app.screen
        assert isinstance(form, SpotTestScreen)
        assert form.query_one("#field-liquid_text", Input).value == "Invented alone"


async def test_v_tells_what_was_not_combined(new_app: NewApp, invented_found: Callable[..., None]) -> None:
    """Pairs that part, liquids left out with the reason, and liquids that do without mixing."""
    invented_found()
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await keys(pilot, "v")
        text = popped_up(pilot.app)
        assert "Invented oil and Water: they part company" in text
        assert "Invented empty: not held" in text
        assert "Invented alone, clearance +0.50 RED" in text


async def test_m_shows_the_blend_on_the_map(new_app: NewApp) -> None:
    """The map is about the blend under the cursor, and Esc comes back to the list."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "m")
        map_screen = pilot.app.screen
        assert isinstance(map_screen, MapScreen)
        assert map_screen.seen is not None
        assert screen.here is not None
        assert map_screen.seen.chosen == screen.here.name
        await keys(pilot, "escape")
        assert pilot.app.screen is screen


async def test_without_an_adhesive_it_says_what_to_do(new_app: NewApp) -> None:
    """No option of the command line is named; Esc goes back to the question."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        pilot.app.screen.set_focus(None)
        await keys(pilot, "b")
        assert "Name the tape or adhesive in the question first" in flat(pilot.app)
        assert "--adhesive" not in flat(pilot.app)
        await keys(pilot, "enter", "t", "v")
        assert isinstance(pilot.app.screen, BlendsScreen)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, HomeScreen)


async def test_a_blend_that_gains_nothing_says_so(
    new_app: NewApp, invented_found: Callable[..., None]
) -> None:
    """Where one part alone does as well, the row's words and the heading tell it."""
    invented_found(blend(1, "Invented 95 % + other 5 %", alone_does="Invented"))
    async with new_app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        text = flat(pilot.app)
        assert "Invented alone clears as well and is no worse: mixing gains nothing." in text
        assert "one part alone does as well" in text


async def test_what_lies_inside_a_medium_is_told_in_words(
    new_app: NewApp, invented_found: Callable[..., None]
) -> None:
    """Nothing is told by colour alone."""
    one = blend(1, "Invented", red_out_of={"Invented ink": 0.7}, margin=-0.3)
    words = told(blends.gist(one, invented_blends(one)))
    assert "Out of Invented ink: RED 0.70, INSIDE (nearest)" in words
    (row,) = (one for one in blends.rows(invented_blends(one), {}) if one.key == "1")
    assert "-0.30" in str(row.cells[3])


@pytest.mark.parametrize("width", [48, 42, 36])
def test_a_row_shows_every_part_and_its_share(width: int) -> None:
    """Where a name is too long each part is cut alike: none is lost, and no share is."""
    name = "2,2,4-Trimethylpentane 60 % + Decamethylcyclopentasiloxane 35 % + n-Heptane 5 %"
    made = blends.parts_cut(name, width)
    assert len(made) <= width
    assert [f"{share} %" in made for share in (60, 35, 5)] == [True] * 3
    assert "2,2" in made
    assert "Dec" in made
    assert "n-H" in made
    assert blends.parts_cut("A 50 % + B 50 %", 40) == "A 50 % + B 50 %"


async def test_hostile_names_stay_text(new_app: NewApp, invented_found: Callable[..., None]) -> None:
    """Markup and terminal codes in names are shown, not obeyed."""
    invented_found(blend(1, HOSTILE), blend(2, "steer" + STEERING))
    async with new_app().run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        assert "[b]bold[/b]" in shown(pilot.app)
        assert "steer\N{REPLACEMENT CHARACTER}[2J" in shown(pilot.app)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_it_fits_and_defers(
    new_app: NewApp, invented_found: Callable[..., None], size: tuple[int, int]
) -> None:
    """Keys, at least five rows and the whole deferring text are visible; F1 explains."""
    invented_found()
    async with new_app().run_test(size=size) as pilot:
        screen = await opened(pilot)
        assert DEFER in flat(pilot.app)
        assert keys_fit(pilot.app)
        assert screen.rows.size.height >= 5
        await keys(pilot, "f1")
        assert isinstance(pilot.app.screen, HelpScreen)
        assert "Help: Blends" in shown(pilot.app)
        await keys(pilot, "escape")
        why = (*["Many limits used here are unverified."] * 7, "Test the blend on the sheet.")
        screen._show(msgspec.structs.replace(invented_blends(), blends=(), notes=why))
        await settle(pilot)
        assert why[-1] in flat(pilot.app), "three lines of why there is none ended within a sentence"


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_picture_of_blends(
    new_app: NewApp, invented_found: Callable[..., None], snap_compare: Any, size: tuple[int, int]
) -> None:
    """List and gist, one under or beside the other."""
    invented_found()
    assert snap_compare(new_app(), terminal_size=size, run_before=opened)
