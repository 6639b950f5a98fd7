"""What one looks at on a tape, what is found, and the answer that comes of it."""

from __future__ import annotations

from typing import Literal

import msgspec

from kb.model.base import Named, Record, Sources
from kb.model.question import Plain

Often = Literal["nearly always", "usually", "as often as not", "sometimes", "seldom", "never seen"]
Cost = Literal["none", "needs a loose end", "needs a lamp or filter", "removes a crumb", "needs a laboratory"]
"""What a look takes: nothing, a free end of the strip, equipment, a sample, or a sample and an instrument."""

SHARES: dict[Often, float] = {
    "nearly always": 0.9,
    "usually": 0.7,
    "as often as not": 0.5,
    "sometimes": 0.3,
    "seldom": 0.1,
    "never seen": 0.02,
}
"""What the words stand for. A scale of this project: nobody counted tapes, sources say words like these.

``never seen`` is not zero, because lists are short, eyes err and makers change their minds.
"""

HowUsual = Literal["usual", "now and then", "rare"]
WEIGHTS: dict[HowUsual, float] = {"usual": 9.0, "now and then": 3.0, "rare": 1.0}
"""How many times as likely as a rare tape one is held to be on a document, print or map before any sign.

A scale of this project, three times a step: print says which tapes are met most often, and counts none.
"""
# Whoever enters a tape of their own has met it.
NOT_STATED: HowUsual = "usual"
"""What a tape is taken for whose entry does not say how usual it is. This project's own."""


class Finding(Record, frozen=True, kw_only=True):
    """One thing that a look may show. Years (both included) only where the look asks for a date."""

    id: str
    words: str
    also: tuple[str, ...] = ()
    first_year: int | None = None
    last_year: int | None = None


class Sign(Record, frozen=True, kw_only=True):
    """How often some tapes show the findings of a look.

    The tapes are meant as in a caution: every key that is given must match, within a key any value does.
    Findings that are not named share what is left, in the proportions in which other tapes show them. Where
    several signs fit a tape, the one that names the tape itself counts, then the one that names its stage,
    then the one that names both carrier and adhesive.
    """

    tapes: tuple[str, ...] = ()
    carriers: tuple[str, ...] = ()
    adhesives: tuple[str, ...] = ()
    stages: tuple[str, ...] = ()
    finds: dict[str, Often]
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Look(Named, frozen=True, kw_only=True):
    """Something a person can look at. ``name`` is the question in plain words, ``how`` the way to look."""

    how: str
    cost: Cost = "none"
    dated: bool = False
    """The findings are spans of years. A date is no sign: it says which tapes were on sale."""
    findings: tuple[Finding, ...]
    signs: tuple[Sign, ...] = ()


class Seen(Plain, frozen=True, kw_only=True):
    look: str
    question: str
    finding: str
    words: str


class Reason(Plain, frozen=True, kw_only=True):
    """What one finding says of one tape.

    ``factor``: how many times as frequent the finding is with this tape as over all tapes; above 1 it speaks
    for the tape. ``mark`` is a word where no source was read. No sources: nothing is tabulated for this tape,
    and the base rate stands in.
    """

    look: str
    finding: str
    factor: float
    sources: tuple[str, ...]
    mark: str
    text: str


class StageChance(Plain, frozen=True, kw_only=True):
    """Chance of a stage. Under a tape: if it is that tape."""

    stage: str
    name: str
    p: float


class OnDocuments(Plain, frozen=True, kw_only=True):
    """How usual a tape is taken to be on documents; ``weight`` as in WEIGHTS, ``mark`` as of a reason."""

    how: HowUsual
    weight: float
    sources: tuple[str, ...]
    mark: str
    text: str


class RankedTape(Plain, frozen=True, kw_only=True):
    """One kind of tape. Tapes with the same chance share a rank."""

    rank: int
    tape: str
    name: str
    adhesive: str
    carrier: str
    p: float
    words: str
    stages: tuple[StageChance, ...]
    on_documents: OnDocuments
    reasons: tuple[Reason, ...]


class Option(Plain, frozen=True, kw_only=True):
    id: str
    words: str


class NextLook(Plain, frozen=True, kw_only=True):
    """A look not yet taken.

    ``bits``: what it tells on average of tape and stage together; ``tape_bits``: of the tape alone.
    """

    look: str
    question: str
    how: str
    cost: str
    bits: float
    tape_bits: float
    findings: tuple[Option, ...]


class Alike(Plain, frozen=True, kw_only=True):
    """Two tapes that no look left tells apart."""

    tapes: tuple[str, str]
    text: str


class Identification(Plain, frozen=True, kw_only=True):
    """The answer. The chances of all ``ranked`` tapes and ``unknown`` sum to 1.

    ``fits`` is False where the signs fit no listed tape; ``flat`` is True where they tell next to nothing
    apart beyond what was held before any sign (``evenness`` is the entropy as a share of the greatest
    possible).
    """

    findings: tuple[Seen, ...]
    ranked: tuple[RankedTape, ...]
    unknown: float
    unknown_words: str
    stages: tuple[StageChance, ...]
    fits: bool
    flat: bool
    entropy_bits: float
    evenness: float
    verdict: str
    next_looks: tuple[NextLook, ...]
    alike: tuple[Alike, ...]
    prior: str
    scale: str
    disclaimer: str
