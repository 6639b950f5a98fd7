"""Which liquids part company, which are known to mix, and which pairs are dangerous."""

from __future__ import annotations

from typing import Literal

import msgspec

from kb.model.base import Record, Sources


class MixSide(Record, frozen=True, kw_only=True):
    """One side of a pair: liquids by id, families, or both; any of them against any of the other side."""

    liquids: tuple[str, ...] = ()
    families: tuple[str, ...] = ()


class Miscibility(Record, frozen=True, kw_only=True):
    """What is known of mixing, near 20 C. The row that names the pair most narrowly counts.

    ``mixes`` True: in every proportion. False: the two part while ``one`` makes up from ``low`` to ``high``
    of both by volume (0 to 1); between ``high`` and ``doubtful_to`` it is not known.
    """

    id: str
    one: MixSide
    other: MixSide
    mixes: bool
    low: float = 0.0
    high: float = 1.0
    doubtful_to: float = 0.0
    text: str
    sources: Sources = msgspec.field(name="from")


class Pair(Record, frozen=True, kw_only=True):
    """Two that must not meet, or do more harm together: any of ``one`` with any of ``other``.

    ``other`` may be empty where the second is no liquid of the catalogue: ``beside`` then says in words what
    it is (an alkali, hydrogen peroxide). ``text`` is read by whoever holds either of the two, so it names
    both.
    """

    id: str
    severity: Literal["stop", "warn"]
    one: MixSide
    other: MixSide = msgspec.field(default_factory=MixSide)
    beside: str = ""
    text: str
    sources: Sources = msgspec.field(name="from")
