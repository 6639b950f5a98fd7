"""Gather the counts that bear on a question, in the classes that :mod:`kb.science.choose.pooling` wants."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache, partial
from itertools import product
from math import prod
from operator import sub
from typing import NamedTuple

import msgspec

from kb.desk.choose.rule import meets
from kb.index.compiled import Compiled, CPrint, Named, alike, doubles
from kb.index.pool_queries import Slot, pool_slots
from kb.index.queries import Connection, blends, masks, slots, state_of_index, vectors
from kb.index.rows import BARE_PAPER
from kb.index.schema import ANY
from kb.index.vectors import fields
from kb.model.question import Question
from kb.science.choose.evidence import (
    EDGE_SLACK,
    LEAST_WEIGHT,
    UNSTATED,
    adhesive_weight,
    carrier_weight,
    discount,
    medium_weight,
    method_weight,
    paper_weight,
    stage_weight,
)
from kb.science.choose.groups import Alike, of_one_line
from kb.science.choose.pooled import POOLED_WEIGHT
from kb.science.choose.pooling import Context, Extra, Kernel
from kb.science.liquids.blends import blend_id

# The last is a stage nobody named: such tests count as neighbours of any.
POSITIONS = ("0", "1", "2", "")
RELEASE_COLUMNS = ("adhesive", "carrier", "method", "stage")
HARM_COLUMNS = ("medium", "paper", "method")
SUMS_KEPT, WHOLE_KEPT = 40, 40
"""Sets of sums as read, each of one adhesive and carrier, or medium and paper: 3 MB at most. Those of all
adhesives, or media, apart: whatever is asked about comes back to them."""
OF_PAPER, UNNAMED = f"a:{BARE_PAPER}", "a:"
"""Where the sums of tests on bare paper stand, and of those that name no medium."""
UNKNOWN_STAGE = 0.6
"""Similarity of stages when one of the two is not known: as of neighbours. This project's own."""


class Level(NamedTuple):
    """One way in which a feature relates to the question: how its sum is found, how like it is.

    ``plus`` and ``minus`` are key values: the class's sum is the sum at ``plus`` less those at ``minus``.
    """

    plus: str
    minus: tuple[str, ...]
    weight: float
    same: bool


class Places(NamedTuple):
    """Where each candidate stands in a stored vector (None: it has no tests), and how long vectors are."""

    of: list[int | None]
    length: int


class Source(NamedTuple):
    """Where sums are read from, and the factor by which all its tests weigh less than own ones."""

    release: str
    harm: str
    places: Places
    weight: float


class Classes(NamedTuple):
    """Classes of tests and their sums: one vector per class, liquids in the order of the source."""

    source: Source
    contexts: list[Context]
    vectors: list[Sequence[int]]
    """Empty where a class has no tests."""
    book: Sequence[int]
    """The sum of all tests."""
    material: Callable[[], Sequence[int]]
    """The sum of all tests on the question's own adhesive, or medium."""


class Gathered(NamedTuple):
    """What every question of one state of the index shares."""

    state: tuple[object, ...]
    """Another one after anything was written to the index: sums are kept as long as it is the same."""
    candidates: tuple[Named, ...]
    """In a fixed order."""
    order: dict[str, int]
    """By id, the place of each."""
    minding: dict[str, list[int]]
    """By caution, the places of those that meet its condition about the liquid."""
    kernel: Kernel
    alike: list[Alike]
    """By candidate, those with which it may stand in one line."""
    masks: list[int]
    """By candidate, what it was tested on."""
    own: Source
    pooled: Source | None
    """Of other studios; None where there is no pool."""


def gather(conn: Connection, compiled: Compiled) -> Gathered:
    """Candidates with their likeness, and where their sums stand; kept until something is written."""
    state = state_of_index(conn)
    return compiled.kept("gathered", state, lambda: _gather(conn, compiled, state))


def _gather(conn: Connection, compiled: Compiled, state: tuple[int, int]) -> Gathered:
    pool = pool_slots(conn)
    candidates = candidates_of(conn, compiled, pool)
    # Kept while the candidates are the same: it compares every two of some hundred liquids.
    kernel, alike_to = compiled.kept(
        "kernel", tuple(one.id for one in candidates), lambda: _likenesses(compiled, candidates)
    )
    # The studio's own counts first and apart: pooled ones weigh less and have places of their own.
    own = Source("release_sum", "harm_sum", _places(slots(conn), candidates), 1.0)
    places = _places({liquid: place for liquid, place, _ in pool}, candidates) if pool else None
    pooled = Source("pool_release_sum", "pool_harm_sum", places, POOLED_WEIGHT) if places else None
    order = {one.id: place for place, one in enumerate(candidates)}
    tested = masks(conn)
    minding: dict[str, list[int]] = {}
    for place, what in enumerate(candidates):
        for caution in meets(compiled, what.parts):
            minding.setdefault(caution, []).append(place)
    return Gathered(
        state,
        candidates,
        order,
        minding,
        kernel,
        alike_to,
        [tested.get(one.id, 0) for one in candidates],
        own,
        pooled,
    )


def with_blends(gathered: Gathered, compiled: Compiled, blends: Iterable[Mapping[str, float]]) -> Gathered:
    """The same with these blends, by shares of one, as candidates too; each stands under its ``blend_id``."""
    more = {id: parts for parts in blends if (id := blend_id(parts)) not in gathered.order}
    if not more:
        return gathered
    candidates = (*gathered.candidates, *(compiled.candidate(id, parts) for id, parts in more.items()))
    kernel, alike_to = _likenesses(compiled, candidates)
    untested = [None] * len(more)

    def longer(source: Source) -> Source:
        places = source.places
        return source._replace(places=places._replace(of=[*places.of, *untested]))

    return gathered._replace(
        # Sums that are kept know no more candidates than they were made with.
        state=(*gathered.state, *more),
        candidates=candidates,
        order={one.id: place for place, one in enumerate(candidates)},
        kernel=kernel,
        alike=alike_to,
        masks=[*gathered.masks, *([0] * len(more))],
        own=longer(gathered.own),
        pooled=longer(gathered.pooled) if gathered.pooled else None,
    )


def _places(known: dict[str, int], candidates: Sequence[Named]) -> Places:
    return Places([known.get(one.id) for one in candidates], len(known))


def candidates_of(conn: Connection, compiled: Compiled, pool: Sequence[Slot] = ()) -> tuple[Named, ...]:
    """Every liquid of the catalogue, and every blend in the pool, in the book or reported in print."""
    tested = [(liquid, parts) for liquid, _, parts in pool if parts] + blends(conn)
    return compiled.kept("candidates", tuple(tested), lambda: _candidates(compiled, tested))


def _candidates(compiled: Compiled, tested: list[tuple[str, str]]) -> tuple[Named, ...]:
    found = {liquid.id: compiled.candidate(liquid.id, {liquid.id: 1.0}) for liquid in compiled.liquids}
    more = {row.liquid: row.parts for row in compiled.printed}
    more.update({liquid: msgspec.json.decode(parts) for liquid, parts in tested})
    # Sorted, so that the places of blends do not depend on the order of reports.
    for liquid in sorted(more):
        if liquid not in found:
            found[liquid] = compiled.candidate(liquid, more[liquid])
    return tuple(found.values())


def _likenesses(compiled: Compiled, candidates: Sequence[Named]) -> tuple[Kernel, list[Alike]]:
    kernel, families = kernel_of(compiled, candidates), [one.related for one in candidates]
    return kernel, [of_one_line(family, kernel[place], families) for place, family in enumerate(families)]


def kernel_of(compiled: Compiled, candidates: Sequence[Named]) -> Kernel:
    """Similarity of every two candidates."""
    size, known = len(candidates), doubles(compiled.foreseen.alike).tolist()
    # The catalogue's liquids come first among the candidates, and how they are alike is known.
    listed = len(compiled.liquids) if known else 0
    rows = [known[i * listed : (i + 1) * listed] + [0.0] * (size - listed) for i in range(listed)]
    rows += [[0.0] * size for _ in range(size - listed)]
    for i in range(listed, size):
        rows[i][i] = 1.0
        # Half of the pairs: likeness is the same in both directions.
        for j in range(i):
            rows[i][j] = rows[j][i] = alike(candidates[i], candidates[j])
    return Kernel(rows)


class Reading(NamedTuple):
    """Reads the sums of one source. Those asked for last are kept: most questions share half of them."""

    conn: Connection
    compiled: Compiled
    state: tuple[object, ...]
    source: Source

    def classes(
        self,
        table: str,
        columns: Sequence[str],
        levels: Sequence[Sequence[Level]],
        own_places: tuple[int, int],
        material: str,
    ) -> Classes:
        """One vector per distinct weight. Own class: the levels at ``own_places`` are both the same."""
        source = self.source
        values = [_values(group) for group in levels]
        sums = [
            vector
            for first, second in product(*values[:2])
            for vector in self.compiled.kept(
                "whole sums" if first == ANY else "sums",
                (self.state, table, first, second, *values[2]),
                partial(self._read, table, columns, (first, second), values[2:]),
                WHOLE_KEPT if first == ANY else SUMS_KEPT,
            )
        ]

        def whole(first: str) -> int:
            """All tests there, whatever the second feature, the method and the stage."""
            at = zip(product(*values), sums, strict=True)
            return sum(one for key, one in at if key[:3] == (first, ANY, ANY))

        # What paper bore is no news of inks, nor the other way round; and what is named learns of no unnamed.
        every, *less = [one for one in (ANY, OF_PAPER, UNNAMED) if one in values[0]]
        likeness = tuple([tuple([(level.weight, level.same) for level in group]) for group in levels])
        contexts, combinations = _contexts(likeness, own_places, source.weight)
        totals = [0] * len(contexts)
        for total, at in zip(_by_level(sums, values, levels), combinations, strict=True):
            if at is not None:
                totals[at] += total
        return Classes(
            source,
            contexts,
            [fields(total, source.places.length) if total else () for total in totals],
            # The same for every question.
            self.compiled.kept(
                "book",
                (self.state, table, every, *less),
                lambda: fields(whole(every) - sum(map(whole, less)), source.places.length),
                8,
            ),
            lambda: fields(whole(f"a:{material}"), source.places.length),
        )

    def _read(
        self, table: str, columns: Sequence[str], start: tuple[str, str], rest: Sequence[Sequence[str]]
    ) -> list[int]:
        """The sums whose first two features are these, by the values of the rest; nought without tests."""
        found = vectors(self.conn, table, columns, [[start[0]], [start[1]], rest[0]])
        return [found.get((*start, *more), 0) for more in product(*rest)]


def release_classes(reading: Reading, question: Question) -> Classes:
    """Adhesive, carrier, method and stage levels in every combination."""
    compiled, adhesive = reading.compiled, question.adhesive
    if adhesive:
        group = compiled.adhesives[adhesive].group if adhesive in compiled.adhesives else adhesive
        adhesives = _three(adhesive, group, adhesive_weight(adhesive, group, " ", group), 0.25)
    else:
        # Without an adhesive every test is on another one.
        adhesives = [Level(ANY, (), 0.25, False)]
    asked = compiled.stages.get(question.stage)
    stages = [Level(p, (), *_stage(asked, int(p) if p else None)) for p in POSITIONS]
    levels = (
        adhesives,
        _two(question.carrier, carrier_weight("a", "b")),
        _two(question.method, method_weight("a", "b")),
        stages,
    )
    return reading.classes(reading.source.release, RELEASE_COLUMNS, levels, (0, 3), adhesive)


def harm_classes(reading: Reading, question: Question, medium: str) -> Classes:
    """Medium, paper and method levels in every combination, for one medium within reach."""
    levels = (
        _media(reading.compiled, medium),
        _two(question.paper, paper_weight("a", "b")),
        _two(question.method, method_weight("a", "b")),
    )
    return reading.classes(reading.source.harm, HARM_COLUMNS, levels, (0, 1), medium)


def _media(compiled: Compiled, medium: str) -> list[Level]:
    # What was seen on bare paper speaks for paper, and is asked for apart: of no ink, not even in part. Nor
    # do looks at an ink speak for paper: what they saw of it stands with the paper already.
    if medium == BARE_PAPER:
        return [Level(OF_PAPER, (), 1.0, True)]
    if not medium:
        return [Level(ANY, (OF_PAPER,), 0.25, False)]
    made_of = compiled.media.get(medium)
    # A medium without kin has a group of its own, which no other medium is in.
    kin = made_of.kin if made_of and made_of.kin else f"only {medium}"
    *near, other = _three(medium, kin, medium_weight(medium, kin, " ", kin), 0.25)
    # Nor are tests of which nobody knows on which ink they were, good or bad: they count where none is named.
    return [*near, other._replace(minus=(*other.minus, OF_PAPER, UNNAMED))]


def _stage(asked: int | None, found: int | None) -> tuple[float, bool]:
    if asked is None or found is None:
        return UNKNOWN_STAGE, False
    return stage_weight(asked, found), asked == found


def _three(name: str, group: str, in_group: float, other: float) -> list[Level]:
    """The same, another of its group, any other."""
    return [
        Level(f"a:{name}", (), 1.0, True),
        # Another of its group is the group less itself, by subtraction of whole numbers.
        Level(f"g:{group}", (f"a:{name}",), in_group, False),
        Level(ANY, (f"g:{group}",), other, False),
    ]


def _two(name: str, other: float) -> list[Level]:
    """The same or another. If the question does not know, every one is another."""
    if not name:
        # Not known is never the same.
        return [Level(ANY, (), other, False)]
    return [Level(name, (), 1.0, True), Level(ANY, (name,), other, False)]


def _values(levels: Sequence[Level]) -> list[str]:
    # An empty "plus" is a stage that nobody named.
    return list(dict.fromkeys([one.plus for one in levels] + [less for one in levels for less in one.minus]))


def _by_level(
    sums: Sequence[int], values: Sequence[Sequence[str]], levels: Sequence[Sequence[Level]]
) -> Sequence[int]:
    """Sums by level of each feature, from sums by value of each; the last feature varies fastest in both."""
    # One feature after the other: all at once, each "another" would double the sums to be looked up.
    for feature, (known, group) in enumerate(zip(values, levels, strict=True)):
        # So many sums lie between one value of this feature and the next.
        step = prod(map(len, values[feature + 1 :]))
        found: list[int] = []
        for start in range(0, len(sums), step * len(known)):
            for level in group:
                plus = start + step * known.index(level.plus)
                some = sums[plus : plus + step]
                for value in level.minus:
                    minus = start + step * known.index(value)
                    some = list(map(sub, some, sums[minus : minus + step]))
                found += some
        sums = found
    return sums


@lru_cache(maxsize=64)
def _contexts(
    levels: tuple[tuple[tuple[float, bool], ...], ...], own_places: tuple[int, int], source_weight: float
) -> tuple[list[Context], list[int | None]]:
    """The classes that levels of these weights make (and: the same?), and where each combination falls.

    None: it speaks for nothing.
    """
    found: dict[Context, int] = {}
    combinations: list[int | None] = []
    for combined in product(*levels):
        weight = source_weight
        for likeness, _ in combined:
            weight *= likeness
        own = all(combined[feature][1] for feature in own_places)
        # Rounded, so that weights that agree but for the last digit share one class.
        context = Context(round(weight, 12), own)
        # Not even tests with the same liquid speak from further off.
        counts = context.weight >= LEAST_WEIGHT - EDGE_SLACK
        combinations.append(found.setdefault(context, len(found)) if counts else None)
    return list(found), combinations


def printed_release(compiled: Compiled, question: Question, gathered: Gathered) -> list[tuple[CPrint, Extra]]:
    """Reported releases as single cells; a feature that a report does not state counts half."""
    cells = []
    for row in compiled.printed:
        if row.release is None:
            continue
        weight = (
            _adhesive(compiled, question.adhesive, row.adhesive)
            * _position(compiled, question.stage, row.stage)
            * (carrier_weight(question.carrier, row.carrier) if row.carrier else UNSTATED)
            * (method_weight(question.method, row.method) if row.method else UNSTATED)
        )
        # Less than the least weight that counts.
        if weight < 0.1:
            continue
        # An own class needs both to be stated: not stated is not the same.
        own = row.adhesive == question.adhesive != "" and row.stage == question.stage != ""
        n = discount(row.tests)
        place = gathered.order[row.liquid]
        what = gathered.candidates[place]
        p0 = compiled.release_p0(row.adhesive or question.adhesive, row.stage, row.carrier, row.method, what)
        cells.append((row, Extra(place, weight, own, n, n if row.release else 0.0, p0)))
    return cells


def printed_harm(
    compiled: Compiled, question: Question, medium: str, gathered: Gathered
) -> list[tuple[CPrint, Extra]]:
    """Reported harm to one medium as single cells."""
    cells = []
    for row in compiled.printed:
        if row.harm is None:
            # A report without harm does not say that somebody looked.
            continue
        weight = (
            _medium(compiled, medium, row.medium)
            * (paper_weight(question.paper, row.paper) if row.paper else UNSTATED)
            * (method_weight(question.method, row.method) if row.method else UNSTATED)
        )
        if weight < 0.1:
            continue
        own = row.medium == medium != "" and row.paper == question.paper != ""
        n = discount(row.tests)
        place = gathered.order[row.liquid]
        p0 = compiled.harm_p0(row.medium or medium, row.paper, row.method, gathered.candidates[place])
        cells.append((row, Extra(place, weight, own, n, n if row.harm else 0.0, p0)))
    return cells


def _adhesive(compiled: Compiled, asked: str, said: str) -> float:
    if not said or not asked:
        # What a report leaves out matches at half weight.
        return UNSTATED
    groups = compiled.adhesives
    a = groups[asked].group if asked in groups else asked
    b = groups[said].group if said in groups else said
    return adhesive_weight(asked, a, said, b)


def _position(compiled: Compiled, asked: str, said: str) -> float:
    if asked not in compiled.stages or said not in compiled.stages:
        return UNSTATED
    return stage_weight(compiled.stages[asked], compiled.stages[said])


def _medium(compiled: Compiled, asked: str, said: str) -> float:
    # As of own tests: what was seen on bare paper is asked for apart.
    if said == BARE_PAPER != asked:
        return 0.0
    if not said or not asked:
        return UNSTATED
    media = compiled.media
    a = media[asked].kin if asked in media else ""
    return medium_weight(asked, a, said, (media[said].kin if said in media else ""))
