"""The solubility map: where things are drawn, and the screen by keyboard alone."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from textual.content import Content
from textual.pilot import Pilot
from textual.widgets import Static

from kb.desk.liquids import map_text
from kb.desk.liquids.map_text import ALL, DRY, DRYING, FRESH, Dot, Drawn, Region, draw, moved, zoomed
from kb.desk.liquids.solubility_map import solubility_map
from kb.desk.studio import Studio
from kb.model.question import Question
from kb.science.liquids.ternary import HEIGHT, Frame, Place, Window, to_plane
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.liquids import solubility_map as map_screen
from kb.tui.screens.liquids.solubility_map import MapScreen
from kb.tui.screens.note import HelpScreen
from kb.tui.screens.records.draft import Chosen
from tests.screens.invented import SIZES, NewApp
from tests.screens.liquids_help import asked_for_rubber, invented_map
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, settle, shown

QUESTION = Question(adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil")
MIXED = Chosen("Acetone + cyclohexane + ethanol", {"acetone": 0.5, "cyclohexane": 0.3, "ethanol": 0.2})


@pytest.fixture
def invented_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every map is the invented one."""
    monkeypatch.setattr(map_screen, "look", lambda *_: invented_map())


async def opened(pilot: Pilot[Any]) -> MapScreen:
    """Ask, then press M."""
    await asked_for_rubber(pilot)
    await keys(pilot, "m")
    screen = pilot.app.screen
    assert isinstance(screen, MapScreen)
    return screen


def legend(screen: MapScreen) -> str:
    """The whole legend, also what is scrolled away."""
    return str(screen.query_one("#map-legend", Static).render())


# -- the plot --------------------------------------------------------------------------------------


def test_each_thing_stands_at_its_place() -> None:
    """A liquid's sign, the fresh blend and what is left of it stand in the cells of their fractions."""
    seen = invented_map()
    columns, rows = 60, 26
    picture = draw(seen.drawn, columns, rows, ALL)
    frame = Frame(columns, rows, ALL)
    for place, dot in enumerate(seen.drawn.dots):
        cell = frame.cell(to_plane(dot.fractions))
        assert cell is not None
        sign = picture.hidden.get(dot.id, map_text.sign(place))
        assert picture.lines[cell.row][cell.column] == sign
    for fractions, sign in ((seen.drawn.path[0], FRESH), (seen.drawn.path[-1], DRY)):
        cell = frame.cell(to_plane(fractions))
        assert cell is not None
        assert picture.lines[cell.row][cell.column] == sign
    text = "\n".join(picture.lines)
    assert DRYING in text
    assert picture.hidden == {"Invented twin": "3"}
    # Two outlines look alike, also where there is colour.
    assert all(one.sign in text for one in seen.drawn.regions)
    assert all(word in text for word in ("Polar", "H bonding", "Dispersion"))


def test_regions_are_told_apart_without_colour() -> None:
    """The region to reach is filled, the one to spare is an outline; the legend says which is which."""
    seen = invented_map()
    picture = draw(seen.drawn, 60, 26, ALL)
    words = map_screen.legend(seen, picture)
    assert "A filled: reach Invented rubber" in words
    assert "M outline: SPARE Invented ink" in words
    reach, spare = (
        draw(Drawn((region,)), 60, 26, ALL).rows
        for region in sorted(seen.drawn.regions, key=lambda r: not r.to_reach)
    )
    for rows, layer, inside in ((reach, map_text.REACH, True), (spare, map_text.SPARE, False)):
        marked = ["".join(("#" if on == layer else " ") * len(text) for text, on in row) for row in rows]
        wide = [row.strip() for row in marked if len(row.strip()) > 4]
        assert wide
        assert any(" " in row for row in wide) is not inside
    assert f"{FRESH} Invented blend" in words


fraction = st.floats(0.0, 100.0)
dots = st.lists(st.tuples(fraction, fraction, fraction).filter(lambda one: sum(one) > 1), max_size=15)


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(dots, st.integers(20, 90), st.integers(8, 40))
def test_labels_never_cover_a_sign(places: list[tuple[float, float, float]], columns: int, rows: int) -> None:
    """Whatever lies where: every line is as wide as asked, and each liquid in sight keeps its own sign."""
    listed = tuple(Dot(f"liquid-{n}", f"Name {n}", one) for n, one in enumerate(places))
    region = Region("A", "Rubber", (17.0, 5.0, 4.0), 6.0, to_reach=True)
    picture = draw(Drawn((region,), listed), columns, rows, ALL)
    assert [len(text) for text in picture.lines] == [columns] * rows
    frame = Frame(columns, rows, ALL)
    for place, dot in enumerate(listed):
        cell = frame.cell(to_plane(dot.fractions))
        if cell is None or dot.id in picture.hidden:
            continue
        assert picture.lines[cell.row][cell.column] == map_text.sign(place)


def test_a_label_is_whole_or_not_there() -> None:
    """Names that fit stand whole beside their sign; no name is written over another."""
    spots = {"Butanone": (50.0, 30.0, 20.0), "Ethanol": (36.0, 18.0, 46.0), "Toluene": (80.0, 7.0, 13.0)}
    drawn = Drawn((), tuple(Dot(name, name, place) for name, place in spots.items()))
    text = "\n".join(draw(drawn, 60, 26, ALL).lines)
    for name in spots:
        assert text.count(name) == 1


def test_wide_and_hostile_names_get_no_broken_label() -> None:
    """A name of characters two cells wide, or of codes, is in the legend only."""
    drawn = Drawn((), (Dot("x", "紙の溶剤", (50, 30, 20)), Dot("y", "\x1b[2J" + HOSTILE, (30, 30, 40))))
    picture = draw(drawn, 60, 26, ALL)
    assert [len(text) for text in picture.lines] == [60] * 26
    assert "\x1b" not in "".join(picture.lines)


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from("+-lrud"), max_size=60))
def test_one_cannot_get_lost(pressed: list[str]) -> None:
    """However one zooms and moves, the middle of the window stays over the triangle's box."""
    window = ALL
    for key in pressed:
        if key in "+-":
            window = zoomed(window, 0.5 if key == "+" else 2.0)
        else:
            window = moved(window, {"l": -1, "r": 1}.get(key, 0), {"u": 1, "d": -1}.get(key, 0))
        assert window.right - window.left >= map_text.NEAREST - 1e-6
        assert window.right - window.left <= ALL.right - ALL.left + 1e-6
        assert -1e-6 <= (window.left + window.right) / 2 <= 100 + 1e-6
        assert -1e-6 <= (window.top + window.bottom) / 2 <= HEIGHT + 1e-6


# -- the screen ------------------------------------------------------------------------------------


async def test_m_shows_regions_liquids_and_the_row(new_app: NewApp, studio: Studio) -> None:
    """Regions are the desk's, liquids those of the ranking in its order, and the row is on the map."""
    wanted = solubility_map(studio, QUESTION)
    async with new_app().run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot)
        home = pilot.app.screen_stack[0]
        assert isinstance(home, HomeScreen)
        assert home.ranked is not None
        assert screen.seen is not None
        assert [(one.centre, one.r0) for one in screen.seen.drawn.regions] == [
            (one.centre, one.r0) for one in wanted.regions
        ]
        assert screen.seen.drawn.regions[0].to_reach
        names = [dot.name for dot in screen.seen.drawn.dots]
        ranked = [row.name for row in home.ranked.rows]
        assert [name for name in names if name in ranked] == [name for name in ranked if name in names]
        assert home.chosen is not None
        assert screen.seen.chosen == home.chosen.name
        assert FRESH in shown(pilot.app)
        first = next(one for one in wanted.liquids if one.id == screen.seen.drawn.dots[0].id)
        red = first.red[wanted.regions[0].name]
        assert re.search(
            rf"^1 {first.name} +={FRESH} +{red:.2f}{'[*]' if red < 1 else ''}", legend(screen), re.M
        )
        assert "RED beside its name decides" in legend(screen)


def test_the_drying_path_warns_and_is_told(studio: Studio) -> None:
    """What is left at 50, 80 and 95 %, with its distances, and the warning of the desk against the medium."""
    seen = map_screen.look(studio, QUESTION, None, MIXED)
    words = map_screen.legend(seen, draw(seen.drawn, 60, 26, ALL))
    assert seen.drying is not None
    for step in seen.drying.steps[1:]:
        assert f"{step.lost_pct:.0f} % gone: " in words
    assert seen.drying.warnings
    for warning in seen.drying.warnings:
        assert f"WARNING: {warning}" in words
    assert seen.map.blend is not None
    assert seen.drawn.path[0] == seen.map.blend.fractions
    assert seen.drawn.path[-1] != seen.drawn.path[0]


async def test_zoom_move_and_back(new_app: NewApp, invented_seen: None) -> None:
    """+ and - zoom, arrows move what is zoomed, G goes to the regions, 0 shows all again."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        assert screen.window != ALL, "it opens on what matters"
        await keys(pilot, "0")
        whole = shown(pilot.app)
        await keys(pilot, "left", "up")
        assert screen.window == ALL, "the whole triangle has no other part"
        await keys(pilot, "plus", "plus")
        assert "enlarged 4.0 times" in flat(pilot.app)
        before = screen.window
        await keys(pilot, "right")
        assert screen.window.left > before.left
        await keys(pilot, "left", "up")
        assert screen.window.left == pytest.approx(before.left)
        assert screen.window.bottom > before.bottom
        assert re.search(r"^\d .* [.][.] ", legend(screen), re.M)
        await keys(pilot, "minus", "minus")
        assert screen.window == ALL
        await keys(pilot, "g")
        window = screen.window
        assert isinstance(window, Window)
        assert window.right - window.left < ALL.right - ALL.left
        for fractions in invented_map().drawn.path:
            place: Place = to_plane(fractions)
            assert window.left <= place.x <= window.right
            assert window.bottom <= place.y <= window.top
        await keys(pilot, "0")
        assert shown(pilot.app) == whole


async def test_w_writes_a_picture_and_says_where(new_app: NewApp, studio: Studio) -> None:
    """An SVG of what is shown, in the studio's folder; a second one goes beside it, none is written over."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        said = []
        for pressed in (("w",), ("plus", "w")):
            await keys(pilot, *pressed)
            await settle(pilot)
            said += [one.message for one in pilot.app._notifications]
        files = sorted((studio.root / "exports").iterdir())
        assert len(files) == 2
        for path in files:
            assert path.suffix == ".svg"
            assert ElementTree.parse(path).getroot().tag.endswith("svg")
            assert any(str(path) in message for message in said)
        assert files[0].read_text() != files[1].read_text(), "the second shows another part"


async def test_a_folder_that_cannot_be_written_is_told(new_app: NewApp, studio: Studio) -> None:
    """Words, no crash, and nothing half written."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        (studio.root / "exports").write_text("a file of that name")
        await keys(pilot, "w")
        await settle(pilot)
        assert any("exports" in one.message for one in pilot.app._notifications)
        assert isinstance(pilot.app.screen, MapScreen)


async def test_without_a_question_it_says_what_is_missing(new_app: NewApp) -> None:
    """The triangle is drawn; words tell that no adhesive is named."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        pilot.app.screen.set_focus(None)
        await keys(pilot, "m")
        screen = pilot.app.screen
        assert isinstance(screen, MapScreen)
        assert "No adhesive is named in the question" in legend(screen)
        assert "none known here" in legend(screen)
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, HomeScreen)


async def test_nothing_is_told_by_colour_alone(new_app: NewApp, invented_seen: None) -> None:
    """The plain drawing holds all that is seen, the legend has no style, markup in names stays text."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot)
        drawn = screen.query_one("#map-plot", Static).render()
        assert isinstance(drawn, Content)
        assert screen.picture is not None
        assert drawn.plain == "\n".join(screen.picture.lines)
        legend_shown = screen.query_one("#map-legend", Static).render()
        assert isinstance(legend_shown, Content)
        assert not legend_shown.spans
        assert "[b]Invented[/b] (long)" in legend(screen)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_it_fits(new_app: NewApp, invented_seen: None, size: tuple[int, int]) -> None:
    """The plot, its three corners and every key are visible; the legend can be moved; F1 explains."""
    async with new_app().run_test(size=size) as pilot:
        screen = await opened(pilot)
        assert keys_fit(pilot.app)
        await keys(pilot, "0")
        text = shown(pilot.app)
        assert all(word in text for word in ("Polar", "H bonding", "Dispersion", "W Write SVG", "Esc Back"))
        assert screen.query_one("#map-plot").size.height >= 18
        side = screen.query_one("#map-side")
        await keys(pilot, "pagedown")
        assert side.scroll_y > 0 or side.max_scroll_y == 0
        await keys(pilot, "f1")
        assert isinstance(pilot.app.screen, HelpScreen)
        assert "Help: Solubility map" in shown(pilot.app)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_picture_of_the_map(
    new_app: NewApp, invented_seen: None, snap_compare: Any, size: tuple[int, int]
) -> None:
    """Triangle and legend."""
    assert snap_compare(new_app(), terminal_size=size, run_before=opened)
