"""What may be in the records of work on a sheet: mends, toning tests, housing."""

from __future__ import annotations

import math
import re
from datetime import datetime
from typing import Any

from kb.model.record import ColourReading, Housing, Mend, Photo, Portion, Toning

_SHA256 = re.compile(r"[0-9a-f]{64}")
_LONGEST_MM = 20_000.0
_MOST = 10_000
Bounds = tuple[tuple[str, float, float, str], ...]
_MEND: Bounds = (
    ("length_mm", 0.0, _LONGEST_MM, "a length in mm"),
    ("width_mm", 0.0, _LONGEST_MM, "a width in mm"),
    ("strips", 0, _MOST, "a number of strips"),
    ("pressed_minutes", 0.0, 10_000_000.0, "a time in minutes"),
)
_TONING: Bounds = (("coats", 0, _MOST, "a number of coats"),)
_HOUSING: Bounds = (
    ("sheet_width_mm", 0.0, _LONGEST_MM, "a width in mm"),
    ("sheet_height_mm", 0.0, _LONGEST_MM, "a height in mm"),
    ("gap_width_mm", 0.0, _LONGEST_MM, "a gap in mm"),
    ("gap_height_mm", 0.0, _LONGEST_MM, "a gap in mm"),
    ("hinges", 0, _MOST, "a number of hinges"),
    ("spacer_mm", 0.0, _LONGEST_MM, "a thickness in mm"),
    ("depth_mm", 0.0, _LONGEST_MM, "a depth in mm"),
    ("humidity_low", 0.0, 100.0, "a relative humidity in per cent"),
    ("humidity_high", 0.0, 100.0, "a relative humidity in per cent"),
    ("light_lux", 0.0, 200_000.0, "an illuminance in lux"),
)


def check_mend(mend: Mend) -> Mend:
    """The same mend, if it names a sheet and its figures can be. Raises ValueError in a sentence."""
    check_sheet_named(mend.sheet, "mend")
    check_bounds(mend, _MEND)
    for name, place_mm in (("x_mm", mend.site.x_mm), ("y_mm", mend.site.y_mm)):
        if place_mm is not None and not math.isfinite(place_mm):
            raise ValueError(f"The place of the mend ({name}) is not a length in mm: {place_mm}.")
    check_photos(mend.photos)
    check_date(mend.mended_at)
    return mend


def check_toning(toning: Toning) -> Toning:
    """The same toning test, if it says what was toned and its readings can be. Raises ValueError."""
    if not toning.tissue.strip():
        raise ValueError("The toning test names no tissue or paper.")
    check_bounds(toning, _TONING)
    for reading in (toning.aim, toning.dry):
        if reading is not None:
            _check_colour(reading)
    for portion in toning.colourants:
        _check_portion(portion)
    check_date(toning.toned_at)
    return toning


def check_housing(housing: Housing) -> Housing:
    """The same housing, if it names a sheet and its figures can be. Raises ValueError in a sentence."""
    check_sheet_named(housing.sheet, "housing")
    if not housing.into.strip():
        raise ValueError("The housing does not say what the sheet was put into.")
    check_bounds(housing, _HOUSING)
    low, high = housing.humidity_low, housing.humidity_high
    if low is not None and high is not None and low > high:
        raise ValueError(f"The humidity runs from {low:g} to {high:g} %: the first is the lower one.")
    check_photos(housing.photos)
    check_date(housing.housed_at)
    return housing


def check_sheet_named(sheet: str, what: str) -> None:
    """Raise ValueError if no sheet is named."""
    if not sheet.strip():
        raise ValueError(f"The {what} names no sheet.")


def check_bounds(body: Any, bounds: Bounds) -> None:
    """Raise ValueError for a figure of the body outside its bounds."""
    for name, low, high, what in bounds:
        found = getattr(body, name)
        if found is not None and not (math.isfinite(found) and low <= found <= high):
            raise ValueError(f"{found:g} is not {what}; it lies from {low:g} to {high:g}.")


def _check_colour(reading: ColourReading) -> None:
    three = (reading.lightness, reading.a, reading.b)
    if not all(math.isfinite(one) for one in three):
        raise ValueError("A colour reading holds something that is no number.")
    if not 0.0 <= reading.lightness <= 100.0 or max(abs(reading.a), abs(reading.b)) > 200.0:
        raise ValueError(
            f"{reading.lightness:g} {reading.a:g} {reading.b:g} is outside CIELAB: L runs from 0 to 100, "
            "a and b from about -128 to 127."
        )


def _check_portion(portion: Portion) -> None:
    if not portion.name.strip():
        raise ValueError("Something that was put on has no name.")
    if not (math.isfinite(portion.amount) and portion.amount >= 0):
        raise ValueError(f"The amount of {portion.name} is {portion.amount}; amounts are not below 0.")


def check_photos(photos: tuple[Photo, ...]) -> None:
    """Raise ValueError for a photograph that is not tied to its content."""
    for photo in photos:
        if _SHA256.fullmatch(photo.sha256) is None:
            raise ValueError(f"The photograph {photo.path!r} has no SHA-256 of 64 hex digits.")


def check_date(text: str) -> None:
    """Raise ValueError for what is no day or time; empty is none."""
    if not text:
        return
    try:
        datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a date; write 2024-05-31 or 2024-05-31T14:30.") from None
