"""The triangular plot: places, cells, zoom, regions, lines and labels that do not collide."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.science.liquids.solubility import fractional, red
from kb.science.liquids.ternary import (
    HEIGHT,
    WHOLE,
    Cell,
    Frame,
    Place,
    Window,
    around,
    in_region,
    place_labels,
    region_outline,
    shared_cells,
    to_fractions,
    to_plane,
)

steady = settings(deadline=None)
SHARES = st.tuples(*[st.floats(0, 100)] * 3).filter(lambda f: sum(f) > 1)
HANSEN = st.tuples(st.floats(13, 22), st.floats(0, 20), st.floats(0, 30))
CELLS = st.builds(Cell, st.integers(0, 30), st.integers(0, 12))


def test_corners():
    """Dispersion lower right, polar at the top, hydrogen bonding lower left; the middle in the middle."""
    assert to_plane((100, 0, 0)) == (100, 0)
    assert to_plane((0, 100, 0)) == (50, pytest.approx(HEIGHT))
    assert to_plane((0, 0, 100)) == (0, 0)
    assert to_plane((1, 1, 1)) == (pytest.approx(50), pytest.approx(HEIGHT / 3))


@pytest.mark.parametrize("fractions", [(0, 0, 0), (-1, 50, 51), (math.nan, 1, 1), (math.inf, 1, 1)])
def test_fractions_without_a_place_are_refused(fractions):
    """Nothing, below zero, not a number."""
    with pytest.raises(ValueError, match="no place"):
        to_plane(fractions)


@steady
@given(SHARES)
def test_places_read_back(fractions):
    """Plane and back gives the same shares, in per cent."""
    back = to_fractions(*to_plane(fractions))
    assert back == pytest.approx(tuple(100 * part / sum(fractions) for part in fractions), abs=1e-6)


def test_outside_the_triangle_there_are_no_fractions():
    """Below the base and beside the sides."""
    assert to_fractions(50, -1) is None
    assert to_fractions(0, 50) is None


@steady
@given(SHARES, st.integers(2, 150), st.integers(2, 60))
def test_every_place_of_the_triangle_has_a_cell_close_by(fractions, columns, rows):
    """On any screen, and the cell's centre is no further away than half a cell."""
    frame = Frame(columns, rows)
    place = to_plane(fractions)
    cell = frame.cell(place)
    assert cell is not None
    centre = frame.place(cell)
    across = (frame.window.right - frame.window.left) / (columns - 1)
    assert abs(centre.x - place.x) <= across / 2 + 1e-9
    assert abs(centre.y - place.y) <= across + 1e-9


def test_the_triangle_is_not_distorted():
    """Equal distances across and up take twice as many columns as rows, whatever the screen."""
    for columns, rows in ((80, 24), (40, 40), (200, 20)):
        frame = Frame(columns, rows)
        window = frame.window
        across = (window.right - window.left) / (columns - 1)
        up = (window.top - window.bottom) / (rows - 1)
        assert up == pytest.approx(2 * across)
        assert window.left <= WHOLE.left + 1e-9
        assert window.top >= WHOLE.top - 1e-9


def test_zoom_holds_what_it_was_given():
    """All places with air around them; one place still gets a window; none is refused."""
    places = [Place(60, 10), Place(70, 20)]
    window = around(places, air=2)
    assert window == Window(58, 8, 72, 22)
    frame = Frame(60, 20, window)
    assert all(frame.cell(place) is not None for place in places)
    assert frame.cell(Place(0, 0)) is None
    assert around(places[:1], air=1) == Window(55, 5, 65, 15)
    with pytest.raises(ValueError, match="no places"):
        around([])


@pytest.mark.parametrize(
    ("columns", "rows", "window", "why"),
    [
        (1, 10, WHOLE, "at least 2 columns"),
        (10, 1, WHOLE, "at least 2 columns"),
        (10, 10, Window(0, 0, 0, 10), "no size"),
        (10, 10, Window(0, 0, math.nan, 10), "no size"),
    ],
)
def test_frames_without_size_are_refused(columns, rows, window, why):
    """Named."""
    with pytest.raises(ValueError, match=why):
        Frame(columns, rows, window)


def test_the_three_sides_are_drawn_through_their_corners():
    """Connected cells, none twice, all inside the frame."""
    frame = Frame(80, 24)
    cells = frame.triangle()
    assert {frame.cell(Place(0, 0)), frame.cell(Place(100, 0)), frame.cell(Place(50, HEIGHT))} <= set(cells)
    assert len(set(cells)) == len(cells)
    assert all(0 <= cell.column < 80 and 0 <= cell.row < 24 for cell in cells)


@steady
@given(st.lists(SHARES.map(to_plane), min_size=1, max_size=5))
def test_lines_have_no_gap_within_the_frame(places):
    """Each cell touches the one before; both ends are there."""
    frame = Frame(70, 25)
    cells = frame.line(places)
    assert cells[0] == frame.cell(places[0])
    assert cells[-1] == frame.cell(places[-1])
    for one, two in itertools.pairwise(cells):
        assert max(abs(one.column - two.column), abs(one.row - two.row)) == 1


def test_a_line_is_cut_at_the_edge_of_a_zoomed_frame():
    """A side far beyond a narrow window costs no more than the window; another never shows."""
    frame = Frame(60, 20, Window(49.9999, 9.9999, 50.0001, 10.0001))
    assert frame.line([Place(0, 0), Place(100, 0)]) == ()
    cells = frame.line([Place(0, 10), Place(100, 10)])
    assert len(cells) == 60
    assert len({cell.row for cell in cells}) == 1


@steady
@given(HANSEN, HANSEN, st.floats(1, 12))
def test_a_liquid_inside_the_sphere_lies_in_its_region(liquid, centre, r0):
    """Never the other way round: the plot keeps proportions and loses strength."""
    if red(liquid, centre, r0) < 1 - 1e-9:
        assert in_region(centre, r0)(fractional(liquid))


@pytest.mark.slow
@steady
@given(HANSEN, st.floats(0.5, 12), SHARES)
def test_a_region_is_what_sampling_along_the_ray_finds(centre, r0, fractions):
    """A thousand strengths of the same proportions: if one lies in the sphere, the place is in the region."""
    found = False
    for step in range(1, 1001):
        point = tuple(part * step / 1000 * 100 / max(sum(fractions), 1e-9) for part in fractions)
        found = found or (13 <= point[0] <= 22 and red(point, centre, r0) < 1 - 1e-9)
    if found:
        assert in_region(centre, r0)(fractions)


def test_a_region_far_from_real_liquids_is_empty():
    """A sphere whose dispersion parameters no liquid has; and one that only the axis reaches."""
    assert region_outline((40.0, 5.0, 5.0), 3.0) == ()
    assert not in_region((17.0, 5.0, 5.0), 30.0)((0.0, 50.0, 50.0))


def test_the_outline_encloses_the_centre():
    """A polygon of the asked size; just inside is in the region, just outside is not."""
    centre, r0 = (17.4, 3.1, 4.1), 6.0
    edge = region_outline(centre, r0, points=48)
    middle = to_plane(centre)
    assert len(edge) == 48
    for place in edge:
        right, up = place.x - middle.x, place.y - middle.y
        inner = to_fractions(middle.x + 0.99 * right, middle.y + 0.99 * up)
        outer = to_fractions(middle.x + 1.01 * right, middle.y + 1.01 * up)
        assert inner is not None
        assert in_region(centre, r0)(inner)
        assert outer is None or not in_region(centre, r0)(outer)


def test_a_centre_with_a_negative_parameter_still_has_a_region():
    """Fitted centres may lie a little below zero."""
    assert len(region_outline((16.0, -1.0, 2.0), 5.0)) == 72


def test_liquids_on_one_cell_are_told_together():
    """In the order given."""
    one, two = Cell(1, 1), Cell(2, 1)
    assert shared_cells({"a": one, "b": two, "c": one}) == {one: ("a", "c"), two: ("b",)}


def test_labels_stand_beside_their_marks_or_are_left_over():
    """Right first, then left; no room is said, not overprinted."""
    placed, _ = place_labels([("a", Cell(0, 0), "acetone"), ("b", Cell(8, 0), "water")], 14, 1)
    assert placed == (("a", Cell(1, 0), "acetone"), ("b", Cell(9, 0), "water"))
    placed, left_over = place_labels(
        [("a", Cell(4, 0), "abc"), ("b", Cell(9, 0), "abcd"), ("c", Cell(3, 0), "")], 12, 1
    )
    assert [label.id for label in placed] == ["a"]
    assert left_over == ("b", "c")


LABELS = st.lists(st.tuples(CELLS, st.text("abcdefgh", min_size=1, max_size=9)), max_size=25)


@pytest.mark.slow
@steady
@given(LABELS, st.frozensets(CELLS, max_size=20))
def test_labels_never_collide(wanted, taken):
    """With each other, a mark, a taken cell or the edge; each is placed or left over; the same each time."""
    named = [(str(number), cell, text) for number, (cell, text) in enumerate(wanted)]
    placed, left_over = place_labels(named, 31, 13, taken)
    cells = [Cell(one.cell.column + i, one.cell.row) for one in placed for i in range(len(one.text))]
    assert len(cells) == len(set(cells))
    assert set(cells).isdisjoint(taken)
    assert set(cells).isdisjoint(cell for _, cell, _ in named)
    assert all(0 <= cell.column < 31 and 0 <= cell.row < 13 for cell in cells)
    assert sorted([*(one.id for one in placed), *left_over]) == sorted(name for name, _, _ in named)
    assert place_labels(named, 31, 13, taken) == (placed, left_over)
