"""Drawn pictures for the demo studio: no photographs, and a line in each of them says so.

Only whole numbers and no library, so that every machine gives the same bytes; TIFF with runs packed
(PackBits), because the bytes that zlib gives differ between its versions.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from itertools import groupby, pairwise
from typing import NamedTuple

PAPER, INK, STAIN, TAPE, BACKGROUND, MARK, FLECK = range(7)
TARGET = range(7, 13)
"""Patches of a colour target, made up: white, grey, black, red, green, blue."""
COLOURS = (
    *((226, 214, 186), (58, 46, 40), (214, 190, 142), (198, 158, 92), (92, 94, 96), (30, 30, 30)),
    *((216, 203, 174), (240, 240, 238), (128, 128, 128), (38, 38, 38)),
    *((170, 54, 48), (64, 132, 72), (52, 74, 146)),
)
LETTERS = {
    "D": (30, 17, 17, 17, 17, 17, 30),
    "R": (30, 17, 17, 30, 20, 18, 17),
    "A": (14, 17, 17, 31, 17, 17, 17),
    "W": (17, 17, 17, 21, 21, 27, 17),
    "N": (17, 25, 21, 19, 17, 17, 17),
}
"""Rows of five dots each, read as bits."""
DRAWN = "DRAWN"


class Canvas:
    """Rows of colour numbers, drawn on in pixels; what lies outside is left out."""

    def __init__(self, wide: int, high: int, colour: int) -> None:
        self.wide, self.high = wide, high
        self.rows = [bytearray([colour]) * wide for _ in range(high)]

    def box(self, x: int, y: int, wide: int, high: int, colour: int, over: int | None = None) -> None:
        """Fill a box; with ``over`` only where that colour is."""
        left, right = max(0, x), min(self.wide, x + wide)
        for row in self.rows[max(0, y) : max(0, y + high)]:
            for at in range(left, right):
                if over is None or row[at] == over:
                    row[at] = colour

    def stroke(self, points: list[tuple[int, int]], thick: int, colour: int) -> None:
        """Straight lines from point to point with a round pen."""
        for (x, y), (to_x, to_y) in pairwise(points):
            steps = max(abs(to_x - x), abs(to_y - y), 1)
            for step in range(steps + 1):
                self._dot(x + (to_x - x) * step // steps, y + (to_y - y) * step // steps, thick, colour)

    def _dot(self, x: int, y: int, thick: int, colour: int) -> None:
        for down in range(thick):
            for right in range(thick):
                inner = 4 * ((2 * down - thick + 1) ** 2 + (2 * right - thick + 1) ** 2)
                if inner <= 4 * thick * thick + 4:
                    self.box(x + right, y + down, 1, 1, colour)

    def word(self, text: str, x: int, y: int, dot: int, colour: int) -> None:
        """Capitals of ``LETTERS``, each dot so many pixels wide."""
        for place, letter in enumerate(text):
            for down, bits in enumerate(LETTERS[letter]):
                for right in range(5):
                    if bits >> 4 - right & 1:
                        self.box(x + (6 * place + right) * dot, y + down * dot, dot, dot, colour)


def chance(seed: int) -> Callable[[int], int]:
    """Whole numbers from 0 to below a limit, the same row for the same seed on every machine."""
    state = seed

    def below(limit: int) -> int:
        nonlocal state
        state = (state * 1_103_515_245 + 12_345) % (1 << 31)
        return (state >> 12) % limit

    return below


def _line_of_writing(canvas: Canvas, below: Callable[[int], int], box: tuple[int, int, int, int]) -> None:
    """Words of strokes up and down with loops, in a box of x, y, width and height of the small letters."""
    x, y, wide, tall = box
    at, pen = x, max(1, tall // 6)
    while at < x + wide - 5 * tall:
        points = [(at, y + tall)]
        for _ in range(3 + below(7)):
            reach = tall + (tall * below(3) // 2 if below(4) == 0 else 0)
            points.append((points[-1][0] + tall // 4 + below(1 + tall // 4), y + tall - reach))
            points.append((points[-1][0] + tall // 5 + below(1 + tall // 3), y + tall - below(1 + tall // 5)))
        canvas.stroke(points, pen, INK)
        at = points[-1][0] + tall // 2 + below(1 + tall // 2)


def _target(canvas: Canvas, x: int, y: int, side: int) -> None:
    for place, colour in enumerate(TARGET):
        canvas.box(x + place * side, y, side - 1, side, colour)


def _ruler(canvas: Canvas, x: int, y: int, px_per_mm: int, length_mm: int) -> None:
    """Marks for each millimetre, longer for every fifth."""
    for mm in range(length_mm + 1):
        canvas.box(x + mm * px_per_mm, y, 2, (14 if mm % 5 == 0 else 7) * px_per_mm // 8, MARK)


def patch(*, lifted: bool) -> Canvas:
    """A patch of tape over written lines at ``PATCH_PX_PER_MM``, before and after it was lifted.

    The second is laid three pixels further right and two lower, as nobody puts a sheet back exactly.
    """
    right, down = (3, 2) if lifted else (0, 0)
    canvas, below = Canvas(448, 400, PAPER), chance(14)
    for _ in range(260):
        canvas.box(below(448) + right, below(400) + down, 2 + below(3), 2, FLECK)
    canvas.box(132 + right, 60 + down, 190, 268, STAIN if lifted else TAPE)
    for number in range(6):
        _line_of_writing(canvas, below, (14 + right, 40 + 54 * number + down, 430, 20))
    _target(canvas, 8, 374, 22)
    _ruler(canvas, 160, 374, PATCH_PX_PER_MM, 10)
    canvas.word(DRAWN, 346, 380, 2, MARK)
    return canvas


PATCH_PX_PER_MM = 16


def leaf() -> Canvas:
    """The front of a written leaf with a bar of tape across it, on a grey ground."""
    canvas, below = Canvas(260, 380, BACKGROUND), chance(3)
    canvas.box(30, 20, 200, 320, PAPER)
    canvas.box(90, 110, 90, 20, TAPE)
    for number in range(22):
        _line_of_writing(canvas, below, (42, 36 + 13 * number, 172, 5))
    _target(canvas, 30, 352, 16)
    canvas.word(DRAWN, 190, 356, 1, PAPER)
    return canvas


def broadside() -> Canvas:
    """A printed table with tape along two folds, half of the lower one fallen off."""
    canvas, below = Canvas(290, 360, BACKGROUND), chance(7)
    canvas.box(30, 16, 230, 300, PAPER)
    canvas.box(44, 26, 200, 12, INK)
    for number in range(30):
        for column in range(5):
            canvas.box(48 + 40 * column, 48 + 8 * number, 12 + below(18), 3, INK)
    for y, wide in ((112, 230), (212, 120)):
        canvas.box(30, y, 230, 11, STAIN, PAPER)
        canvas.box(30, y, wide, 11, TAPE, STAIN)
    _target(canvas, 30, 330, 16)
    canvas.word(DRAWN, 220, 334, 1, PAPER)
    return canvas


PICTURES: dict[str, Callable[[], Canvas]] = {
    "qn-01-front": leaf,
    "qn-01-f1-before": lambda: patch(lifted=False),
    "qn-01-f1-after": lambda: patch(lifted=True),
    "qn-02-front": broadside,
}
"""By the name that the story gives them."""


def picture(name: str) -> bytes:
    """The picture of that name as a TIFF file. Raises KeyError for one that is not drawn here."""
    return tiff(PICTURES[name]())


class _Tag(NamedTuple):
    """An entry of a TIFF directory: its number, its type (3: 16 bits, 4: 32 bits) and its values."""

    number: int
    size: int
    values: tuple[int, ...]


def tiff(canvas: Canvas) -> bytes:
    """Baseline TIFF 6.0 with a palette of 8 bits and PackBits, one strip, no date and no writer."""
    strip = b"".join(map(_packed, canvas.rows))
    strip += b"\0" * (len(strip) % 2)
    colours = [*COLOURS, *[(0, 0, 0)] * (256 - len(COLOURS))]
    # Red of all colours, then green, then blue; 257 brings 8 bits to 16.
    palette = tuple(257 * colour[which] for which in range(3) for colour in colours)
    maps = struct.pack(f"<{len(palette)}H", *palette)
    start = 8
    tags = (
        *(_Tag(256, 3, (canvas.wide,)), _Tag(257, 3, (canvas.high,)), _Tag(258, 3, (8,))),
        *(_Tag(259, 3, (32773,)), _Tag(262, 3, (3,)), _Tag(273, 4, (start,)), _Tag(277, 3, (1,))),
        *(_Tag(278, 3, (canvas.high,)), _Tag(279, 4, (len(strip),))),
    )
    entries = b"".join(
        struct.pack("<HHI", one.number, one.size, 1) + struct.pack("<I", *one.values) for one in tags
    )
    entries += struct.pack("<HHII", 320, 3, len(palette), start + len(strip))
    where = start + len(strip) + len(maps)
    return (
        struct.pack("<2sHI", b"II", 42, where)
        + strip
        + maps
        + struct.pack("<H", len(tags) + 1)
        + entries
        + bytes(4)
    )


def _packed(row: bytearray) -> bytes:
    """A row by PackBits (TIFF 6.0, section 9): runs of one value, and the rest as it stands."""
    out, plain = bytearray(), bytearray()

    def flush() -> None:
        for at in range(0, len(plain), 128):
            part = plain[at : at + 128]
            out.extend((len(part) - 1, *part))
        plain.clear()

    for value, length in _runs(row):
        if length < 3:
            plain.extend([value] * length)
            continue
        flush()
        out.extend((257 - length, value))
    flush()
    return bytes(out)


def _runs(row: bytearray) -> Iterator[tuple[int, int]]:
    for value, same in groupby(row):
        length = len(list(same))
        while length > 0:
            yield value, min(length, 128)
            length -= 128
