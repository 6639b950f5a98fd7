"""A face of a sheet in cells of the terminal: its edge, its patches by pattern and letter."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from kb.science.sheet.polygons import inside

if TYPE_CHECKING:
    from kb.desk.sheet.tape import PatchView

CELL_RATIO = 2.0
"""A cell of a terminal is about twice as high as it is wide."""
PATTERNS = {"todo": "░", "now": "▒", "done": "█", "look": "▓", "partly": "▚", "skipped": "x", "stopped": "="}
STYLES = {
    "todo": "$secondary",
    "now": "$primary",
    "done": "$success",
    "look": "$warning",
    "partly": "$success",
    "skipped": "$secondary",
    "stopped": "$error",
    "edge": "$secondary",
    "draw": "$accent bold",
    "": "",
}
LEGEND = (
    ("done", "D lifted"),
    ("look", "L look at the pair"),
    ("now", "N now"),
    ("partly", "P in part"),
    ("skipped", "X left out"),
    ("stopped", "S stopped"),
    ("todo", "to do"),
)


class Cell(NamedTuple):
    """A character and what it stands for: a state of a patch, ``edge``, ``draw`` or nothing."""

    sign: str = " "
    means: str = ""


class Scale(NamedTuple):
    """How many cells a sheet takes inside its edge, and how many mm a cell is."""

    across: int
    down: int
    mm_across: float
    mm_down: float


def scale_for(width_mm: float, height_mm: float, columns: int, rows: int) -> Scale:
    """The largest drawing of the sheet, edge included, in so many columns and rows."""
    inside, high = max(4, columns - 2), max(2, rows - 2)
    down = min(high, max(2, round(inside * height_mm / width_mm / CELL_RATIO)))
    across = min(inside, max(4, round(down * width_mm / height_mm * CELL_RATIO)))
    return Scale(across, down, width_mm / across, height_mm / down)


def face_cells(
    patches: Sequence[PatchView],
    scale: Scale,
    chosen: str = "",
    drawn: tuple[float, float, float, float] | None = None,
) -> list[list[Cell]]:
    """Rows of cells. ``drawn`` is the strip being drawn, in mm: left, top, right, bottom."""
    grid = [[Cell() for _ in range(scale.across)] for _ in range(scale.down)]
    for patch in patches:
        _fill(grid, patch, scale, chosen=patch.id == chosen)
    if drawn is not None:
        left, top, right, bottom = _cells_of(drawn, scale)
        for y in range(top, bottom + 1):
            for x in range(left, right + 1):
                grid[y][x] = Cell("▒", "draw")
    edge = "─" * scale.across
    return [
        [Cell(sign, "edge") for sign in f"┌{edge}┐"],
        *([Cell("│", "edge"), *row, Cell("│", "edge")] for row in grid),
        [Cell(sign, "edge") for sign in f"└{edge}┘"],
    ]


def label_of(patch: PatchView, room: int) -> str:
    """As much of number and letter as there is room for: the letter last, since it tells the state."""
    from kb.desk.sheet.tape import LETTERS

    letter, number = LETTERS[patch.state], patch.id[1:]
    # Numbers of patches to come that stand close together cannot be told apart, and a number with its blanks
    # must leave some of their pattern: only wide ones bear theirs.
    around = 0 if letter else 2
    for words in (f" {number}{letter} ", f"{number}{letter}" if letter else "", letter):
        if words and len(words) + around <= room:
            return words
    return ""


def _cells_of(box: tuple[float, float, float, float], scale: Scale) -> tuple[int, int, int, int]:
    """First and last column and row that a rectangle in mm covers; at least one of each."""
    left, right = (round(place / scale.mm_across) for place in (box[0], box[2]))
    top, bottom = (round(place / scale.mm_down) for place in (box[1], box[3]))
    left, top = min(left, scale.across - 1), min(top, scale.down - 1)
    return left, top, min(max(left, right - 1), scale.across - 1), min(max(top, bottom - 1), scale.down - 1)


def _fill(grid: list[list[Cell]], patch: PatchView, scale: Scale, *, chosen: bool) -> None:
    xs, ys = [x for x, _ in patch.polygon], [y for _, y in patch.polygon]
    left, top, right, bottom = _cells_of((min(xs), min(ys), max(xs), max(ys)), scale)
    sign = PATTERNS[patch.state]
    upright = len(patch.polygon) == 4 and len({round(x) for x in xs}) <= 2
    for y in range(top, bottom + 1):
        for x in range(left, right + 1):
            middle = ((x + 0.5) * scale.mm_across, (y + 0.5) * scale.mm_down)
            if upright or inside(middle, patch.polygon):
                grid[y][x] = Cell(sign, patch.state)
    words = label_of(patch, right - left + 1)
    words = f"[{words.strip()}]" if chosen and len(words.strip()) + 2 <= right - left + 1 else words
    row, start = (top + bottom) // 2, left + (right - left + 1 - len(words)) // 2
    for column, character in enumerate(words, start):
        grid[row][column] = Cell(character, f"{patch.state} label")
