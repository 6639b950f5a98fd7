"""Refusals for numbers that cannot be: a named message, never a figure computed from nonsense."""

from __future__ import annotations

import math


def above_zero(value: float, what: str) -> float:
    """The value itself. Raises ValueError naming ``what`` unless it is finite and above zero."""
    if not 0 < value < math.inf:
        raise ValueError(f"{what} must be above zero, not {value}")
    return value


def zero_or_more(value: float, what: str) -> float:
    """The value itself. Raises ValueError naming ``what`` unless it is finite and not negative."""
    if not 0 <= value < math.inf:
        raise ValueError(f"{what} must be zero or more, not {value}")
    return value


def share(value: float, what: str) -> float:
    """The value itself. Raises ValueError naming ``what`` unless it lies from 0 to 1."""
    if not 0 <= value <= 1:
        raise ValueError(f"{what} must lie from 0 to 1, not {value}")
    return value
