"""The comparison from two pictures to an answer: the order of the steps, and nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

import cv2
import numpy as np

from kb.science.photo import alignment, masks, verdict
from kb.science.photo.given import Box, Circle, Comparison, Figures, PaperChange
from kb.science.photo.light import (
    cielab,
    density,
    least_difference,
    linear_light,
    luminance,
    pictures_of,
    reduced,
    surface,
)
from kb.science.photo.masks import SURROUND_MM, WORKING_PX_PER_MM, Frame, circle_mask, cut
from kb.science.photo.statistics import (
    Prepared,
    all_judged,
    halo_maps,
    ink_change_pct,
    ink_density,
    ink_part,
)
from kb.science.photo.verdict import LEAST_PX_PER_MM, unfit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kb.science.photo.alignment import Followed
    from kb.science.photo.given import Array, Kind, Mask, Picture, Step
    from kb.science.photo.statistics import Judged

LONGEST_ALIGNED = 1100
AFTER_MARGIN_MM = 3.0
LEAST_VISIBLE = 0.60
LEAST_USABLE = 0.35
LEAST_INK_MM2 = 0.25
MOST_GLARE = 0.30
GLOSSY_FROM = 0.03
LEAST_ECC = 0.55
MOST_RESIDUAL_MM = 0.10
VISIBLE_DE00 = 3.0
EDGES_MM = 0.5


class _Cuts(NamedTuple):
    """Both cuts in linear light at working scale, and how they lie in their originals."""

    before: Array
    after: Array
    at_before: Frame
    at_after: Frame
    px_per_mm: float
    swab: Circle
    gates: tuple[str, ...]


class _Laid(NamedTuple):
    """The after picture laid over the before picture."""

    after: Array
    covered: Mask
    aligned: alignment.Aligned
    followed: Followed
    transform: NDArray[np.float64]


def compare(
    before: Picture,
    after: Picture,
    px_per_mm: float | None,
    swab: Circle | None,
    *,
    noise: Mapping[str, float] | None = None,
    step: Step = lambda _text, _share: None,
) -> Comparison:
    """Compare two pictures of one patch; ``swab`` lies in pixels of ``before``.

    ``noise`` are the scores of a pair without change by the same camera and hand. What ``step`` raises ends
    the work.
    """
    reasons = _asked(px_per_mm, swab)
    reasons += unfit(before, "before", is_after=False) + unfit(after, "after", is_after=True)
    figures = Figures(px_per_mm=px_per_mm)
    if reasons or px_per_mm is None or swab is None:
        return _unknown(reasons, figures)
    step("aligning", 0.0)
    cuts = _cuts(before, after, px_per_mm, swab)
    if cuts is None:
        return _unknown(("alignment failed",), figures)
    figures = figures._replace(
        working_px_per_mm=cuts.px_per_mm, cut=(cuts.at_before.left, cuts.at_before.top, cuts.at_before.factor)
    )
    laid = _laid(cuts, step)
    if laid is None:
        return _unknown((*cuts.gates, "alignment failed"), figures)
    return _judge(cuts, laid, figures, noise, step)


def _asked(px_per_mm: float | None, swab: Circle | None) -> tuple[str, ...]:
    reasons = []
    if px_per_mm is None:
        reasons.append("scale missing: give the pixels per mm")
    elif not px_per_mm >= LEAST_PX_PER_MM:
        reasons.append(f"scale too small: {px_per_mm:g} px/mm, and at least {LEAST_PX_PER_MM:g} are needed")
    if swab is None:
        reasons.append("mark the swabbed area")
    return tuple(reasons)


def _unknown(reasons: tuple[str, ...], figures: Figures) -> Comparison:
    return Comparison("cannot-tell", reasons, (), None, None, figures, None)


def _cuts(before: Picture, after: Picture, px_per_mm: float, swab: Circle) -> _Cuts | None:
    """The swab with its surround out of both pictures; a whole sheet is aligned small first."""
    factor = min(1.0, WORKING_PX_PER_MM / px_per_mm)
    reach = swab.radius + SURROUND_MM * px_per_mm
    first, left, top = cut(before, (swab.x - reach, swab.x + reach), (swab.y - reach, swab.y + reach))
    if min(first.shape[:2]) < 3 * alignment.WINDOW_MM * px_per_mm:
        return None
    second, at_x, at_y = after, 0, 0
    if max(after.shape[:2]) * factor > LONGEST_ALIGNED or max(before.shape[:2]) * factor > LONGEST_ALIGNED:
        found = _found_small(before, after, px_per_mm, (left, top, first.shape))
        if found is None:
            return None
        second, at_x, at_y = found
    frames = Frame(left, top, factor), Frame(at_x, at_y, factor)
    light = [reduced(linear_light(one), factor) for one in (first, second)]
    inner = Circle(*frames[0].inward(swab.x, swab.y), swab.radius * factor)
    gates = unfit(first, "before", is_after=False) + unfit(second, "after", is_after=True)
    return _Cuts(light[0], light[1], *frames, px_per_mm * factor, inner, gates)


def _found_small(
    before: Picture, after: Picture, px_per_mm: float, part: tuple[int, int, tuple[int, ...]]
) -> tuple[Picture, int, int] | None:
    """The part of ``after`` that shows the same place as a part of ``before``, with a margin."""
    factor, factor_after = (min(1.0, LONGEST_ALIGNED / max(one.shape[:2])) for one in (before, after))
    greys = [
        alignment.normalised(np.sqrt(luminance(linear_light(reduced(one, by)))), max(px_per_mm * by, 4.0))
        for one, by in ((before, factor), (after, factor_after))
    ]
    scale = factor_after / factor
    wide = alignment.align(greys[0], greys[1], px_per_mm * factor, refine=False, scale=scale)
    if wide is None:
        return None
    left, top, (high, across) = part[0], part[1], part[2][:2]
    corners = np.array(
        [[[left, top], [left + across, top], [left + across, top + high], [left, top + high]]], float
    )
    moved = cv2.perspectiveTransform(corners * factor, wide.matrix)[0] / factor_after
    margin = AFTER_MARGIN_MM * px_per_mm
    low, upper = moved.min(0) - margin, moved.max(0) + margin
    found, x, y = cut(after, (low[0], upper[0]), (low[1], upper[1]))
    return (found, x, y) if min(found.shape[:2]) > 0 else None


def _laid(cuts: _Cuts, step: Step) -> _Laid | None:
    """Coarse and fine alignment, and the after picture in the frame of the before picture."""
    greys = [
        alignment.normalised(np.sqrt(luminance(one)), cuts.px_per_mm) for one in (cuts.before, cuts.after)
    ]
    aligned = alignment.align(greys[0], greys[1], cuts.px_per_mm)
    if aligned is None:
        return None
    step("following the paper", 0.35)
    fit = luminance(cuts.before) < 0.95
    followed = alignment.follow(greys[0], greys[1], aligned.matrix, cuts.px_per_mm, np.asarray(fit))
    laid = cv2.remap(
        cuts.after, followed.map_x, followed.map_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    high, wide = cuts.after.shape[:2]
    covered = (
        (followed.map_x >= 1)
        & (followed.map_y >= 1)
        & (followed.map_x <= wide - 2)
        & (followed.map_y <= high - 2)
    )
    transform = cuts.at_after.matrix() @ aligned.matrix @ np.linalg.inv(cuts.at_before.matrix())
    return _Laid(np.clip(laid, 0, 1), covered, aligned, followed, transform / transform[2, 2])


def _judge(
    cuts: _Cuts, laid: _Laid, figures: Figures, noise: Mapping[str, float] | None, step: Step
) -> Comparison:
    step("comparing", 0.6)
    scale, swab = cuts.px_per_mm, cuts.swab
    inside = circle_mask(cuts.before.shape, swab)
    burnt = ((cuts.before > masks.BURNT_LIGHT) | (laid.after > masks.BURNT_LIGHT)).any(axis=2)
    gloss = masks.glare(cuts.before, laid.after, scale) & laid.covered
    usable = laid.covered & ~burnt & ~gloss
    figures = figures._replace(
        transform=tuple((float(a), float(b), float(c)) for a, b, c in laid.transform),
        inliers=laid.aligned.inliers,
        ecc=laid.aligned.ecc,
        residual_mm=laid.followed.residual_px / scale,
        glare_fraction=float(gloss.mean()),
        clipped_fraction=float(burnt.mean()),
        usable_fraction=float(usable.mean()),
    )
    reasons = cuts.gates + _doubts(figures, swab, inside, laid.covered, gloss | burnt)
    ink = masks.ink_of(density(cuts.before), usable, scale)
    if ink is None or (ink.mask & inside).sum() < LEAST_INK_MM2 * scale**2:
        return _unknown((*reasons, "no ink in the patch"), figures)
    near_ink = usable & (ink.away_mm < EDGES_MM)
    sharp = [verdict.edge_sigma_mm(luminance(one), near_ink, scale) for one in (cuts.before, laid.after)]
    figures = figures._replace(blur_before_mm=sharp[0], blur_after_mm=sharp[1])
    outside = near_ink & ~circle_mask(cuts.before.shape, swab, scale)
    before, after = verdict.matched(cuts.before, laid.after, outside)
    ratio = density(after) - density(before)
    paper = usable & (ink.away_mm > 0.4) & ~circle_mask(cuts.before.shape, swab, scale)
    shading = surface(ratio, paper)
    if shading is None:
        return _unknown((*reasons, "too little usable area"), figures)
    pair = Prepared(before, after, ratio - shading, usable, ink, max(np.nanmax(sharp), 0.0), swab, scale)
    return _answer(cuts, laid, pair, shading, reasons, figures, noise)


def _doubts(figures: Figures, swab: Circle, inside: Mask, covered: Mask, lost: Mask) -> tuple[str, ...]:
    """Reasons that leave no verdict, as far as they can be known before ink is looked at."""
    reasons = []
    whole = max(np.pi * swab.radius**2, 1.0)
    if (inside & covered).sum() / whole < LEAST_VISIBLE:
        reasons.append("swab not in both photos")
    if (figures.usable_fraction or 0.0) < LEAST_USABLE:
        reasons.append("too little usable area")
    if (figures.ecc or 0.0) < LEAST_ECC or (figures.residual_mm or 0.0) > MOST_RESIDUAL_MM:
        reasons.append("alignment doubtful")
    if inside.any() and lost[inside].mean() > MOST_GLARE:
        reasons.append("glare over the swab")
    return tuple(reasons)


def _answer(
    cuts: _Cuts,
    laid: _Laid,
    pair: Prepared,
    shading: Array,
    reasons: tuple[str, ...],
    figures: Figures,
    noise: Mapping[str, float] | None,
) -> Comparison:
    found = all_judged(pair, laid.followed)
    if not {"near halo", "ink amount"} <= set(found):
        # Specks and fibres pass for ink here and there; what matters is whether ink can be judged.
        reasons = (*reasons, "no ink in the patch")
    near_white = float((cuts.before > masks.BURNT_LIGHT).all(axis=2).mean())
    glossy = (figures.glare_fraction or 0.0) + near_white > GLOSSY_FROM
    limits = verdict.thresholds(glossy=glossy, noise=noise)
    places = verdict.boxes(found, limits, pair.swab, pair.px_per_mm)
    blur_mm = max(figures.blur_before_mm or 0.0, figures.blur_after_mm or 0.0)
    said, why = verdict.decided(reasons, places, blur_mm=blur_mm, glossy=glossy)
    even = pair.after * np.exp(shading)
    colours = [cielab(one) for one in (pair.before, even)]
    difference = least_difference(colours[0], colours[1], max(round(0.03 * pair.px_per_mm), 1))
    figures = _measured(pair, laid, difference, found, limits, figures)
    outer = tuple(_outward(box, cuts.at_before) for box in places) if said == "possible-change" else ()
    shown = pictures_of(pair.before, even, difference, pair.swab, places)
    smallest = None
    if said == "no-change":
        smallest = verdict.smallest_mm(found, limits, ink_density(pair), pair.blur_mm)
    return Comparison(said, why, outer, smallest, _paper_change(pair, colours), figures, shown)


def _outward(box: Box, frame: Frame) -> Box:
    x, y = frame.outward(box.x, box.y)
    return box._replace(x=x, y=y, w=box.w / frame.factor, h=box.h / frame.factor)


def _measured(
    pair: Prepared,
    laid: _Laid,
    difference: Array,
    found: Mapping[Kind, Judged],
    limits: Mapping[Kind, float],
    figures: Figures,
) -> Figures:
    """What is only reported: no verdict rests on it."""
    inside = circle_mask(difference.shape, pair.swab) & pair.usable
    outside = pair.usable & ~circle_mask(difference.shape, pair.swab, pair.px_per_mm)
    gained, near, far = halo_maps(pair)
    in_reach = np.where(np.isfinite(found["stroke moved"].inside), 1, 0) if "stroke moved" in found else None
    way = laid.followed.stroke_px[in_reach > 0].max() / pair.px_per_mm if in_reach is not None else None
    _, apart = ink_part(pair.ratio, pair.ink.direction)
    return figures._replace(
        changed_fraction=float((difference[pair.usable] > VISIBLE_DE00).mean()),
        de00_p99_swab=_p99(difference[inside]),
        de00_p99_control=_p99(difference[outside]),
        ink_change_pct=ink_change_pct(pair),
        near_halo_density=_gap(gained, near, inside, outside),
        far_halo_density=_gap(gained, far, inside, outside),
        largest_shift_mm=way,
        scores={kind: one.z for kind, one in found.items()},
        thresholds={str(kind): limit for kind, limit in limits.items()},
        notes=() if apart else ("the ink is too like yellowing to tell the two apart by colour",),
    )


def _p99(values: Array) -> float | None:
    return float(np.percentile(values, 99)) if values.size else None


def _gap(values: Array, zone: Mask, inside: Mask, outside: Mask) -> float | None:
    first, second = values[zone & inside], values[zone & outside]
    return float(first.mean() - second.mean()) if first.size and second.size else None


def _paper_change(pair: Prepared, colours: list[Array]) -> PaperChange | None:
    """How the paper changed inside the swab against outside; lifted adhesive does this."""
    paper = pair.paper()
    inside = paper & circle_mask(paper.shape, pair.swab)
    outside = paper & ~circle_mask(paper.shape, pair.swab, pair.px_per_mm)
    if not inside.any() or not outside.any():
        return None
    gap = colours[1] - colours[0]
    lighter, yellower = (
        float(np.median(gap[inside][:, at]) - np.median(gap[outside][:, at])) for at in (0, 2)
    )
    return PaperChange(lighter, yellower)
