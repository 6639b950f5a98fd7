"""The solubility map for a terminal or a pipe: the drawing of the screen, with its key in words."""

from __future__ import annotations

from kb.desk.liquids import map_plot as plot
from kb.desk.liquids.solubility_map import MapBlend, MapLiquid, MapRegion, SolubilityMap
from kb.science.choose.acting import at_edge
from kb.science.liquids.ternary import WHOLE, Window

LETTERS = {"adhesive": "A", "medium": "M", "carrier": "C", "own": "O"}
EDGE_SIGN = "~"
EDGE_WORDS = "at the edge of a region (RED 0.9 to 1.1), neither in nor out"
BLEND_WORDS = "by averaged Hansen parameters"
AS_PRINTED_WORDS = "by volume-averaged fractions, as printed charts place a blend"


def drawn_of(found: SolubilityMap) -> plot.Drawn:
    """What the drawing shows of a map."""
    regions = tuple(
        plot.Region(sign, one.name, one.centre, one.r0, one.kind == "adhesive", one.kind == "own")
        for sign, one in zip(region_letters(found.regions), found.regions, strict=True)
    )
    dots = tuple(plot.Dot(one.id, named(one), one.fractions) for one in found.liquids)
    if found.blend is None:
        return plot.Drawn(regions, dots)
    path = (found.blend.fractions, *found.blend.path[1:])
    return plot.Drawn(regions, dots, path, found.blend.fractions_as_printed)


def render_text(found: SolubilityMap, columns: int = 96, rows: int = 40) -> tuple[str, ...]:
    """The lines of the picture, ``columns`` wide and ``rows`` high, then those of its key."""
    drawn = drawn_of(found)
    window = Window(*found.window)
    picture = plot.draw(drawn, columns, rows, plot.ALL if window == WHOLE else window)
    lines = ["", *(f"{one.sign} {region_words(one)}" for one in drawn.regions)]
    lines += [f"{EDGE_SIGN} before a name: {EDGE_WORDS}"] if drawn.regions else []
    lines += blend_lines(found.blend)
    first = f"RED to {drawn.regions[0].sign}" if drawn.regions else ""
    for place, one in enumerate(found.liquids):
        if one.id not in picture.outside:
            hidden = picture.hidden.get(one.id)
            lines.append(_listed(plot.sign(place), one, first) + (f" (at {hidden})" if hidden else ""))
    return (*(line.rstrip() for line in picture.lines), *lines)


def named(one: MapLiquid) -> str:
    """Its name, marked where the printed sphere leaves open whether it dissolves."""
    return f"{EDGE_SIGN if at_edge(one.red.values()) else ''}{one.name}"


def region_words(region: plot.Region) -> str:
    """What a region is for: filled, or an outline."""
    if region.own:
        return f"outline: {region.name}, to compare"
    return f"{'filled: reach' if region.to_reach else 'outline: SPARE'} {region.name}"


def blend_lines(blend: MapBlend | None) -> list[str]:
    """Where a blend stands, both ways, and where it goes as it dries."""
    if blend is None:
        return []
    return [
        f"{plot.FRESH} {blend.name}, {BLEND_WORDS} (d / p / h {_shares(blend.fractions)} %)",
        f"{plot.AS_PRINTED} the same, {AS_PRINTED_WORDS} (d / p / h {_shares(blend.fractions_as_printed)} %)",
        *([f"{plot.DRYING} its path while it dries, {plot.DRY} nearly dry"] if blend.path else []),
        *(f"    {lost:.0f} % gone: d / p / h {_shares(place)} %" for lost, place in blend.steps),
    ]


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


def _listed(sign: str, one: MapLiquid, first: str) -> str:
    red = next(iter(one.red.values()), None)
    edge = "" if red is None or not at_edge([red]) else ", at the edge"
    near = "" if red is None else f"; {first} {red:.2f}{edge}"
    usable = "" if one.held and one.allowed else "; not held or not allowed"
    return f"{sign} {one.name} ({_shares(one.fractions)} %{near}{usable})"


def _shares(fractions: tuple[float, float, float]) -> str:
    return " / ".join(f"{part:.0f}" for part in fractions)
