"""What is painted bit by bit is what the whole screen is, and costs no more than what has changed."""

from __future__ import annotations

import asyncio
import re
import shutil
from collections.abc import Coroutine
from pathlib import Path
from random import Random
from typing import Any

import pytest
from rich.cells import cell_len
from rich.console import Console
from textual._compositor import ChopsUpdate, Compositor, LayoutUpdate
from textual._context import active_app
from textual.dom import DOMNode
from textual.geometry import Region
from textual.pilot import Pilot
from textual.screen import Screen
from textual.strip import Strip
from textual.widget import Widget

from kb.desk.demo import open_demo
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.inside_textual import Painter
from kb.tui.screens.at_desk import Told
from kb.tui.screens.choose.asked import BLANKS
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.materials.materials import MaterialsScreen
from kb.tui.screens.materials.reading_pane import ReadingPane
from kb.tui.widgets.blank import Blank
from kb.tui.widgets.columns import TableRow
from tests.screens.screen_help import settle

PAINTING = Compositor.render_update
"""As it is, before the tests of screens go without it."""
SIZES = [(80, 24), (120, 40)]
FRAMES = 0.3
"""After how many of the turns of the loop a frame is painted."""
Cell = tuple[str, object]
WALK = (
    ("f4", *"cellulose", *["backspace"] * 3, "down", "down", "pagedown", "home", "m", "enter"),
    ("l", "escape", "escape", "escape", "h", "tab", "down", "escape", "ctrl+k", "down", "enter"),
    ("f1", "pagedown", "escape", "ctrl+p", *"she", "escape", "f3", "e", "down", "enter", "escape"),
    ("full_stop", "slash", *"mends", "enter", "end", "f6", *"pas", "down", "enter", "escape", "l", "escape"),
    (
        "f7",
        *"5 L",
        "down",
        "f8",
        *"tol",
        "down",
        "f10",
        *"QN",
        "enter",
        "down",
        "f2",
        "f12",
        "down",
        "escape",
    ),
)


class Terminal(BenchleafApp):
    """Keeps what a terminal would show after all that was written to it."""

    cells: dict[tuple[int, int], Cell]

    def _display(self, screen: Screen[Any], renderable: object) -> None:
        if isinstance(renderable, LayoutUpdate):
            self.cells = whole(renderable)
        elif isinstance(renderable, ChopsUpdate):
            for y, left, right in renderable.spans:
                places = zip(renderable.chop_ends[y], renderable.chops[y].items(), strict=True)
                for end, (x, strip) in places:
                    if strip is not None and x <= right and end > left:
                        self.cells |= cells_of(strip.crop(0, min(end, right) - x), x, y)
        super()._display(screen, renderable)  # type: ignore[arg-type]


def cells_of(segments: Any, x: int, y: int) -> dict[tuple[int, int], Cell]:
    """Sign and look of each cell of a line that begins at ``x``."""
    found: dict[tuple[int, int], Cell] = {}
    for text, style, _ in segments:
        look = style and (style.bgcolor, style.reverse, style.bold, style.underline, style.color)
        for sign in text:
            size = 1 if sign.isascii() and sign.isprintable() else cell_len(sign)
            for n in range(size):
                found[x + n, y] = (sign if not n else "", look)
            x += size
    return found


def whole(update: LayoutUpdate) -> dict[tuple[int, int], Cell]:
    """The cells of a screen that is painted as a whole."""
    found: dict[tuple[int, int], Cell] = {}
    for y, line in enumerate(update.strips):
        found |= cells_of(Strip.join(list(line)), 0, y)  # type: ignore[arg-type]
    return found


def seen(cells: dict[tuple[int, int], Cell]) -> dict[tuple[int, int], object]:
    """Without the colour of a blank, which nobody sees."""
    return {at: (sign, look if sign.strip() else look and look[:2]) for at, (sign, look) in cells.items()}  # type: ignore[index]


def as_it_is(app: BenchleafApp) -> dict[tuple[int, int], Cell]:
    """The cells of the screen, painted as a whole."""
    picture = app.screen._compositor.render_update(full=True, screen_stack=app._background_screens)
    assert isinstance(picture, LayoutUpdate)
    return whole(picture)


MOVED_TWICE = re.compile(r"\n|\x1b\[\d+;\d+H(?=\x1b\[\d+;\d+H|\n|$)")
"""A cursor that is moved again before anything is written, which Textual does at the end of some changes."""


def written(update: ChopsUpdate, console: Console) -> str:
    """The codes for a terminal as Textual makes them."""
    return ChopsUpdate.render_segments(update, console)


@pytest.fixture
def at_every_change(monkeypatch: pytest.MonkeyPatch, _painted_once: None) -> None:
    """Painting at each change, as users see it; and each beside what Textual's own would paint."""

    def both(compositor: Painter) -> ChopsUpdate | None:
        dirty = set(compositor._dirty_regions)
        asked.clear()
        painted = ours = own(compositor)
        compositor._dirty_regions = dirty.copy()
        theirs = Compositor.render_partial_update(compositor)
        assert (ours is None) == (theirs is None)
        if asked:
            # A list of Textual's counts its lines when it is painted, which moves its bar in the next frame.
            compositor._dirty_regions = dirty.copy()
            ours = own(compositor)
            compositor._dirty_regions = dirty.copy()
            theirs = Compositor.render_partial_update(compositor)
        if ours and theirs:
            assert ours.spans == theirs.spans
            console = active_app.get().console
            assert ours.render_segments(console) == MOVED_TWICE.sub("", written(ours, console))
            for y, left, right in ours.spans:
                for x, end in zip(theirs.chops[y], theirs.chop_ends[y], strict=True):
                    assert not (x < right and end > left) or ours.chops[y][x] == theirs.chops[y][x], (x, y)
        return painted

    def asks(widget: Widget, *regions: Region, **how: bool) -> Widget:
        asked.append(widget)
        return refresh(widget, *regions, **how)

    asked: list[Widget] = []
    """Who asked to be painted anew while it was painted."""
    own, refresh = Painter.render_partial_update, Widget.refresh
    monkeypatch.setattr(Widget, "refresh", asks)
    monkeypatch.setattr(Painter, "render_partial_update", both)
    monkeypatch.setattr(Compositor, "render_update", PAINTING)


@pytest.mark.usefixtures("at_every_change")
@pytest.mark.parametrize(
    ("size", "turns"), [(SIZES[0], 0), (SIZES[1], 30)], ids=["80x24", "120x40-any-moment"]
)
async def test_a_terminal_shows_what_the_screen_is(
    size: tuple[int, int], turns: int, blank_index: Path, tmp_path: Path
) -> None:
    """Lists, entries, pop-ups and forms, key by key, in a terminal that changes its size meanwhile.

    A frame may also fall between any two messages: ``turns`` of the loop are watched after each key.
    """

    async def after(what: object, step: Coroutine[Any, Any, None]) -> None:
        taken = asyncio.ensure_future(step)
        for _ in range(turns):
            await asyncio.sleep(0)
            if chance.random() < FRAMES:
                app.screen._on_timer_update()
        await taken
        await settle(pilot)
        assert seen(app.cells) == seen(as_it_is(app)), what

    chance = Random(turns)
    demo = open_demo(tmp_path / "demo")
    shutil.copy(blank_index, demo.root / "index.db")
    app = Terminal(Studio(demo.root))
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        for keys in WALK:
            for key in keys:
                await after(key, pilot.press("space" if key == " " else key))
            for each in ((size[0] - 9, size[1] + 5), size):
                await after(each, pilot.resize_terminal(*each))


ROWS = [TableRow(f"{n}", (f"Entry {n}", "liquid", "", "")) for n in range(60)]
"""More than any list shows at once."""


async def _materials(pilot: Pilot[None], app: Terminal) -> MaterialsScreen:
    await settle(pilot)
    await pilot.press("f4")
    await settle(pilot)
    assert isinstance(app.screen, MaterialsScreen)
    return app.screen


@pytest.mark.usefixtures("at_every_change")
async def test_a_bar_that_comes_or_goes_moves_nothing_else(invented_studio: Studio) -> None:
    """The screen is not laid out for it, and all has the place that a layout gives it."""
    app = Terminal(invented_studio)
    async with app.run_test(size=(120, 40)) as pilot:
        screen = await _materials(pilot, app)
        table, layouts = screen.hits, list[bool]()
        table.show(ROWS)
        await settle(pilot)
        screen.screen_layout_refresh_signal.subscribe(screen, lambda _: layouts.append(True), immediate=True)
        for count in (3, 60, 0, 50, 12):
            table.show(ROWS[:count])
            await settle(pilot)
            assert table.show_vertical_scrollbar == (count > 30)
            assert not layouts
            placed, painted = screen._compositor.visible_widgets, dict(app.cells)
            screen._refresh_layout()
            assert screen._compositor.visible_widgets == placed
            assert seen(painted) == seen(as_it_is(app))
            layouts.clear()


@pytest.mark.usefixtures("at_every_change")
async def test_a_list_that_counts_its_lines_while_it_is_painted(invented_studio: Studio) -> None:
    """Its bar was painted before that, and is again in the next frame."""
    app = Terminal(invented_studio)
    async with app.run_test(size=(120, 40)) as pilot:
        screen = await _materials(pilot, app)
        lines = screen.query_one(ReadingPane).lines
        lines.add_options(map(str, range(100)))
        await settle(pilot)
        bar = lines.vertical_scrollbar
        assert bar.window_virtual_size == lines.option_count
        lines.replace_option_prompt_at_index(0, "\n".join(map(str, range(200))))
        bar.refresh()
        await settle(pilot)
        assert bar.window_virtual_size == lines.option_count + 199
        assert seen(app.cells) == seen(as_it_is(app))


@pytest.mark.usefixtures("at_every_change")
@pytest.mark.parametrize("size", SIZES)
async def test_the_first_picture_is_made_once(size: tuple[int, int], invented_studio: Studio) -> None:
    """Nothing is painted that no one sees, the second row comes later, no rule is looked for twice."""

    class Watched(Terminal):
        restyled = 0

        def update_styles(self, node: DOMNode, animate: bool = True) -> None:
            self.restyled += isinstance(node, HomeScreen)
            super().update_styles(node, animate=animate)

        def _display(self, screen: Screen[Any], renderable: object) -> None:
            if renderable is not None:
                pictures.append((self._batch_count, len(screen.query(Blank)), self.restyled))
            super()._display(screen, renderable)

    pictures: list[tuple[int, int, int]] = []
    async with Watched(invented_studio).run_test(size=size) as pilot:
        await settle(pilot)
        assert pictures[0] == (0, 4, 1)
        assert not any(gathers for gathers, _, _ in pictures)
        assert len(pilot.app.screen.query(Blank)) == len(BLANKS)


@pytest.mark.usefixtures("at_every_change")
async def test_an_answer_is_painted_at_once(invented_studio: Studio) -> None:
    """Without waiting for the next frame."""
    app = Terminal(invented_studio)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await _materials(pilot, app)
        row = TableRow("0", ("Zzyxq spirit", "liquid", "", ""))
        screen.on_told(Told("find", screen._asked["find"], lambda: screen.hits.show([row])))
        assert "Zzyxq spirit" in "".join(sign for sign, _ in app.cells.values())


@pytest.mark.usefixtures("at_every_change")
async def test_a_bar_that_comes_back_shows_where_the_list_is(invented_studio: Studio) -> None:
    """It stood where it had been when it went: the list began at its top, and the bar said the end."""
    app = Terminal(invented_studio)
    async with app.run_test(size=(120, 40)) as pilot:
        screen = await _materials(pilot, app)
        table = screen.hits
        table.show(ROWS)
        table.focus()
        await settle(pilot)
        await pilot.press("end")
        await settle(pilot)
        assert table.vertical_scrollbar.position == table.scroll_y > 0
        # Narrowed to the last rows, then all of them in the other order: the cursor stays on its row.
        for shown in (ROWS[57:], ROWS[::-1]):
            table.show(shown)
            await settle(pilot)
        assert table.show_vertical_scrollbar
        assert table.vertical_scrollbar.position == table.scroll_y == 0
        assert seen(app.cells) == seen(as_it_is(app))
