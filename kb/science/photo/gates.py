"""What makes a photograph unfit before anything is compared."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from kb.science.photo.given import Picture

LEAST_PX_PER_MM = 15.0
TOO_DARK = 70
TOO_LIGHT = 252
BURNT = 250
BURNT_SHARE = 0.03
SAMPLED = 1_000_000
"""Thresholds of this project, from synthetic pairs."""


def unfit(picture: Picture, which: str, *, is_after: bool) -> tuple[str, ...]:
    """Why a photograph says nothing: too dark or over-exposed; empty if it is fit."""
    # A million pixels say as much as all of them, many times sooner.
    every = max(int((picture.shape[0] * picture.shape[1] / SAMPLED) ** 0.5), 1)
    picture = picture[::every, ::every]
    brightest = picture.max(axis=2)
    middle = float(np.median(brightest))
    reasons = []
    if middle < TOO_DARK:
        reasons.append(f"too dark: the {which} photograph")
    burnt = float((picture.min(axis=2) >= BURNT).mean())
    if middle > TOO_LIGHT or (is_after and burnt > BURNT_SHARE):
        reasons.append(f"over-exposed: the {which} photograph")
    return tuple(reasons)
