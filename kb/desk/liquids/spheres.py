"""The Hansen spheres a treatment must reach and those it must stay out of, from the catalogue."""

from __future__ import annotations

from collections.abc import Sequence

from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.index.compiled import SPHERE
from kb.index.queries import record
from kb.model.material import Carrier, Polymer
from kb.model.question import Question
from kb.science.liquids.solubility import Sphere


def adhesive_spheres(studio: Studio, adhesive: str) -> tuple[Sphere, ...]:
    """The sphere of the base polymer, or of every block. Raises DeskError if none is known."""
    known = studio.compiled.adhesives.get(adhesive)
    if known is None:
        raise DeskError("Say which adhesive or tape is meant; without it there is nothing to dissolve.")
    if not known.spheres:
        raise DeskError(
            f"No Hansen sphere is known here for {known.name}; a blend cannot be reckoned for it."
        )
    return _named(known.name, known.spheres)


def medium_spheres(studio: Studio, medium: str) -> tuple[Sphere, ...]:
    """The spheres of a medium's binders; empty if none is known."""
    known = studio.compiled.media.get(medium)
    return () if known is None else _named(known.name, known.spheres)


def carrier_spheres(studio: Studio, carrier: str) -> tuple[Sphere, ...]:
    """The spheres of a carrier's polymers; empty if none is known."""
    known = record(studio.index.conn, "carrier", carrier, Carrier) if carrier else None
    if known is None:
        return ()
    found: list[SPHERE] = []
    for ref in known.polymers:
        polymer = record(studio.index.conn, "polymer", ref, Polymer)
        if polymer is not None and polymer.sphere is not None:
            one = polymer.sphere
            found.append((one.d, one.p, one.h, one.r0))
    return _named(known.name, found)


def spheres_in_reach(
    studio: Studio, question: Question, *, with_carrier: bool
) -> tuple[tuple[Sphere, ...], tuple[str, ...]]:
    """Spheres to keep out of, and a sentence for each thing within reach without a known sphere."""
    compiled = studio.compiled
    found: list[Sphere] = []
    silent: list[str] = []
    for medium in question.reach:
        if not medium:
            silent.append("No medium was named, so the blends keep clear of none.")
            continue
        spheres = medium_spheres(studio, medium)
        found += spheres
        if not spheres:
            name = compiled.media[medium].name if medium in compiled.media else medium
            silent.append(f"No Hansen sphere is known here for {name}: these figures do not speak for it.")
    # Paper and cloth carriers let the liquid through and are wanted off; only a film can be made a smear.
    if with_carrier and compiled.carriers.get(question.carrier) == "film":
        spheres = carrier_spheres(studio, question.carrier)
        found += spheres
        if not spheres:
            name = compiled.carrier_names.get(question.carrier, question.carrier)
            silent.append(f"No Hansen sphere is known here for {name}: these figures do not speak for it.")
    return tuple(found), tuple(silent)


def _named(name: str, spheres: Sequence[SPHERE]) -> tuple[Sphere, ...]:
    # Spheres of one thing need names of their own, since they are told apart by name.
    many = len(spheres) > 1
    return tuple(
        Sphere(f"{name} ({number})" if many else name, (d, p, h), r0)
        for number, (d, p, h, r0) in enumerate(spheres, start=1)
    )
