"""The pair, the colour-difference map and the overlay, to be looked at.

CIEDE2000 of two pictures, pixel by pixel.

Hues are turned as in the room of the sheet, which takes single readings without numpy; a test holds the two
against each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np

from kb.science.photo.given import Pictures
from kb.science.photo.light import coded
from kb.science.sheet.colour import POW7_25, weighing

if TYPE_CHECKING:
    from kb.science.photo.given import Array, Box, Circle, Picture


def least_difference(first: Array, second: Array, shift_px: int) -> Array:
    """CIEDE2000 map of two CIELAB arrays, the least over shifts of ``shift_px`` in four directions.

    A fraction of a pixel left over from alignment would otherwise draw every edge. The shift is chosen by the
    plain distance, which is many times quicker; the difference that is shown is CIEDE2000.
    """
    nearest, least = second, np.square(first - second).sum(axis=-1)
    for axis in (0, 1):
        for way in (-shift_px, shift_px):
            moved = np.roll(second, way, axis)
            apart = np.square(first - moved).sum(axis=-1)
            nearest = np.where((apart < least)[..., None], moved, nearest)
            least = np.minimum(apart, least)
    return delta_e_2000(first, nearest)


def delta_e_2000(first: Array, second: Array) -> Array:
    """Colour difference of CIELAB arrays (..., 3), weights of 1 (Sharma, Wu and Dalal 2005)."""
    mean_ab = (np.hypot(first[..., 1], first[..., 2]) + np.hypot(second[..., 1], second[..., 2])) / 2
    stretch = 1.5 - 0.5 * np.sqrt(mean_ab**7 / (mean_ab**7 + POW7_25))
    a1, a2 = first[..., 1] * stretch, second[..., 1] * stretch
    b1, b2 = first[..., 2], second[..., 2]
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    coloured = c1 * c2 > 0
    turn = h2 - h1
    turn = np.where(turn > 180, turn - 360, np.where(turn < -180, turn + 360, turn)) * coloured
    mean_h = (h1 + h2) / 2
    far = np.abs(h1 - h2) > 180
    mean_h = np.where(far, np.where(h1 + h2 < 360, mean_h + 180, mean_h - 180), mean_h)
    mean_h = np.where(coloured, mean_h, h1 + h2)
    mean_c, mean_l = (c1 + c2) / 2, (first[..., 0] + second[..., 0]) / 2
    s_l, s_c, s_h, coupled = weighing(np, mean_l, mean_c, mean_h)
    lightness, chroma = (second[..., 0] - first[..., 0]) / s_l, (c2 - c1) / s_c
    hue = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn) / 2) / s_h
    return np.asarray(np.sqrt(np.maximum(lightness**2 + chroma**2 + hue**2 + coupled * chroma * hue, 0)))


MOST_DE00 = 12.0
SWAB_COLOUR = (0, 150, 70)
BOX_COLOUR = (210, 0, 60)


def pictures_of(
    before: Array, after: Array, difference: Array, swab: Circle, places: Sequence[Box]
) -> Pictures:
    """Pictures of the aligned pair in linear light; boxes lie in its pixels."""
    shown = coded(after)
    overlay = shown.copy()
    cv2.circle(overlay, (round(swab.x), round(swab.y)), round(swab.radius), SWAB_COLOUR, 2, cv2.LINE_AA)
    for box in places:
        ends = (round(box.x), round(box.y)), (round(box.x + box.w), round(box.y + box.h))
        cv2.rectangle(overlay, *ends, BOX_COLOUR, 2, cv2.LINE_AA)
    return Pictures(coded(before), shown, _difference_map(difference), overlay)


def _difference_map(difference: Array) -> Picture:
    """CIEDE2000 from 0 (dark) to 12 and more (light); an order of lightness, so it reads in grey too."""
    scaled = np.asarray(np.clip(difference / MOST_DE00, 0, 1) * 255, np.uint8)
    return np.asarray(cv2.cvtColor(cv2.applyColorMap(scaled, cv2.COLORMAP_VIRIDIS), cv2.COLOR_BGR2RGB))
