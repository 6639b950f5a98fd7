"""What lies within reach, by the record of the sheet too; the Hansen spheres to reach and to stay out of."""

from __future__ import annotations

from collections.abc import Sequence

from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.index.compiled import SPHERE
from kb.index.queries import record
from kb.index.rows import BARE_PAPER
from kb.model.material import Carrier, Polymer
from kb.model.question import Question
from kb.science.liquids.solubility import Sphere


def by_record(studio: Studio, question: Question) -> tuple[Question, str]:
    """The question with what the record of its sheet says of media and paper, and what to say of it."""
    # Most blends are asked for without a sheet, and the words of records are long to load.
    if not question.sheet:
        return question, ""
    from kb.desk.choose.recorded import as_recorded

    return as_recorded(studio, question)[1:]


def adhesive_spheres(studio: Studio, adhesive: str) -> tuple[Sphere, ...]:
    """The sphere of the base polymer, or of every block. Raises DeskError if none is known."""
    known = studio.compiled.adhesives.get(adhesive)
    if known is None:
        raise DeskError("Say which adhesive or tape is meant; without it there is nothing to dissolve.")
    if not known.spheres:
        raise DeskError(f"{no_sphere(known.name)}; a blend cannot be reckoned for it.")
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
    polymers = (record(studio.index.conn, "polymer", ref, Polymer) for ref in known.polymers)
    spheres = [one.sphere for one in polymers if one is not None and one.sphere is not None]
    return _named(known.name, [(one.d, one.p, one.h, one.r0) for one in spheres])


def spheres_in_reach(
    studio: Studio, question: Question, *, with_carrier: bool
) -> tuple[tuple[Sphere, ...], tuple[str, ...]]:
    """Spheres to keep out of, by the record of the sheet too; what that says, and a sentence for each thing
    within reach without a known sphere."""
    question, of_record = by_record(studio, question)
    # Paper and cloth carriers let the liquid through and are wanted off; only a film can be made a smear.
    film = with_carrier and studio.compiled.carriers.get(question.carrier) == "film"
    near = near_by(studio, question, carrier=film)
    silent = [
        *filter(None, [of_record.strip()]),
        *(["No medium was named, so the blends keep clear of none."] if "" in question.reach else []),
        *(f"{no_sphere(name)}: these figures do not speak for it." for _, name, known in near if not known),
    ]
    return tuple(one for *_, known in near for one in known), tuple(silent)


def near_by(
    studio: Studio, question: Question, *, carrier: bool
) -> list[tuple[str, str, tuple[Sphere, ...]]]:
    """Kind, name and spheres of each medium within reach, and of the carrier if it is to be spared too."""
    media, carriers = studio.compiled.media, studio.compiled.carrier_names
    found = [
        ("medium", media[one].name if one in media else one, medium_spheres(studio, one))
        for one in question.reach
        # Bare paper is no thing that a sphere is looked for.
        if one not in {"", BARE_PAPER}
    ]
    if carrier:
        name = carriers.get(question.carrier, question.carrier)
        found.append(("carrier", name, carrier_spheres(studio, question.carrier)))
    return found


def no_sphere(name: str) -> str:
    """Said of a thing of which no sphere is known; without its end."""
    return f"No Hansen sphere is known here for {name}"


def _named(name: str, spheres: Sequence[SPHERE]) -> tuple[Sphere, ...]:
    # Spheres of one thing need names of their own, since they are told apart by name.
    many = len(spheres) > 1
    return tuple(
        Sphere(f"{name} ({number})" if many else name, (d, p, h), r0)
        for number, (d, p, h, r0) in enumerate(spheres, start=1)
    )
