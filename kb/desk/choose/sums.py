"""The sums that bear on each part of a question, and what follows from them before any sheet is looked at.

Release hangs on the tape and the method, harm on what lies within reach. Of one state of the book each part
is worked out once: a bench day asks of the same ink under one tape after another, and the other way round.
"""

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from itertools import product
from typing import NamedTuple

from kb.desk.choose.gather import (
    Classes,
    Gathered,
    Reading,
    harm_classes,
    printed_harm,
    printed_release,
    release_classes,
)
from kb.desk.choose.may_be import Component
from kb.index.compiled import Compiled, CPrint, Named
from kb.index.queries import Connection
from kb.index.rows import BARE_PAPER
from kb.index.schema import SCALE
from kb.model.question import Question
from kb.science.choose.evidence import Posterior, adhesive_weight, carrier_weight, stage_weight
from kb.science.choose.learnt import Seen, less_harm, shift
from kb.science.choose.pooled import Joined
from kb.science.choose.pooling import CREDIT, FIELDS, PRIOR, RAW, SHOWN_FROM, Extra, Pool

PARTS_KEPT = 40
"""Tapes, and things within reach, of which the sums are kept. A tape that is not known may be sixteen things,
asked about twice where its carrier might be lifted first: with less room each would push out the next."""
Sums = Pool | Joined
"""Own tests alone, or together with those of other studios."""
Shifts = dict[str, float]
"""By family of the liquid: logits by which the book moves the prior of chemistry."""
SeenBy = tuple[Seen, dict[str, Seen]]
"""All tests of a sum, and those of each family of the liquid."""
ByStage = tuple[float, float, float]


class Harm(NamedTuple):
    """Harm to one medium and the paper: chemistry alone, in general, and on this object."""

    medium: str
    p0: float
    general: Posterior
    here: Posterior
    paper: float
    """Harm to the paper by chemistry alone: what a look on bare paper speaks of."""
    taught: float
    """Logits by which the book moved the prior of chemistry."""


class Released(NamedTuple):
    """Release of one candidate from one thing the tape may be, apart from this sheet's spots."""

    p0: float
    stages: ByStage
    """Chemistry's chance at each stage."""
    posterior: Posterior
    taught: float
    denied: bool
    """Handbooks say that it rarely releases it, and nothing else is known."""
    carrier: float
    """Share in which it dissolves the carrier."""
    named: float
    """Reports and tests that know the liquid on such an adhesive."""
    more: float
    """What that, and that it stays in the sheet, cost."""


class OfTape(NamedTuple):
    """Release from one thing the tape may be."""

    sums: Sums
    taught: Shifts
    printed: list[tuple[CPrint, Extra]]
    """Reports that bear on it."""
    tests: list[float]
    """Own and pooled tests of each candidate, whatever they were made on."""
    known: dict[int, Released]
    """By place, as far as they were asked for."""


class OfMedium(NamedTuple):
    """Harm to one medium within reach; ``moves`` is what of ``taught`` is let count."""

    sums: Sums
    taught: Shifts
    moves: Shifts
    known: dict[int, Harm]
    """By place, as far as they were asked for."""


class OfReach(NamedTuple):
    """Harm to all that lies within reach."""

    media: dict[str, OfMedium]
    known: dict[int, tuple[Harm, ...]]
    """By place, as far as they were asked for."""


class Pools(NamedTuple):
    """All sums of a question: one of release for each thing the tape may be, and those of harm."""

    release: list[OfTape]
    harm: OfReach

    @property
    def all(self) -> Iterator[Sums]:
        """The sums themselves."""
        yield from [tape.sums for tape in self.release]
        yield from [medium.sums for medium in self.harm.media.values()]

    def looks(self, harm: Harm, place: int) -> tuple[int, int]:
        """Own looks for that harm by a candidate and its like that are told of, and how many saw it."""
        sums = self.harm.media[harm.medium].sums
        own, similar = sums.own_counts(place), sums.similar_counts(place)
        return int(own.tests + similar.tests), int(own.hits + similar.hits)


def looks_beside(
    pools: Pools, harms: Sequence[Harm], looked: Harm, place: int
) -> dict[str, tuple[int, int, bool]]:
    """Looks at what else lies within reach, by medium: how many, how many saw harm, if some were at its like.

    Those that saw harm, without which those that are told of would deny it; the clean ones where none is told
    of, and then of itself alone: a look at its like is none at it.
    """
    all_ = looked.medium == BARE_PAPER or not pools.looks(looked, place)[0]
    found = {}
    for harm in harms:
        if harm.medium == looked.medium:
            continue
        sums = pools.harm.media[harm.medium].sums
        own, like = sums.own_counts(place), sums.similar_counts(place)
        if hits := int(own.hits + like.hits):
            found[harm.medium] = (int(own.tests + like.tests), hits, like.tests > 0)
        # No ink is like bare paper: there the like are liquids and papers, as everywhere.
        elif all_ and (tests := int(own.tests + (like.tests if harm.medium == BARE_PAPER else 0))):
            found[harm.medium] = (tests, 0, False)
    return found


def told_of(pools: Pools, harms: Sequence[Harm], place: int) -> Harm:
    """The harm of which own looks are told: that to the worst medium.

    Where that is the paper under an ink, which nobody need have looked at, that to the worst ink, unless the
    paper had more looks. Where that was never seen, the one that was seen most often.
    """
    worst, *inks = harms
    first = worst
    if worst.medium == BARE_PAPER and inks:
        first = max((inks[0], worst), key=lambda harm: pools.looks(harm, place)[0])
    if pools.looks(first, place)[1]:
        return first
    return max((first, *harms), key=lambda harm: pools.looks(harm, place)[1])


def pools_of(
    conn: Connection,
    compiled: Compiled,
    question: Question,
    may_be: Sequence[Component],
    gathered: Gathered,
    *,
    use_print: bool,
) -> Pools:
    """The sums of this question, with the reports in print that bear on it if they are to be used."""

    def of_tape(one: Question) -> OfTape:
        return compiled.kept(
            "of tape",
            (gathered.state, one.adhesive, one.stage, one.carrier, one.method, use_print),
            lambda: _of_tape(conn, compiled, one, gathered, use_print=use_print),
            PARTS_KEPT,
        )

    harm = compiled.kept(
        "of reach",
        (gathered.state, question.reach, question.paper, question.method, use_print),
        lambda: _of_reach(conn, compiled, question, gathered, use_print=use_print),
        PARTS_KEPT,
    )
    return Pools([of_tape(one.question) for one in may_be], harm)


def _of_tape(
    conn: Connection, compiled: Compiled, question: Question, gathered: Gathered, *, use_print: bool
) -> OfTape:
    own, pooled = (
        source and release_classes(Reading(conn, compiled, gathered.state, source), question)
        for source in (gathered.own, gathered.pooled)
    )
    assert own is not None
    cells = printed_release(compiled, question, gathered) if use_print else []
    return OfTape(
        _sums(gathered, own, cells, pooled),
        _taught(compiled, gathered, own, "release", question.adhesive),
        cells,
        # The same of every tape.
        compiled.kept("tests", gathered.state, lambda: _tests_of(gathered.candidates, own, pooled), 1),
        {},
    )


def _of_reach(
    conn: Connection, compiled: Compiled, question: Question, gathered: Gathered, *, use_print: bool
) -> OfReach:
    def made(medium: str) -> OfMedium:
        own, pooled = (
            source and harm_classes(Reading(conn, compiled, gathered.state, source), question, medium)
            for source in (gathered.own, gathered.pooled)
        )
        assert own is not None
        # Reports are asked for each medium, since harm depends on what lies there.
        cells = printed_harm(compiled, question, medium, gathered) if use_print else []
        found = _taught(compiled, gathered, own, "harm", medium)
        moves = {family: less_harm(by) for family, by in found.items()}
        return OfMedium(_sums(gathered, own, cells, pooled), found, moves, {})

    # Bare paper lies under every medium, and has to bear it too: a look for bleeding is no look at paper.
    return OfReach(
        {
            medium: compiled.kept(
                "of medium",
                (gathered.state, medium, question.paper, question.method, use_print),
                partial(made, medium),
                PARTS_KEPT,
            )
            for medium in dict.fromkeys((*question.reach, BARE_PAPER))
        },
        {},
    )


def _sums(
    gathered: Gathered, classes: Classes, cells: list[tuple[CPrint, Extra]], theirs: Classes | None
) -> Sums:
    kernel = gathered.kernel
    here, there = (
        one and Pool(one.contexts, one.vectors, kernel, extras, SCALE, one.source.places.of)
        for one, extras in ((classes, [cell for _, cell in cells]), (theirs, []))
    )
    assert here is not None
    return here if there is None else Joined(here, there)


def _taught(compiled: Compiled, gathered: Gathered, classes: Classes, event: str, material: str) -> Shifts:
    """What the tests of the whole book and of the question's own material teach about each family."""

    def seen(vector: Sequence[int]) -> SeenBy:
        return _seen(vector, gathered.candidates, classes.source.places.of)

    # The tests of the whole book are the same for every tape, or for every medium that is named.
    known = (gathered.state, event, material if material in {"", BARE_PAPER} else "*")
    book = compiled.kept("book seen", known, lambda: seen(classes.book), 4)
    # A carrier that is lifted leaves the adhesive, and what it taught, as they were.
    return compiled.kept(
        "taught",
        (gathered.state, event, material),
        lambda: taught(book, lambda: seen(classes.material())),
        2 * PARTS_KEPT,
    )


def taught(of_book: SeenBy, of_material: Callable[[], SeenBy]) -> Shifts:
    """By family of the liquid, what the tests of the whole book and those of one material teach."""
    book, families = of_book
    # An empty book teaches nothing, and the sums need not be walked.
    if not book.tests:
        return dict.fromkeys(families, 0.0)
    material, here = of_material()
    # What belongs to no family is taught by the wider levels only.
    return {
        family: shift(book, material, families[family], here[family])
        if family
        else shift(book, material, Seen(), Seen())
        for family in families
    }


def _seen(vector: Sequence[int], candidates: Sequence[Named], places: Sequence[int | None]) -> SeenBy:
    """The tests of a sum, all of them and by family of the liquid; added up as whole numbers."""
    families = {one.related: [0, 0, 0] for one in candidates}
    # Discounted tests, what chemistry expected of them, and events by partial credit.
    columns = [vector[field::FIELDS] for field in (0, PRIOR, CREDIT)]
    for what, place in zip(candidates, places, strict=True):
        if place is not None:
            totals = families[what.related]
            for number, column in enumerate(columns):
                totals[number] += column[place]
    whole = [sum(column) for column in zip(*families.values(), strict=True)]
    return _scaled(whole), {family: _scaled(totals) for family, totals in families.items()}


def _scaled(totals: Sequence[int]) -> Seen:
    return Seen(*(total / SCALE for total in totals))


def _tests_of(candidates: Sequence[Named], *sources: Classes | None) -> list[float]:
    totals = [0.0] * len(candidates)
    for classes in filter(None, sources):
        counted, raw = classes.book[::FIELDS], classes.book[RAW[0] :: FIELDS]
        for candidate, place in enumerate(classes.source.places.of):
            # Tests on tapes not known for sure are in no raw count: they make it known in proportion.
            if place is not None:
                totals[candidate] += max(raw[place], counted[place] / SCALE)
    return totals


class Tapes:
    """Counts the distinct (adhesive, stage, carrier) behind a suggestion."""

    def __init__(self, compiled: Compiled, question: Question, gathered: Gathered) -> None:
        self.compiled = compiled
        self._kernel, self._masks = gathered.kernel, gathered.masks
        self._groups = _by_weight(compiled, question)
        self._found: dict[int, int] = {}

    def count(self, place: int) -> int:
        """Contexts of weight 0.25 or more, over all liquids like this one."""
        found = self._found.get(place)
        if found is None:
            found = self._found[place] = self._count(place)
        return found

    def _count(self, place: int) -> int:
        seen = 0
        for other, likeness in self._kernel.shown(place):
            mask = self._masks[other]
            if mask:
                for weight, contexts in self._groups:
                    if weight * likeness >= SHOWN_FROM:
                        seen |= mask & contexts
                        break
        return seen.bit_count()


def tapes_behind(compiled: Compiled, question: Question, gathered: Gathered) -> Tapes:
    """What counts the tapes behind a suggestion for this question."""
    asked = (gathered.state, question.adhesive, question.stage, question.carrier)
    return compiled.kept("tapes", asked, lambda: Tapes(compiled, question, gathered), PARTS_KEPT)


def _by_weight(compiled: Compiled, question: Question) -> list[tuple[float, int]]:
    """Contexts of each weight and more, the least weight first; only those that can count are kept."""
    asked = compiled.adhesives.get(question.adhesive)
    group, position = asked.group if asked else "", compiled.stages.get(question.stage)
    adhesives: dict[float, list[str]] = {}
    stages: dict[float, list[str]] = {}
    carriers: dict[float, list[str]] = {}
    for adhesive in (*compiled.adhesives, ""):
        found = compiled.adhesives.get(adhesive)
        a = adhesive_weight(question.adhesive, group, adhesive, found.group if found else " ")
        adhesives.setdefault(a, []).append(adhesive)
    for stage in (*compiled.stages, ""):
        other = compiled.stages.get(stage)
        s = 0.6 if position is None or other is None else stage_weight(position, other)
        stages.setdefault(s, []).append(stage)
    for carrier in (*compiled.carriers, ""):
        carriers.setdefault(carrier_weight(question.carrier, carrier), []).append(carrier)
    groups: dict[float, int] = {}
    for (a, these), (s, at), (c, on) in product(adhesives.items(), stages.items(), carriers.items()):
        if a * s >= SHOWN_FROM:
            weight = round(a * s * c, 12)
            groups[weight] = groups.get(weight, 0) | compiled.contexts(these, at, on)
    reached, found_from = 0, []
    for weight, contexts in sorted(groups.items(), reverse=True):
        reached |= contexts
        found_from.append((weight, reached))
    return found_from[::-1]
