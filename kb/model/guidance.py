"""Hazard statements, cautions, and treatments reported in print.

Figures that a job is planned with: durations, volumes, humidity, light, movement; ranges with sources.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import msgspec

from kb.model.base import Claim, Figure, Record, Sources

Severity = Literal["stop", "warn", "note"]
Grade = Literal["A", "B", "C", "D"]


class Hazard(Record, frozen=True, kw_only=True):
    """A GHS hazard statement. ``weight`` 0..1 orders liquids by hazard and is this project's own."""

    id: str
    text: str
    pictogram: str = ""
    signal_word: str = ""
    hazard_class: str = ""
    weight: float
    sources: Sources = msgspec.field(name="from")


class When(Record, frozen=True, kw_only=True):
    """The condition of a caution: every key that is given must match; within a key, any value does.

    A blend matches ``liquids``, ``families`` or ``hazards`` if a part of at least 5 % by volume does.
    """

    liquids: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    agents: tuple[str, ...] = ()
    tapes: tuple[str, ...] = ()
    adhesives: tuple[str, ...] = ()
    carriers: tuple[str, ...] = ()
    stages: tuple[str, ...] = ()
    media: tuple[str, ...] = ()
    papers: tuple[str, ...] = ()
    methods: tuple[str, ...] = ()


ABOUT_LIQUID = ("liquids", "families", "agents", "hazards")
"""Keys of a condition that are about the liquid; every other is about the sheet and the way of work."""


def carries(code: str, statements: Iterable[str]) -> bool:
    """Whether a label holds the statement: ``H360`` is met by ``H360FD`` and by ``H360 (...)``."""
    return any(statement.split(" ", 1)[0].startswith(code) for statement in statements)


class Caution(Record, frozen=True, kw_only=True):
    """A rule that chemistry cannot express. ``stop`` vetoes a suggestion."""

    id: str
    severity: Severity
    when: When
    text: str
    instead: str = ""
    sources: Sources = msgspec.field(name="from")


class ReportStep(Record, frozen=True, kw_only=True):
    kind: str
    agent: str
    how: str = ""
    amounts: str = ""
    outcome: str


class ReportedLiquid(Record, frozen=True, kw_only=True):
    """What a report says a liquid did. ``parts`` are volume shares that sum to 1."""

    parts: dict[str, float]
    result: Literal["released", "partly", "not released", "harm", "named only"]
    note: str = ""
    parts_assumed: bool = False
    """True where the report names a mixture without its proportions: equal parts are assumed."""


class Report(Record, frozen=True, kw_only=True):
    """A treatment reported in print. None means: the report does not state it."""

    id: str
    title: str
    adhesive: str | None = None
    adhesive_assumed: bool = False
    stage: str | None = None
    carrier: str | None = None
    medium: str | None = None
    paper: str | None = None
    method: str | None = None
    target: str = ""
    steps: tuple[ReportStep, ...] = ()
    liquids: tuple[ReportedLiquid, ...] = ()
    outside_catalogue: tuple[str, ...] = ()
    """Liquids the report names that the catalogue does not hold, with what it says of them."""
    risks: tuple[str, ...] = ()
    evidence: Grade
    """A tested or peer-reviewed; B institutional; C practitioner's message; D not a conservator."""
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Practice(Record, frozen=True, kw_only=True):
    """A general statement about testing or treatment, not tied to one material."""

    id: str
    topic: str
    claim: Claim


Topic = Literal[
    "washing", "bath", "pressing", "hinging", "movement", "gap", "stack", "light", "climate", "reserve"
]


class Guideline(Record, frozen=True, kw_only=True):
    """One figure of practice or of a standard. Another source's figure stands in ``others`` of the figure."""

    id: str
    name: str
    topic: Topic
    unit: str
    """What the figure is counted in; empty for a bare number."""
    figure: Figure
    sources: Sources = msgspec.field(name="from")
