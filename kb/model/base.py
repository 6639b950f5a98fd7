"""The pieces every catalogue record is made of: figures, claims and where they come from."""

from __future__ import annotations

from typing import Literal

import msgspec

Sources = tuple[str, ...]
"""Ids of entries in data/sources. Never empty: a figure without a source is refused."""

Basis = Literal["published", "library", "computed", "common-practice", "memory", "project"]
"""What a source rests on.

published: a cited text. library: open data carried by a named package. computed: arithmetic on
other figures here. common-practice: trade knowledge without a text. memory: handbook knowledge
that was not looked up. project: a choice of this project, not a measurement.
"""

Sensitivity = Literal["stable", "test with care", "usually bleeds", "unknown"]
UNSTATED: Sensitivity = "test with care"
"""Grade of a liquid's class on which an entry that grades others says nothing. This project's choice: what
was not looked up is no more than what every object asks for anyway."""


class Record(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """Base of all catalogue records: immutable, keyword-only, unknown keys refused."""


class Named(Record, frozen=True, kw_only=True):
    """An entry of the catalogue that goes by a name; ``also`` are other names, which mean it alone."""

    id: str
    name: str
    also: tuple[str, ...] = ()


class Other(Record, frozen=True, kw_only=True):
    """A figure that disagrees with the main one. Both are kept and shown."""

    value: float | None = None
    low: float | None = None
    high: float | None = None
    at_c: float | None = None
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Figure(Record, frozen=True, kw_only=True):
    """A measured quantity: one value or a range, its temperature, its sources and its rivals.

    The unit is in the name of the field that holds the figure (``boiling_point_c``). At least one of
    ``value``, ``low``, ``high`` is given, unless ``none_known`` says in words why there is none.
    """

    value: float | None = None
    low: float | None = None
    high: float | None = None
    at_c: float | None = None
    none_known: str = ""
    note: str = ""
    sources: Sources = msgspec.field(name="from")
    others: tuple[Other, ...] = ()

    @property
    def best(self) -> float | None:
        """The value, or the middle of the range, or None."""
        if self.value is not None:
            return self.value
        if self.low is not None and self.high is not None:
            return (self.low + self.high) / 2
        return self.low if self.low is not None else self.high

    @property
    def least(self) -> float | None:
        """The lowest that any list prints: the cautious reading of flash points and lower limits.

        None where the figure itself says that there is none: rivals of that are set aside in the data.
        """
        every = self._printed()
        return min(every) if every else None

    @property
    def most(self) -> float | None:
        """The highest that any list prints: the cautious reading of upper limits."""
        every = self._printed()
        return max(every) if every else None

    def _printed(self) -> list[float]:
        if self.none_known:
            return []
        every = [self.value, self.low, self.high]
        for other in self.others:
            every += [other.value, other.low, other.high]
        return [figure for figure in every if figure is not None]


def best(figure: Figure | None) -> float | None:
    """The value of a figure or the middle of its range; None where there is no figure or no number."""
    return None if figure is None else figure.best


class Claim(Record, frozen=True, kw_only=True):
    """One statement in our own words, with its sources."""

    text: str
    sources: Sources = msgspec.field(name="from")


class HansenOther(Record, frozen=True, kw_only=True):
    """Hansen parameters that another list prints for the same liquid."""

    d: float
    p: float
    h: float
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Hansen(HansenOther, frozen=True, kw_only=True):
    """Hansen solubility parameters in MPa^0.5 at 25 C: dispersion, polar, hydrogen bonding."""

    others: tuple[HansenOther, ...] = ()


class Teas(Record, frozen=True, kw_only=True):
    """Fractional solubility parameters as a published table prints them, per cent; they sum to 100."""

    d: float
    p: float
    h: float
    sources: Sources = msgspec.field(name="from")


class Source(Record, frozen=True, kw_only=True):
    """Where figures and claims come from."""

    id: str
    cite: str
    basis: Basis
    seen: bool
    """Whether the text or data was read for this catalogue (False: quoted from memory)."""
    extent: str = ""
    """How much was read: whole, abstract, one table ..."""
    url: str = ""
