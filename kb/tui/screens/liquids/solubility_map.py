"""The solubility map: what reaches the tape, what the media, and where a drying blend goes."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from kb.desk.liquids import map_text as plot
from kb.science.liquids.ternary import around, region_outline, to_plane
from kb.tui.actions import MAP, bindings, keys_in_words
from kb.tui.bench import app_of
from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.choose.asked import Asked, short
from kb.tui.screens.liquids import map_view
from kb.tui.screens.records.draft import Chosen
from kb.tui.text import line, plain, tidy
from kb.tui.widgets.frame import KeyBar, TitleBar

if TYPE_CHECKING:
    from kb.desk.studio import Studio


COLOURS = {
    plot.REACH: "$primary",
    plot.SPARE: "$accent",
    plot.SIDE: "$secondary",
    plot.LIQUID: "bold",
    plot.PATH: "bold $warning",
}
"""By layer. Fill and outline, numbers and signs tell the same without any."""


def coloured(picture: plot.Picture) -> Content:
    """The drawing for the screen, whose theme says what the colours are."""
    rows = (
        Content.assemble(*(Content.styled(tidy(text), COLOURS.get(layer, "")) for text, layer in row))
        for row in picture.rows
    )
    return Content("\n").join(rows)


class MapScreen(AtDesk, Screen[None]):
    """The triangle at the left, its legend at the right."""

    TITLE_WORDS = "Solubility map"
    HELP = (
        "Every liquid by the proportions of its Hansen parameters: dispersion, polar, hydrogen bonding. The "
        "filled region is the adhesive, which is to be reached; outlines are media and carriers within "
        "reach, which are to be spared. Liquids bear the number of their place in the ranking, and their "
        "name where it fits; all stand in the legend with RED, their distance.\n\n"
        "@ is the row, or the blend, that you came from; * is the way its composition goes as it dries, and "
        "X what is left when it is nearly dry. If X lies within a region that is to be spared, what is last "
        "on the sheet attacks it.\n\n"
        "A liquid outside a region cannot dissolve it by these figures. One inside may: the map keeps the "
        "proportions and loses the strength; RED tells both: below 0.9 is in, 0.9 to 1.1 at the edge.\n\n"
        f"{keys_in_words(MAP)}"
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings(MAP),
        Binding("equals_sign,z", "zoom(0.5)", show=False),
        Binding("underscore,x", "zoom(2)", show=False),
        Binding("home", "whole", show=False),
    ]
    CSS = """
    MapScreen #map-body { height: 1fr; }
    MapScreen #map-plot { width: 1fr; height: 100%; text-wrap: nowrap; padding: 0 0 0 1; }
    MapScreen #map-side { width: 38; height: 100%; padding: 0 0 0 1; border-left: solid $secondary; }
    MapScreen #map-side { scrollbar-size-vertical: 1; }
    MapScreen.-wide #map-side { width: 45; }
    MapScreen #map-legend { height: auto; width: 100%; }
    """

    def __init__(self, asked: Asked, chosen: Chosen | None = None) -> None:
        super().__init__()
        self.asked = asked
        self.row = chosen
        self.window = plot.ALL
        self.seen: map_view.Seen | None = None
        self.picture: plot.Picture | None = None

    def compose(self) -> ComposeResult:
        """What it is about, plot, legend."""
        yield TitleBar()
        yield Static(line("Looking ..."), id="map-said", classes="heading", markup=False)
        with Horizontal(id="map-body"):
            yield Static("", id="map-plot", markup=False)
            with VerticalScroll(id="map-side"):
                yield Static("", id="map-legend", markup=False)
        yield KeyBar()

    def on_mount(self) -> None:
        """Look at once."""
        self.look()

    def look(self) -> None:
        """Fetch regions, liquids and path in a thread."""
        asked, row, dials = self.asked, self.row, app_of(self).dials

        def verb(studio: Studio) -> map_view.Seen:
            studio.refresh()
            return map_view.look(studio, asked.question(studio), dials, row)

        self.ask(verb, self._show, group="map", failed=self._say)

    def _show(self, seen: map_view.Seen) -> None:
        first = self.seen is None
        self.seen = seen
        if first:
            self.action_around()
        self.draw()
        self.refresh_bindings()

    def _say(self, text: str) -> None:
        self.query_one("#map-said", Static).update(line(text))

    def draw(self) -> None:
        """Plot and legend for the window there is."""
        if self.seen is None:
            return
        pane = self.query_one("#map-plot", Static).content_size
        columns, rows = max(20, pane.width), max(8, pane.height)
        self.picture = plot.draw(self.seen.drawn, columns, rows, self.window)
        self.query_one("#map-plot", Static).update(coloured(self.picture))
        legend = map_view.legend(self.seen, self.picture, self.query_one("#map-legend").size.width)
        self.query_one("#map-legend", Static).update(plain(legend))
        self._say(self._heading())

    def _heading(self) -> str:
        about = short(self.asked.shown("tape")) or "no tape named"
        times = (plot.ALL.right - plot.ALL.left) / (self.window.right - self.window.left)
        near = "whole triangle" if times < 1.01 else f"{times:.1f} times nearer"
        return f"Solubility map, {near}: {about}"

    def on_resize(self, event: events.Resize) -> None:
        """The plot follows the room there is."""
        self.call_after_refresh(self.draw)

    # -- getting about ---------------------------------------------------------------------------

    def action_zoom(self, factor: float) -> None:
        """Nearer or farther; the row one came from, else the first liquid, stays where it is shown."""
        drawn = self.seen.drawn if self.seen is not None else plot.Drawn()
        kept = [*drawn.path[:1], *(dot.fractions for dot in drawn.dots[:1])]
        self.window = plot.zoomed(self.window, factor, to_plane(kept[0]) if kept else None)
        self.draw()

    def action_move(self, right: int, up: int) -> None:
        """Another part; the whole triangle has no other."""
        if self.window != plot.ALL:
            self.window = plot.moved(self.window, right, up)
            self.draw()

    def action_whole(self) -> None:
        """The whole triangle."""
        self.window = plot.ALL
        self.draw()

    def action_around(self) -> None:
        """As near as the regions, the path and the first liquids allow."""
        if self.seen is None:
            return
        drawn = self.seen.drawn
        places = [to_plane(one) for one in drawn.path]
        places += [place for one in drawn.regions for place in region_outline(one.centre, one.r0)]
        places += [to_plane(dot.fractions) for dot in drawn.dots[:5]]
        if places:
            self.window = around(places)
            self.draw()

    def action_legend(self, pages: int) -> None:
        """Move the legend."""
        side = self.query_one("#map-side", VerticalScroll)
        side.scroll_relative(y=pages * max(1, side.size.height - 1), animate=False)

    def action_write(self) -> None:
        """The map as it is shown, as a picture in a file."""
        if self.seen is not None:
            verb = partial(map_view.export, seen=self.seen, window=self.window)
            self.ask(verb, self._written, group="write")

    def _written(self, path: Path) -> None:
        self.bench.say(f"The map is written: {path}", title="SVG")

    def action_leave(self) -> None:
        """Back."""
        self.dismiss(None)
