"""Sources as a reader needs them, and how far they can be trusted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from kb.index.queries import record
from kb.model.base import Source
from kb.model.question import Plain

if TYPE_CHECKING:
    from kb.desk.studio import Studio

SOURCE_KEYS = frozenset({"from", "cas_sources", "supplier_sources"})
"""Keys of a record whose values are ids of sources."""
BASIS = {
    "published": "a published text",
    "library": "open data that a named software package carries",
    "computed": "arithmetic on other figures here",
    "common-practice": "trade knowledge without a text",
    "memory": "handbook knowledge from memory, not looked up",
    "project": "a choice of this project, not a measurement",
    "": "not known: the catalogue has no such source",
}
"""What a source rests on, by its basis."""


class Cited(Plain, frozen=True, kw_only=True):
    """A source as a reader needs it: what it is, on what it rests, and whether it was read."""

    id: str
    cite: str
    basis: str
    seen: bool
    extent: str
    url: str

    @property
    def mark(self) -> str:
        """A word for how far to trust it; never silent about memory."""
        if self.basis == "memory":
            return "from memory"
        if self.basis == "common-practice":
            return "common practice, no source"
        if self.basis == "project":
            return "this project's own choice"
        return "read" if self.seen else "not read here"


WEAKEST_FIRST = ("from memory", "common practice, no source", "not read here", "this project's own choice")
"""Marks of sources that were not read, the weakest first."""


class Line(Plain, frozen=True, kw_only=True):
    """One line of a reading: what, value in words with unit, and the ids of its sources."""

    label: str
    value: str
    sources: tuple[str, ...]
    mark: str


def cited_source(studio: Studio, source_id: str) -> Cited:
    """A source as a reader needs it; one that is not in the catalogue says so in place of its title."""
    source = record(studio.index.conn, "source", source_id, Source)
    if source is None:
        return Cited(id=source_id, cite="not in the catalogue", basis="", seen=False, extent="", url="")
    return Cited.taken_from(source)


def mark_of(sources: Iterable[str], cited: Mapping[str, Cited]) -> str:
    """The weakest mark of all sources that a line names; empty if every one of them was read.

    One source that was read does not lift the others: what was added from memory beside it must show.
    """
    marks = {cited[source].mark for source in sources if source in cited}
    return next((mark for mark in WEAKEST_FIRST if mark in marks), "")


def sources_below(value: Any) -> list[str]:
    """Ids of all sources that a record (as plain data) names, in order of appearance."""
    found: dict[str, None] = {}

    def walk(inner: Any) -> None:
        if isinstance(inner, dict):
            for key, one in inner.items():
                if key in SOURCE_KEYS:
                    found.update(dict.fromkeys(one))
                else:
                    walk(one)
        elif isinstance(inner, list):
            for one in inner:
                walk(one)

    walk(value)
    return list(found)
