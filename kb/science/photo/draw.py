"""The pair, the colour-difference map and the overlay, to be looked at."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np

from kb.science.photo.given import Pictures
from kb.science.photo.light import coded

if TYPE_CHECKING:
    from kb.science.photo.given import Array, Box, Circle, Picture

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
