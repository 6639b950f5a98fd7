"""Coarse alignment: where each point of the before picture lies in the after picture, as a homography.

Fine alignment: paper cockles once it was wet, so the after picture is followed cell by cell.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

from kb.science.photo.light import gathered, reduced, robust_fit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kb.science.photo.given import Array, Mask

WINDOW_MM = 1.2
FEATURES = 2500
RATIO = 0.8
WITHIN_MM = 0.06
LEAST_INLIERS = 12
SCALES = (0.8, 1.25)
ECC_STEPS = 30
SEED = 20
"""RANSAC draws at random; the same pair must always give the same answer."""


class Aligned(NamedTuple):
    """A homography from before to after pixels, how many features agree, and the correlation reached."""

    matrix: NDArray[np.float64]
    inliers: int
    ecc: float


def normalised(grey: Array, px_per_mm: float) -> Array:
    """Grey with local mean 0 and local spread about 1, so that light and tone no longer matter.

    Grey is coded light 0-1; the floor keeps the grain of blank paper from counting like ink.
    """
    sigma = WINDOW_MM * px_per_mm / 2
    mean = cv2.GaussianBlur(grey, (0, 0), sigma)
    spread = np.sqrt(np.maximum(cv2.GaussianBlur(grey * grey, (0, 0), sigma) - mean * mean, 0.0))
    return np.asarray((grey - mean) / (spread + 0.02))


def align(
    before: Array, after: Array, px_per_mm: float, *, refine: bool = True, scale: float = 1.0
) -> Aligned | None:
    """Align two normalised greys; None if too few features agree or the scale is out of reach.

    ``scale`` is the size that the after picture should have beside the before picture.
    """
    found = _features(before, after)
    if found is None or len(found[0]) < LEAST_INLIERS:
        return None
    cv2.setRNGSeed(SEED)
    matrix, agreed = cv2.findHomography(
        found[0], found[1], cv2.RANSAC, max(WITHIN_MM * px_per_mm, 1.0), maxIters=5000, confidence=0.999
    )
    inliers = int(agreed.sum()) if matrix is not None else 0
    if matrix is None or inliers < LEAST_INLIERS or not _likely(np.asarray(matrix), before.shape, scale):
        return None
    if not refine:
        return Aligned(np.asarray(matrix, np.float64), inliers, float("nan"))
    return _refined(before, after, np.asarray(matrix, np.float64), inliers)


def _features(before: Array, after: Array) -> tuple[NDArray[np.float32], NDArray[np.float32]] | None:
    sift = cv2.SIFT.create(nfeatures=FEATURES)
    pictures = [np.asarray(np.clip(128 + 50 * grey, 0, 255), np.uint8) for grey in (before, after)]
    points, words = zip(*(sift.detectAndCompute(one, None) for one in pictures), strict=True)
    if any(one is None or len(one) < LEAST_INLIERS for one in words):
        return None
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(words[0], words[1], k=2)
    good = [
        best
        for best, second in (pair for pair in pairs if len(pair) == 2)
        if best.distance < RATIO * second.distance
    ]
    return (
        np.array([points[0][one.queryIdx].pt for one in good], np.float32),
        np.array([points[1][one.trainIdx].pt for one in good], np.float32),
    )


def _likely(matrix: NDArray[np.floating | np.integer], shape: tuple[int, ...], scale: float) -> bool:
    """Whether the picture keeps its size, within limits, all over: a wild homography fits a few points."""
    high, wide = shape[:2]
    corners = np.array([[[0, 0], [wide, 0], [wide, high], [0, high]]], np.float64)
    moved = cv2.perspectiveTransform(corners, matrix)[0]
    sides = np.linalg.norm(np.roll(moved, -1, 0) - moved, axis=1) / (
        scale * np.array([wide, high, wide, high])
    )
    area = cv2.contourArea(moved.astype(np.float32), oriented=True) / (wide * high)
    return bool(area > 0 and sides.min() >= SCALES[0] and sides.max() <= SCALES[1])


def _refined(before: Array, after: Array, matrix: NDArray[np.float64], inliers: int) -> Aligned:
    """ECC at half size, which is four times quicker and leaves the rest to the fine alignment."""
    half = np.diag([0.5, 0.5, 1.0])
    half[:2, 2] = -0.25
    first, second = reduced(before, 0.5), reduced(after, 0.5)
    start = half @ matrix @ np.linalg.inv(half)
    start = (start / start[2, 2]).astype(np.float32)
    ends = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, ECC_STEPS, 1e-5)
    best, ecc = start, correlation(first, second, start)
    try:
        whole = np.full(first.shape, 255, np.uint8)
        _, found = cv2.findTransformECC(first, second, start.copy(), cv2.MOTION_HOMOGRAPHY, ends, whole, 5)
    except cv2.error:
        # It wanders off from a good start now and then; the start stands.
        found = start
    if (better := correlation(first, second, np.asarray(found, np.float32))) > ecc:
        best, ecc = np.asarray(found, np.float32), better
    full = np.linalg.inv(half) @ best.astype(np.float64) @ half
    return Aligned(full / full[2, 2], inliers, ecc)


def correlation(before: Array, after: Array, matrix: NDArray[np.float32]) -> float:
    """Correlation of two greys where the second, laid over the first, covers it."""
    size = before.shape[::-1]
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid, covered = (
        cv2.warpPerspective(one, matrix, size, flags=flags) for one in (after, np.ones_like(after))
    )
    where = covered > 0.99
    if where.sum() < 100:
        return 0.0
    return float(np.corrcoef(before[where], laid[where])[0, 1])


CELL_MM = 3.0
STEP_MM = 1.5
SMOOTH_MM = 1.7
PASSES = 3
"""Passes of least squares after the correlation."""
TRUSTED = 0.03
"""Least response of the phase correlation that counts."""
ROUGH = 0.35
"""Least spread of the normalised grey in a cell that holds something to follow."""


class Cells(NamedTuple):
    """Measured at the centres of cells, rows x columns: place in pixels, weight 0-1."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    weight: NDArray[np.float64]


class Followed(NamedTuple):
    """Where each before pixel lies in the after picture, and what was left over.

    ``stroke_px`` is how far each cell went apart from its smooth surroundings at first, and
    ``residual_px`` the median of what the last pass still found.
    """

    map_x: Array
    map_y: Array
    cells: Cells
    stroke_px: NDArray[np.float64]
    residual_px: float


def follow(before: Array, after: Array, matrix: NDArray[np.float64], px_per_mm: float, fit: Mask) -> Followed:
    """Follow two normalised greys from a homography; cells outside ``fit`` carry no weight."""
    high, wide = before.shape
    size = round(CELL_MM * px_per_mm)
    ys, xs = (np.arange(size / 2, end - size / 2 + 1, STEP_MM * px_per_mm) for end in (high, wide))
    grid_x, grid_y = np.meshgrid(xs, ys)
    cells = Cells(grid_x, grid_y, np.zeros(grid_x.shape))
    field = np.zeros((2, high, wide), np.float32)
    warped, inside = _warped(after, matrix, field)
    moved, weight = _correlated(before, warped, fit & inside, cells, size)
    cells = cells._replace(weight=weight)
    smooth = np.stack([_cubic(cells, one, weight) for one in moved])
    stroke = _seconded(np.hypot(*(moved - smooth)) * (weight > 0))
    shift = smooth + np.stack([_spread(one, weight) for one in moved - smooth])
    field = np.stack([_dense(one, cells, (high, wide)) for one in shift])
    step = np.zeros_like(field)
    for _ in range(PASSES):
        warped, inside = _warped(after, matrix, field)
        step = _least_squares(before, warped, fit & inside, SMOOTH_MM / 2 * px_per_mm)
        field += step
    map_x, map_y = _mapped(matrix, field)
    return Followed(map_x, map_y, cells, stroke, float(np.median(np.hypot(*step))))


def _seconded(way: NDArray[np.float64]) -> NDArray[np.float64]:
    """No more than the farthest of the four cells beside, which overlap it: one alone was misled."""
    padded = np.pad(way, 1)
    beside = np.stack([padded[:-2, 1:-1], padded[2:, 1:-1], padded[1:-1, :-2], padded[1:-1, 2:]])
    return np.asarray(np.minimum(way, beside.max(axis=0)))


def _least_squares(before: Array, warped: Array, usable: Mask, sigma: float) -> Array:
    """The shift at each pixel that best carries one grey into the other around it (Lucas and Kanade 1981).

    The correlation whitens what it sees and so follows grain as much as ink; squares follow the ink.
    """
    blurred = [cv2.GaussianBlur(one, (0, 0), 1.0) for one in (before, warped)]
    mean = (blurred[0] + blurred[1]) / 2
    across, down = (cv2.Sobel(mean, cv2.CV_32F, *way, ksize=3, scale=1 / 8) for way in ((1, 0), (0, 1)))
    off = np.clip(blurred[0] - blurred[1], -1.0, 1.0)
    # Grown by the reach of the gradient, so that the edge of a mask is no edge of ink.
    trust = cv2.erode(usable.astype(np.float32), np.ones((7, 7), np.uint8))
    terms = [across * across, across * down, down * down, across * off, down * off]
    xx, xy, yy, x, y = (gathered(one * trust, sigma) for one in terms)
    # Where there is next to no ink the shift stays what the cells said.
    floor = 0.02 * float(np.mean(xx + yy)) + 1e-9
    xx, yy = xx + floor, yy + floor
    both = xx * yy - xy * xy
    found = np.stack([(yy * x - xy * y) / both, (xx * y - xy * x) / both])
    return np.asarray(np.clip(found, -2.0, 2.0), np.float32)


def _mapped(matrix: NDArray[np.float64], field: Array) -> tuple[Array, Array]:
    high, wide = field.shape[1:]
    ys, xs = np.mgrid[:high, :wide].astype(np.float32)
    x, y = xs + field[0], ys + field[1]
    m = matrix.astype(np.float32)
    depth = m[2, 0] * x + m[2, 1] * y + m[2, 2]
    return (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / depth, (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / depth


def _warped(after: Array, matrix: NDArray[np.float64], field: Array) -> tuple[Array, Mask]:
    map_x, map_y = _mapped(matrix, field)
    warped = cv2.remap(after, map_x, map_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
    inside = (map_x > 0) & (map_y > 0) & (map_x < after.shape[1] - 1) & (map_y < after.shape[0] - 1)
    return np.asarray(warped), inside


def _correlated(
    before: Array, warped: Array, usable: Mask, cells: Cells, size: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far each cell went, and how much that can be trusted."""
    window = cv2.createHanningWindow((size, size), cv2.CV_32F)
    moved = np.zeros((2, *cells.x.shape))
    weight = np.zeros(cells.x.shape)
    first, second = before * usable, warped * usable
    for at in np.ndindex(*cells.x.shape):
        left, top = (round(float(one[at]) - size / 2) for one in (cells.x, cells.y))
        here = np.s_[top : top + size, left : left + size]
        if usable[here].mean() < 0.6 or first[here].std() < ROUGH or second[here].std() < ROUGH:
            continue
        # Copies: with a window some releases overwrite their input where the size suits the transform.
        (dx, dy), response = cv2.phaseCorrelate(first[here].copy(), second[here].copy(), window)
        if response >= TRUSTED and np.hypot(dx, dy) < size / 4:
            moved[0][at], moved[1][at], weight[at] = dx, dy, min(response, 0.5)
    return moved, weight


def _cubic(cells: Cells, values: NDArray[np.float64], weight: NDArray[np.float64]) -> NDArray[np.float64]:
    """A cubic surface through the values, unmoved by the few that stand apart."""
    x, y = cells.x / cells.x.max() * 2 - 1, cells.y / cells.y.max() * 2 - 1
    terms = np.stack([x**i * y**j for i in range(4) for j in range(4 - i)], -1)
    flat, trust = terms.reshape(-1, terms.shape[-1]), weight.ravel()
    if (trust > 0).sum() < 2 * flat.shape[1]:
        # Too few cells for a surface: the mean is all that they can say.
        mean = np.average(values.ravel(), weights=trust) if trust.any() else 0.0
        return np.full(values.shape, mean)
    return np.asarray((flat @ robust_fit(flat, values.ravel(), trust, 0.03)).reshape(values.shape))


def _spread(values: NDArray[np.float64], weight: NDArray[np.float64]) -> NDArray[np.float64]:
    """Smoothed over neighbouring cells by weight; nothing where no cell near carries any."""
    sigma = SMOOTH_MM / STEP_MM
    over = cv2.GaussianBlur(values * weight, (0, 0), sigma)
    under = cv2.GaussianBlur(weight, (0, 0), sigma)
    return np.asarray(over / np.maximum(under, 1e-3))


def _dense(values: NDArray[np.float64], cells: Cells, shape: tuple[int, int]) -> Array:
    """From the cells to every pixel; held level outside the outermost centres."""
    step = cells.x[0, 1] - cells.x[0, 0] if cells.x.shape[1] > 1 else 1.0
    down = cells.y[1, 0] - cells.y[0, 0] if cells.y.shape[0] > 1 else 1.0
    ys, xs = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    at_x, at_y = (
        (xs - np.float32(cells.x[0, 0])) / np.float32(step),
        (ys - np.float32(cells.y[0, 0])) / np.float32(down),
    )
    return np.asarray(
        cv2.remap(values.astype(np.float32), at_x, at_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    )
