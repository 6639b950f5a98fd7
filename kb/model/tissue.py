"""Repair tissues and papers: what they are made of, how heavy, and what they are used for."""

from __future__ import annotations

from typing import Literal

import msgspec

from kb.model.base import Claim, Figure, Record, Sources

Use = Literal["mend", "infill", "facing", "lining", "hinge", "guard", "remoistenable", "heat-set"]
Opacity = Literal[
    "almost invisible", "very sheer", "sheer", "translucent", "semi-translucent", "semi-opaque", "opaque"
]


class Tissue(Record, frozen=True, kw_only=True):
    """A kind of repair paper by fibre and weight. Measure the sheet in hand: these are ranges."""

    id: str
    name: str
    also: tuple[str, ...] = ()
    fibre: str
    made: Literal["by hand", "by machine", "by hand or machine"]
    grammage_g_m2: Figure
    thickness_um: Figure
    opacity: Opacity
    strength: Literal["low", "medium-low", "medium", "high", "very high"]
    ph: str = ""
    """In words; the figures are from memory throughout."""
    pure: bool = True
    """Whether it is free of wood pulp, which does not belong beside a sheet for long."""
    uses: tuple[Use, ...]
    claims: tuple[Claim, ...] = ()
    sources: Sources = msgspec.field(name="from")
