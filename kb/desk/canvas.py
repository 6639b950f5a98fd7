"""A drawing in terminal cells: eight braille dots a cell, and words over them. No colour and no library.

Each dot and word belongs to a layer, a name of the caller's: a screen gives it a colour, and a pipe none.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

ACROSS, DOWN = 2, 4
"""Dots of a cell. A terminal cell is about twice as high as wide, so the dots lie on a square grid."""
BLANK = 0x2800
"""The first of the 256 braille patterns of Unicode; its lowest eight bits are the dots."""
_BITS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))

Dot = tuple[int, int]
"""Column and row of a dot, from 0 at the upper left."""


class Canvas:
    """``columns`` x ``rows`` cells. What lies outside is not drawn; words cover dots."""

    def __init__(self, columns: int, rows: int) -> None:
        self.columns, self.rows = columns, rows
        self._dots: dict[Dot, int] = {}
        self._signs: dict[Dot, str] = {}
        self._layers: dict[Dot, str] = {}

    def dots(self, dots: Iterable[Dot], layer: str) -> None:
        """Set dots. A cell that two layers share takes the colour of the later one."""
        for x, y in dots:
            cell = x // ACROSS, y // DOWN
            if 0 <= cell[0] < self.columns and 0 <= cell[1] < self.rows:
                self._dots[cell] = self._dots.get(cell, 0) | _BITS[x % ACROSS][y % DOWN]
                self._layers[cell] = layer

    def write(self, column: int, row: int, text: str, layer: str) -> None:
        """Write characters of one cell each, over whatever dots there are."""
        for at, sign in enumerate(text):
            cell = column + at, row
            if 0 <= cell[0] < self.columns and 0 <= row < self.rows:
                self._signs[cell], self._layers[cell] = sign, layer

    def lines(self) -> tuple[str, ...]:
        """The drawing as plain text, each line as wide as the canvas."""
        return tuple("".join(text for text, _ in row) for row in self.runs())

    def runs(self) -> tuple[tuple[tuple[str, str], ...], ...]:
        """For each row pieces of one layer: text and layer ("" where nothing is)."""
        return tuple(tuple(_joined(self._row(row))) for row in range(self.rows))

    def _row(self, row: int) -> Iterable[tuple[str, str]]:
        for column in range(self.columns):
            cell = column, row
            bits = self._dots.get(cell)
            sign = self._signs.get(cell) or (chr(BLANK + bits) if bits else " ")
            yield sign, self._layers.get(cell, "")


def _joined(pieces: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for text, layer in pieces:
        if found and found[-1][1] == layer:
            found[-1] = (found[-1][0] + text, layer)
        else:
            found.append((text, layer))
    return found


def filled(edge: Sequence[Dot], every: int = 4) -> list[Dot]:
    """A sparse pattern of dots within a closed convex edge: one in ``every`` across and half as many down."""
    ends: dict[int, tuple[int, int]] = {}
    for x, y in edge:
        low, high = ends.get(y, (x, x))
        ends[y] = min(low, x), max(high, x)
    step = max(every // 2, 1)
    return [
        (x, y)
        for y, (low, high) in ends.items()
        if y % step == 0
        # Every second row is moved by half a step, so that a fill looks even and no edge is mistaken for it.
        for x in range(low, high + 1)
        if (x + (step if (y // step) % 2 else 0)) % every == 0
    ]
