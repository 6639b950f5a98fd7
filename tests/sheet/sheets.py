"""Sheets with tape at random, and the plainest order to compare with."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import zip_longest
from typing import NamedTuple

from kb.science.sheet.cutting import FACES, Area, Patch, cut
from kb.science.sheet.polygons import rectangle


class Taped(NamedTuple):
    """What :func:`kb.science.sheet.cutting.cut` takes."""

    strips: list[Area]
    weak: list[Area]
    width_mm: float
    height_mm: float


def taped_sheet(seed: int, strips: int | None = None, slack_mm: float | None = None) -> Taped:
    """A sheet with strips on both faces; with ``slack_mm`` those of the back lie about behind the front's."""
    rng = random.Random(seed)
    width, height = rng.uniform(200, 600), rng.uniform(250, 800)
    found: list[Area] = []
    behind: list[Area] = []
    for face in FACES if slack_mm is None else FACES[:1]:
        for _ in range(strips or rng.randint(2, 6)):
            long, short = rng.uniform(40, 190), rng.uniform(12, 50)
            across, down = (long, short) if rng.random() < 0.5 else (short, long)
            room = slack_mm or 0.0
            x, y = (rng.uniform(room, size - part - room) for size, part in ((width, across), (height, down)))
            found.append(Area(face, rectangle(x, y, across, down)))
            if slack_mm is not None:
                left = width - x - across + rng.uniform(-room, room)
                behind.append(Area("back", rectangle(left, y + rng.uniform(-room, room), across, down)))
    weak = []
    if rng.random() < 0.5:
        broad = rng.uniform(5, 60)
        weak.append(
            Area(
                rng.choice(FACES),
                rectangle(rng.uniform(0, width - broad), 0, broad, height),
                rng.choice(("fold", "friable media")),
            )
        )
    return Taped(found + behind, weak, width, height)


def patches(taped: Taped, patch_mm: float = 20.0) -> tuple[Patch, ...]:
    """All its tape in patches."""
    return cut(*taped, patch_mm)


def strict_alternation(pieces: Sequence[Patch]) -> list[Patch]:
    """Front, back, front, back ... as they stand in the list; then what is left on one face."""
    front, back = ([piece for piece in pieces if piece.face == face] for face in FACES)
    return [piece for both in zip_longest(front, back) for piece in both if piece is not None]
