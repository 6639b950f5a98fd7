"""What may be in the record of a bath reading."""

from __future__ import annotations

import math
from datetime import datetime

from kb.model.record import BathReading

READ = ("ph", "conductivity_us_cm", "temperature_c", "colour", "remarks")
"""Fields of which one at least is given; the time alone is no reading."""
_BOUNDS = (
    ("minutes", 0.0, 100_000.0, "a time in minutes"),
    ("ph", 0.0, 14.0, "a pH"),
    ("conductivity_us_cm", 0.0, 1_000_000.0, "a conductivity in microsiemens per cm"),
    ("temperature_c", -5.0, 105.0, "the temperature of a bath in degrees Celsius"),
)
_MOST_BATHS = 999


def check_reading(reading: BathReading) -> BathReading:
    """The same reading, if it names a sheet and its figures can be. Raises ValueError in a sentence."""
    if not reading.sheet.strip():
        raise ValueError("The reading names no sheet.")
    if not 1 <= reading.bath <= _MOST_BATHS:
        raise ValueError(f"Baths are counted from 1 to {_MOST_BATHS}, not {reading.bath}.")
    for name, low, high, what in _BOUNDS:
        found = getattr(reading, name)
        if found is not None and not (math.isfinite(found) and low <= found <= high):
            raise ValueError(f"{found:g} is not {what}; it lies from {low:g} to {high:g}.")
    if all(getattr(reading, name) in {None, ""} for name in READ):
        raise ValueError("Nothing was read: give pH, conductivity, temperature, colour or remarks.")
    if reading.read_at:
        try:
            datetime.fromisoformat(reading.read_at)
        except ValueError:
            raise ValueError(
                f"{reading.read_at!r} is not a date; write 2024-05-31 or 2024-05-31T14:30."
            ) from None
    return reading
