"""The triangular solubility map as data: liquids, regions, a blend and its drying path."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kb.desk.errors import DeskError, in_a_sentence
from kb.desk.liquids.drying import Left, drying_path
from kb.desk.liquids.own_sphere import crumbs, own_sphere
from kb.desk.liquids.spheres import adhesive_spheres, by_record, near_by, no_sphere
from kb.desk.materials.names import Names
from kb.desk.materials.physical import USUAL_TEMP_C
from kb.desk.shelf.shelf import allowed
from kb.desk.studio import Studio
from kb.index.rows import NO_CARRIER
from kb.model.question import Plain, Question
from kb.science.liquids.blends import mix_hansen
from kb.science.liquids.solubility import Hsp, Sphere, fractional, red
from kb.science.liquids.ternary import WHOLE, Window, around, to_plane

MODEL = "fractional parameters: each Hansen parameter's share of the sum of the three"
SOURCE = "J. P. Teas 1968 and J. Burke 1984 (from memory), computed from Hansen parameters"
CAVEAT = (
    "The plot keeps proportions and loses strength: a liquid drawn inside a region may still lie outside the "
    "sphere. RED beside its name decides."
)


class MapLiquid(Plain, frozen=True, kw_only=True):
    """One liquid: fractions in per cent of dispersion, polar and hydrogen bonding; RED to each region."""

    id: str
    name: str
    held: bool
    allowed: bool
    hansen: tuple[float, float, float]
    fractions: tuple[float, float, float]
    red: dict[str, float]


class MapRegion(Plain, frozen=True, kw_only=True):
    """One Hansen sphere: what it belongs to, its centre and radius in MPa^0.5."""

    name: str
    kind: str
    """adhesive, medium, carrier, or own: fitted to own crumb tests"""
    centre: tuple[float, float, float]
    r0: float


class MapBlend(Plain, frozen=True, kw_only=True):
    """A blend, and the path of its fractions while it dries; empty where that cannot be told."""

    name: str
    fractions: tuple[float, float, float]
    """By averaged Hansen parameters."""
    fractions_as_printed: tuple[float, float, float]
    """By volume-averaged fractions of the parts, as printed charts place a blend."""
    red: dict[str, float]
    path: tuple[tuple[float, float, float], ...]
    steps: tuple[tuple[float, tuple[float, float, float]], ...]
    """Per cent lost, and fractions there."""


class SolubilityMap(Plain, frozen=True, kw_only=True):
    """All that the map shows; ``window`` is the part of the plane (left, bottom, right, top)."""

    liquids: tuple[MapLiquid, ...]
    regions: tuple[MapRegion, ...]
    blend: MapBlend | None
    window: tuple[float, float, float, float]
    notes: tuple[str, ...]
    unit: str
    model: str
    source: str


def solubility_map(
    studio: Studio,
    question: Question,
    parts: Mapping[str, float] | None = None,
    zoom: tuple[float, float, float, float] | None = None,
    held_only: bool = False,
) -> SolubilityMap:
    """Liquids, and regions of the question's adhesive, carrier and media within reach.

    ``zoom`` is a place in fractions (d, p, h) and the width to show there, in per cent. Raises DeskError if
    a part of the blend has no Hansen parameters or the zoom is no place.
    """
    notes: list[str] = []
    window = _window(zoom)
    kinds = _regions(studio, question, notes)
    spheres = [sphere for _, sphere in kinds]
    blend = _blend(studio, parts, spheres, notes) if parts else None
    return SolubilityMap(
        liquids=_liquids(studio, spheres, notes, held_only),
        regions=tuple(MapRegion.taken_from(one, kind=kind) for kind, one in kinds),
        blend=blend,
        window=(window.left, window.bottom, window.right, window.top),
        notes=(*notes, CAVEAT),
        unit="per cent",
        model=MODEL,
        source=SOURCE,
    )


def zoom_of(text: str) -> tuple[float, float, float, float]:
    """``d,p,h,size``: a place in fractional parameters and the width shown, all in per cent."""
    try:
        numbers = [float(one) for one in text.replace(";", ",").replace("/", ",").split(",")]
    except ValueError:
        numbers = []
    fits = len(numbers) == 4 and all(0 <= one < 1e6 for one in numbers) and numbers[3] >= 2
    if not fits or sum(numbers[:3]) <= 0:
        raise DeskError(
            f'"{text}" is no place to zoom to; give d,p,h,size in per cent with a size of 2 or more, '
            "such as 60,25,15,30."
        )
    return (numbers[0], numbers[1], numbers[2], numbers[3])


def _window(zoom: tuple[float, float, float, float] | None) -> Window:
    if zoom is None:
        return WHOLE
    with in_a_sentence():
        centre = to_plane(zoom[:3])
    return around([centre], air=zoom[3] / 2.0, least=1.0)


def _regions(studio: Studio, question: Question, notes: list[str]) -> list[tuple[str, Sphere]]:
    question, of_record = by_record(studio, question)
    notes += filter(None, [of_record.strip()])
    found: list[tuple[str, Sphere]] = []
    if question.adhesive:
        try:
            found += [("adhesive", one) for one in adhesive_spheres(studio, question.adhesive)]
        except DeskError as error:
            notes.append(str(error))
    for kind, name, spheres in near_by(studio, question, carrier=question.carrier not in {"", NO_CARRIER}):
        found += [(kind, one) for one in spheres]
        if not spheres:
            notes.append(f"{no_sphere(name)}: it has no region on the map.")
    for material in (question.adhesive, *question.reach):
        own = _own(studio, material) if material else None
        found += [("own", own)] if own else []
    return found


def _own(studio: Studio, material: str) -> Sphere | None:
    """The sphere fitted to own crumbs, beside the printed ones; too few crumbs have none."""
    if not crumbs(studio, material):
        return None
    try:
        fitted = own_sphere(studio, material)
    except DeskError:
        return None
    return Sphere(f"{fitted.name}, own crumbs", fitted.centre, fitted.r0)


def _liquids(
    studio: Studio, spheres: Sequence[Sphere], notes: list[str], held_only: bool
) -> tuple[MapLiquid, ...]:
    found, without = [], []
    for one in studio.compiled.liquids:
        verdict = allowed(studio.compiled, {one.id: 1.0})
        if held_only and not (verdict.held and verdict.allowed):
            continue
        if one.hansen is None:
            without.append(one.name)
            continue
        red = _reds(one.hansen, spheres)
        found.append(MapLiquid.taken_from(one, verdict, fractions=fractional(one.hansen), red=red))
    if without:
        notes.append(f"Without Hansen parameters, so not on the map: {', '.join(without)}.")
    # Those most inside what must dissolve come first, so that their labels stand best.
    first = spheres[0].name if spheres else ""
    return tuple(
        sorted(found, key=lambda one: (not (one.held and one.allowed), one.red.get(first, 0.0), one.id))
    )


def _blend(
    studio: Studio, parts: Mapping[str, float], spheres: Sequence[Sphere], notes: list[str]
) -> MapBlend:
    by_id = studio.compiled.by_id
    missing = [by_id[part].name for part in parts if by_id[part].hansen is None]
    if missing:
        raise DeskError(f"No Hansen parameters are known here for {', '.join(missing)}: no place on the map.")
    hansens = [hansen for part in parts if (hansen := by_id[part].hansen) is not None]
    mixed = mix_hansen(hansens, list(parts.values()))
    told, fine = tuple[Left, ...](), tuple[Left, ...]()
    try:
        path = drying_path(studio, parts, USUAL_TEMP_C)
    except DeskError as error:
        notes.append(str(error))
    else:
        notes += [*path.warnings, *(note for note in path.notes if note.startswith("Last"))]
        told, fine = (path.steps, path.curve) if len(parts) > 1 else (told, fine)
    return MapBlend(
        name=Names(studio).parts(parts),
        fractions=fractional(mixed),
        fractions_as_printed=mix_hansen([fractional(one) for one in hansens], list(parts.values())),
        red=_reds(mixed, spheres),
        path=tuple(one.fractions for one in fine if one.fractions is not None),
        steps=tuple((one.lost_pct, one.fractions) for one in told if one.fractions is not None),
    )


def _reds(hansen: Hsp, spheres: Sequence[Sphere]) -> dict[str, float]:
    return {one.name: red(hansen, one.centre, one.r0) for one in spheres}
