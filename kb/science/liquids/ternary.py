"""The triangular plot of fractional parameters: plane, terminal cells, regions, lines and labels.

Corners: all dispersion at the lower right, all polar at the top, all hydrogen bonding at the lower left, as
in the plots of J. P. Teas (1968) and J. Burke (1984), from memory. The plane has its origin in the lower left
corner and sides of 100. A terminal cell is taken to be twice as high as wide. Pure geometry: it returns
places, and says nothing about colours or signs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from copy import copy
from typing import NamedTuple

from kb.science.liquids.solubility import Hsp

HEIGHT = 50.0 * math.sqrt(3.0)
"""Height of a triangle with sides of 100."""
CELL_ASPECT = 2.0
DISPERSION_RANGE = (13.0, 22.0)
"""Where the dispersion parameter of real liquids lies, MPa^0.5: a region is drawn for those only."""
_DIRECTIONS = ((1, 0), (-1, 0), (1, -1), (1, 1), (-1, -1), (-1, 1), (0, -1), (0, 1))
"""Where a label may stand, best first: beside, then above and below. Rows run downwards."""

Fractions = tuple[float, float, float]
"""Per cent of dispersion, polar and hydrogen bonding, as solubility.fractional gives them."""


class Place(NamedTuple):
    """A point of the plane; ``y`` runs upwards."""

    x: float
    y: float


class Cell(NamedTuple):
    """A terminal cell, from 0 at the top left."""

    column: int
    row: int


class Window(NamedTuple):
    """The part of the plane that is shown."""

    left: float
    bottom: float
    right: float
    top: float


WHOLE = Window(-2.0, -2.0, 102.0, HEIGHT + 2.0)
"""The whole triangle with a little air around it."""


class Label(NamedTuple):
    """A label that found a place: ``cell`` is its first character."""

    id: str
    cell: Cell
    text: str


def to_plane(fractions: Fractions) -> Place:
    """The place of fractional parameters, of any sum. Raises ValueError if nothing is above zero."""
    dispersion, polar, bonding = fractions
    total = dispersion + polar + bonding
    if not (min(fractions) >= 0 and 0 < total < math.inf):
        raise ValueError(f"no place on the plot for the fractions {fractions}")
    dispersion, polar = 100.0 * dispersion / total, 100.0 * polar / total
    return Place(dispersion + polar / 2.0, polar * HEIGHT / 100.0)


def to_fractions(x: float, y: float) -> Fractions | None:
    """The fractional parameters at a place of the plane, in per cent; None outside the triangle."""
    polar = 100.0 * y / HEIGHT
    dispersion = x - polar / 2.0
    bonding = 100.0 - dispersion - polar
    if min(polar, dispersion, bonding) < -1e-9:
        return None
    return (max(dispersion, 0.0), max(polar, 0.0), max(bonding, 0.0))


def around(places: Iterable[Place], air: float = 5.0, least: float = 10.0) -> Window:
    """A window that holds all places, with ``air`` on every side and at least ``least`` wide and high.

    Raises ValueError for no places.
    """
    kept = list(places)
    if not kept:
        raise ValueError("no places to zoom to")
    left, right = min(p.x for p in kept) - air, max(p.x for p in kept) + air
    bottom, top = min(p.y for p in kept) - air, max(p.y for p in kept) + air
    wider, higher = max(least - right + left, 0.0) / 2.0, max(least - top + bottom, 0.0) / 2.0
    return Window(left - wider, bottom - higher, right + wider, top + higher)


class Frame:
    """A window of the plane on so many columns and rows, undistorted and in the middle.

    Raises ValueError for less than 2 x 2 cells or a window without size.
    """

    def __init__(self, columns: int, rows: int, window: Window = WHOLE) -> None:
        if columns < 2 or rows < 2:
            raise ValueError(f"the plot needs at least 2 columns and 2 rows, not {columns} and {rows}")
        width, height = window.right - window.left, window.top - window.bottom
        if not (0 < width < math.inf and 0 < height < math.inf):
            raise ValueError(f"the window has no size: {tuple(window)}")
        self.columns, self.rows = columns, rows
        self._per_column = max(width / (columns - 1), height / (rows - 1) / CELL_ASPECT)
        self._per_row = self._per_column * CELL_ASPECT
        middle_x, middle_y = (window.left + window.right) / 2.0, (window.bottom + window.top) / 2.0
        self._left = middle_x - self._per_column * (columns - 1) / 2.0
        self._top = middle_y + self._per_row * (rows - 1) / 2.0

    def finer(self, across: int, down: int) -> Frame:
        """The same part of the plane, each cell cut into ``across`` x ``down`` cells."""
        found = copy(self)
        found.columns, found.rows = self.columns * across, self.rows * down
        found._per_column, found._per_row = self._per_column / across, self._per_row / down
        # A place stands for the centre of its cell, so the first part lies up and left of it.
        found._left = self._left - self._per_column / 2.0 + found._per_column / 2.0
        found._top = self._top + self._per_row / 2.0 - found._per_row / 2.0
        return found

    @property
    def window(self) -> Window:
        """What the centres of the outermost cells show: at least the window asked for."""
        right = self._left + self._per_column * (self.columns - 1)
        return Window(self._left, self._top - self._per_row * (self.rows - 1), right, self._top)

    def cell(self, place: Place) -> Cell | None:
        """The cell that holds a place; None outside the frame."""
        cell = self.nearest(place)
        return cell if 0 <= cell.column < self.columns and 0 <= cell.row < self.rows else None

    def place(self, cell: Cell) -> Place:
        return Place(self._left + cell.column * self._per_column, self._top - cell.row * self._per_row)

    def line(self, places: Sequence[Place]) -> tuple[Cell, ...]:
        """The cells within the frame on a line through the places, in order, none twice in a row."""
        cells: list[Cell] = []
        for start, end in zip(places, places[1:] or places, strict=False):
            clipped = self._clipped(start, end)
            for cell in _walk(self.nearest(clipped[0]), self.nearest(clipped[1])) if clipped else ():
                inside = 0 <= cell.column < self.columns and 0 <= cell.row < self.rows
                if inside and (not cells or cells[-1] != cell):
                    cells.append(cell)
        return tuple(cells)

    def triangle(self) -> tuple[Cell, ...]:
        corners = (Place(0.0, 0.0), Place(100.0, 0.0), Place(50.0, HEIGHT), Place(0.0, 0.0))
        return tuple(dict.fromkeys(self.line(corners)))

    def nearest(self, place: Place) -> Cell:
        """The cell of a place, also beyond the frame."""
        column = math.floor((place.x - self._left) / self._per_column + 0.5)
        return Cell(column, math.floor((self._top - place.y) / self._per_row + 0.5))

    def _clipped(self, start: Place, end: Place) -> tuple[Place, Place] | None:
        """The part of a line that may touch the frame, so that a far end costs no walk (Liang and Barsky)."""
        window = self.window
        low, high = 0.0, 1.0
        for at, step, least, most, margin in (
            (start.x, end.x - start.x, window.left, window.right, self._per_column),
            (start.y, end.y - start.y, window.bottom, window.top, self._per_row),
        ):
            first, last = least - margin - at, most + margin - at
            if step == 0:
                if not first <= 0 <= last:
                    return None
                continue
            near, far = sorted((first / step, last / step))
            low, high = max(low, near), min(high, far)
        if low > high:
            return None
        width, height = end.x - start.x, end.y - start.y
        return (
            Place(start.x + low * width, start.y + low * height),
            Place(start.x + high * width, start.y + high * height),
        )


def in_region(centre: Hsp, r0: float) -> Callable[[Fractions], bool]:
    """What tells whether some point of a Hansen sphere has given fractional parameters.

    Only points with a dispersion parameter of real liquids and none of the three below zero count. The
    plot keeps the proportions and loses the strength: a liquid in the region may still lie outside the
    sphere, never the other way round. Exact: fractions are a ray from the origin, which meets the sphere in
    an interval or not.
    """
    # An outline asks some thousand times: what is the sphere's own is worked out once.
    a, b, c = _scaled(centre)
    beyond, (least, most) = a * a + b * b + c * c - r0 * r0, DISPERSION_RANGE

    def meets(fractions: Fractions) -> bool:
        d, y, z = fractions
        x = 2.0 * d
        toward = x * a + y * b + z * c
        square = x * x + y * y + z * z
        under = toward * toward - square * beyond
        if under < 0 or square == 0:
            return False
        root = math.sqrt(under)
        low, high = (toward - root) / square, (toward + root) / square
        if d == 0:
            return least <= 0 <= high
        return max(low, least / d, 0.0) <= min(high, most / d)

    return meets


def region_outline(centre: Hsp, r0: float, points: int = 72) -> tuple[Place, ...]:
    """The edge of a sphere's region as a polygon in the plane, for drawing; empty if there is no region.

    The region is the shadow of a convex body and so convex: its edge is searched along rays from within.
    """
    inner = tuple(
        max(least, min(most, value))
        for value, least, most in zip(
            centre, (DISPERSION_RANGE[0], 0.0, 0.0), (DISPERSION_RANGE[1], math.inf, math.inf), strict=True
        )
    )
    seed = (inner[0], inner[1], inner[2])
    meets = in_region(centre, r0)
    if sum(inner) <= 0 or not meets(seed):
        return ()
    start = to_plane(seed)
    edge = []
    for number in range(points):
        angle = 2.0 * math.pi * number / points
        right, up = math.cos(angle), math.sin(angle)
        low, high = 0.0, 200.0
        for _ in range(50):
            middle = 0.5 * (low + high)
            fractions = to_fractions(start.x + middle * right, start.y + middle * up)
            if fractions is not None and meets(fractions):
                low = middle
            else:
                high = middle
        edge.append(Place(start.x + low * right, start.y + low * up))
    return tuple(edge)


def shared_cells(marks: Mapping[str, Cell]) -> dict[Cell, tuple[str, ...]]:
    """The ids at each cell, in the order given: several liquids may fall on one."""
    found: dict[Cell, tuple[str, ...]] = {}
    for name, cell in marks.items():
        found[cell] = (*found.get(cell, ()), name)
    return found


def place_labels(
    wanted: Sequence[tuple[str, Cell, str]], columns: int, rows: int, taken: Iterable[Cell] = ()
) -> tuple[tuple[Label, ...], tuple[str, ...]]:
    """Labels beside their marks so that none covers another label, a mark or a cell that is taken.

    And the ids of those that found no place and belong in a list beside.

    ``wanted`` are id, cell of the mark, and text, the most important first: the first comes to stand best.
    A text must be one cell wide per character. Greedy and the same for the same input. An empty text, and
    a label without room, is left over.
    """
    used = {*taken, *(cell for _, cell, _ in wanted)}
    placed: list[Label] = []
    left_over: list[str] = []
    for name, mark, text in wanted:
        for first in _stands(mark, len(text)):
            cells = [Cell(first.column + step, first.row) for step in range(len(text))]
            fits = 0 <= first.row < rows and first.column >= 0 and first.column + len(text) <= columns
            if text and fits and used.isdisjoint(cells):
                used.update(cells)
                placed.append(Label(name, first, text))
                break
        else:
            left_over.append(name)
    return tuple(placed), tuple(left_over)


def _stands(mark: Cell, length: int) -> Iterable[Cell]:
    """Where a label may begin, best first."""
    for right, down in _DIRECTIONS:
        if right > 0:
            column = mark.column + 1
        elif right < 0:
            column = mark.column - length
        else:
            column = mark.column - length // 2
        yield Cell(column, mark.row + down)


def _walk(start: Cell, end: Cell) -> Iterable[Cell]:
    """The cells from one to another, each beside or diagonal to the one before."""
    steps = max(abs(end.column - start.column), abs(end.row - start.row), 1)
    for step in range(steps + 1):
        column = start.column + (2 * step * (end.column - start.column) + steps) // (2 * steps)
        row = start.row + (2 * step * (end.row - start.row) + steps) // (2 * steps)
        yield Cell(column, row)


def _scaled(hansen: tuple[float, float, float]) -> tuple[float, float, float]:
    """Hansen space with the dispersion parameter doubled, in which the sphere is round."""
    return (2.0 * hansen[0], hansen[1], hansen[2])
