"""How much the catalogue holds, and what its figures rest on."""

from __future__ import annotations

import msgspec

from kb.catalogue.load import Catalogue
from kb.catalogue.parts import parts
from kb.model.base import Source
from kb.model.kinds import KINDS

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


class Summary(msgspec.Struct, frozen=True):
    """Counts of a catalogue.

    ``entries``: per kind key. ``figures``: how many figures and claims name their sources.
    ``by_basis``: the same, per item of RESTS_ON, by the first source that each names.
    """

    entries: dict[str, int]
    figures: int
    by_basis: dict[str, int]


def rests_on(source: Source) -> str:
    """The item of RESTS_ON that a source stands for."""
    if source.basis == "published":
        return "published, seen" if source.seen else "published, not seen"
    return source.basis


def summary(catalogue: Catalogue) -> Summary:
    """Count entries, figures and claims. Of several sources the first one counts: it is the one quoted."""
    sources = catalogue.of("sources", Source)
    by_basis = dict.fromkeys(RESTS_ON, 0)
    for kind in KINDS:
        for record in catalogue.all(kind.key):
            for part in parts(record):
                named: tuple[str, ...] = getattr(part.struct, "sources", ())
                if named:
                    by_basis[rests_on(sources[named[0]])] += 1
    entries = {kind.key: len(catalogue.all(kind.key)) for kind in KINDS}
    return Summary(entries, sum(by_basis.values()), by_basis)
