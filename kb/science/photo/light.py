"""From coded pixels to light, density and CIELAB."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from kb.science.photo.given import Array, Picture

DARKEST = 0.002
"""Linear light below which an 8-bit pixel says nothing about density."""


def linear_light(picture: Picture) -> Array:
    """Linear light 0-1 of sRGB pixels (IEC 61966-2-1, constants from memory)."""
    coded = np.arange(256) / 255.0
    table = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    return np.asarray(table.astype(np.float32)[picture])


def reduced(values: Array, factor: float) -> Array:
    """Made smaller by area averaging; left as it is for a factor of 1 or more."""
    if factor >= 1.0:
        return values
    size = (max(round(values.shape[1] * factor), 1), max(round(values.shape[0] * factor), 1))
    return np.asarray(cv2.resize(values, size, interpolation=cv2.INTER_AREA))


def density(light: Array) -> Array:
    """Natural-log density of linear light."""
    return np.asarray(-np.log(np.maximum(light, DARKEST)))


def luminance(light: Array) -> Array:
    """Relative luminance of linear sRGB."""
    weights = np.array([0.2126, 0.7152, 0.0722], np.float32)
    return np.asarray(light @ weights)


def cielab(light: Array) -> Array:
    """CIELAB under D65 of linear sRGB (OpenCV's conversion)."""
    return np.asarray(cv2.cvtColor(np.clip(light, 0.0, 1.0), cv2.COLOR_LRGB2Lab))


def coded(light: Array) -> Picture:
    """8-bit sRGB of linear light, to be looked at."""
    clipped = np.clip(light, 0.0, 1.0)
    bent = np.where(clipped <= 0.0031308, clipped * 12.92, 1.055 * clipped ** (1 / 2.4) - 0.055)
    return np.asarray(bent * 255.0 + 0.5, np.uint8)
