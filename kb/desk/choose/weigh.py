"""Weigh every candidate: both chances, the decision, the cautions, and why it may be refused."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from kb.desk.choose.gather import Classes, Gathered, printed_harm, printed_release
from kb.desk.choose.may_be import Component
from kb.desk.choose.rule import applying, bearing
from kb.index.compiled import Compiled, CPrint, Named
from kb.index.rows import WITHDRAWN, Row
from kb.index.schema import SCALE
from kb.index.tally import HARM_FROM, RELEASE_FROM
from kb.model.guidance import Caution
from kb.model.question import Dials, Question
from kb.science.choose.beta import cdf, quantile
from kb.science.choose.evidence import Posterior, index, mixture, on_object
from kb.science.choose.pooled import Joined
from kb.science.choose.pooling import Extra, Pool

UPPER = 0.95
CAUTION_FROM = 0.1
"""A caution about what the tape may be is raised from this chance on. This project's own."""


class Weighed(NamedTuple):
    """One candidate with everything that decides on it."""

    what: Named
    place: int
    release: Posterior
    release_here: Posterior
    harms: tuple[Harm, ...]
    """Of every medium within reach, the worst first."""
    decision: float
    release_p0: float
    cautions: tuple[Caution, ...]
    refused: str


Sums = Pool | Joined
"""Own tests alone, or together with those of other studios."""


class Pools(NamedTuple):
    """All sums: release from each thing the tape may be, harm to each medium within reach."""

    release: list[Sums]
    harm: dict[str, Sums]


class Harm(NamedTuple):
    """Harm to one medium: chemistry alone, in general, and on this object."""

    medium: str
    p0: float
    general: Posterior
    here: Posterior


class Spots(NamedTuple):
    """Spots already made on this sheet: candidate place, released?, harmed? (None: not looked at)."""

    tried: frozenset[str]
    release: tuple[tuple[int, bool], ...]
    harm: tuple[tuple[int, bool], ...]


def spots_of(rows: list[Row], gathered: Gathered) -> Spots:
    """The valid spots among the rows, in terms of candidates."""
    order = {one.id: place for place, one in enumerate(gathered.candidates)}
    rows = [row for row in rows if row.state != WITHDRAWN and row.liquid in order and not row.control]
    return Spots(
        frozenset(row.liquid for row in rows),
        tuple((order[r.liquid], r.release >= RELEASE_FROM) for r in rows if r.release is not None),
        tuple((order[r.liquid], r.harm >= HARM_FROM) for r in rows if r.harm is not None),
    )


def pools_of(
    compiled: Compiled,
    question: Question,
    may_be: Sequence[Component],
    gathered: Gathered,
    printed: Sequence[list[tuple[CPrint, Extra]]],
    *,
    use_print: bool,
) -> Pools:
    """The sums of this question, with the reports in print that bear on it, ready to be asked."""
    own, pooled, kernel = gathered.own, gathered.pooled, gathered.kernel

    def sums(classes: Classes, cells: list[tuple[CPrint, Extra]], theirs: Classes | None) -> Sums:
        here = Pool(classes.contexts, classes.vectors, kernel, [cell for _, cell in cells], SCALE)
        if theirs is None:
            return here
        return Joined(here, Pool(theirs.contexts, theirs.vectors, kernel, (), SCALE))

    return Pools(
        [
            sums(classes, printed[place], pooled.release[place] if pooled else None)
            for place, classes in enumerate(own.release)
        ],
        {
            medium: sums(
                classes,
                printed_harm(compiled, question, medium, gathered.candidates) if use_print else [],
                pooled.harm[medium] if pooled else None,
            )
            for medium, classes in own.harm.items()
        },
    )


def printed_of(
    compiled: Compiled, may_be: Sequence[Component], gathered: Gathered, *, use: bool
) -> list[list[tuple[CPrint, Extra]]]:
    """Reported releases that bear on each thing the tape may be."""
    if not use:
        return [[] for _ in may_be]
    return [printed_release(compiled, one.question, gathered.candidates) for one in may_be]


def weigh(
    compiled: Compiled,
    question: Question,
    dials: Dials,
    gathered: Gathered,
    may_be: Sequence[Component],
    pools: Pools,
    spots: Spots,
) -> list[Weighed]:
    """Both posteriors, the decision index and the cautions of every candidate."""
    cautions = bearing(compiled, [one.question for one in may_be if one.weight >= CAUTION_FROM])
    weighed = []
    for place, what in enumerate(gathered.candidates):
        release_p0, release = _release(compiled, what, place, may_be, pools)
        kernel = gathered.kernel[place]
        release_here = on_object(release, [(kernel[p], hit) for p, hit in spots.release])
        harms = _harms(compiled, question, what, place, pools, [(kernel[p], hit) for p, hit in spots.harm])
        worst = harms[0].here
        value = index(release_here.mean, worst.mean, what.hazard, dials.harm_aversion, dials.worth)
        weighed.append(
            Weighed(
                what,
                place,
                release,
                release_here,
                harms,
                value,
                release_p0,
                applying(compiled, cautions, what.parts),
                _refusal(what, worst, value, dials, spots),
            )
        )
    return weighed


def _release(
    compiled: Compiled, what: Named, place: int, may_be: Sequence[Component], pools: Pools
) -> tuple[float, Posterior]:
    """Chance of release by chemistry alone and with the tests, averaged over what the tape may be."""
    p0, parts = 0.0, []
    for (weight, one), pool in zip(may_be, pools.release, strict=True):
        prior = compiled.release_p0(one.adhesive, one.stage, one.carrier, one.method, what)
        p0 += weight * prior
        parts.append((weight, pool.posterior(place, prior)))
    return p0, mixture(parts)


def _harms(
    compiled: Compiled,
    question: Question,
    what: Named,
    place: int,
    pools: Pools,
    spots: list[tuple[float, bool]],
) -> tuple[Harm, ...]:
    """Harm to every medium within reach, the worst first."""
    found = []
    for medium, pool in pools.harm.items():
        p0 = compiled.harm_p0(medium, question.paper, question.method, what)
        general = pool.posterior(place, p0)
        found.append(Harm(medium, p0, general, on_object(general, spots)))
    found.sort(key=lambda harm: (-harm.here.mean, harm.medium))
    return tuple(found)


def _refusal(what: Named, harm: Posterior, value: float, dials: Dials, spots: Spots) -> str:
    """Why a liquid is shown but not proposed; empty if it may be proposed."""
    if what.id in spots.tried:
        return "already tried on this sheet"
    # Asking where the ceiling lies is cheaper than where the bound lies, and is the same question.
    if dials.ceiling < 1 and cdf(dials.ceiling, harm.a, harm.b) < UPPER:
        upper = quantile(UPPER, harm.a, harm.b)
        return f"harm could be as high as {upper:.1%}, above your ceiling of {dials.ceiling:.0%}"
    if value <= 0:
        return "not worth its risk here"
    return ""
