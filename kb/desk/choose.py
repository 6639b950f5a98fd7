"""Which liquid to test next, why, and when to stop."""

from __future__ import annotations

from typing import NamedTuple

from kb.desk.explain import (
    DISCLAIMER,
    Facts,
    details,
    mock_up_line,
    next_step,
    reason,
    rests_on,
    stop_text,
)
from kb.desk.gather import Classes, Gathered, gather, printed_harm, printed_release
from kb.desk.rule import applying, bearing
from kb.desk.studio import Studio
from kb.index.book_rows import WITHDRAWN, Row
from kb.index.compiled import Compiled, CPrint, Named
from kb.index.queries import masks, spot_tests
from kb.index.schema import SCALE
from kb.index.tally import HARM_FROM, RELEASE_FROM
from kb.model.guidance import Caution
from kb.model.question import Answer, Chance, Dials, Evidence, Question, Stop, Suggestion, Vetoed
from kb.science.beta import cdf, interval, quantile
from kb.science.evidence import Posterior, index, on_object
from kb.science.pooling import SHOWN_FROM, Extra, Pool
from kb.science.similarity import adhesive_weight, carrier_weight, stage_weight

UPPER = 0.95
SPREAD_FOR_MOCK_UP = 0.25


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


class Pools(NamedTuple):
    """The book's sums for this question: release, and harm to each medium within reach."""

    release: Pool
    harm: dict[str, Pool]


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


def choose(studio: Studio, question: Question, dials: Dials | None = None, limit: int = 12) -> Answer:
    """Rank every liquid for the question. ``limit`` bounds the suggestions that are explained.

    The answer proposes tests; it never says that a treatment is safe.
    """
    compiled = studio.compiled
    dials = dials or studio.settings.dials
    conn = studio.index.conn
    gathered = gather(conn, compiled, question)
    printed = printed_release(compiled, question, gathered.candidates) if dials.use_print else []
    spots = _spots(spot_tests(conn, {"sheet": question.sheet}) if question.sheet else [], gathered)
    pools = Pools(
        _pool(gathered.release, gathered, printed),
        {
            medium: _pool(
                classes,
                gathered,
                printed_harm(compiled, question, medium, gathered.candidates) if dials.use_print else [],
            )
            for medium, classes in gathered.harm.items()
        },
    )
    weighed = _weigh(compiled, question, dials, gathered, pools, spots)
    vetoed = [w for w in weighed if w.cautions and w.cautions[0].severity == "stop"]
    rest = [w for w in weighed if not (w.cautions and w.cautions[0].severity == "stop")]
    proposed = sorted((w for w in rest if not w.refused), key=_order)
    refused = sorted((w for w in rest if w.refused), key=_order)
    shown, shown_refused = proposed[:limit], refused[: max(limit // 2, 3)]
    tapes = _tapes_behind(compiled, question, gathered, masks(conn))
    facts = [_facts(w, question, gathered, printed, pools, tapes, dials) for w in (*shown, *shown_refused)]
    suggestions = tuple(
        _suggestion(rank, fact, question) for rank, fact in enumerate(facts[: len(shown)], start=1)
    )
    declined = tuple(_suggestion(0, fact, question) for fact in facts[len(shown) :])
    return Answer(
        question=question,
        suggestions=suggestions,
        refused=declined,
        vetoed=tuple(_veto(w) for w in sorted(vetoed, key=lambda w: w.what.name.casefold())),
        stop=None if suggestions else Stop(text=stop_text(declined), best_refused=_first(declined)),
        rests_on=rests_on(suggestions or declined, question, used_print=dials.use_print),
        next_step=next_step(suggestions[0] if suggestions else None, question, compiled),
        mock_up=mock_up_line(_mock_up(proposed, refused)),
        disclaimer=DISCLAIMER,
    )


def _first(declined: tuple[Suggestion, ...]) -> str:
    return declined[0].liquid if declined else ""


def _order(one: Weighed) -> tuple[float, float, str]:
    return (-round(one.decision, 9), one.what.hazard, one.what.name.casefold())


def _spots(rows: list[Row], gathered: Gathered) -> Spots:
    """The valid spots among the rows, in terms of candidates."""
    order = {one.id: place for place, one in enumerate(gathered.candidates)}
    rows = [row for row in rows if row.state != WITHDRAWN and row.liquid in order and not row.control]
    return Spots(
        frozenset(row.liquid for row in rows),
        tuple((order[r.liquid], r.release >= RELEASE_FROM) for r in rows if r.release is not None),
        tuple((order[r.liquid], r.harm >= HARM_FROM) for r in rows if r.harm is not None),
    )


def _pool(classes: Classes, gathered: Gathered, printed: list[tuple[CPrint, Extra]]) -> Pool:
    return Pool(classes.contexts, classes.vectors, gathered.kernel, [cell for _, cell in printed], SCALE)


def _weigh(
    compiled: Compiled, question: Question, dials: Dials, gathered: Gathered, pools: Pools, spots: Spots
) -> list[Weighed]:
    """Both posteriors, the decision index and the cautions of every candidate."""
    cautions = bearing(compiled, question)
    weighed = []
    for place, what in enumerate(gathered.candidates):
        release_p0 = compiled.release_p0(
            question.adhesive, question.stage, question.carrier, question.method, what
        )
        release = pools.release.posterior(place, release_p0)
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


def _chance(posterior: Posterior) -> Chance:
    low, high = interval(posterior.a, posterior.b)
    return Chance(p=posterior.mean, low=low, high=high)


def _facts(
    one: Weighed,
    question: Question,
    gathered: Gathered,
    printed: list[tuple[CPrint, Extra]],
    pools: Pools,
    tapes: _Tapes,
    dials: Dials,
) -> Facts:
    """What the explanation needs, drawn from the same numbers as the decision."""
    own, similar = pools.release.own_counts(one.place), pools.release.similar_counts(one.place)
    worst = one.harms[0]
    pool = pools.harm[worst.medium]
    harm_own, harm_similar = pool.own_counts(one.place), pool.similar_counts(one.place)
    release, harm = _chance(one.release), _chance(worst.general)
    reports = tuple(
        (row.report, bool(row.release))
        for row, cell in printed
        if cell.weight * gathered.kernel[one.place][cell.liquid] >= SHOWN_FROM
    )
    return Facts(
        what=one.what,
        release=release,
        harm=harm,
        release_here=_chance(one.release_here) if question.sheet else release,
        harm_here=_chance(worst.here) if question.sheet else harm,
        decision=one.decision,
        release_p0=one.release_p0,
        harm_p0=worst.p0,
        harm_by_medium=_by_medium(one.harms, here=bool(question.sheet)),
        worst_medium=worst.medium,
        own_tests=int(own.tests),
        own_hits=int(own.hits),
        tests=int(own.tests + similar.tests),
        hits=int(own.hits + similar.hits),
        expected=own.expected + similar.expected,
        variance=own.variance + similar.variance,
        harm_tests=int(harm_own.tests + harm_similar.tests),
        harm_hits=int(harm_own.hits + harm_similar.hits),
        harm_own_tests=int(harm_own.tests),
        harm_own_hits=int(harm_own.hits),
        tapes=tapes.count(one.place),
        print_tests=pools.release.extra_tests(one.place),
        reports=reports,
        red_adhesive=tapes.compiled.red_adhesive(question.adhesive, one.what.hansen),
        red_medium=tapes.compiled.red_medium(worst.medium, one.what.hansen),
        cautions=one.cautions,
        refused=one.refused,
        sheet=question.sheet,
        used_print=dials.use_print,
    )


def _by_medium(harms: tuple[Harm, ...], *, here: bool) -> dict[str, Chance]:
    return {harm.medium: _chance(harm.here if here else harm.general) for harm in harms}


def _suggestion(rank: int, fact: Facts, question: Question) -> Suggestion:
    here = bool(question.sheet)
    return Suggestion(
        rank=rank,
        liquid=fact.what.id,
        name=fact.what.name,
        parts=fact.what.parts,
        method=question.method,
        release=fact.release_here if here else fact.release,
        harm=fact.harm_here if here else fact.harm,
        release_general=fact.release,
        harm_general=fact.harm,
        harm_by_medium=fact.harm_by_medium,
        worst_medium=fact.worst_medium,
        red_adhesive=fact.red_adhesive,
        red_medium=fact.red_medium,
        index=fact.decision,
        hazard=fact.what.hazard,
        evidence=Evidence(own=fact.own_tests, similar=fact.tests - fact.own_tests, print=fact.print_tests),
        cautions=tuple(f"{c.severity}: {c.text}" for c in fact.cautions),
        reason=reason(fact),
        details=details(fact),
        refused=fact.refused,
    )


def _veto(one: Weighed) -> Vetoed:
    first = one.cautions[0]
    return Vetoed(liquid=one.what.id, name=one.what.name, caution=first.id, text=first.text)


def _mock_up(proposed: list[Weighed], refused: list[Weighed]) -> Named | None:
    """A liquid of which much is to be learnt without touching the sheet."""
    for one in (*proposed, *refused):
        known = one.harms[0].here
        bound = min(0.999, known.mean + SPREAD_FOR_MOCK_UP)
        if "already" not in one.refused and cdf(bound, known.a, known.b) < UPPER:
            return one.what
    return None


class _Tapes:
    """Counts the distinct (adhesive, stage, carrier) behind a suggestion."""

    def __init__(
        self, compiled: Compiled, gathered: Gathered, groups: list[tuple[float, int]], known: dict[str, int]
    ) -> None:
        self.compiled = compiled
        self._kernel = gathered.kernel
        self._groups = groups
        self._masks = [known.get(one.id, 0) for one in gathered.candidates]

    def count(self, place: int) -> int:
        """Contexts of weight 0.25 or more, over all liquids like this one."""
        seen = 0
        for other, likeness in enumerate(self._kernel[place]):
            mask = self._masks[other]
            if mask and likeness >= SHOWN_FROM:
                for weight, contexts in self._groups:
                    if weight * likeness < SHOWN_FROM:
                        break
                    seen |= mask & contexts
        return seen.bit_count()


def _tapes_behind(
    compiled: Compiled, question: Question, gathered: Gathered, known: dict[str, int]
) -> _Tapes:
    """Contexts grouped by their weight, the heaviest first; only those that can count are kept."""
    groups: dict[float, int] = {}
    asked = compiled.adhesives.get(question.adhesive)
    position = compiled.stages.get(question.stage)
    for adhesive in (*compiled.adhesives, ""):
        found = compiled.adhesives.get(adhesive)
        a = adhesive_weight(
            question.adhesive, asked.group if asked else "", adhesive, found.group if found else " "
        )
        for stage in (*compiled.stages, ""):
            other = compiled.stages.get(stage)
            s = 0.6 if position is None or other is None else stage_weight(position, other)
            if a * s < SHOWN_FROM:
                continue
            for carrier in (*compiled.carriers, ""):
                weight = round(a * s * carrier_weight(question.carrier, carrier), 12)
                groups[weight] = groups.get(weight, 0) | compiled.context_bit(adhesive, stage, carrier)
    return _Tapes(compiled, gathered, sorted(groups.items(), reverse=True), known)
