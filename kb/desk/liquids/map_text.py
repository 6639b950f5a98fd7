"""The solubility map in braille dots, for a screen, a terminal or a pipe, with its key in words.

No widgets and no colour: screen and command draw the same. A region to reach is filled, one to spare and
one fitted to own crumbs are outlines; liquids bear the number of their place in the list. Geometry is that of
kb.science.liquids.ternary.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from kb.desk.canvas import ACROSS, DOWN, Canvas, filled
from kb.desk.canvas import Dot as Point
from kb.desk.liquids.solubility_map import MapBlend, MapLiquid, MapRegion, SolubilityMap
from kb.science.choose.acting import at_edge
from kb.science.liquids import ternary as tri
from kb.science.liquids.solubility import Hsp

SIGNS = "123456789abcdefghijklmnopqrstuvwyz"
"""Signs of the ranked liquids, in their order."""
FRESH, DRYING, DRY = "@", "*", "X"
AS_PRINTED = "="
"""Where printed charts would place the blend: by volume-averaged fractions."""
REACH, SPARE, SIDE, LIQUID, PATH, NAME = "reach", "spare", "side", "liquid", "path", "name"
"""Layers of the drawing, for a screen to colour."""
EDGE_POINTS = 144
"""Corners of the polygon that stands for a region's edge; more are not seen at the nearest zoom."""
ALL = tri.Window(tri.WHOLE.left, tri.WHOLE.bottom - 5.0, tri.WHOLE.right, tri.WHOLE.top)
"""The whole triangle with a row below it for the names of its corners."""
LABEL = 12
"""Cells of a label at most."""
NEAREST = 4.0
"""Zoom goes in to a window this wide, in per cent."""
STEP = 0.25
"""How much of the window an arrow key moves."""


class Region(NamedTuple):
    """A sphere's shadow: to be reached, or to be spared."""

    sign: str
    """Short name of it in the legend, beside figures."""
    name: str
    centre: Hsp
    r0: float
    to_reach: bool
    own: bool = False
    """Fitted to own crumb tests: neither to be reached nor to be spared, but to be compared."""


class Dot(NamedTuple):
    id: str
    name: str
    fractions: tri.Fractions


class Drawn(NamedTuple):
    """What is on the map: regions, liquids best first, and where drying takes the chosen liquid or blend."""

    regions: tuple[Region, ...] = ()
    dots: tuple[Dot, ...] = ()
    path: tuple[tri.Fractions, ...] = ()
    as_printed: tri.Fractions | None = None
    """The place of the chosen blend by volume-averaged fractions; ``path`` begins by averaged parameters."""


class Picture(NamedTuple):
    """The drawing, and the sign under which an id is hidden that has no sign of its own there."""

    rows: tuple[tuple[tuple[str, str], ...], ...]
    """For each row its pieces: text, and the layer that it belongs to."""
    hidden: Mapping[str, str]
    outside: frozenset[str]
    """Ids that lie outside the window."""

    @property
    def lines(self) -> tuple[str, ...]:
        return tuple("".join(text for text, _ in row) for row in self.rows)


def sign(place: int) -> str:
    """The sign of a liquid by its place in the list."""
    return SIGNS[place] if place < len(SIGNS) else "o"


def draw(drawn: Drawn, columns: int, rows: int, window: tri.Window) -> Picture:
    """Everything at its place; what is more telling covers what is less."""
    frame, canvas = tri.Frame(columns, rows, window), Canvas(columns, rows)
    fine = frame.finer(ACROSS, DOWN)
    canvas.dots(fine.triangle(), SIDE)
    # The one to reach is drawn last, so that its edge is whole where two cross.
    for region in sorted(drawn.regions, key=lambda one: one.to_reach):
        _region(canvas, fine, region)
    taken = [*_corners(frame, canvas), *_letters(frame, canvas, drawn.regions)]
    cells = {dot.id: frame.cell(tri.to_plane(dot.fractions)) for dot in drawn.dots}
    marks = {name: cell for name, cell in cells.items() if cell is not None}
    places = {dot.id: place for place, dot in enumerate(drawn.dots)}
    path = _path(frame, drawn.path)
    printed = None if drawn.as_printed is None else frame.cell(tri.to_plane(drawn.as_printed))
    if printed is not None and path.get(printed) != FRESH:
        path[printed] = AS_PRINTED
    for cell, mark in path.items():
        canvas.write(*cell, mark, PATH)
    hidden: dict[str, str] = {}
    for cell, ids in tri.shared_cells(marks).items():
        hidden |= dict.fromkeys(ids[1:], sign(places[ids[0]]))
        if path.get(cell, DRYING) != DRYING:
            hidden |= dict.fromkeys(ids, path[cell])
        else:
            canvas.write(*cell, sign(places[ids[0]]), LIQUID)
    texts = [
        (dot.id, marks[dot.id], _label(dot.name))
        for dot in drawn.dots
        if dot.id in marks and dot.id not in hidden
    ]
    for label in tri.place_labels(texts, columns, rows, {*taken, *path})[0]:
        canvas.write(*label.cell, label.text, NAME)
    return Picture(canvas.runs(), hidden, frozenset(cells.keys() - marks.keys()))


def _region(canvas: Canvas, fine: tri.Frame, region: Region) -> None:
    """The shadow of a sphere: its edge, and within it a sparse fill if it is to be reached."""
    edge = _edge(region.centre, region.r0)
    if not edge:
        return
    line: list[Point] = [(cell.column, cell.row) for cell in fine.line((*edge, edge[0]))]
    if region.to_reach:
        canvas.dots(filled(_whole(fine, edge)), REACH)
    canvas.dots(line, REACH if region.to_reach else SPARE)


def _letters(frame: tri.Frame, canvas: Canvas, regions: Sequence[Region]) -> list[tri.Cell]:
    """The sign of each region at the top of its edge: two outlines look alike."""
    taken: list[tri.Cell] = []
    for region in regions:
        cells = [cell for place in _edge(region.centre, region.r0) if (cell := frame.cell(place))]
        free = [cell for cell in cells if cell not in taken]
        if free:
            top = min(free, key=lambda cell: (cell.row, cell.column))
            canvas.write(*top, region.sign, REACH if region.to_reach else SPARE)
            taken.append(top)
    return taken


@lru_cache(maxsize=64)
def _edge(centre: Hsp, r0: float) -> tuple[tri.Place, ...]:
    """The edge of a region, whatever the window: searched once, drawn at every key."""
    return tri.region_outline(centre, r0, points=EDGE_POINTS)


def _whole(fine: tri.Frame, edge: Sequence[tri.Place]) -> list[Point]:
    """The edge in dots, also where it lies outside the window, so that what is inside can be filled."""
    corners = [fine.nearest(place) for place in edge]
    found: list[Point] = []
    for (x, y), (right, down) in zip(corners, (*corners[1:], corners[0]), strict=True):
        steps = max(abs(down - y), 1)
        for step in range(steps + 1):
            at = y + (down - y) * step // steps
            if -1 <= at <= fine.rows:
                found.append((min(max(x + (right - x) * step // steps, -1), fine.columns), at))
    return found


def _label(name: str) -> str:
    """A short name of characters one cell wide."""
    text = name.partition(" (")[0].partition(", ")[0].strip()
    text = text if len(text) <= LABEL else text[: LABEL - 1].rstrip() + "…"
    wide = any(ord(one) >= 0x1100 and one != "…" for one in text)
    return f" {text} " if text.isprintable() and len(text) <= LABEL and not wide else ""


def _corners(frame: tri.Frame, canvas: Canvas) -> list[tri.Cell]:
    """The names of the corners, where they are in the window."""
    taken = []
    for place, text, before in (
        (tri.Place(0.0, 0.0), "H bonding", False),
        (tri.Place(100.0, 0.0), "Dispersion", True),
        (tri.Place(50.0, tri.HEIGHT), "Polar", False),
    ):
        cell = frame.cell(place)
        if cell is None:
            continue
        first = cell.column - len(text) + 1 if before else cell.column
        row = cell.row + 1 if place.y == 0 and cell.row + 1 < frame.rows else cell.row
        first = max(0, min(frame.columns - len(text), first))
        canvas.write(first, row, text, NAME)
        taken += [tri.Cell(first + at, row) for at in range(len(text))]
    return taken


def _path(frame: tri.Frame, path: Sequence[tri.Fractions]) -> dict[tri.Cell, str]:
    """Fresh, on the way, and nearly dry; a path that stays in one cell is fresh only."""
    places = [tri.to_plane(fractions) for fractions in path]
    if not places:
        return {}
    found = dict.fromkeys(frame.line(places), DRYING)
    for place, mark in ((places[-1], DRY), (places[0], FRESH)):
        cell = frame.cell(place)
        if cell is not None:
            found[cell] = mark
    return found


# -- the window --------------------------------------------------------------------------------------


def zoomed(window: tri.Window, factor: float, kept: tri.Place | None = None) -> tri.Window:
    """``factor`` times as wide; never wider than the whole, never finer than NEAREST.

    ``kept``, if it is in sight, stays where it is on the screen; else the middle does.
    """
    width = window.right - window.left
    widest = ALL.right - ALL.left
    factor = min(max(factor, NEAREST / width), widest / width)
    if width * factor >= widest - 1e-9:
        return ALL
    middle_x, middle_y = (window.left + window.right) / 2, (window.bottom + window.top) / 2
    if kept and window.left <= kept.x <= window.right and window.bottom <= kept.y <= window.top:
        middle_x, middle_y = kept.x + (middle_x - kept.x) * factor, kept.y + (middle_y - kept.y) * factor
    half_x, half_y = width * factor / 2, (window.top - window.bottom) * factor / 2
    return moved(tri.Window(middle_x - half_x, middle_y - half_y, middle_x + half_x, middle_y + half_y), 0, 0)


def moved(window: tri.Window, right: int, up: int) -> tri.Window:
    """The window moved by steps, kept over the triangle."""
    step_x = right * STEP * (window.right - window.left)
    step_y = up * STEP * (window.top - window.bottom)
    # The middle stays on the triangle's rectangle, so that one cannot get lost.
    middle_x, middle_y = (window.left + window.right) / 2, (window.bottom + window.top) / 2
    step_x = min(max(middle_x + step_x, 0.0), 100.0) - middle_x
    step_y = min(max(middle_y + step_y, 0.0), tri.HEIGHT) - middle_y
    west, south, east, north = window
    return tri.Window(west + step_x, south + step_y, east + step_x, north + step_y)


LETTERS = {"adhesive": "A", "medium": "M", "carrier": "C", "own": "O"}
EDGE_SIGN = "~"
EDGE_WORDS = "at the edge of a region (RED 0.9 to 1.1), neither in nor out"
BLEND_WORDS = "by averaged Hansen parameters"
AS_PRINTED_WORDS = "by volume-averaged fractions, as printed charts place a blend"


def drawn_of(found: SolubilityMap) -> Drawn:
    regions = tuple(
        Region(sign, one.name, one.centre, one.r0, one.kind == "adhesive", one.kind == "own")
        for sign, one in zip(region_letters(found.regions), found.regions, strict=True)
    )
    dots = tuple(Dot(one.id, named(one), one.fractions) for one in found.liquids)
    if found.blend is None:
        return Drawn(regions, dots)
    path = (found.blend.fractions, *found.blend.path[1:])
    return Drawn(regions, dots, path, found.blend.fractions_as_printed)


def render_text(found: SolubilityMap, columns: int = 96, rows: int = 40) -> tuple[str, ...]:
    """The lines of the picture, ``columns`` wide and ``rows`` high, then those of its key."""
    drawn = drawn_of(found)
    window = tri.Window(*found.window)
    picture = draw(drawn, columns, rows, ALL if window == tri.WHOLE else window)
    lines = ["", *(f"{one.sign} {region_words(one)}" for one in drawn.regions)]
    lines += [f"{EDGE_SIGN} before a name: {EDGE_WORDS}"] if drawn.regions else []
    lines += blend_lines(found.blend)
    first = f"RED to {drawn.regions[0].sign}" if drawn.regions else ""
    for place, one in enumerate(found.liquids):
        if one.id not in picture.outside:
            hidden = picture.hidden.get(one.id)
            lines.append(_listed(sign(place), one, first) + (f" (at {hidden})" if hidden else ""))
    return (*(line.rstrip() for line in picture.lines), *lines)


def named(one: MapLiquid) -> str:
    """Its name, marked where the printed sphere leaves open whether it dissolves."""
    return f"{EDGE_SIGN if at_edge(one.red.values()) else ''}{one.name}"


def region_words(region: Region) -> str:
    """What a region is for: filled, or an outline."""
    if region.own:
        return f"outline: {region.name}, to compare"
    return f"{'filled: reach' if region.to_reach else 'outline: SPARE'} {region.name}"


def blend_lines(blend: MapBlend | None) -> list[str]:
    """Where a blend stands, both ways, and where it goes as it dries."""
    if blend is None:
        return []
    return [
        f"{FRESH} {blend.name}, {BLEND_WORDS} (d / p / h {shares(blend.fractions)} %)",
        f"{AS_PRINTED} the same, {AS_PRINTED_WORDS} (d / p / h {shares(blend.fractions_as_printed)} %)",
        *([f"{DRYING} its path while it dries, {DRY} nearly dry"] if blend.path else []),
        *(f"    {lost:.0f} % gone: d / p / h {shares(place)} %" for lost, place in blend.steps),
    ]


def region_letters(regions: tuple[MapRegion, ...]) -> tuple[str, ...]:
    """One sign per region: A for the adhesive, then M and C; a digit where a letter is taken."""
    found: list[str] = []
    digit = 1
    for region in regions:
        letter = LETTERS.get(region.kind, "R")
        if letter in found:
            digit += 1
            letter = str(digit) if digit < 10 else "+"
        found.append(letter)
    return tuple(found)


def _listed(sign: str, one: MapLiquid, first: str) -> str:
    red = next(iter(one.red.values()), None)
    edge = "" if red is None or not at_edge([red]) else ", at the edge"
    near = "" if red is None else f"; {first} {red:.2f}{edge}"
    usable = "" if one.held and one.allowed else "; not held or not allowed"
    return f"{sign} {one.name} ({shares(one.fractions)} %{near}{usable})"


def shares(fractions: tuple[float, float, float]) -> str:
    return " / ".join(f"{part:.0f}" for part in fractions)
