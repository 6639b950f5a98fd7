"""How much the catalogue holds, and what its figures rest on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import msgspec

from kb.catalogue.load import Catalogue
from kb.catalogue.problems import Part, parts
from kb.model.base import Claim, Figure, Record, Source
from kb.model.kinds import KINDS
from kb.model.liquid import ExposureLimit
from kb.model.material import AgentSensitivity, Medium

RESTS_ON = (
    "published, seen",
    "published, not seen",
    "library",
    "computed",
    "common-practice",
    "memory",
    "project",
)
"""What a figure or claim can rest on; the words of ``Basis``, with cited texts split by whether read."""
COMMON_INKS = frozenset(
    {"printing ink", "writing ink", "writing and drawing ink", "pencil", "office", "print"}
)
"""Groups of media that lie under most tapes."""
HURTS = {
    "cautions": "cautions",
    "precautions": "precautions",
    "pairs": "mixing and dangerous pairs",
    "miscibilities": "mixing and dangerous pairs",
}
"""Kinds of which every entry can hurt someone, or an object, if it is wrong."""
WEIGHTY = (
    "exposure limits",
    "flash points",
    "restrictions",
    *dict.fromkeys(HURTS.values()),
    "grades of common inks",
)
"""Groups of the figures that matter most: those by which somebody breathes, stores, mixes, wets an ink."""


class Share(msgspec.Struct, frozen=True):
    """How many figures rest on memory: with the first source that is named, and with any of them."""

    figures: int
    memory_first: int
    memory_any: int


class Rests(NamedTuple):
    """One figure that matters: its group, where it stands, and what each of its sources rests on."""

    group: str
    entry: str
    place: str
    on: tuple[str, ...]


class Summary(msgspec.Struct, frozen=True):
    """Counts of a catalogue.

    ``entries``: per kind key. ``figures``: how many figures and claims name their sources.
    ``by_basis``: the same, per item of RESTS_ON, by the first source that each names.
    ``memory``: per kind key, and per group of WEIGHTY in ``weighty``, whose figures are in ``listed``.
    """

    entries: dict[str, int]
    figures: int
    by_basis: dict[str, int]
    memory: dict[str, Share]
    weighty: dict[str, Share]
    listed: tuple[Rests, ...]


def rests_on(source: Source) -> str:
    """The item of RESTS_ON that a source stands for."""
    if source.basis == "published":
        return "published, seen" if source.seen else "published, not seen"
    return source.basis


def weight_of(key: str, record: Record, part: Part) -> str:
    """The group of WEIGHTY that a figure belongs to; empty for all others."""
    if key in HURTS:
        return HURTS[key]
    if isinstance(part.struct, ExposureLimit):
        return "exposure limits"
    if isinstance(part.struct, Figure):
        return "flash points" if part.at == ("flash_point_c",) else ""
    if isinstance(part.struct, Claim):
        return "restrictions" if part.at[0] == "restrictions" else ""
    common = isinstance(record, Medium) and record.group in COMMON_INKS
    return "grades of common inks" if common and isinstance(part.struct, AgentSensitivity) else ""


def summary(catalogue: Catalogue) -> Summary:
    """Count entries, figures and claims. Of several sources the first one counts: it is the one quoted."""
    every = list(_figures(catalogue))
    by_basis = dict.fromkeys(RESTS_ON, 0)
    for _, one in every:
        by_basis[one.on[0]] += 1
    listed = tuple(one for _, one in every if one.group)
    return Summary(
        entries={kind.key: len(catalogue.all(kind.key)) for kind in KINDS},
        figures=len(every),
        by_basis=by_basis,
        memory={kind.key: share([one for key, one in every if key == kind.key]) for kind in KINDS},
        weighty={group: share([one for one in listed if one.group == group]) for group in WEIGHTY},
        listed=listed,
    )


def share(figures: list[Rests]) -> Share:
    """How many of some figures rest on memory."""
    return Share(
        len(figures),
        sum(one.on[0] == "memory" for one in figures),
        sum("memory" in one.on for one in figures),
    )


def _figures(catalogue: Catalogue) -> Iterator[tuple[str, Rests]]:
    """Every figure and claim that names its sources, with the key of its kind."""
    basis = {id: rests_on(source) for id, source in catalogue.of("sources", Source).items()}
    for kind in KINDS:
        for record in catalogue.all(kind.key):
            for part in parts(record):
                named: tuple[str, ...] = getattr(part.struct, "sources", ())
                if named:
                    on = tuple(basis[source] for source in named)
                    entry = f"{kind.word} {getattr(record, 'id', '')}"
                    yield kind.key, Rests(weight_of(kind.key, record, part), entry, place_of(part), on)


def place_of(part: Part) -> str:
    """Where in its entry a figure stands, in words: the agent or authority rather than a number in a list."""
    said = (getattr(part.struct, name, "") for name in ("agent", "authority"))
    return " ".join(filter(None, (*(step for step in part.at if isinstance(step, str)), *said)))
