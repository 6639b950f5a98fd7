"""Strips cut into patches: nothing is lost, nothing counts twice, and nonsense is refused by name."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import Polygon
from shapely import box as upright
from shapely.ops import unary_union

from kb.science.sheet.cutting import Area, cut
from kb.science.sheet.polygons import mirrored, rectangle, shape
from tests.sheet.sheets import patches, taped_sheet

A4 = (210.0, 297.0)


@pytest.mark.slow
@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.floats(8, 60))
@example(4884, 8.0)  # a tongue thinner than a hundredth of a millimetre
def test_the_pieces_add_up_to_what_the_strips_cover(seed: int, patch_mm: float) -> None:
    taped = taped_sheet(seed)
    found = patches(taped, patch_mm)
    for face in ("front", "back"):
        covered = unary_union([Polygon(strip.outline) for strip in taped.strips if strip.face == face])
        pieces = [patch for patch in found if patch.face == face]
        assert sum(patch.area_mm2 for patch in pieces) == pytest.approx(covered.area, abs=0.01 * len(pieces))
        # Corners are given to a hundredth of a millimetre.
        assert unary_union([Polygon(patch.outline) for patch in pieces]).area == pytest.approx(
            covered.area, rel=2e-3
        )


@pytest.mark.slow
@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.floats(8, 60))
@example(1125, 8.0)  # a sliver of 8 mm by 0.005 mm has no corners apart
def test_no_patch_is_longer_than_asked(seed: int, patch_mm: float) -> None:
    for patch in patches(taped_sheet(seed), patch_mm):
        edges = list(Polygon(patch.outline).minimum_rotated_rectangle.exterior.coords)
        sides = [math.dist(edges[0], edges[1]), math.dist(edges[1], edges[2])]
        # One of the two is across the strip, which may be broader than a patch is long.
        assert min(sides) <= max(patch_mm, 50.0) + 0.05


def test_a_strip_of_ten_centimetres_gives_five_equal_patches_of_two() -> None:
    found = cut([Area("front", rectangle(10, 20, 100, 25))], (), *A4)
    assert [patch.id for patch in found] == ["F1", "F2", "F3", "F4", "F5"]
    assert [patch.area_mm2 for patch in found] == pytest.approx([500.0] * 5)
    assert [patch.at for patch in found] == [(20 + 20 * step, 32.5) for step in range(5)]


def test_the_back_is_seen_from_the_back_and_numbered_as_the_front_behind_it() -> None:
    there = rectangle(10, 20, 100, 25)
    found = cut([Area("front", there), Area("back", mirrored(there, A4[0]))], (), *A4)
    front, back = ([patch for patch in found if patch.face == face] for face in ("front", "back"))
    assert [patch.at for patch in front] == pytest.approx([patch.at for patch in back])
    assert max(x for x, _ in back[0].outline) == pytest.approx(200.0)


def test_overlapping_strips_count_once() -> None:
    strips = [Area("front", rectangle(0, 0, 60, 20)), Area("front", rectangle(40, 0, 60, 20))]
    assert sum(patch.area_mm2 for patch in cut(strips, (), *A4)) == pytest.approx(2000.0)


def test_a_strip_on_a_strip_leaves_no_hole_in_a_patch() -> None:
    strips = [Area("front", rectangle(40, 45, 10, 10)), Area("front", rectangle(10, 20, 80, 60))]
    found = cut(strips, (), *A4, patch_mm=100)
    assert sum(patch.area_mm2 for patch in found) == pytest.approx(4800.0)
    assert unary_union([Polygon(patch.outline) for patch in found]).area == pytest.approx(4800.0)


def test_cuts_fall_on_the_edges_of_weak_zones_and_only_what_lies_there_is_weak() -> None:
    found = cut(
        [Area("front", rectangle(0, 0, 100, 20))], [Area("front", rectangle(30, 0, 10, 20), "media")], *A4
    )
    weak = [patch for patch in found if patch.weak]
    assert [(min(x for x, _ in patch.outline), patch.area_mm2) for patch in weak] == [(30.0, 200.0)]
    assert all(upright(30, 0, 40, 20).intersection(Polygon(p.outline)).area < 1 for p in found if not p.weak)


@pytest.mark.parametrize(("kind", "faces"), [("fold", {"front", "back"}), ("friable media", {"front"})])
def test_a_fold_weakens_both_faces_and_friable_media_only_their_own(kind: str, faces: set[str]) -> None:
    strips = [Area("front", rectangle(0, 0, 40, 20)), Area("back", rectangle(170, 0, 40, 20))]
    found = cut(strips, [Area("front", rectangle(0, 0, 40, 20), kind)], *A4)
    assert {patch.face for patch in found if patch.weak} == faces


@pytest.mark.parametrize(
    ("outline", "says"),
    [
        (((0, 0), (10, 10), (10, 0), (0, 10)), "crosses itself"),
        (((0, 0), (10, 10)), "at least three"),
        (((0, 0), (10, 0), (20, 0)), "encloses no area|crosses itself"),
        (((0, 0), (10, 0), (math.nan, 10)), "no place"),
        (((200, 0), (230, 0), (230, 20), (200, 20)), "20 mm outside the sheet"),
        (((-5, 0), (30, 0), (30, 20), (-5, 20)), "5 mm outside the sheet"),
    ],
)
def test_a_strip_that_cannot_be_is_named(outline: tuple[tuple[float, float], ...], says: str) -> None:
    good = Area("front", rectangle(0, 0, 40, 20))
    with pytest.raises(ValueError, match=f"Strip 2 .*({says})"):
        cut([good, Area("front", outline)], (), *A4)


def test_a_weak_zone_beside_the_sheet_is_named() -> None:
    with pytest.raises(ValueError, match=r"Weak zone 1 .*outside the sheet"):
        cut([Area("front", rectangle(0, 0, 9, 9))], [Area("back", rectangle(300, 0, 9, 9))], *A4)


@pytest.mark.parametrize("size", [(0.0, 100.0), (100.0, -1.0), (math.inf, 100.0)])
def test_a_sheet_of_no_size_is_refused(size: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="of the sheet must be above zero"):
        cut([], (), *size)


def test_a_slip_of_the_unit_is_seen_before_it_takes_all_memory() -> None:
    with pytest.raises(ValueError, match="all lengths in mm"):
        cut([Area("front", rectangle(0, 0, 200_000, 20))], (), 300_000, 300_000)


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 1000))
def test_seen_from_the_back_and_back_again_is_the_same(seed: int) -> None:
    taped = taped_sheet(seed)
    for strip in taped.strips:
        again = mirrored(mirrored(strip.outline, taped.width_mm), taped.width_mm)
        assert shape(again).symmetric_difference(shape(strip.outline)).area == pytest.approx(0, abs=1e-6)
