"""From coded pixels to light, density and CIELAB.

Light, white balance and shading taken out of the log ratio of a pair, in two steps.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kb.science.photo.given import Array, Mask, Picture

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
