"""What the solubility map of a question shows, its legend in words, and its picture in a file. No widgets."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from kb.desk.liquids import map_text as plot
from kb.tui.exports import plain_stem, write_new

if TYPE_CHECKING:
    from kb.desk.liquids.drying import Drying
    from kb.desk.liquids.solubility_map import SolubilityMap
    from kb.desk.studio import Studio
    from kb.model.question import Dials, Question
    from kb.science.liquids.ternary import Window
    from kb.tui.screens.records.draft import Chosen

FIGURE = 6
"""Cells of a RED in the legend, with its sign."""
LIQUIDS = 15
"""Ranked liquids on the map; more would be unreadable in a terminal."""


class Seen(NamedTuple):
    """The map of the desk with the ranked liquids only, how it is drawn, and the drying in words."""

    map: SolubilityMap
    drawn: plot.Drawn
    chosen: str
    drying: Drying | None
    notes: tuple[str, ...]


def look(studio: Studio, question: Question, dials: Dials | None, chosen: Chosen | None) -> Seen:
    """Regions, the ranked liquids, and where the chosen one goes as it dries. For a thread."""
    import msgspec

    from kb.desk.liquids.map_text import drawn_of

    found, notes = _map(studio, question, chosen)
    ranked = _ranked(studio, question, dials)
    by_id = {one.id: one for one in found.liquids}
    homeless = [name for liquid, name in ranked.items() if liquid not in by_id]
    if homeless:
        notes.append(f"No Hansen parameters are known here for {', '.join(homeless)}: no place on the map.")
    if not question.adhesive:
        notes.append("No adhesive is named in the question, so none is on the map.")
    found = msgspec.structs.replace(found, liquids=tuple(by_id[one] for one in ranked if one in by_id))
    drying = _drying(studio, question, chosen, notes)
    return Seen(found, drawn_of(found), chosen.name if chosen else "", drying, tuple(notes))


def _map(studio: Studio, question: Question, chosen: Chosen | None) -> tuple[SolubilityMap, list[str]]:
    """The map of the desk; without the chosen blend if that has no place on it."""
    from kb.desk.errors import DeskError
    from kb.desk.liquids.solubility_map import CAVEAT, solubility_map

    trouble: list[str] = []
    try:
        found = solubility_map(studio, question, chosen.parts if chosen else None)
    except DeskError as error:
        trouble = [str(error)]
        found = solubility_map(studio, question)
    said = [
        note for note in found.notes if note != CAVEAT and not note.startswith("Without Hansen parameters")
    ]
    return found, [*trouble, *said]


def _ranked(studio: Studio, question: Question, dials: Dials | None) -> dict[str, str]:
    """Names of the ranked pure liquids by id, best first; the refused ones where all are refused."""
    from kb.desk.choose.choose import choose

    answer = choose(studio, question, dials, LIQUIDS)
    rows = (answer.suggestions or answer.refused)[:LIQUIDS]
    return {next(iter(one.parts)): one.name for one in rows if len(one.parts) == 1}


def _drying(studio: Studio, question: Question, chosen: Chosen | None, notes: list[str]) -> Drying | None:
    """The path against all that is within reach, so that it warns where the strong liquid stays last."""
    from kb.desk.errors import DeskError
    from kb.desk.liquids.drying import drying_path
    from kb.desk.liquids.spheres import adhesive_spheres, spheres_in_reach

    if chosen is None or len(chosen.parts) < 2:
        return None
    try:
        into = adhesive_spheres(studio, question.adhesive)
    except DeskError:
        into = ()
    out_of, _ = spheres_in_reach(studio, question, with_carrier=True)
    try:
        return drying_path(studio, chosen.parts, into=into, out_of=out_of)
    except DeskError as error:
        if str(error) not in notes:
            notes.append(str(error))
        return None


# -- words -------------------------------------------------------------------------------------------


def legend(seen: Seen, picture: plot.Picture, width: int = 40) -> str:
    """Every sign with what it means; regions first, then the chosen blend, then a line for each liquid."""
    from kb.desk.liquids.map_text import EDGE_SIGN, EDGE_WORDS, region_words
    from kb.tui.text import fit

    drawn = seen.drawn
    lines = ["Regions"]
    lines += [f"{one.sign} {region_words(one)}" for one in drawn.regions]
    lines += [] if drawn.regions else ["none known here"]
    if seen.chosen:
        lines += ["", f"{plot.FRESH if drawn.path else ' '} {seen.chosen}", *_path_words(seen)]
    heads = "".join(f"{one.sign:>{FIGURE}}" for one in drawn.regions)
    room = max(8, width - 6 - len(heads))
    lines += ["", f"{fit('RED, best first', room + 5)}{heads}"]
    for place, one in enumerate(seen.map.liquids):
        figures = "".join(_figure(one.red.get(region.name)) for region in drawn.regions)
        name = f"{fit(one.name, room)}{_where(one.id, picture):<3}"
        lines.append(f"{plot.sign(place)} {name}{figures}".rstrip())
    lines += ["", f"* inside   {EDGE_SIGN} {EDGE_WORDS}", "=3 at the place of 3   .. outside this part"]
    lines += [] if drawn.dots else ["none ranked"]
    lines += ["", *dict.fromkeys((*seen.notes, seen.map.notes[-1]))]
    lines += ["", f"{seen.map.model}. {seen.map.source}."]
    return "\n".join(lines)


def _reds(seen: Seen, red: dict[str, float]) -> str:
    from kb.science.choose.acting import side

    words = {"inside": " in", "outside": ""}
    return "  ".join(
        f"{one.sign} {red[one.name]:.2f}{words.get(side(red[one.name]), ' edge')}"
        for one in seen.drawn.regions
        if one.name in red
    )


def _figure(red: float | None) -> str:
    """A RED with a sign for in and at the edge, as wide in every row."""
    from kb.desk.liquids.map_text import EDGE_SIGN
    from kb.science.choose.acting import side

    if red is None:
        return f"{'-':>{FIGURE - 1}} "
    sign = {"inside": "*", "outside": " "}.get(side(red), EDGE_SIGN)
    return f"{f'{red:.2f}':>{FIGURE - 1}}{sign}"


def _where(liquid: str, picture: plot.Picture) -> str:
    if liquid in picture.hidden:
        return f"={picture.hidden[liquid]}"
    return ".." if liquid in picture.outside else ""


def _path_words(seen: Seen) -> list[str]:
    from kb.desk.liquids.map_text import AS_PRINTED_WORDS, BLEND_WORDS

    drying, blend = seen.drying, seen.map.blend
    lines = [f"  {_reds(seen, blend.red)}"] if blend is not None and blend.red else []
    if blend is not None and len(seen.drawn.path) > 1:
        lines = [f"  {BLEND_WORDS}", *lines, f"{plot.AS_PRINTED} {AS_PRINTED_WORDS}"]
    if drying is None:
        return lines
    lines += [f"{plot.DRYING} as it dries, {plot.DRY} nearly dry"] if len(seen.drawn.path) > 1 else []
    for step in drying.steps:
        if step.lost_pct > 0:
            rest = ", ".join(f"{drying.names[part]} {share:.0f} %" for part, share in step.shares_pct.items())
            lines.append(f"  {step.lost_pct:.0f} % gone: {rest}")
            lines += [f"    {_reds(seen, step.red)}"] if step.red else []
    return [*lines, *(f"  WARNING: {text}" for text in drying.warnings)]


# -- the picture in a file ---------------------------------------------------------------------------


def export(studio: Studio, seen: Seen, window: Window) -> Path:
    """Write what is shown as SVG into the studio's folder; never over a file that is there. For a thread."""
    import msgspec

    from kb.desk.liquids.map_svg import map_svg

    text = map_svg(msgspec.structs.replace(seen.map, window=tuple(window)))
    named = next((one.name for one in seen.map.regions if one.kind == "adhesive"), "liquids")
    return write_new(studio, plain_stem("solubility-map-", named, "liquids"), ".svg", text)
