"""The part of a photograph that is looked at: where it lies, and how it was made smaller."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

if TYPE_CHECKING:
    from kb.science.photo.given import Circle, Picture

WORKING_PX_PER_MM = 30.0
SURROUND_MM = 12.0


class Frame(NamedTuple):
    """A cut of the original from column ``left`` and row ``top``, made smaller by ``factor``."""

    left: int
    top: int
    factor: float

    def inward(self, x: float, y: float) -> tuple[float, float]:
        """A point of the original in pixels of the cut."""
        return (x - self.left + 0.5) * self.factor - 0.5, (y - self.top + 0.5) * self.factor - 0.5

    def outward(self, x: float, y: float) -> tuple[float, float]:
        """A point of the cut in pixels of the original."""
        return (x + 0.5) / self.factor - 0.5 + self.left, (y + 0.5) / self.factor - 0.5 + self.top

    def matrix(self) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
        """``outward`` as a 3 x 3 matrix."""
        shift = 0.5 / self.factor - 0.5
        return np.array(
            [[1 / self.factor, 0, shift + self.left], [0, 1 / self.factor, shift + self.top], [0, 0, 1]]
        )


def cut(picture: Picture, x: tuple[float, float], y: tuple[float, float]) -> tuple[Picture, int, int]:
    """Columns and rows of the picture as far as it reaches, and its left and top."""
    left, right = (int(np.clip(at, 0, picture.shape[1])) for at in x)
    top, bottom = (int(np.clip(at, 0, picture.shape[0])) for at in y)
    return picture[top:bottom, left:right], left, top


def circle_mask(
    shape: tuple[int, ...], circle: Circle, grown: float = 0.0
) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """True inside the circle made larger by ``grown`` pixels."""
    ys, xs = np.ogrid[: shape[0], : shape[1]]
    return np.asarray(np.hypot(xs - circle.x, ys - circle.y) <= circle.radius + grown)


def smaller(picture: Picture, longest: int) -> tuple[Picture, float]:
    """The picture with its long side at most ``longest`` pixels, and by what it was made smaller."""
    factor = min(1.0, longest / max(picture.shape[:2]))
    if factor == 1.0:
        return picture, 1.0
    size = (max(round(picture.shape[1] * factor), 1), max(round(picture.shape[0] * factor), 1))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA)), factor
