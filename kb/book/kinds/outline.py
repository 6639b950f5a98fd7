"""Outlines of tape, weak zones and patches: corners in words."""

from __future__ import annotations

import math
import re
from typing import Any

_CORNER = r"\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*"
# A drawn outline has a few dozen; more comes from a damaged or hostile file and is slow to cut.
_MOST_CORNERS = 1_000


def corners(text: str) -> tuple[tuple[float, float], ...]:
    """The corners of an outline in words: ``10,20 110,20 110,45``. Raises ValueError in a sentence."""
    found: list[tuple[float, float]] = []
    # People put blanks after commas, and some programs write semicolons between corners.
    for part in re.sub(r"\s*,\s*", ",", text.replace(";", " ")).split():
        match = re.fullmatch(_CORNER, part)
        if match is None:
            raise ValueError(
                f"{part[:40]!r} is no corner of an outline; write x,y in mm, such as 10,20 110,20 110,45."
            )
        found.append((float(match[1]), float(match[2])))
    if not 3 <= len(found) <= _MOST_CORNERS:
        raise ValueError(f"The outline has {len(found)} corners; it has from 3 to {_MOST_CORNERS}.")
    # Digits enough make infinity.
    if not all(math.isfinite(value) for corner in found for value in corner):
        raise ValueError("The outline has a corner that is no place.")
    return tuple(found)


def outline_text(outline: Any) -> str:
    """Corners as an outline is written in the book."""
    return " ".join(f"{x:g},{y:g}" for x, y in outline)
