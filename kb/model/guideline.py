"""Figures that a job is planned with: durations, volumes, humidity, light, movement; ranges with sources."""

from __future__ import annotations

from typing import Literal

import msgspec

from kb.model.base import Figure, Record, Sources

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
