"""A material's sphere fitted to own crumb tests, beside the printed one and never in its place."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest

import msgspec

from kb.book.kinds.swelling import MATERIAL, Swelling
from kb.desk.errors import DeskError
from kb.desk.materials.resolve import resolve
from kb.desk.records.work_records import name_of
from kb.desk.studio import Studio
from kb.index.kept_rows import kept
from kb.index.queries import entry
from kb.index.search import exactly
from kb.model.question import Plain
from kb.science.liquids.fitting import Seen, fit_sphere, quality
from kb.science.liquids.solubility import Hsp, red

GOOD_FROM = 3
"""Grade from which a liquid counts as good: the crumb falls apart or dissolves."""
SOURCE = (
    "Fitted with the desirability function of C. M. Hansen, Hansen Solubility Parameters, CRC Press 2007 "
    "(from memory)"
)
CAVEAT = (
    "It rests on these few crumbs. Ranking goes by the printed sphere; where the two disagree, test between "
    "them."
)


class TooFew(DeskError):
    """Too few liquids were tried on a material, or all of them did the same."""


class CrumbLiquid(Plain, frozen=True, kw_only=True):
    """One liquid of the fit: its mean grade, and where it lies to the fitted sphere and the printed ones."""

    id: str
    name: str
    grade: float
    good: bool
    red: float
    red_printed: tuple[float, ...]
    wrong: bool
    """On the wrong side of the fitted sphere."""


class Printed(Plain, frozen=True, kw_only=True):
    """A sphere in print, and how well it fits what was seen here (desirability, 0 to 1)."""

    centre: tuple[float, float, float]
    r0: float
    quality: float


class OwnSphere(Plain, frozen=True, kw_only=True):
    """The fitted sphere, MPa^0.5; what lies in ``ranges`` (d, p, h and radius) fits as well."""

    material: str
    name: str
    centre: tuple[float, float, float]
    r0: float
    quality: float
    ranges: tuple[tuple[float, float], ...]
    liquids: tuple[CrumbLiquid, ...]
    without: tuple[str, ...]
    """Liquids that were tried and have no Hansen parameters."""
    printed: tuple[Printed, ...]
    good_from: int
    source: str
    caveat: str


def material_of(studio: Studio, text: str) -> str:
    """The id of a polymer, medium or adhesive by its exact name, in this order. Raises Unclear."""
    for kind in MATERIAL:
        found = exactly(studio.index.conn, text, kind)
        if len(found) == 1:
            return found[0].id
    return resolve(studio, MATERIAL[0], text)


def own_sphere(studio: Studio, material: str, good_from: int = GOOD_FROM) -> OwnSphere:
    """The sphere of a polymer, medium or adhesive by own crumb tests; a grade from ``good_from`` is good.

    Tests of an adhesive's polymers count for the adhesive. Raises DeskError if too little was seen.
    """
    if not 1 <= good_from <= 4:
        raise DeskError(f"{good_from} is no grade that counts as dissolving; it lies from 1 to 4.")
    grades: dict[str, list[int]] = {}
    for one in crumbs(studio, material):
        grades.setdefault(one.liquid, []).append(one.grade)
    means = {liquid: sum(found) / len(found) for liquid, found in sorted(grades.items())}
    known: dict[str, Hsp] = {
        liquid: hansen
        for liquid in means
        if liquid in studio.compiled.by_id and (hansen := studio.compiled.by_id[liquid].hansen) is not None
    }
    name = name_of(studio, MATERIAL, material)
    seen = [Seen(hansen, means[liquid] >= good_from) for liquid, hansen in known.items()]
    try:
        fit = fit_sphere(seen)
    except ValueError as error:
        raise TooFew(f"No sphere of {name} can be fitted: {error}.") from error
    spheres = printed_spheres(studio, material)
    return OwnSphere.taken_from(
        fit,
        material=material,
        name=name,
        liquids=tuple(
            CrumbLiquid(
                id=liquid,
                name=studio.compiled.by_id[liquid].name,
                grade=means[liquid],
                good=one.good,
                red=red(one.hansen, fit.centre, fit.r0),
                red_printed=tuple(red(one.hansen, centre, r0) for centre, r0 in spheres),
                wrong=at in fit.wrong,
            )
            for at, (liquid, one) in enumerate(zip(known, seen, strict=True))
        ),
        without=tuple(name_of(studio, ("liquid",), one) for one in means if one not in known),
        printed=tuple(
            Printed(centre=centre, r0=r0, quality=quality(seen, centre, r0)) for centre, r0 in spheres
        ),
        good_from=good_from,
        source=SOURCE,
        caveat=CAVEAT,
    )


def crumbs(studio: Studio, material: str) -> list[Swelling]:
    """Own crumb tests of a material, and of the polymers that an adhesive or ink is made of."""
    conn = studio.index.conn
    return [
        row.body for one in (material, *_made_of(studio, material)) for row in kept(conn, "swelling", one)
    ]


def printed_spheres(studio: Studio, material: str) -> list[tuple[Hsp, float]]:
    """Centre and radius of the spheres by which the catalogue judges a material."""
    compiled = studio.compiled
    made_of = compiled.adhesives.get(material) or compiled.media.get(material)
    if made_of is not None:
        return [((d, p, h), r0) for d, p, h, r0 in made_of.spheres]
    row = entry(studio.index.conn, "polymer", material)
    sphere = msgspec.json.decode(row.body).get("sphere") if row else None
    return [((sphere["d"], sphere["p"], sphere["h"]), sphere["r0"])] if sphere else []


def _made_of(studio: Studio, material: str) -> tuple[str, ...]:
    """The base polymer of an adhesive or ink: the first that is named. A tackifier's crumbs are its own."""
    for kind in ("adhesive", "medium"):
        row = entry(studio.index.conn, kind, material)
        if row is not None:
            return tuple(msgspec.json.decode(row.body).get("polymers", ())[:1])
    return ()


def in_words(found: OwnSphere) -> tuple[str, ...]:
    """The sphere, how sure it is, and the printed ones beside it."""
    d, p, h = found.centre
    good = sum(one.good for one in found.liquids)
    poor = len(found.liquids) - good
    spans = zip(("dD", "dP", "dH", "R0"), found.ranges, strict=True)
    lines = [
        f"own crumbs: dD {d:.1f}, dP {p:.1f}, dH {h:.1f}, R0 {found.r0:.1f} MPa^0.5; fit {found.quality:.3f} "
        f"of 1, {good} good and {poor} poor liquids",
        "fit as well: " + ", ".join(f"{label} {low:.1f} to {high:.1f}" for label, (low, high) in spans),
    ]
    spheres = in_print([(one.centre, one.r0) for one in found.printed])
    fits = (f"; fits these crumbs {one.quality:.3f}" for one in found.printed)
    lines += [line + more for line, more in zip_longest(spheres, fits, fillvalue="")]
    return tuple(lines)


def in_print(spheres: Sequence[tuple[Hsp, float]]) -> list[str]:
    said = [f"in print: dD {d:g}, dP {p:g}, dH {h:g}, R0 {r0:g} MPa^0.5" for (d, p, h), r0 in spheres]
    return said or ["in print: no sphere known here"]


def beside(studio: Studio, material: str) -> tuple[str, ...]:
    """What the reading pane says of own crumbs; nothing where there are none."""
    tried = len(crumbs(studio, material))
    if not tried:
        return ()
    try:
        return in_words(own_sphere(studio, material))[:2]
    except DeskError as error:
        return (f"own crumbs: {tried} so far. {error}",)
