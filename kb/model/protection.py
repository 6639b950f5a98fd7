"""What protects people: gloves by polymer, and precautions by kind of liquid."""

from __future__ import annotations

from typing import Literal

import msgspec

from kb.model.base import Named, Record, Sources
from kb.model.guidance import When

Topic = Literal[
    "storage", "incompatible", "waste", "people", "fire", "use", "breathing", "first aid", "spill"
]


class GloveFigure(Record, frozen=True, kw_only=True):
    """What a source says of one polymer with single liquids; it goes before the rule for their family."""

    liquids: tuple[str, ...]
    holds: bool
    """True: the source names the polymer for them. False: it warns against it."""
    minutes_low: float | None = None
    minutes_high: float | None = None
    """Breakthrough in minutes, only where the source prints it."""
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Glove(Named, frozen=True, kw_only=True):
    """A glove polymer: families of liquids it is named for, those it fails with, and single liquids."""

    serves: tuple[str, ...] = ()
    """Families (ids in data/materials/families.yaml) for which class lists name it."""
    fails: tuple[str, ...] = ()
    """Families for which class lists warn against it."""
    tested: tuple[GloveFigure, ...] = ()
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Authority(Named, frozen=True, kw_only=True):
    """Who sets or recommends limits for the air of a workplace.

    ``id`` stands in studio.yaml; ``also`` is what people may type for it, such as the country.
    """

    list_name: str
    binding: str
    """Whether its figures bind, in words."""
    average_h: float = 8.0
    """Hours over which the long limit is averaged."""
    newest: int | None = None
    """Year of the newest edition heard of here."""
    url: str = ""
    sources: Sources = msgspec.field(name="from")


class Precaution(Record, frozen=True, kw_only=True):
    """A line of the safety note. ``when`` speaks of liquids, families and hazards only; empty means any."""

    id: str
    topic: Topic
    when: When = msgspec.field(default_factory=When)
    text: str
    sources: Sources = msgspec.field(name="from")
