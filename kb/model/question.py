"""A question to the catalogue and the book, and the answer with its reasons."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Self

import msgspec


def names_of(one: Any) -> tuple[str, ...]:
    """The fields of a struct or a named tuple."""
    return tuple(getattr(one, "_fields", ())) or tuple(one.__struct_fields__)


class Plain(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=False):
    """Base of answer structures; their JSON form is stable."""

    @classmethod
    def taken_from(cls, *said: Any, **own: Any) -> Self:
        """The answer with what records or rows say under the names of its fields, the first that does.

        What is ``own`` stands in place of that. Raises TypeError for a field that nobody says.
        """
        found = {name: getattr(one, name) for one in reversed(said) for name in names_of(one)}
        return cls(**{name: found[name] for name in cls.__struct_fields__ if name in found} | own)


class Possible(Plain, frozen=True, kw_only=True):
    """One thing the tape may be, and how likely that is."""

    adhesive: str
    stage: str
    carrier: str
    weight: float


class Question(Plain, frozen=True, kw_only=True):
    """Lift [tape] [stage] from [medium] on [paper]. Empty text means: not known."""

    tape: str = ""
    adhesive: str = ""
    carrier: str = ""
    stage: str = ""
    medium: str = ""
    paper: str = ""
    method: str = "swab"
    sheet: str = ""
    also_media: tuple[str, ...] = ()
    """Further media within reach of the drop on the same face."""
    back_media: tuple[str, ...] = ()
    """Media within reach on the other face."""
    may_be: tuple[Possible, ...] = ()
    """What the tape may be, where the adhesive is not known; the answer is averaged over it."""

    signs: tuple[str, ...] = ()
    """What the tape showed, LOOK=FINDING, where ``may_be`` follows from it; kept with the records."""

    @property
    def reach(self) -> tuple[str, ...]:
        """Every medium within reach of the drop, front and back, each once; one empty id if none is known."""
        named = dict.fromkeys(one for one in (self.medium, *self.also_media, *self.back_media) if one)
        return tuple(named) or ("",)


USUAL = "usual"
USUAL_FRESH_AIR, USUAL_SHIFT = "0.5 to 2 /h", "8 h"
"""Air changes of a room without a fan, and the hours of a day: common practice, no source. An answer that
rests on them says so."""
HARM_AVERSIONS = {"bold": 8.0, USUAL: 16.0, "cautious": 32.0}
"""Harmless spots that weigh as much as one harm."""
CEILINGS = {"cautious": 0.5, USUAL: 0.6, "sacrificial sample": 0.8}


def degrees(of: Mapping[str, float]) -> str:
    """A setting's degrees as one reads them: ``8 bold, 16 usual, 32 cautious``."""
    return ", ".join(f"{value:g} {name}" for name, value in of.items())


class Dials(Plain, frozen=True, kw_only=True):
    """The user's dials. ``harm_aversion`` and ``worth`` are in units of one harmless spot."""

    harm_aversion: float = HARM_AVERSIONS[USUAL]
    ceiling: float = CEILINGS[USUAL]
    """Highest acceptable 95 % upper bound of the chance of harm."""
    worth: float = 16.0
    """What a safe release is worth."""
    use_print: bool = True


class Chance(Plain, frozen=True, kw_only=True):
    """A probability with its 90 % interval."""

    p: float
    low: float
    high: float


class Pooled(Plain, frozen=True, kw_only=True):
    """What other studios counted that bears on a suggestion, undiscounted.

    ``own`` tests are of the same class as the question, made by ``studios`` of them; ``similar`` ones weigh
    0.25 or more. Looks for harm are those at the worst medium.
    """

    studios: int
    own: int
    released: int
    similar: int
    similar_released: int
    harm_studios: int
    looks: int
    harmed: int
    similar_looks: int
    similar_harmed: int
    held_back: bool
    """Own tests kept these from moving a chance as far as they would have."""


class Evidence(Plain, frozen=True, kw_only=True):
    """Counts behind a suggestion: own class, similar (w >= 0.25), weighted tests in print, other studios.

    ``in_part``: what tests on tapes that are not known for sure count here. ``patches``: how many were lifted
    with it on such an adhesive or medium, and ``patches_count_as`` how many tests they count as together.
    ``pooled`` is None where there is no pool.
    """

    own: int
    similar: int
    print: float
    in_part: float = 0.0
    patches: int = 0
    patches_count_as: float = 0.0
    book_release: float = 0.0
    """Logits by which the whole book moved the chance of release as chemistry foresees it for this liquid."""
    book_harm: float = 0.0
    """The same of harm, at the worst medium."""
    pooled: Pooled | None = None


class Suggestion(Plain, frozen=True, kw_only=True):
    """One ranked liquid or blend. ``release`` and ``harm`` are for this object."""

    rank: int
    liquid: str
    name: str
    parts: dict[str, float]
    method: str
    release: Chance
    harm: Chance
    release_general: Chance
    harm_general: Chance
    harm_by_medium: dict[str, Chance]
    """Every medium within reach; ``harm`` is that of the worst of them."""
    worst_medium: str
    red_adhesive: float | None
    red_medium: float | None
    index: float
    hazard: float
    evidence: Evidence
    cautions: tuple[str, ...]
    reason: str
    details: tuple[str, ...]
    """The parts of the reason in the order of trust, one line each."""
    harm_carrier: float = 0.0
    """What of the harm is the carrier's, where the liquid dissolves it and it is to stay."""
    refused: str = ""
    """Why it is shown but not proposed (ceiling, tried here already); empty if proposed."""
    familiarity: float = 0.0
    """In how many reports in print, own tests and tests of other studios the liquid is named."""
    looks: int = 0
    """Clean looks at a margin that would free a liquid that is held back; 0 if free, or if none would."""
    last_resort: bool = False
    """Long-term effects, forms peroxides or boils near room temperature: only if its milder alikes fail."""


class Group(Plain, frozen=True, kw_only=True):
    """One line: liquids that act alike. ``liquid`` is the id of the one that leads, ``members`` of all."""

    liquid: str
    name: str
    members: tuple[str, ...]
    looks: int = 0
    held: str = ""
    """Why its leader is held back; empty if it is free."""
    last_resort: bool = False
    """Only if the milder ways of acting fail: its leader has long-term effects."""
    tried: bool = False
    """One of its members was tried on this sheet and did not work: other ways of acting come first."""
    lead: Suggestion | None = None
    """Its leader with figures and reasons."""


class SeriesStep(Plain, frozen=True, kw_only=True):
    """One spot of a series and what each outcome would mean. ``looks`` at a margin come first."""

    liquid: str
    name: str
    method: str
    looks: int
    release: float
    harm: float
    if_releases: str
    if_not: str
    if_harms: str


class ExpectedSpots(Plain, frozen=True, kw_only=True):
    """Of the whole series: spots and looks made on average, chance of a safe release, of harm on the way."""

    spots: float
    release: float
    harm: float


class Worked(Plain, frozen=True, kw_only=True):
    """A liquid that released on this sheet and harmed nothing, and what comes now."""

    liquid: str
    name: str
    text: str


class Vetoed(Plain, frozen=True, kw_only=True):
    """A liquid that a caution took out, and the caution's id and text.

    ``here``: it is this sheet or this way of working that bars it; else nobody is ever advised to use it.
    """

    liquid: str
    name: str
    caution: str
    text: str
    here: bool = False


class LeftOut(Plain, frozen=True, kw_only=True):
    """A liquid that the studio does not hold or forbids, and why."""

    liquid: str
    name: str
    why: str


class Stop(Plain, frozen=True, kw_only=True):
    """No test is worth its risk: why, and the best refused one."""

    text: str
    best_refused: str


class Answer(Plain, frozen=True, kw_only=True):
    """The ranked list for a question. ``rests_on`` says what kinds of evidence it stands on."""

    question: Question
    suggestions: tuple[Suggestion, ...]
    refused: tuple[Suggestion, ...]
    vetoed: tuple[Vetoed, ...]
    left_out: tuple[LeftOut, ...]
    stop: Stop | None
    rests_on: str
    next_step: str
    mock_up: str
    disclaimer: str
    groups: tuple[Group, ...] = ()
    """At most seven lines, distinct in chemistry: what to think of first."""
    series: tuple[SeriesStep, ...] = ()
    expected_spots: ExpectedSpots | None = None
    worked_here: tuple[Worked, ...] = ()
    other_ways: tuple[str, ...] = ()
    """Where a liquid released but harmed by too much liquid: other ways to put the same liquid on."""
    cautions: tuple[str, ...] = ()
    """What this sheet, tape or way of work asks for whatever the liquid, as ``severity: text``."""
    look_first: str = ""
    """The look at the tape that comes before any liquid, where it is far from sure what holds it."""
    carrier_first: str = ""
    """Where the carrier holds the liquids back: what would be tried once it is lifted."""
    not_understood: tuple[str, ...] = ()
    """Words of a typed line that the answer knows nothing of."""
