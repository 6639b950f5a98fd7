"""One figure of an answer about making and housing: its unit, the model that gave it, and its sources."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from kb.desk.errors import DeskError
from kb.desk.materials.cited import cited_source, mark_of
from kb.desk.studio import Studio
from kb.index.queries import record, records
from kb.model.base import Figure, Other
from kb.model.guidance import Guideline, Practice
from kb.model.question import Plain
from kb.science.cited import Known, Span

PRINTED = "guideline"
"""The model of a figure that is printed or customary and not worked out here."""


WEAK = ("from memory", "common practice, no source", "this project's own choice")


LEAST_G = 0.1
"""A weight below this is said in milligrams."""


class Measured(Plain, frozen=True, kw_only=True):
    """A value or a range. ``mark`` is a word where none of the sources was read; empty where one was."""

    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str
    model: str
    sources: tuple[str, ...]
    mark: str = ""
    note: str = ""

    @property
    def words(self) -> str:
        """The figure as a reader sees it, with its unit and mark."""
        if other := self._in_other_unit():
            return other.words
        if self.value is not None:
            said = shown(self.value)
        elif self.low is not None and self.high is not None:
            same = shown(self.low) == shown(self.high)
            said = shown(self.low) if same else f"{shown(self.low)} to {shown(self.high)}"
        elif self.low is not None:
            said = f"at least {shown(self.low)}"
        elif self.high is not None:
            said = f"at most {shown(self.high)}"
        else:
            return f"{self.note or 'not known'}{f' ~ {self.mark}' if self.mark else ''}"
        unit = f" {self.unit}" if self.unit else ""
        note = f" ({self.note})" if self.note else ""
        return f"{said}{unit}{note}{f' ~ {self.mark}' if self.mark else ''}"

    def _in_other_unit(self) -> Measured | None:
        """The same as one says it: days or hours for hundreds of minutes, milligrams for a little weight."""
        if self.unit == "g" and 0.0 < max(ends(self), default=0.0) < LEAST_G:
            return self._times(1000.0, "mg")
        for unit, minutes in (("days", 1440.0), ("h", 60.0)) if self.unit == "min" else ():
            if min(ends(self), default=0.0) >= 3.0 * minutes:
                return self._times(1.0 / minutes, unit)
        return None

    def _times(self, by: float, unit: str) -> Measured:
        value, low, high = (
            None if end is None else float(f"{end * by:.{3 if by > 1 else 2}g}")
            for end in (self.value, self.low, self.high)
        )
        return msgspec.structs.replace(self, value=value, low=low, high=high, unit=unit)


class Told(Plain, frozen=True, kw_only=True):
    """A statement of practice with its sources; ``mark`` as for a figure."""

    text: str
    sources: tuple[str, ...]
    mark: str

    @property
    def words(self) -> str:
        """The statement with its mark."""
        return f"{self.text}{f' ~ {self.mark}' if self.mark else ''}"


def ends(figure: Measured | Figure | Other) -> list[float]:
    """The lowest and the highest number of a figure; nothing where it holds none."""
    found = [end for end in (figure.low, figure.value, figure.high) if end is not None]
    return [found[0], found[-1]] if found else []


def bounds(figure: Measured) -> tuple[float, float]:
    """Between what it lies: from nought where it is open below, without end where it is open above."""
    low = figure.low if figure.value is None else figure.value
    high = figure.high if figure.value is None else figure.value
    return 0.0 if low is None else low, math.inf if high is None else high


def shown(value: float) -> str:
    """A number to three figures, without an exponent where a person would not write one."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    if abs(value) >= 1000:
        return f"{value:,.0f}".replace(",", " ")
    return f"{value:.3g}" if abs(value) >= 1e-3 else f"{value:.2g}"


class Maker:
    """Makes the figures of one answer, with the marks of their sources."""

    def __init__(self, studio: Studio) -> None:
        self.studio = studio

    def one(self, value: float, unit: str, model: str, sources: Sequence[str], note: str = "") -> Measured:
        """A single figure worked out by ``model`` from figures of ``sources``."""
        ids = tuple(dict.fromkeys(sources))
        return Measured(
            value=_kept(value), unit=unit, model=model, sources=ids, mark=self.weakest(ids), note=note
        )

    def span(
        self, low: float, high: float, unit: str, model: str, sources: Sequence[str], note: str = ""
    ) -> Measured:
        """A range worked out by ``model`` from figures of ``sources``."""
        ids = tuple(dict.fromkeys(sources))
        mark = self.weakest(ids)
        return Measured(
            low=_kept(low), high=_kept(high), unit=unit, model=model, sources=ids, mark=mark, note=note
        )

    def sum(self, parts: Sequence[Measured], unit: str, model: str, note: str = "") -> Measured:
        """All parts together, from their lowest ends to their highest."""
        low, high = (sum(end(ends(one), default=0.0) for one in parts) for end in (min, max))
        return self.span(low, high, unit, model, [source for one in parts for source in one.sources], note)

    def known(self, known: Known, unit: str) -> Measured:
        """A figure of a formula, with its own source."""
        return self.one(known.value, unit, PRINTED, (known.source,), known.note)

    def mark(self, sources: Sequence[str]) -> str:
        """The word for sources of which none was read."""
        return mark_of(sources, {one: cited_source(self.studio, one) for one in sources})

    def weakest(self, sources: Sequence[str]) -> str:
        """The word for a figure worked out from several: one of them from memory makes it no better."""
        marks = [cited_source(self.studio, one).mark for one in sources]
        return next((one for one in marks if one in WEAK), "") or self.mark(sources)

    def guide(self, guide_id: str) -> Measured:
        """A figure of the guidelines as it stands in the catalogue. Raises DeskError if it is not there."""
        one = guideline(self.studio, guide_id)
        note, mark = one.figure.none_known or one.figure.note, self.mark(one.figure.sources)
        return Measured.taken_from(one.figure, unit=one.unit, model=PRINTED, mark=mark, note=note)


def _kept(value: float) -> float | None:
    """What JSON can hold: an endless figure is left out."""
    return value if math.isfinite(value) else None


def guideline(studio: Studio, guide_id: str) -> Guideline:
    found = record(studio.index.conn, "guideline", guide_id, Guideline)
    if found is None:
        raise DeskError(f"The guideline {guide_id} is missing from the catalogue; check the catalogue.")
    return found


def guidelines(studio: Studio, topic: str) -> list[Guideline]:
    """All entries of one topic, in the order of their ids."""
    found = records(studio.index.conn, "guideline", Guideline)
    return sorted((one for one in found if one.topic == topic), key=lambda one: one.id)


def told(studio: Studio, topic: str) -> tuple[Told, ...]:
    """The statements of practice of one topic, in the order of their ids."""
    make = Maker(studio)
    found = records(studio.index.conn, "practice", Practice)
    return tuple(
        Told(text=one.claim.text, sources=one.claim.sources, mark=make.mark(one.claim.sources))
        for one in sorted(found, key=lambda one: one.id)
        if one.topic == topic
    )


def span_of(studio: Studio, guide_id: str) -> Span:
    """A guideline as a range for a formula; where one end is missing both ends are the same."""
    figure = guideline(studio, guide_id).figure
    found = ends(figure)
    if not found:
        raise DeskError(f"The guideline {guide_id} holds no number to reckon with.")
    source = figure.sources[0]
    return Span(found[0], found[1], source, cited_source(studio, source).seen, figure.note)


def value_of(studio: Studio, guide_id: str) -> float:
    """The one number of a guideline, or its upper end."""
    return span_of(studio, guide_id).high
