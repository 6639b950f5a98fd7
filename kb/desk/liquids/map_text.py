"""The solubility map as characters: marks differ by sign and regions by letter, so no colour is needed."""

from __future__ import annotations

from kb.desk.liquids.solubility_map import MapLiquid, MapRegion, SolubilityMap
from kb.science.choose.acting import at_edge
from kb.science.liquids.ternary import (
    Cell,
    Frame,
    Labels,
    Window,
    outline,
    place_labels,
    shared_cells,
    to_plane,
)

HELD, OTHER, BLEND, PATH, SIDE, AT_EDGE = "o", ".", "@", "*", ":", "%"
EDGE_WORDS = "at the edge of a region (RED 0.9 to 1.1), neither in nor out"
LETTERS = {"adhesive": "A", "medium": "M", "carrier": "C"}
CORNERS = (("P", (0.0, 100.0, 0.0)), ("H", (0.0, 0.0, 100.0)), ("D", (100.0, 0.0, 0.0)))
LABEL_WIDTH = 14
CODES = "abcdefghijklmnpqrstuvwxyzBEFGIJKLNOQSTUVWXYZ"


def render_text(drawn: SolubilityMap, columns: int = 96, rows: int = 40, zoom: Window | None = None) -> str:
    """The map with its key, the picture ``columns`` wide. ``zoom`` replaces the map's own window."""
    frame = Frame(columns, rows, zoom or Window(*drawn.window))
    grid = [[" "] * columns for _ in range(rows)]
    _put(grid, frame.triangle(), SIDE)
    letters = region_letters(drawn.regions)
    for region, letter in zip(drawn.regions, letters, strict=True):
        edge = outline(frame.region(region.centre, region.r0)) | _rim(frame, region)
        _put(grid, tuple(sorted(edge)), letter)
    if drawn.blend is not None:
        _put(grid, frame.line([to_plane(one) for one in drawn.blend.path]) if drawn.blend.path else (), PATH)
    marks = {
        one.id: cell for one in drawn.liquids if (cell := frame.cell(to_plane(one.fractions))) is not None
    }
    liquids = {one.id: one for one in drawn.liquids}
    # Written backwards, so that the first of several at one place keeps its sign.
    for name, cell in reversed(marks.items()):
        grid[cell.row][cell.column] = _sign(liquids[name])
    blend_cell = frame.cell(to_plane(drawn.blend.fractions)) if drawn.blend is not None else None
    if blend_cell is not None:
        grid[blend_cell.row][blend_cell.column] = BLEND
    shared = shared_cells(marks)
    labels = _labels(liquids, shared, blend_cell, grid, columns, rows)
    codes = _codes(labels, shared)
    for cell, code in codes.items():
        grid[cell.row][cell.column] = code
    for label in labels.placed:
        for step, sign in enumerate(label.text):
            grid[label.cell.row][label.cell.column + step] = sign
    for sign, corner in CORNERS:
        at = frame.cell(to_plane(corner))
        if at is not None:
            grid[at.row][at.column] = sign
    picture = "\n".join("".join(row).rstrip() for row in grid)
    return picture + "\n" + "\n".join(_key(drawn, letters, shared, labels, codes, liquids)) + "\n"


def region_letters(regions: tuple[MapRegion, ...]) -> tuple[str, ...]:
    """One sign per region: A for the adhesive, then M and C; a digit where a letter is taken."""
    found: list[str] = []
    digit = 1
    for region in regions:
        letter = LETTERS.get(region.kind, "R")
        if letter in found:
            digit += 1
            letter = str(digit) if digit < 10 else "+"
        found.append(letter)
    return tuple(found)


def _rim(frame: Frame, region: MapRegion) -> frozenset[Cell]:
    """The cell of the centre, so that a region smaller than a cell is still seen."""
    fractions = [max(part, 0.0) for part in region.centre]
    if sum(fractions) <= 0:
        return frozenset()
    cell = frame.cell(to_plane((fractions[0], fractions[1], fractions[2])))
    return frozenset() if cell is None else frozenset({cell})


def _labels(
    liquids: dict[str, MapLiquid],
    shared: dict[Cell, tuple[str, ...]],
    blend: Cell | None,
    grid: list[list[str]],
    columns: int,
    rows: int,
) -> Labels:
    """Labels of the first liquid at each place, kept off all that is drawn."""
    wanted = [("", blend, "blend")] if blend is not None else []
    for cell, names in shared.items():
        more = f"+{len(names) - 1}" if len(names) > 1 else ""
        wanted.append((names[0], cell, _short(liquids[names[0]].name) + more))
    taken = [
        Cell(column, row) for row in range(rows) for column in range(columns) if grid[row][column] != " "
    ]
    return place_labels(wanted, columns, rows, taken)


def _short(name: str) -> str:
    """A name in single-width signs that fits beside a mark."""
    plain = name.split("(", maxsplit=1)[0].strip().rstrip(",")
    plain = "".join(sign if sign.isascii() and sign.isprintable() else "?" for sign in plain)
    return plain if len(plain) <= LABEL_WIDTH else plain[: LABEL_WIDTH - 1] + "~"


def _key(
    drawn: SolubilityMap,
    letters: tuple[str, ...],
    shared: dict[Cell, tuple[str, ...]],
    labels: Labels,
    codes: dict[Cell, str],
    liquids: dict[str, MapLiquid],
) -> list[str]:
    """What the signs mean, and the names that found no room."""
    lines = ["Corners: D dispersion, P polar, H hydrogen bonding (100 % each)."]
    lines += [
        f"{letter} edge of {one.kind}: {one.name}" for one, letter in zip(drawn.regions, letters, strict=True)
    ]
    lines.append(
        f"{HELD} held and allowed   {OTHER} not held or not allowed   ~ name cut short   "
        "+n more at one place   letter: see below"
    )
    if letters:
        lines.append(f"{AT_EDGE} held and allowed, {EDGE_WORDS}")
    if drawn.blend is not None:
        where = " / ".join(f"{part:.0f}" for part in drawn.blend.fractions)
        lines.append(
            f"{BLEND} blend: {drawn.blend.name} (d / p / h {where} %)   {PATH} its path while it dries"
        )
        lines += [
            f"    {lost:.0f} % gone: d / p / h {' / '.join(f'{part:.0f}' for part in place)} %"
            for lost, place in drawn.blend.steps
        ]
    labelled = {label.id for label in labels.placed}
    first = f"RED to {letters[0]}" if letters else ""
    rest = [
        (codes.get(cell, _sign(liquids[name])), name)
        for cell, names in shared.items()
        for name in names
        if name not in labelled
    ]
    rest.sort(key=lambda pair: CODES.index(pair[0]) if pair[0] in CODES else len(CODES))
    return [*lines, *(f"{sign} {_listed(liquids[name], first)}" for sign, name in rest)]


def _codes(labels: Labels, shared: dict[Cell, tuple[str, ...]]) -> dict[Cell, str]:
    """A letter in place of the mark where a name found no room; marks beyond the last letter keep theirs."""
    left = set(labels.left_over)
    cells = [cell for cell, names in shared.items() if names[0] in left]
    return dict(zip(sorted(cells, key=lambda cell: (cell.row, cell.column)), CODES, strict=False))


def _listed(one: MapLiquid, first: str) -> str:
    where = " / ".join(f"{part:.0f}" for part in one.fractions)
    near = ""
    if one.red:
        red = next(iter(one.red.values()))
        near = f"; {first} {red:.2f}{', at the edge' if at_edge([red]) else ''}"
    return f"{one.name} ({where} %{near}{'' if _usable(one) else '; not held or not allowed'})"


def _sign(one: MapLiquid) -> str:
    if not _usable(one):
        return OTHER
    return AT_EDGE if at_edge(one.red.values()) else HELD


def _usable(one: MapLiquid) -> bool:
    return one.held and one.allowed


def _put(grid: list[list[str]], cells: tuple[Cell, ...], sign: str) -> None:
    for cell in cells:
        grid[cell.row][cell.column] = sign
