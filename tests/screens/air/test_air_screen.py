"""The air screen, by keyboard alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from textual.containers import VerticalScroll
from textual.pilot import Pilot
from textual.widgets import Input

from kb.desk.air.air import DEFER, air
from kb.desk.air.inputs import hours_of, room_of, use_of
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.screens.air import screen as air_screen
from kb.tui.screens.air import words as air_words
from kb.tui.screens.air.screen import LINES, AirForm, AirScreen
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.liquids.blends import BlendsScreen
from kb.tui.screens.note import HelpScreen
from kb.tui.screens.records.draft import Chosen
from kb.tui.widgets.choice_row import ChoiceRow
from tests.screens.invented import SIZES, NewApp
from tests.screens.liquids_help import asked_for_rubber, invented_air
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, settle, shown, write

OWN = """\
sources:
- {id: zz-note, cite: "Zzyxq note 1901", basis: memory, seen: false, extent: one page}
liquids:
- id: zzyxq-spirit
  name: Zzyxq spirit
  family: alcohol
  molar_mass_g_mol: {value: 60.1, from: [zz-note]}
  density_g_ml: {value: 0.79, at_c: 20, from: [zz-note]}
"""
DAY = (
    ("liquid", "acetone"),
    ("amount", "0.5 ml"),
    ("per_hour", "20"),
    ("room", "60 m3"),
    ("air_changes", "0.5 to 2 /h"),
    ("hours", "2 h"),
)


async def opened(pilot: Pilot[Any]) -> AirScreen:
    """Go to the air."""
    await settle(pilot)
    await keys(pilot, "f8")
    screen = pilot.app.screen
    assert isinstance(screen, AirScreen)
    return screen


async def put(pilot: Pilot[Any], name: str, text: str) -> None:
    """Type into a line in place of what stands there; Tab goes to it as a person would."""
    line = pilot.app.screen.query_one(f"#field-{name}", Input)
    for _ in range(20):
        if pilot.app.focused is line:
            break
        await pilot.press("tab")
    assert pilot.app.focused is line
    await pilot.press("end", "ctrl+u")
    await write(pilot, text)


async def filled(pilot: Pilot[Any]) -> AirScreen:
    """A form with all that is needed."""
    screen = await opened(pilot)
    for name, text in DAY:
        await put(pilot, name, text)
    return screen


def said(screen: AirScreen) -> str:
    """How it stands, above the figures."""
    return " ".join(str(screen.query_one("#air-said").render()).split())


def words(screen: AirScreen) -> str:
    """All figures, also those that are folded and scrolled away."""
    return "\n".join(line for _, lines in screen.page.parts for line in lines)


async def test_a_form_gives_what_the_desk_gives(new_app: NewApp, studio: Studio) -> None:
    """The answer is the desk's, with index, averages, limit, fire, ventilation and plot."""
    parts = {"acetone": 1.0}
    use = use_of(studio, parts, amount="0.5 ml", how="swab", per_hour="20")
    room = room_of(room="60 m3", air_changes="0.5 to 2 /h", mixing="1 to 3", near="0.8 m")
    wanted = air(studio, parts, use, room, hours_of("2 h"))
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await filled(pilot)
        assert screen.answer == wanted
        assert said(screen) == " ".join(air_words.verdict(wanted).split())
        text = words(screen)
        for line in (
            *wanted.fire,
            *wanted.ventilation,
            *(line for one in wanted.under for line in one.lines),
            *(line for part in wanted.parts for line in part.lines),
        ):
            assert line.text in text
            assert line.model in text
            assert line.source in text
        for share in (share for one in wanted.under for share in one.shares):
            assert share.text in text
            assert share.verified or "unverified" in share.text + share.limit or "no limit" in share.text
        first = screen.page.text
        assert "at your face" in first
        assert "over 8 h" in first
        assert "8 h average" in text
        assert "worst 15 min" in text
        assert DEFER in flat(pilot.app)


async def test_the_row_of_the_question_is_filled_in(new_app: NewApp) -> None:
    """F8 takes the row one stands on, follows another row, and leaves alone what was typed by hand."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await asked_for_rubber(pilot)
        home = pilot.app.screen
        assert isinstance(home, HomeScreen)
        assert home.chosen is not None
        first = home.chosen
        screen = await opened(pilot)
        line = screen.query_one("#field-liquid", Input)
        assert (line.value, screen.form.taken) == (first.name, first)
        assert f"{first.name} is that of your question (F2)" in said(screen)
        words = "Judge the vapour by its like and type the amount in g. " * 8
        screen._say(f"{words}Still to type: the room.")
        await settle(pilot)
        assert "Still to type: the room." in flat(pilot.app), "six lines ended within a sentence"
        pilot.app.set_class(True, "-gloves")
        await settle(pilot)
        assert " …" in flat(pilot.app), "and lines in gloves as if that were all"
        pilot.app.set_class(False, "-gloves")
        await keys(pilot, "f2", "down", "f8")
        assert home.chosen != first
        assert line.value == home.chosen.name
        await put(pilot, "liquid", "acetone")
        assert "your question" not in said(screen)
        await keys(pilot, "f2", "f8")
        assert line.value == "acetone"
        await keys(pilot, "ctrl+r")
        assert line.value == home.chosen.name


async def test_a_blend_comes_from_the_list_of_blends(new_app: NewApp) -> None:
    """While the list of blends is open, its row is the one that is filled in, with its shares."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await asked_for_rubber(pilot)
        await keys(pilot, "b")
        blends = pilot.app.screen
        assert isinstance(blends, BlendsScreen)
        while blends.here is None:
            await keys(pilot, "down")
        chosen = blends.chosen
        screen = await opened(pilot)
        assert screen.form.taken == chosen
        assert " % + " in screen.form.liquid


async def test_without_a_row_ctrl_r_says_so(new_app: NewApp) -> None:
    """Nothing is filled in, and words tell where a row comes from."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "ctrl+r")
        await settle(pilot)
        assert screen.form.liquid == ""
        assert any("There is no row in the question yet" in one.message for one in pilot.app._notifications)


async def test_it_says_what_is_still_to_type(new_app: NewApp) -> None:
    """Nothing is assumed of a room or an amount; each missing line is named, a dish asks for its area."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        assert said(screen) == ("Still to type: the liquid or blend; the amount used each time; the room.")
        for name, text in DAY:
            await put(pilot, name, text)
        assert screen.answer is not None
        screen.query_one("#how").focus()
        await keys(pilot, "d")
        assert said(screen) == "Still to type: the area of the dish, by which it gives off vapour."
        assert screen.answer is None
        await put(pilot, "area", "100 cm2")
        assert screen.answer is not None
        assert "dish of 100 cm2" in words(screen)
        screen.query_one("#how").focus()
        await keys(pilot, "o")
        assert said(screen) == "Still to type: the space of the dome, in which vapour gathers."
        await put(pilot, "space", "2 l")
        assert "in the dome" in words(screen)
        assert "lower explosive limit" in words(screen)


CANNOT_BE_MEANT = (
    ("amount", "0.5", "has no unit"),
    ("amount", "5 cm", "expected a number and one of ml"),
    ("amount", "1 pint", "a pint differs"),
    ("room", "60 kg", "expected a number and one of m3, ft3"),
    ("air_changes", "2 to 0.5 /h", "runs from more to less"),
    ("mixing", "0.5", "a fraction of 0.5 is a factor of 2"),
    ("hours", "30 h", "at most 24 h"),
    ("temp", "80 C", "not to 80"),
    ("per_hour", "many", "number above zero"),
    ("liquid", "qqqqzz", "nothing by that name"),
    ("liquid", "acetoen", 'liquid "acetoen": nothing by that name; near in spelling: Acetone; '),
)


async def test_what_cannot_be_meant_is_told_in_words(new_app: NewApp) -> None:
    """The line is named or its text quoted, no figures of before stand, and put right they come back."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        screen = await filled(pilot)
        for name, text, told in CANNOT_BE_MEANT:
            assert screen.answer is not None, name
            before = screen.query_one(f"#field-{name}", Input).value
            await put(pilot, name, text)
            assert told in said(screen)
            assert screen.answer is None
            assert "8 h average" not in words(screen)
            assert DEFER in flat(pilot.app)
            await put(pilot, name, before)
        assert screen.answer is not None


async def test_units_are_read_as_they_are_meant(new_app: NewApp) -> None:
    """Cubic feet, microlitres, Fahrenheit and minutes give the same answer as their metric likes."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await filled(pilot)
        before = screen.answer
        assert before is not None
        for name, text in (
            ("amount", "500 ul"),
            ("room", "2118.88 ft3"),
            ("hours", "120 min"),
            ("temp", "68 F"),
        ):
            await put(pilot, name, text)
        assert screen.answer is not None
        for one, other in zip(before.parts[0].lines, screen.answer.parts[0].lines, strict=True):
            assert one.high == pytest.approx(other.high, rel=1e-4)


async def test_an_unknown_vapour_pressure_is_refused(tmp_path: Path) -> None:
    """What is missing is named; nothing is guessed."""
    (tmp_path / "catalogue").mkdir()
    (tmp_path / "catalogue" / "own.yaml").write_text(OWN)
    async with BenchleafApp(Studio(tmp_path)).run_test(size=(80, 24)) as pilot:
        screen = await filled(pilot)
        await put(pilot, "liquid", "zzyxq spirit")
        assert "the vapour pressure of Zzyxq spirit" in said(screen)
        assert screen.answer is None


async def test_typing_never_waits_for_the_desk(new_app: NewApp) -> None:
    """While the desk is busy letters appear at once; the answer is to the last of them."""
    app = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await filled(pilot)
        await put(pilot, "per_hour", "")
        line = screen.query_one("#field-per_hour", Input)
        with app.desk_lock:
            await pilot.press("1", "2", "0")
            assert line.value == "120"
        await settle(pilot)
        assert screen.answer is not None
        assert "120 times an hour" in screen.answer.use


async def test_figures_move_while_one_types_and_the_form_stays(new_app: NewApp) -> None:
    """PgDn moves the figures, the line keeps the focus; what was typed is there after F2 and F8."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await filled(pilot)
        pane = screen.query_one("#air-results", VerticalScroll)
        await keys(pilot, "pagedown", "pagedown")
        assert pane.scroll_y > pane.size.height
        assert isinstance(pilot.app.focused, Input)
        await keys(pilot, "pageup", "pageup")
        assert pane.scroll_y == 0
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, HomeScreen)
        await keys(pilot, "f8")
        assert screen.query_one("#field-room", Input).value == "60 m3"
        assert screen.answer is not None


def test_a_line_of_another_way_does_not_count(studio: Studio) -> None:
    """An area typed for a dish is not used for swabs; a taken blend keeps its shares."""
    form = AirForm(
        amount="0.5 ml",
        per_hour="20",
        area="100 cm2",
        space="x",
        room="60 m3",
        air_changes="1 /h",
        hours="2 h",
    )
    form.take(Chosen("My blend", {"acetone": 0.6, "ethanol": 0.4}))
    from kb.tui.screens.air.screen import work_out

    answer = work_out(studio, form)
    assert [one.share_pct for one in answer.parts] == pytest.approx([60, 40])
    assert "swabs" in answer.use


async def test_hostile_words_stay_text(new_app: NewApp, monkeypatch: pytest.MonkeyPatch) -> None:
    """Markup in an answer or in what is typed is shown, not obeyed."""
    monkeypatch.setattr(air_screen, "work_out", lambda *_, **__: invented_air(HOSTILE))
    async with new_app().run_test(size=(120, 40)) as pilot:
        screen = await filled(pilot)
        await put(pilot, "liquid", "[b]x[/b] [/]")
        assert HOSTILE in said(screen)
        assert "[b]x[/b] [/]" in shown(pilot.app)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_it_fits_and_defers(new_app: NewApp, size: tuple[int, int]) -> None:
    """Every line, the keys and the whole deferring text are visible, empty and filled; F1 explains."""
    async with new_app().run_test(size=size) as pilot:
        screen = await opened(pilot)
        assert DEFER in flat(pilot.app)
        for name, text in DAY:
            await put(pilot, name, text)
        assert DEFER in flat(pilot.app)
        assert keys_fit(pilot.app)
        assert screen.query_one("#air-results").size.height >= 6
        seen = set()
        for way in ("s", "d", "o"):
            screen.query_one("#how", ChoiceRow).focus()
            await keys(pilot, way)
            for line in screen.query(Input).results(Input):
                if line.parent.display:
                    assert screen.region.contains_region(line.region)
                    assert line.size.width >= 12
                    seen.add(line.name)
        # Each line is there for one way of working at least.
        assert seen == {"liquid", *(name for name, _, _ in LINES)}
        await keys(pilot, "f1")
        assert isinstance(pilot.app.screen, HelpScreen)
        assert "Help: Air" in shown(pilot.app)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_picture_of_the_air(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch, snap_compare: Any, size: tuple[int, int]
) -> None:
    """Form and figures, one under or beside the other."""
    monkeypatch.setattr(air_screen, "work_out", lambda *_, **__: invented_air())
    assert snap_compare(new_app(), terminal_size=size, run_before=filled)


async def test_enter_leads_only_through_the_lines_of_the_way_of_working(new_app: NewApp) -> None:
    """By Enter alone "20 m3" landed in the area of a dish that a swab does not have."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await put(pilot, "liquid", "acetone")
        screen.query_one("#field-amount", Input).focus()
        for typed in ("10 ml", "once", "20 m3", "1"):
            await write(pilot, typed)
            await keys(pilot, "enter")
        form = screen.form
        assert (form.amount, form.per_hour, form.room, form.air_changes) == ("10 ml", "once", "20 m3", "1")
        assert (form.area, form.space) == ("", "")


async def test_a_number_alone_is_in_the_unit_that_the_line_shows(new_app: NewApp) -> None:
    """The same answer as with units; what an empty line says is what is reckoned with."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await filled(pilot)
        before = screen.answer
        for name, text in (("room", "60"), ("air_changes", "0.5 to 2"), ("hours", "2")):
            await put(pilot, name, text)
        assert before is not None
        assert screen.answer == before
        for name, _, hint in LINES:
            left, said_so, usual = hint.partition("left empty: ")
            if said_so and usual != "once":
                typed = screen.query_one(f"#field-{name}", Input).value
                await put(pilot, name, usual)
                held = screen.answer
                assert typed or held == before
                await put(pilot, name, "")
                assert screen.query_one(f"#field-{name}", Input).placeholder == left + said_so + usual
                assert screen.answer == held
                await put(pilot, name, typed)
                assert screen.answer == before


async def test_typing_takes_the_place_of_a_liquid_that_was_filled_in(new_app: NewApp) -> None:
    """A liquid that somebody typed is added to; figures on the way of working are answered."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await asked_for_rubber(pilot)
        screen = await opened(pilot)
        assert screen.form.taken is not None
        await write(pilot, "acetone")
        assert screen.form.liquid == "acetone"
        await keys(pilot, "tab")
        await keys(pilot, "1")
        assert "S, D, B or O; Enter goes on" in shown(pilot.app)
        await keys(pilot, "shift+tab", "end")
        await write(pilot, " 50, ethanol 50")
        assert screen.form.liquid == "acetone 50, ethanol 50"


async def test_a_liquid_that_cannot_be_reckoned_is_told_at_once(new_app: NewApp) -> None:
    """It was said after every line was filled; now with what stands in, of figures the catalogue has."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await put(pilot, "liquid", "isoparaffin")
        assert "not known here: the molar mass of Isoparaffin" in said(screen)
        assert "Judge the vapour by Methylcyclohexane" in said(screen)
        assert "Its limit is not that of this liquid" in said(screen)
        await put(pilot, "liquid", "methylcyclohexane")
        assert said(screen).startswith("Still to type")


async def test_a_line_without_its_unit_is_asked_back_at_once(new_app: NewApp) -> None:
    """And a name is not called wrong before it is typed to its end."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await put(pilot, "liquid", "aceto")
        assert said(screen).startswith("Still to type")
        await put(pilot, "liquid", "acetone")
        await put(pilot, "amount", "10")
        assert "has no unit" in said(screen)
        await put(pilot, "amount", "10 ml")
        assert said(screen).startswith("Still to type")
        await put(pilot, "liquid", "10 acetone")
        await keys(pilot, "tab")
        assert '"10 acetone" begins with a figure' in said(screen)


async def test_a_whole_line_is_taken_apart(new_app: NewApp) -> None:
    """It was taken as the name of a liquid without a word."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await put(pilot, "liquid", "10 ml acetone in 20 m3")
        await keys(pilot, "tab")
        form = screen.form
        assert (form.liquid, form.amount, form.room) == ("acetone", "10 ml", "20 m3")
        # Both hold as they usually are, and that is said where the answer stands.
        assert screen.answer is not None
        assert screen.answer.hours == 8.0
        assert "Reckoned with 0.5 to 2 /h of fresh air and 8 h: type your own." in said(screen)
        await put(pilot, "liquid", "2 ml of n-heptane for 3 h")
        await keys(pilot, "tab")
        assert (form.liquid, form.amount, form.hours) == ("n-heptane", "10 ml", "3 h")
        assert "Reckoned with 0.5 to 2 /h of fresh air: type your own." in said(screen)
        await put(pilot, "air_changes", "1")
        assert "Reckoned with" not in said(screen)


async def test_what_is_typed_never_vanishes(new_app: NewApp) -> None:
    """Coming back, or going up from the top line, one stood on the figures, and letters went nowhere."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        screen.page.focus()
        await settle(pilot)
        await keys(pilot, "f2", "f8")
        assert pilot.app.focused is screen.query_one("#field-liquid", Input)
        await keys(pilot, "up")
        await write(pilot, "acetone")
        assert screen.form.liquid == "acetone"


async def test_ctrl_r_says_that_the_row_is_there_already(new_app: NewApp) -> None:
    """It did nothing that one sees."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await asked_for_rubber(pilot)
        await opened(pilot)
        await keys(pilot, "ctrl+r")
        assert any("is the row of the question already" in one.message for one in pilot.app._notifications)
