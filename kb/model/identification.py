"""The answer to: what is this tape, and how old is its adhesive?"""

from __future__ import annotations

from kb.model.question import Plain


class Seen(Plain, frozen=True, kw_only=True):
    """A finding that was told."""

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
    reasons: tuple[Reason, ...]


class Option(Plain, frozen=True, kw_only=True):
    """A finding as it is offered."""

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
    apart (``evenness`` is the entropy as a share of the greatest possible).
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
