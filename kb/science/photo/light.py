"""From coded pixels to light, density and CIELAB, and back to pictures to be looked at.

Light, white balance and shading taken out of the log ratio of a pair, in two steps.

At the end the pair, the colour-difference map and the overlay. Of CIEDE2000, pixel by pixel, hues are turned
as in the room of the sheet, which takes single readings without numpy; a test holds the two together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kb.science.photo.given import Array, Mask, Picture
from collections.abc import Sequence
from typing import TYPE_CHECKING

from kb.science.photo.given import Pictures
from kb.science.sheet.colour import POW7_25, weighing

if TYPE_CHECKING:
    from kb.science.photo.given import Array, Box, Circle, Picture


Number = TypeVar("Number", bound="np.integer[Any] | np.floating[Any]")

DARKEST = 0.002
"""Linear light below which an 8-bit pixel says nothing about density."""


def linear_light(picture: Picture) -> Array:
    """Linear light 0-1 of sRGB pixels (IEC 61966-2-1, constants from memory)."""
    coded = np.arange(256) / 255.0
    table = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    return np.asarray(table.astype(np.float32)[picture])


def reduced(values: NDArray[Number], factor: float) -> NDArray[Number]:
    """Made smaller by area averaging; left as it is for a factor of 1 or more."""
    if factor >= 1.0:
        return values
    size = (max(round(values.shape[1] * factor), 1), max(round(values.shape[0] * factor), 1))
    return np.asarray(cv2.resize(values, size, interpolation=cv2.INTER_AREA), values.dtype)


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


BLOCK = 12
"""Pixels of a side of the blocks that the surface is fitted on."""


def surface(ratio: Array, paper: Mask) -> Array | None:
    """A robust quadratic surface through the paper's pixels, per channel; None with too little paper."""
    high, wide = ratio.shape[:2]
    size = (max(wide // BLOCK, 4), max(high // BLOCK, 4))
    share = cv2.resize(paper.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    mean = cv2.resize(ratio * paper[..., None], size, interpolation=cv2.INTER_AREA)
    good = share > 0.25
    if good.sum() < 24:
        return None
    ys, xs = np.mgrid[: size[1], : size[0]]
    x, y = (xs + 0.5) / size[0] * 2 - 1, (ys + 0.5) / size[1] * 2 - 1
    terms = _terms(x[good], y[good])
    full_y, full_x = np.mgrid[:high, :wide].astype(np.float32)
    everywhere = _terms((full_x + 0.5) / wide * 2 - 1, (full_y + 0.5) / high * 2 - 1)
    layers = []
    for channel in range(3):
        values = np.asarray(mean[..., channel][good] / share[good], np.float32)
        layers.append(everywhere @ robust_fit(terms, values, np.asarray(share[good], np.float32), 1e-3))
    return np.asarray(np.stack(layers, -1), np.float32)


def _terms(x: Array, y: Array) -> Array:
    return np.asarray(np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], -1))


def robust_fit(
    terms: NDArray[Any], values: NDArray[Number], weight: NDArray[Number], least_spread: float
) -> NDArray[Number]:
    """Least squares with Tukey's weights, eight rounds. What has no weight says nothing of the spread."""
    trust, found = weight, np.zeros(terms.shape[1], values.dtype)
    for _ in range(8):
        root = np.sqrt(trust)[:, None]
        found = np.asarray(np.linalg.lstsq(terms * root, values * root[:, 0], rcond=None)[0], values.dtype)
        off = np.abs(values - terms @ found)
        spread = max(1.4826 * float(np.median(off[weight > 0])), least_spread)
        trust = np.asarray(weight * np.clip(1 - (off / (4.7 * spread)) ** 2, 0, None) ** 2, values.dtype)
    return found


def gathered(values: Array, sigma: float) -> Array:
    """Blurred, worked out on a quarter of the size: so wide a blur has nothing finer."""
    small = cv2.resize(values, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    blurred = cv2.GaussianBlur(small, (0, 0), sigma / 4)
    return np.asarray(cv2.resize(blurred, values.shape[1::-1], interpolation=cv2.INTER_LINEAR))


def local_mean(values: Array, where: Mask, near_px: float, far_px: float) -> Array:
    """Mean of the values over ``where`` around each pixel: close by if enough lies there, else wider."""
    near, share = _masked_mean(values, where, near_px)
    far, _ = _masked_mean(values, where, far_px)
    trust = np.clip((share - 0.15) / 0.2, 0, 1)[..., None]
    return np.asarray(near * trust + far * (1 - trust), np.float32)


def _masked_mean(values: Array, where: Mask, sigma: float) -> tuple[Array, Array]:
    weight = where.astype(np.float32)
    share, total = (gathered(one, sigma) for one in (weight, values * weight[..., None]))
    return np.asarray(total / np.maximum(share, 1e-3)[..., None]), share


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
