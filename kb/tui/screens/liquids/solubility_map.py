"""The solubility map: what reaches the tape, what the media, and where a drying blend goes.

What the solubility map of a question shows, its legend in words, and its picture in a file. No widgets.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import ClassVar, NamedTuple

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Static

from kb.desk.errors import DeskError
from kb.desk.liquids import map_text as plot
from kb.desk.liquids.drying import Drying, drying_path
from kb.desk.liquids.solubility_map import SolubilityMap
from kb.desk.liquids.spheres import adhesive_spheres, spheres_in_reach
from kb.desk.studio import Studio
from kb.model.question import Dials, Question
from kb.science.choose.acting import side
from kb.science.liquids.ternary import Window, around, region_outline, to_plane
from kb.tui.actions import MAP, bindings, keys_in_words
from kb.tui.bench import app_of
from kb.tui.drawing import Drawing, drawn
from kb.tui.exports import plain_stem, write_new
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.choose.asked import Asked, short
from kb.tui.screens.records.draft import Chosen
from kb.tui.text import fit, line, plain

FIGURE = 6
"""Cells of a RED in the legend, with its sign."""
LIQUIDS = 15
"""Ranked liquids on the map; more would be unreadable in a terminal."""


class Seen(NamedTuple):
    """The map of the desk with the ranked liquids only, how it is drawn, and the drying in words."""

    map: SolubilityMap
    drawn: plot.Drawn
    chosen: str
    drying: Drying | None
    notes: tuple[str, ...]

    @property
    def said(self) -> str:
        """What the chosen liquid does, in a sentence without its stop; empty where that is not known."""
        red = self.map.blend.red if self.map.blend is not None else {}
        words = {
            (True, "inside"): "reaches",
            (True, "outside"): "does not reach",
            (False, "inside"): "MAY ATTACK",
            (False, "outside"): "spares",
        }
        found: dict[str, list[str]] = {}
        for one in self.drawn.regions:
            if one.name in red and not one.own:
                word = words.get((one.to_reach, side(red[one.name])), "is at the edge of")
                found.setdefault(word, []).append(one.sign)
        does = ", ".join(f"{word} {' and '.join(signs)}" for word, signs in found.items())
        return f"{short(self.chosen)} {does}" if self.chosen and does else ""


def look(studio: Studio, question: Question, dials: Dials | None, chosen: Chosen | None) -> Seen:
    """Regions, the ranked liquids, and where the chosen one goes as it dries. For a thread."""
    import msgspec

    found, notes = _map(studio, question, chosen)
    ranked = _ranked(studio, question, dials)
    by_id = {one.id: one for one in found.liquids}
    homeless = [name for liquid, name in ranked.items() if liquid not in by_id]
    if homeless:
        notes.append(f"No Hansen parameters are known here for {', '.join(homeless)}: no place on the map.")
    if not question.adhesive:
        notes.append("No adhesive is named in the question, so none is on the map.")
    found = msgspec.structs.replace(found, liquids=tuple(by_id[one] for one in ranked if one in by_id))
    drying = _drying(studio, question, chosen, notes)
    return Seen(found, plot.drawn_of(found), chosen.name if chosen else "", drying, tuple(notes))


def _map(studio: Studio, question: Question, chosen: Chosen | None) -> tuple[SolubilityMap, list[str]]:
    """The map of the desk; without the chosen blend if that has no place on it."""
    from kb.desk.liquids.solubility_map import CAVEAT, solubility_map

    trouble: list[str] = []
    try:
        found = solubility_map(studio, question, chosen.parts if chosen else None)
    except DeskError as error:
        trouble = [str(error)]
        found = solubility_map(studio, question)
    said = [
        note for note in found.notes if note != CAVEAT and not note.startswith("Without Hansen parameters")
    ]
    return found, [*trouble, *said]


def _ranked(studio: Studio, question: Question, dials: Dials | None) -> dict[str, str]:
    """Names of the ranked pure liquids by id, best first; the refused ones where all are refused."""
    from kb.desk.choose.choose import choose

    answer = choose(studio, question, dials, LIQUIDS)
    rows = (answer.suggestions or answer.refused)[:LIQUIDS]
    return {next(iter(one.parts)): one.name for one in rows if len(one.parts) == 1}


def _drying(studio: Studio, question: Question, chosen: Chosen | None, notes: list[str]) -> Drying | None:
    """The path against all that is within reach, so that it warns where the strong liquid stays last."""
    if chosen is None or len(chosen.parts) < 2:
        return None
    try:
        into = adhesive_spheres(studio, question.adhesive)
    except DeskError:
        into = ()
    out_of, _ = spheres_in_reach(studio, question, with_carrier=True)
    try:
        return drying_path(studio, chosen.parts, into=into, out_of=out_of)
    except DeskError as error:
        if str(error) not in notes:
            notes.append(str(error))
        return None


# -- words -------------------------------------------------------------------------------------------


def legend(seen: Seen, picture: plot.Picture, width: int = 40) -> str:
    """Every sign with what it means; regions first, then the chosen blend, then a line for each liquid."""
    drawn = seen.drawn
    lines = ["Regions"]
    lines += [f"{one.sign} {plot.region_words(one)}" for one in drawn.regions]
    lines += [] if drawn.regions else ["none known here"]
    if seen.chosen:
        lines += ["", f"{plot.FRESH if drawn.path else ' '} {seen.chosen}", *_path_words(seen)]
    # Over the end of the figure, behind which stands its sign.
    heads = "".join(f"{one.sign:>{FIGURE - 1}} " for one in drawn.regions)
    room = max(8, width - 6 - len(heads))
    lines += ["", f"{fit('RED, best first', room + 5)}{heads}"]
    for place, one in enumerate(seen.map.liquids):
        figures = "".join(_figure(one.red.get(region.name)) for region in drawn.regions)
        name = f"{fit(one.name, room)}{_where(one.id, picture):<3}"
        lines.append(f"{plot.sign(place)} {name}{figures}".rstrip())
    lines += [
        "",
        f"* inside   {plot.EDGE_SIGN} {plot.EDGE_WORDS}",
        "=3 at the place of 3   .. outside this part",
    ]
    lines += [] if drawn.dots else ["none ranked"]
    lines += ["", *dict.fromkeys((*seen.notes, seen.map.notes[-1]))]
    lines += ["", f"{seen.map.model}. {seen.map.source}."]
    return "\n".join(lines)


def _reds(seen: Seen, red: dict[str, float]) -> str:
    words = {"inside": " in", "outside": ""}
    return "  ".join(
        f"{one.sign} {red[one.name]:.2f}{words.get(side(red[one.name]), ' edge')}"
        for one in seen.drawn.regions
        if one.name in red
    )


def _figure(red: float | None) -> str:
    """A RED with a sign for in and at the edge, as wide in every row."""
    if red is None:
        return f"{'-':>{FIGURE - 1}} "
    sign = {"inside": "*", "outside": " "}.get(side(red), plot.EDGE_SIGN)
    return f"{f'{red:.2f}':>{FIGURE - 1}}{sign}"


def _where(liquid: str, picture: plot.Picture) -> str:
    if liquid in picture.hidden:
        return f"={picture.hidden[liquid]}"
    return ".." if liquid in picture.outside else ""


def _path_words(seen: Seen) -> list[str]:
    drying, blend = seen.drying, seen.map.blend
    lines = [f"  {_reds(seen, blend.red)}"] if blend is not None and blend.red else []
    if blend is not None and len(seen.drawn.path) > 1:
        lines = [f"  {plot.BLEND_WORDS}", *lines, f"{plot.AS_PRINTED} {plot.AS_PRINTED_WORDS}"]
    if drying is None:
        return lines
    lines += [f"{plot.DRYING} as it dries, {plot.DRY} nearly dry"] if len(seen.drawn.path) > 1 else []
    for step in drying.steps:
        if step.lost_pct > 0:
            rest = ", ".join(f"{drying.names[part]} {share:.0f} %" for part, share in step.shares_pct.items())
            lines.append(f"  {step.lost_pct:.0f} % gone: {rest}")
            lines += [f"    {_reds(seen, step.red)}"] if step.red else []
    return [*lines, *(f"  WARNING: {text}" for text in drying.warnings)]


# -- the picture in a file ---------------------------------------------------------------------------


def export(studio: Studio, seen: Seen, window: Window) -> Path:
    """Write what is shown as SVG into the studio's folder; never over a file that is there. For a thread."""
    import msgspec

    from kb.desk.liquids.map_svg import map_svg

    text = map_svg(msgspec.structs.replace(seen.map, window=tuple(window)))
    named = next((one.name for one in seen.map.regions if one.kind == "adhesive"), "liquids")
    return write_new(studio, plain_stem("solubility-map-", named, "liquids"), ".svg", text)


COLOURS = {
    plot.REACH: "$primary",
    plot.SPARE: "$accent",
    plot.SIDE: "$secondary",
    plot.LIQUID: "bold",
    plot.PATH: "bold $warning",
}
"""By layer. Fill and outline, numbers and signs tell the same without any."""


class MapScreen(DeskScreen[None]):
    """The triangle at the left, its legend at the right."""

    SAID = "#map-said"
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
        self.seen: Seen | None = None
        self.picture: plot.Picture | None = None

    def body(self) -> ComposeResult:
        yield Static(line("Looking ..."), id="map-said", classes="heading", markup=False)
        with Horizontal(id="map-body"):
            yield Drawing(self.draw, id="map-plot")
            with VerticalScroll(id="map-side"):
                yield Static("", id="map-legend", markup=False)

    def on_mount(self) -> None:
        self.look()

    def look(self) -> None:
        asked, row, dials = self.asked, self.row, app_of(self).dials

        def verb(studio: Studio) -> Seen:
            studio.refresh()
            return look(studio, asked.question(studio), dials, row)

        self.ask(verb, self._show, group="map", failed=self.tell)

    def _show(self, seen: Seen) -> None:
        first = self.seen is None
        self.seen = seen
        if first:
            self.action_around()
        self.draw()
        self.refresh_bindings()

    def draw(self) -> None:
        if self.seen is None:
            return
        pane = self.query_one("#map-plot", Static).content_size
        columns, rows = max(20, pane.width), max(8, pane.height)
        self.picture = plot.draw(self.seen.drawn, columns, rows, self.window)
        self.query_one("#map-plot", Static).update(drawn(self.picture.rows, COLOURS))
        under = legend(self.seen, self.picture, self.query_one("#map-legend").size.width)
        self.query_one("#map-legend", Static).update(plain(under))
        self.tell(self._heading())

    def _heading(self) -> str:
        about = short(self.asked.shown("tape")) or "no tape named"
        times = (plot.ALL.right - plot.ALL.left) / (self.window.right - self.window.left)
        near = "whole triangle" if times < 1.01 else f"enlarged {times:.1f} times"
        said = self.seen.said if self.seen is not None else ""
        if not said:
            return f"Solubility map, {near}: {about}"
        whole = f"{said}. Solubility map, {near}"
        return whole if len(whole) <= self.size.width - 2 else f"{said}; {near}"

    # -- getting about ---------------------------------------------------------------------------

    def action_zoom(self, factor: float) -> None:
        """Nearer or farther; the row one came from, else the first liquid, stays where it is shown."""
        drawn = self.seen.drawn if self.seen is not None else plot.Drawn()
        kept = [*drawn.path[:1], *(dot.fractions for dot in drawn.dots[:1])]
        self.window = plot.zoomed(self.window, factor, to_plane(kept[0]) if kept else None)
        self.draw()

    def action_move(self, right: int, up: int) -> None:
        if self.window != plot.ALL:
            self.window = plot.moved(self.window, right, up)
            self.draw()

    def action_whole(self) -> None:
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
        side = self.query_one("#map-side", VerticalScroll)
        side.scroll_relative(y=pages * max(1, side.size.height - 1), animate=False)

    def action_write(self) -> None:
        if self.seen is not None:
            verb = partial(export, seen=self.seen, window=self.window)
            self.ask(
                verb, lambda path: self.bench.say(f"The map is written: {path}", title="SVG"), group="write"
            )
