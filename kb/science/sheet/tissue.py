"""Repair tissue: which weight, how many strips, how much of a sheet, and what it adds."""

import math
from typing import Literal, NamedTuple

from kb.science.cited import Known, Span, need_not_negative, need_positive

Job = Literal["mend", "infill"]

LONGEST_PIECE_MM = Known(75.0, "bookrepair", True, "no strip longer than 3 in; longer tears take several")
PAST_EDGE_MM = Known(
    10.0, "bookrepair", True, "3/8 in past the edge of the sheet, trimmed or turned when dry"
)
OVERLAP_MM = Known(2.0, "project", False, "pieces overlap; by how much is not printed")
STRIP_WIDTH_MM = Span(4.0, 10.0, "common-practice", False, "whole strip, loose fibre included")
TORN_LOSS_MM = Span(2.0, 5.0, "common-practice", False, "lost at each torn side")


def _span(low: float, high: float) -> Span:
    return Span(low, high, "common-practice", False)


WEIGHTS: tuple[tuple[Span, Span], ...] = (
    (_span(20, 40), _span(1.6, 3.7)),
    (_span(40, 80), _span(3.5, 6)),
    (_span(80, 120), _span(5, 12)),
    (_span(120, 200), _span(9, 20)),
    (_span(200, math.inf), _span(17, 35)),
)
"""Bands of sheets and the tissues in use for mends on them, g/m2: from tissue and newsprint, writing and book
papers, rag and print, drawing papers, to board. No source: trade custom."""


INFILL_SHARE = Span(0.7, 1.0, "common-practice", False, "as heavy as the sheet or a little lighter")
"""Weight of an infill by that of the sheet, all its layers together."""
MOST_LAYERS = 4
"""More layers of tissue than this are a board, not an infill (project)."""


def layers_for(tissue_low_g_m2: float, tissue_high_g_m2: float, wanted: Span) -> int | None:
    """The fewest layers of a tissue that come to the wanted weight; None if MOST_LAYERS do not."""
    for layers in range(1, MOST_LAYERS + 1):
        if fits(layers * tissue_low_g_m2, layers * tissue_high_g_m2, wanted):
            return layers
    return None


def customary(sheet_g_m2: float) -> Span | None:
    """Tissues in use for a sheet of that grammage. None below 20 g/m2. Choose the lightest that holds.

    Custom knows no sharp edge: a sheet on the boundary of two bands may take the tissues of both.
    """
    need_positive(sheet_g_m2=sheet_g_m2)
    mends = [mend for sheet, mend in WEIGHTS if sheet.low <= sheet_g_m2 <= sheet.high]
    return _span(mends[0].low, mends[-1].high) if mends else None


def fits(tissue_low_g_m2: float, tissue_high_g_m2: float, wanted: Span) -> bool:
    """Whether a tissue sold as a range of grammage has any of it within what is wanted."""
    return tissue_low_g_m2 <= wanted.high and tissue_high_g_m2 >= wanted.low


def wanted_weight(sheet_g_m2: float, job: Job, *, both_faces_seen: bool = False) -> Span | None:
    """Grammage to look for. Where both faces are looked at, only the lighter half of the range.

    An infill takes the place of the sheet, so its weight follows the sheet's, in one layer or several. The
    halving is this project's own. None where custom knows no tissue.
    """
    if job not in ("mend", "infill"):
        raise ValueError(f"a job is 'mend' or 'infill', not {job!r}")
    span = customary(sheet_g_m2)
    if span is None:
        return None
    if job == "infill":
        share = INFILL_SHARE
        return share._replace(low=share.low * sheet_g_m2, high=share.high * sheet_g_m2)
    if not both_faces_seen:
        return span
    return Span(span.low, (span.low + span.high) / 2.0, "project", False, "lighter half: both faces seen")


class Strips(NamedTuple):
    pieces: int
    piece_mm: float
    """Length of each, overlaps and overhang included."""
    width_mm: float
    area_mm2: float
    """On the sheet, overhang included."""
    cut_area_mm2: float
    """Out of the tissue: with what is lost at the torn sides."""


def strips_for(tear_mm: float, width_mm: float, *, edges_crossed: int = 1) -> Strips:
    """Strips of one width along a tear, in equal pieces that overlap and run past the sheet's edge.

    ``edges_crossed``: 1 for a tear that starts at an edge, 2 for a sheet torn through, 0 for one inside.
    The upper end of TORN_LOSS_MM is lost at all four sides of each piece. Raises ValueError for sizes that
    are not above zero, and other numbers of edges.
    """
    need_positive(tear_mm=tear_mm, width_mm=width_mm)
    if edges_crossed not in (0, 1, 2):
        raise ValueError(f"a tear crosses 0, 1 or 2 edges, not {edges_crossed}")
    overlap_mm = OVERLAP_MM.value
    run = tear_mm + edges_crossed * PAST_EDGE_MM.value
    # n pieces of length l that overlap by o cover n l - (n - 1) o.
    pieces = max(math.ceil((run - overlap_mm) / (LONGEST_PIECE_MM.value - overlap_mm) - 1e-9), 1)
    piece = (run + (pieces - 1) * overlap_mm) / pieces
    lost_mm = 2.0 * TORN_LOSS_MM.high
    cut = pieces * (piece + lost_mm) * (width_mm + lost_mm)
    return Strips(pieces, piece, width_mm, pieces * piece * width_mm, cut)


def with_wastage(area: float, wastage: float) -> float:
    """Area to lay in so that ``area`` is left when the share ``wastage`` (0 up to 1) is lost."""
    need_not_negative(area=area)
    if not 0.0 <= wastage < 1.0:
        raise ValueError(f"the share that is wasted must be from 0 up to 1, not {wastage}")
    return area / (1.0 - wastage)


def added_g(
    area_mm2: float, tissue_g_m2: float, *, adhesive_g_m2: float = 0.0, faces: Literal[1, 2] = 1
) -> float:
    """Mass that tissue and dry adhesive add; ``area_mm2`` is that of one face."""
    need_not_negative(area_mm2=area_mm2, adhesive_g_m2=adhesive_g_m2)
    need_positive(tissue_g_m2=tissue_g_m2)
    if faces not in (1, 2):
        raise ValueError(f"a sheet has 1 or 2 faces to mend, not {faces}")
    area_m2 = faces * area_mm2 * 1e-6
    return area_m2 * tissue_g_m2 + area_m2 * adhesive_g_m2
