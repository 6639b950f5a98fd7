"""What protects people: gloves by polymer, and precautions by kind of liquid."""

from __future__ import annotations

from typing import Literal

import msgspec

from kb.model.base import Record, Sources
from kb.model.guidance import When

Topic = Literal["storage", "incompatible", "waste", "people", "fire", "use"]


class Glove(Record, frozen=True, kw_only=True):
    """A glove polymer: families of liquids it is named for, and those it fails with. Never minutes."""

    id: str
    name: str
    also: tuple[str, ...] = ()
    serves: tuple[str, ...] = ()
    """Families (ids in data/materials/families.yaml) for which class lists name it."""
    fails: tuple[str, ...] = ()
    """Families for which class lists warn against it."""
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Precaution(Record, frozen=True, kw_only=True):
    """A line of the safety note. ``when`` speaks of liquids, families and hazards only; empty means any."""

    id: str
    topic: Topic
    when: When = msgspec.field(default_factory=When)
    text: str
    sources: Sources = msgspec.field(name="from")
