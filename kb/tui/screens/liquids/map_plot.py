"""The solubility map in terminal cells: sides, regions, liquids, a drying path and labels, each by its sign.

No widgets and no colour: every sign is told in the legend. Geometry is that of kb.science.liquids.ternary.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from kb.science.liquids.solubility import Hsp
from kb.science.liquids.ternary import (
    HEIGHT,
    WHOLE,
    Cell,
    Fractions,
    Frame,
    Place,
    Window,
    outline,
    place_labels,
    shared_cells,
    to_plane,
)
from kb.tui.text import cut

LETTERS = "abcdefghijklmnopqrstuvwyz"
"""Signs of the ranked liquids, in their order; large letters and figures are those of regions."""
FRESH, DRYING, DRY = "@", "*", "X"
SIDE = ":"
ALL = Window(WHOLE.left, WHOLE.bottom - 5.0, WHOLE.right, WHOLE.top)
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
    name: str
    centre: Hsp
    r0: float
    to_reach: bool


class Dot(NamedTuple):
    """A liquid on the map."""

    id: str
    name: str
    fractions: Fractions


class Drawn(NamedTuple):
    """What is on the map: regions, liquids best first, and where drying takes the chosen liquid or blend."""

    regions: tuple[Region, ...] = ()
    dots: tuple[Dot, ...] = ()
    path: tuple[Fractions, ...] = ()


class Picture(NamedTuple):
    """Lines of one width, and the sign under which an id is hidden that has no sign of its own there."""

    lines: tuple[str, ...]
    hidden: Mapping[str, str]
    outside: frozenset[str]
    """Ids that lie outside the window."""


def letter(place: int) -> str:
    """The sign of a liquid by its place in the list."""
    return LETTERS[place] if place < len(LETTERS) else "o"


def draw(drawn: Drawn, columns: int, rows: int, window: Window) -> Picture:
    """Everything in its cell; what is more telling covers what is less."""
    frame = Frame(columns, rows, window)
    cells: dict[Cell, str] = dict.fromkeys(frame.triangle(), SIDE)
    # The one to reach is drawn last, so that its edge is whole where two cross.
    for region in sorted(drawn.regions, key=lambda one: one.to_reach):
        cells |= dict.fromkeys(outline(frame.region(region.centre, region.r0)), region.sign)
    taken = _corners(frame, cells)
    marks, outside = _marks(frame, drawn.dots)
    places = {dot.id: place for place, dot in enumerate(drawn.dots)}
    path = _path(frame, drawn.path)
    cells |= {cell: sign for cell, sign in path.items() if sign == DRYING}
    hidden: dict[str, str] = {}
    for cell, ids in shared_cells(marks).items():
        cells[cell] = letter(places[ids[0]])
        hidden |= dict.fromkeys(ids[1:], letter(places[ids[0]]))
        if path.get(cell, DRYING) != DRYING:
            hidden |= dict.fromkeys(ids, path[cell])
    cells |= {cell: sign for cell, sign in path.items() if sign != DRYING}
    texts = [
        (dot.id, marks[dot.id], _label(dot.name))
        for dot in drawn.dots
        if dot.id in marks and dot.id not in hidden
    ]
    labels = place_labels(texts, columns, rows, {*taken, *path, *_edges(cells)})
    for label in labels.placed:
        cells |= {Cell(label.cell.column + at, label.cell.row): one for at, one in enumerate(label.text)}
    lines = tuple(
        "".join(cells.get(Cell(column, row), " ") for column in range(columns)) for row in range(rows)
    )
    return Picture(lines, hidden, frozenset(outside))


def _label(name: str) -> str:
    """A short name of characters one cell wide."""
    short = name.partition(" (")[0].partition(", ")[0]
    text = cut(short, LABEL)
    text = f" {text} "
    return (
        text
        if text.isprintable()
        and len(text) <= LABEL + 2
        and all(ord(one) < 0x1100 or one == "…" for one in text)
        else ""
    )


def _edges(cells: Mapping[Cell, str]) -> list[Cell]:
    """Cells that no label may cover: edges of regions, so that they stay readable. Sides may be covered."""
    return [cell for cell, sign in cells.items() if sign != SIDE]


def _corners(frame: Frame, cells: dict[Cell, str]) -> list[Cell]:
    """The names of the corners, where they are in the window."""
    taken = []
    for place, text, before in (
        (Place(0.0, 0.0), "H bonding", False),
        (Place(100.0, 0.0), "Dispersion", True),
        (Place(50.0, HEIGHT), "Polar", False),
    ):
        cell = frame.cell(place)
        if cell is None:
            continue
        first = cell.column - len(text) + 1 if before else cell.column
        row = cell.row + 1 if place.y == 0 and cell.row + 1 < frame.rows else cell.row
        first = max(0, min(frame.columns - len(text), first))
        for at, one in enumerate(text):
            cells[Cell(first + at, row)] = one
            taken.append(Cell(first + at, row))
    return taken


def _marks(frame: Frame, dots: Sequence[Dot]) -> tuple[dict[str, Cell], list[str]]:
    inside: dict[str, Cell] = {}
    outside = []
    for dot in dots:
        cell = frame.cell(to_plane(dot.fractions))
        if cell is None:
            outside.append(dot.id)
        else:
            inside[dot.id] = cell
    return inside, outside


def _path(frame: Frame, path: Sequence[Fractions]) -> dict[Cell, str]:
    """Fresh, on the way, and nearly dry; a path that stays in one cell is fresh only."""
    places = [to_plane(fractions) for fractions in path]
    if not places:
        return {}
    found = dict.fromkeys(frame.line(places), DRYING)
    for place, sign in ((places[-1], DRY), (places[0], FRESH)):
        cell = frame.cell(place)
        if cell is not None:
            found[cell] = sign
    return found


# -- the window --------------------------------------------------------------------------------------


def zoomed(window: Window, factor: float) -> Window:
    """The same middle, ``factor`` times as wide; never wider than the whole, never finer than NEAREST."""
    width = window.right - window.left
    widest = ALL.right - ALL.left
    factor = min(max(factor, NEAREST / width), widest / width)
    if width * factor >= widest - 1e-9:
        return ALL
    middle_x, middle_y = (window.left + window.right) / 2, (window.bottom + window.top) / 2
    half_x, half_y = width * factor / 2, (window.top - window.bottom) * factor / 2
    return moved(Window(middle_x - half_x, middle_y - half_y, middle_x + half_x, middle_y + half_y), 0, 0)


def moved(window: Window, right: int, up: int) -> Window:
    """The window moved by steps, kept over the triangle."""
    step_x = right * STEP * (window.right - window.left)
    step_y = up * STEP * (window.top - window.bottom)
    # The middle stays on the triangle's rectangle, so that one cannot get lost.
    middle_x, middle_y = (window.left + window.right) / 2, (window.bottom + window.top) / 2
    step_x = min(max(middle_x + step_x, 0.0), 100.0) - middle_x
    step_y = min(max(middle_y + step_y, 0.0), HEIGHT) - middle_y
    return Window(window.left + step_x, window.bottom + step_y, window.right + step_x, window.top + step_y)
