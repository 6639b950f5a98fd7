"""Repair tissue: weights, strips, pieces out of a sheet, and what mends add."""

from __future__ import annotations

import pytest

from kb.science.sheet.tissue import (
    LONGEST_PIECE_MM,
    WEIGHTS,
    added_g,
    customary,
    fits,
    layers_for,
    strips_for,
    wanted_weight,
    with_wastage,
)


@pytest.mark.parametrize(
    ("sheet", "mend"),
    [(20, 1.6), (40, 1.6), (40.1, 3.5), (80, 3.5), (100, 5), (200, 9), (201, 17), (1200, 17)],
)
def test_customary_weights(sheet, mend):
    """By band; on a boundary the lighter one."""
    row = customary(sheet)
    assert row is not None
    assert row.low == mend


def test_below_custom_nothing_is_guessed():
    """Sheets under 20 g/m2 have no row; every row says that it has no source; sheets must weigh something."""
    assert customary(19.9) is None
    assert wanted_weight(10, "mend") is None
    assert {(row.source, row.seen) for _, row in WEIGHTS} == {("common-practice", False)}
    with pytest.raises(ValueError, match="sheet_g_m2 must be"):
        customary(0)


def test_wanted_weight():
    """Infill and mend differ; both faces seen: the lighter half, marked as this project's own."""
    both = wanted_weight(100, "mend", both_faces_seen=True)
    assert both is not None
    assert (both.low, both.high, both.source) == (5, 8.5, "project")
    infill = wanted_weight(100, "infill", both_faces_seen=True)
    assert infill is not None
    assert (infill.low, infill.high) == (70, 100)
    board = wanted_weight(300, "infill")
    assert board is not None
    assert (board.low, board.high) == (210, 300)
    with pytest.raises(ValueError, match="'mend' or 'infill'"):
        wanted_weight(100, "lining")


def test_tissues_that_fit():
    """Ranges that touch do."""
    wanted = wanted_weight(60, "mend")
    assert wanted is not None
    assert fits(5, 6, wanted)
    assert fits(2, 3.5, wanted)
    assert not fits(8, 10, wanted)


def test_short_tear_takes_one_strip():
    """40 mm from an edge: one piece of 50 mm, 10 of it past the edge."""
    strips = strips_for(40, 8)
    assert (strips.pieces, strips.piece_mm, strips.area_mm2) == (1, 50, 400)
    assert strips.cut_area_mm2 == pytest.approx(60 * 18)


def test_long_tear_takes_several_overlapping_strips():
    """300 mm through from edge to edge: five pieces, none longer than 75 mm, covering 320 mm."""
    strips = strips_for(300, 8, edges_crossed=2)
    assert strips.pieces == 5
    assert strips.piece_mm <= LONGEST_PIECE_MM.value
    assert strips.pieces * strips.piece_mm - 4 * 2 == pytest.approx(320)


def test_tear_inside_a_sheet_and_exact_lengths():
    """No overhang; 75 mm is still one piece, a little more is two."""
    assert strips_for(75, 8, edges_crossed=0).pieces == 1
    assert strips_for(75.1, 8, edges_crossed=0).pieces == 2
    assert strips_for(148, 8, edges_crossed=0).pieces == 2
    assert strips_for(10, 8, edges_crossed=0).cut_area_mm2 == 20 * 18


@pytest.mark.parametrize(
    ("options", "why"),
    [
        ({"tear_mm": 0, "width_mm": 8}, "tear_mm must be"),
        ({"tear_mm": 50, "width_mm": 8, "edges_crossed": 3}, "0, 1 or 2 edges"),
    ],
)
def test_strips_refuse(options, why):
    """Sizes that lead nowhere."""
    with pytest.raises(ValueError, match=why):
        strips_for(**options)


def test_wastage():
    """A fifth wasted means a quarter more."""
    assert with_wastage(400, 0.2) == pytest.approx(500)
    with pytest.raises(ValueError, match="from 0 up to 1"):
        with_wastage(400, 1)


def test_what_mends_add():
    """1000 cm2 of 5 g/m2 tissue with 3 g/m2 of adhesive: 0.8 g; on both faces twice."""
    assert added_g(100_000, 5) == pytest.approx(0.5)
    assert added_g(100_000, 5, adhesive_g_m2=3) == pytest.approx(0.8)
    assert added_g(100_000, 5, adhesive_g_m2=3, faces=2) == pytest.approx(1.6)
    with pytest.raises(ValueError, match="1 or 2 faces"):
        added_g(1, 5, faces=0)


def test_a_sheet_between_two_bands_takes_the_tissues_of_both():
    """Edge tears at 80 g/m2 are mended with 8 to 10 as well as with less (common practice, no source)."""
    row = customary(80)
    assert row is not None
    assert (row.low, row.high) == (3.5, 12)
    assert row.low < customary(81).low


def test_an_infill_weighs_about_what_the_sheet_weighs():
    """A hole in an 80 g/m2 sheet is not filled with one tissue of 17 to 20 (common practice, no source)."""
    wanted = wanted_weight(80, "infill")
    assert wanted is not None
    assert (wanted.low, wanted.high) == pytest.approx((56, 80))
    assert layers_for(17, 20, wanted) == 3
    assert layers_for(60, 70, wanted) == 1
    assert layers_for(2, 3, wanted) is None
