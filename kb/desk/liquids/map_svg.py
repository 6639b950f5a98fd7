"""The solubility map as SVG: shapes, dashes and labels carry the meaning, so it reads in black and white."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from kb.desk.liquids.map_text import AS_PRINTED_WORDS, BLEND_WORDS, EDGE_WORDS, region_letters, shares
from kb.desk.liquids.solubility_map import MapLiquid, MapRegion, SolubilityMap
from kb.science.choose.acting import at_edge
from kb.science.liquids import ternary as tri

CELL_W, CELL_H = 5.5, 11.0
"""One character of a label in the drawing's units; a label cell is twice as high as wide."""
COLUMNS, ROWS = 164, 74
KEY_WIDTH = 300.0
DASHES = {"adhesive": "none", "medium": "7 3", "carrier": "2 3", "own": "1 4"}
_SPANS = ((0, 0x20), (0x7F, 0xA0), (0x202A, 0x202F), (0x2066, 0x206A), (0xD800, 0xE000), (0xFFFE, 0x10000))
UNREADABLE = dict.fromkeys((one for first, end in _SPANS for one in range(first, end)), "?")
LABEL_LENGTH = 24
CORNERS = (
    ("P 100 % polar", (0.0, 100.0, 0.0), (6, 4), range(1, 15), 0),
    ("H 100 % hydrogen bonding", (0.0, 0.0, 100.0), (0, 14), range(25), 1),
    ("D 100 % dispersion", (100.0, 0.0, 0.0), (-100, 14), range(-19, 1), 1),
)
"""What stands at each corner: how far from it, in units of the drawing, and the cells that it takes."""


def map_svg(drawn: SolubilityMap) -> str:
    """The map as one SVG file without scripts, fonts or outside references. Every text is escaped."""
    plane = _Plane(tri.Window(*drawn.window))
    wide, high = COLUMNS * CELL_W, ROWS * CELL_H
    letters = region_letters(drawn.regions)
    body = [*_triangle(plane), *_regions(plane, drawn.regions, letters)]
    taken = [*_corner_cells(plane), *_letter_cells(plane, drawn.regions)]
    marks = [(one, plane.frame.cell(tri.to_plane(one.fractions))) for one in drawn.liquids]
    body += [_mark(one, plane) for one, cell in marks if cell is not None]
    wanted: list[tuple[str, tri.Cell, str]] = []
    if drawn.blend is not None:
        body += _blend(plane, drawn)
        at = plane.frame.cell(tri.to_plane(drawn.blend.fractions))
        wanted += [("", at, " blend ")] if at is not None else []
    wanted += [(one.id, cell, _short(one.name)) for one, cell in marks if cell is not None]
    labels, left_over = tri.place_labels(wanted, COLUMNS, ROWS, taken)
    for label in labels:
        x, y = label.cell.column * CELL_W, (label.cell.row + 0.75) * CELL_H
        body.append(_text(x, y, label.text, 9))
    names = {one.id: one for one in drawn.liquids}
    body += _key(drawn, letters, [names[one] for one in left_over if one], wide)
    title = escape(_clean(", ".join(dict.fromkeys(one.name for one in drawn.regions)) or "liquids"))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide + KEY_WIDTH:.0f} {high + 20:.0f}" '
        f'role="img" font-family="monospace" fill="none" stroke="#000">'
        f"<title>Solubility map: {title}</title>\n"
        f'<rect width="100%" height="100%" fill="#fff" stroke="none"/>\n'
        f'<clipPath id="inside"><rect width="{wide:.0f}" height="{high:.0f}"/></clipPath>\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )


class _Plane:
    """From the plane of the plot to the drawing."""

    def __init__(self, window: tri.Window) -> None:
        self.frame = tri.Frame(COLUMNS, ROWS, window)
        shown = self.frame.window
        self._left, self._top = shown.left, shown.top
        self._scale = (COLUMNS - 1) * CELL_W / (shown.right - shown.left)

    def at(self, place: tri.Place) -> tuple[float, float]:
        return (
            (place.x - self._left) * self._scale + CELL_W / 2,
            (self._top - place.y) * self._scale + CELL_H / 2,
        )

    def points(self, places: Sequence[tri.Place]) -> str:
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in map(self.at, places))


def _triangle(plane: _Plane) -> list[str]:
    corners = (tri.Place(0.0, 0.0), tri.Place(100.0, 0.0), tri.Place(50.0, tri.HEIGHT))
    found = [
        '<g clip-path="url(#inside)">',
        f'<polygon points="{plane.points(corners)}" stroke-width="1.5"/>',
    ]
    for share in range(20, 100, 20):
        rest = 100.0 - share
        lines: tuple[tuple[tri.Fractions, tri.Fractions], ...] = (
            ((share, rest, 0.0), (share, 0.0, rest)),
            ((rest, share, 0.0), (0.0, share, rest)),
            ((rest, 0.0, share), (0.0, rest, share)),
        )
        for start, end in lines:
            points = plane.points([tri.to_plane(start), tri.to_plane(end)])
            found.append(f'<polyline points="{points}" stroke="#999" stroke-width="0.4"/>')
    found.append("</g>")
    for text, corner, (right, down), *_ in CORNERS:
        if plane.frame.cell(tri.to_plane(corner)) is not None:
            x, y = plane.at(tri.to_plane(corner))
            found.append(_text(x + right, y + down, text, 9))
    return found


def _corner_cells(plane: _Plane) -> list[tri.Cell]:
    return [
        tri.Cell(cell.column + right, cell.row + down)
        for _, corner, _, columns, down in CORNERS
        if (cell := plane.frame.cell(tri.to_plane(corner))) is not None
        for right in columns
    ]


def _letters_at(region: MapRegion) -> tuple[tri.Place, ...]:
    """Where the letter of a region stands on its edge."""
    edge = tri.region_outline(region.centre, region.r0)
    return edge[:: max(len(edge) // 4, 1)]


def _letter_cells(plane: _Plane, regions: Sequence[MapRegion]) -> list[tri.Cell]:
    centres = [plane.frame.cell(place) for region in regions for place in _letters_at(region)]
    return [
        tri.Cell(cell.column + right, cell.row)
        for cell in centres
        if cell is not None
        for right in (-1, 0, 1)
    ]


def _regions(plane: _Plane, regions: Sequence[MapRegion], letters: Sequence[str]) -> list[str]:
    found = ['<g clip-path="url(#inside)">']
    for region, letter in zip(regions, letters, strict=True):
        edge = tri.region_outline(region.centre, region.r0)
        if not edge:
            continue
        dash = DASHES.get(region.kind, "5 2 1 2")
        width = 2.2 if region.kind == "adhesive" else 1.4
        drawn = f'points="{plane.points(edge)}" stroke-width="{width}" stroke-dasharray="{dash}"'
        found.append(_titled("polygon", drawn, region.name))
        for place in _letters_at(region):
            x, y = plane.at(place)
            found.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="#fff" stroke-width="0.6"/>')
            found.append(_text(x - 2.7, y + 3.2, letter, 9))
    found.append("</g>")
    return found


def _mark(one: MapLiquid, plane: _Plane) -> str:
    """A circle for what is held and allowed, open at the edge of a region; an open square for the rest."""
    x, y = plane.at(tri.to_plane(one.fractions))
    if one.held and one.allowed:
        fill = "#fff" if at_edge(one.red.values()) else "#000"
        return _titled("circle", f'cx="{x:.1f}" cy="{y:.1f}" r="2.6" fill="{fill}"', one.name)
    square = f'x="{x - 2.4:.1f}" y="{y - 2.4:.1f}" width="4.8" height="4.8" fill="#fff"'
    return _titled("rect", square, one.name)


def _blend(plane: _Plane, drawn: SolubilityMap) -> list[str]:
    """A diamond for the blend, a line for its path, crosses where it is told."""
    blend = drawn.blend
    if blend is None:
        return []
    found = ['<g clip-path="url(#inside)">']
    if blend.path:
        points = plane.points([tri.to_plane(one) for one in blend.path])
        found.append(f'<polyline points="{points}" stroke-width="1.2" stroke-dasharray="1 2"/>')
    for lost, fractions in blend.steps:
        x, y = plane.at(tri.to_plane(fractions))
        if lost > 0:
            cross = f'd="M{x - 4:.1f} {y - 4:.1f}l8 8m0 -8l-8 8" stroke-width="1.4"'
            found.append(_titled("path", cross, f"{lost:.0f} % gone"))
    x, y = plane.at(tri.to_plane(blend.fractions))
    diamond = f'd="M{x:.1f} {y - 6:.1f}l6 6l-6 6l-6 -6z" fill="#fff" stroke-width="1.8"'
    x, y = plane.at(tri.to_plane(blend.fractions_as_printed))
    bars = f'd="M{x - 6:.1f} {y - 2:.1f}h12m0 4h-12" stroke-width="1.4"'
    return [*found, _titled("path", diamond, blend.name), _titled("path", bars, AS_PRINTED_WORDS), "</g>"]


def _key(
    drawn: SolubilityMap, letters: Sequence[str], left_over: Sequence[MapLiquid], left: float
) -> list[str]:
    """The key beside the map, with the names that found no room."""
    lines = ["Key", "filled circle: held and allowed", "open square: not held or not allowed"]
    lines += [f"open circle: {EDGE_WORDS}"] if drawn.regions else []
    lines += [
        f"{letter} ({one.kind}): {one.name}" for one, letter in zip(drawn.regions, letters, strict=True)
    ]
    if drawn.blend is not None:
        lines += [
            f"diamond: {drawn.blend.name}, {BLEND_WORDS}",
            f"two bars: the same, {AS_PRINTED_WORDS}",
            "dots and crosses: while it dries",
        ]
        lines += [f"  {lost:.0f} % gone: {shares(place)}" for lost, place in drawn.blend.steps]
    if left_over:
        lines.append("without a label (d / p / h in %):")
        lines += [f"  {one.name}: {shares(one.fractions)}" for one in left_over]
    lines += ["", *drawn.notes, drawn.model, drawn.source]
    pieces = [piece for text in lines for piece in _folded(text)]
    return [_text(left + 8, 14.0 + 10.5 * row, piece, 8) for row, piece in enumerate(pieces)]


def _folded(text: str) -> list[str]:
    from textwrap import wrap

    return wrap(_clean(text), 58, subsequent_indent="  ") or [""]


def _titled(shape: str, drawn: str, title: str) -> str:
    return f"<{shape} {drawn}><title>{escape(_clean(title))}</title></{shape}>"


def _text(x: float, y: float, text: str, size: int) -> str:
    shown = escape(_clean(text), quote=True)
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="#000" stroke="none">{shown}</text>'


def _short(name: str) -> str:
    plain = _clean(name.split("(", maxsplit=1)[0].strip().rstrip(","))
    return plain if len(plain) <= LABEL_LENGTH else plain[: LABEL_LENGTH - 1] + "…"


def _clean(text: str) -> str:
    return text.translate(UNREADABLE)
