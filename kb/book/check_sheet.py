"""What may be in the records of a sheet: itself, its condition, tape, weak zones and patches."""

from __future__ import annotations

import math
import re
from typing import Any

from kb.book.check_work import Bounds, check_bounds, check_date, check_photos, check_sheet_named
from kb.model.sheet_record import Condition, PatchDone, Sheet, Strip

_LONGEST_MM = 20_000.0
_SHEET: Bounds = (
    ("width_mm", 0.0, _LONGEST_MM, "a width in mm"),
    ("height_mm", 0.0, _LONGEST_MM, "a height in mm"),
    ("thickness_mm", 0.0, 100.0, "a thickness in mm"),
    ("grammage_g_m2", 0.0, 100_000.0, "a grammage in g/m²"),
    ("mass_g", 0.0, 1_000_000.0, "a mass in g"),
    ("humidity_low", 0.0, 100.0, "a relative humidity in per cent"),
    ("humidity_high", 0.0, 100.0, "a relative humidity in per cent"),
)
_CONDITION: Bounds = tuple(
    (name, 0.0, _LONGEST_MM, "a length in mm") for name in ("x_mm", "y_mm", "width_mm", "height_mm")
)
_PATCH: Bounds = (
    ("area_mm2", 0.0, _LONGEST_MM**2, "an area in mm²"),
    ("share_percent", 0.0, 100.0, "a share in per cent"),
    ("rounds", 0, 10_000, "a number of rounds"),
    ("dwell_s", 0.0, 10_000_000.0, "a time in seconds"),
    ("swabs", 0, 10_000, "a number of swabs"),
    ("volume_ml", 0.0, 100_000.0, "a volume in ml"),
    ("release", 0, 4, "a grade of release"),
    ("harm", 0, 4, "a grade of harm"),
)
_CORNER = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*")
_MOST_CORNERS = 1_000


def check_sheet(sheet: Sheet) -> Sheet:
    """The same sheet, if it has a title and its figures can be. Raises ValueError in a sentence."""
    check_sheet_named(sheet.sheet, "record")
    check_bounds(sheet, _SHEET)
    low, high = sheet.humidity_low, sheet.humidity_high
    if low is not None and high is not None and low > high:
        raise ValueError(f"The humidity runs from {low:g} to {high:g} %: the first is the lower one.")
    check_photos(sheet.photos)
    return sheet


def check_condition(condition: Condition) -> Condition:
    """The same, if it names a sheet and its figures can be. Raises ValueError in a sentence."""
    check_sheet_named(condition.sheet, "condition")
    check_bounds(condition, _CONDITION)
    check_photos(condition.photos)
    check_date(condition.found_at)
    return condition


def check_strip(strip: Strip) -> Strip:
    """The same strip, if it has an outline of at least three corners. Raises ValueError in a sentence."""
    check_sheet_named(strip.sheet, "strip")
    corners(strip.outline)
    return strip


def check_patch(patch: PatchDone) -> PatchDone:
    """The same patch, if its outline and figures can be. Raises ValueError in a sentence."""
    check_sheet_named(patch.sheet, "patch")
    if not patch.patch.strip():
        raise ValueError("The patch has no number.")
    corners(patch.outline)
    check_bounds(patch, _PATCH)
    check_photos(patch.photos)
    check_date(patch.started_at)
    check_date(patch.ended_at)
    return patch


def corners(text: str) -> tuple[tuple[float, float], ...]:
    """The corners of an outline in words: ``10,20 110,20 110,45``. Raises ValueError in a sentence."""
    found: list[tuple[float, float]] = []
    for part in re.sub(r"\s*,\s*", ",", text.replace(";", " ")).split():
        match = _CORNER.fullmatch(part)
        if match is None:
            raise ValueError(
                f"{part[:40]!r} is no corner of an outline; write x,y in mm, such as 10,20 110,20 110,45."
            )
        found.append((float(match[1]), float(match[2])))
    if not 3 <= len(found) <= _MOST_CORNERS:
        raise ValueError(f"The outline has {len(found)} corners; it has from 3 to {_MOST_CORNERS}.")
    if not all(math.isfinite(value) for corner in found for value in corner):
        raise ValueError("The outline has a corner that is no place.")
    return tuple(found)


def outline_text(outline: Any) -> str:
    """Corners as an outline is written in the book."""
    return " ".join(f"{x:g},{y:g}" for x, y in outline)
