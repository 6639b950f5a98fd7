"""Gather the counts that bear on a question, in the classes that :mod:`kb.science.choose.pooling` wants."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from functools import lru_cache, partial
from itertools import product
from operator import itemgetter
from typing import NamedTuple, cast

from kb.desk.choose.rule import meets
from kb.index.compiled import BARE_PAPER, Compiled, CPrint, Named, alike, doubles
from kb.index.pool_queries import Slot, pool_slots
from kb.index.queries import Connection, blends, masks, state_of_index, vectors
from kb.index.tally import ANY, slots
from kb.index.vectors import liquids_of
from kb.model.question import Question
from kb.science.choose.evidence import EDGE_SLACK, LEAST_WEIGHT, discount
from kb.science.choose.pooled import POOLED_WEIGHT
from kb.science.choose.pooling import Context, Extra, Kernel
from kb.science.choose.similarity import (
    UNSTATED,
    adhesive_weight,
    carrier_weight,
    medium_weight,
    method_weight,
    paper_weight,
    stage_weight,
)

# The last is a stage nobody named: such tests count as neighbours of any.
POSITIONS = ("0", "1", "2", "")
RELEASE_COLUMNS = ("adhesive", "carrier", "method", "stage")
HARM_COLUMNS = ("medium", "paper", "method")
SUMS_KEPT = 80
"""Sets of sums as read, each of one adhesive and carrier, or medium and paper: 3 MB at most."""
UNKNOWN_STAGE = 0.6
"""Similarity of stages when one of the two is not known: as of neighbours. This project's own."""


Sums = dict[tuple[str, ...], int]
"""Sums of all liquids by their key."""


class Level(NamedTuple):
    """One way in which a feature relates to the question: how its sum is found, how like it is.

    ``plus`` and ``minus`` are key values: the class's sum is the sum at ``plus`` less that at ``minus``.
    """

    plus: str
    minus: str
    weight: float
    same: bool


class Classes(NamedTuple):
    """Classes of tests and their sums: one vector per class, liquids in the order of the candidates."""

    contexts: list[Context]
    vectors: list[Sequence[int]]
    book: Sequence[int] = ()
    """The sum of all tests."""
    material: Sequence[int] = ()
    """The sum of all tests on the question's own adhesive, or medium."""


class Gathered(NamedTuple):
    """What every question of one state of the index shares."""

    state: tuple[int, int]
    """Another one after anything was written to the index: sums are kept as long as it is the same."""
    candidates: tuple[Named, ...]
    """In a fixed order."""
    meets: list[frozenset[str]]
    """By candidate, the cautions whose condition about the liquid it meets."""
    kernel: Kernel
    masks: dict[str, int]
    """By liquid, what it was tested on."""
    under: tuple[str, ...]
    """Bare paper, which lies under every medium, where it was tested itself. Without such tests those on the
    medium tell more, for they were made on it as well."""
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
    kernel = compiled.kept(
        "kernel", tuple(one.id for one in candidates), lambda: kernel_of(compiled, candidates)
    )
    # The studio's own counts first and apart: pooled ones weigh less and have places of their own.
    own = Source("release_sum", "harm_sum", _places(slots(conn), candidates), 1.0)
    places = _places({one.liquid: one.place for one in pool}, candidates) if pool else None
    pooled = Source("pool_release_sum", "pool_harm_sum", places, POOLED_WEIGHT) if places else None
    met = [meets(compiled, what.parts) for what in candidates]
    bare = vectors(conn, own.harm, HARM_COLUMNS, [[f"a:{BARE_PAPER}"], [ANY], [ANY]])
    return Gathered(state, candidates, met, kernel, masks(conn), (BARE_PAPER,) if bare else (), own, pooled)


class Places(NamedTuple):
    """Where each candidate stands in a stored vector (None: it has no tests), and how long vectors are."""

    of: list[int | None]
    length: int
    arrange: Callable[[Sequence[bytes]], Sequence[bytes]]
    """Picks the candidates, in their order, and an empty liquid from those of a vector with an empty one."""


class Source(NamedTuple):
    """Where sums are read from, and the factor by which all its tests weigh less than own ones."""

    release: str
    harm: str
    places: Places
    weight: float


def _places(known: dict[str, int], candidates: Sequence[Named]) -> Places:
    of = [known.get(one.id) for one in candidates]
    # One empty liquid behind the others serves all candidates that no test knows. It is picked at the end as
    # well, since a pick of one place would not give a sequence.
    empty = len(known)
    return Places(of, empty, itemgetter(*[empty if place is None else place for place in of], empty))


def candidates_of(conn: Connection, compiled: Compiled, pool: Sequence[Slot] = ()) -> tuple[Named, ...]:
    """Every liquid of the catalogue, and every blend in the pool, in the book or reported in print."""
    tested = [(one.liquid, one.parts) for one in pool if one.parts] + blends(conn)
    return compiled.kept("candidates", tuple(tested), lambda: _candidates(compiled, tested))


def _candidates(compiled: Compiled, tested: list[tuple[str, str]]) -> tuple[Named, ...]:
    found = {liquid.id: compiled.candidate(liquid.id, {liquid.id: 1.0}) for liquid in compiled.liquids}
    more = {row.liquid: row.parts for row in compiled.printed}
    more.update({liquid: json.loads(parts) for liquid, parts in tested})
    # Sorted, so that the places of blends do not depend on the order of reports.
    for liquid in sorted(more):
        if liquid not in found:
            found[liquid] = compiled.candidate(liquid, more[liquid])
    return tuple(found.values())


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
    state: tuple[int, int]
    source: Source

    def sums(self, table: str, columns: Sequence[str], levels: Sequence[Sequence[Level]]) -> Sums:
        """The sums that these levels are made of."""
        firsts, seconds, methods = (_values(group) for group in levels[:3])
        found: Sums = {}
        for first, second in product(firsts, seconds):
            keys = [[first], [second], methods]
            found |= self.compiled.kept(
                "sums",
                (self.state, table, first, second, *methods),
                partial(vectors, self.conn, table, columns, keys),
                SUMS_KEPT,
            )
        return found

    def book(self, table: str, found: Sums, keys: Sequence[tuple[str, ...]]) -> Sequence[int]:
        """The sum of the whole book, which is the same for every question."""
        return self.compiled.kept(
            "book", (self.state, table), lambda: _total(found, keys, self.source.places), 4
        )


def release_classes(reading: Reading, question: Question) -> Classes:
    """Adhesive, carrier, method and stage levels in every combination."""
    compiled, source, adhesive = reading.compiled, reading.source, question.adhesive
    if adhesive:
        group = compiled.adhesives[adhesive].group if adhesive in compiled.adhesives else adhesive
        adhesives = _three(adhesive, group, adhesive_weight(adhesive, group, " ", group), 0.25)
    else:
        # Without an adhesive every test is on another one.
        adhesives = [Level(ANY, "", 0.25, False)]
    asked = compiled.stages.get(question.stage)
    stages = [Level(p, "", *_stage(asked, int(p) if p else None)) for p in POSITIONS]
    levels = (
        adhesives,
        _two(question.carrier, carrier_weight("a", "b")),
        _two(question.method, method_weight("a", "b")),
        stages,
    )
    found = reading.sums(source.release, RELEASE_COLUMNS, levels)
    contexts, totals = _by_class(found, levels, (0, 3), source)
    # What teaches is not split by carrier and method: only the level of the book is asked for.
    book, material = ([(at, ANY, ANY, one) for one in POSITIONS] for at in (ANY, f"a:{adhesive}"))
    return Classes(
        contexts, totals, reading.book(source.release, found, book), _total(found, material, source.places)
    )


def harm_classes(reading: Reading, question: Question, medium: str) -> Classes:
    """Medium, paper and method levels in every combination, for one medium within reach."""
    levels = (
        _media(reading.compiled, medium),
        _two(question.paper, paper_weight("a", "b")),
        _two(question.method, method_weight("a", "b")),
    )
    source = reading.source
    found = reading.sums(source.harm, HARM_COLUMNS, levels)
    contexts, totals = _by_class(found, levels, (0, 1), source)
    book, material = ([(at, ANY, ANY)] for at in (ANY, f"a:{medium}"))
    return Classes(
        contexts, totals, reading.book(source.harm, found, book), _total(found, material, source.places)
    )


def _media(compiled: Compiled, medium: str) -> list[Level]:
    if not medium:
        return [Level(ANY, "", 0.25, False)]
    made_of = compiled.media.get(medium)
    # A medium without kin has a group of its own, which no other medium is in.
    kin = made_of.kin if made_of and made_of.kin else f"only {medium}"
    return _three(medium, kin, medium_weight(medium, kin, " ", kin), 0.25)


def _stage(asked: int | None, found: int | None) -> tuple[float, bool]:
    if asked is None or found is None:
        return UNKNOWN_STAGE, False
    return stage_weight(asked, found), asked == found


def _three(name: str, group: str, in_group: float, other: float) -> list[Level]:
    """The same, another of its group, any other."""
    return [
        Level(f"a:{name}", "", 1.0, True),
        # Another of its group is the group less itself, by subtraction of whole numbers.
        Level(f"g:{group}", f"a:{name}", in_group, False),
        Level(ANY, f"g:{group}", other, False),
    ]


def _two(name: str, other: float) -> list[Level]:
    """The same or another. If the question does not know, every one is another."""
    if not name:
        # Not known is never the same.
        return [Level(ANY, "", other, False)]
    return [Level(name, "", 1.0, True), Level(ANY, name, other, False)]


def _values(levels: Sequence[Level]) -> list[str]:
    return list(dict.fromkeys(v for level in levels for v in (level.plus, level.minus) if v))


def _by_level(found: Sums, levels: Sequence[Sequence[Level]]) -> dict[tuple[int, ...], int]:
    """Sums by place of the level of each feature, from sums by key."""
    sums = cast("dict[tuple[str | int, ...], int]", found)
    # One feature after the other: all at once, each "another" would double the sums to be looked up.
    for feature, group in enumerate(levels):
        by_value: dict[str | int, dict[tuple[str | int, ...], int]] = {}
        for key, vector in sums.items():
            by_value.setdefault(key[feature], {})[key] = vector
        sums = {}
        for place, level in enumerate(group):
            for key, vector in by_value.get(level.plus, {}).items():
                sums[(*key[:feature], place, *key[feature + 1 :])] = vector
            for key, vector in by_value.get(level.minus, {}).items() if level.minus else ():
                at = (*key[:feature], place, *key[feature + 1 :])
                sums[at] = sums.get(at, 0) - vector
    return cast("dict[tuple[int, ...], int]", sums)


def _by_class(
    found: Sums, levels: Sequence[Sequence[Level]], own_places: tuple[int, int], source: Source
) -> tuple[list[Context], list[Sequence[int]]]:
    """One vector per distinct weight. Own class: the levels at ``own_places`` are both the same."""
    sums = _by_level(found, levels)
    likeness = tuple([tuple([(level.weight, level.same) for level in group]) for group in levels])
    contexts, combinations = _contexts(likeness, own_places, source.weight)
    totals = [0] * len(contexts)
    for places, at in combinations:
        if places in sums:
            totals[at] += sums[places]
    return contexts, [_arranged(total, source.places) for total in totals]


def _total(found: Sums, keys: Sequence[tuple[str, ...]], places: Places) -> Sequence[int]:
    """All of these sums as one."""
    return _arranged(sum(found.get(key, 0) for key in keys), places)


@lru_cache(maxsize=64)
def _contexts(
    levels: tuple[tuple[tuple[float, bool], ...], ...], own_places: tuple[int, int], source_weight: float
) -> tuple[list[Context], list[tuple[tuple[int, ...], int]]]:
    """The classes that levels of these weights make (and: the same?), and where each combination falls."""
    found: dict[Context, int] = {}
    combinations = []
    for places in product(*(range(len(group)) for group in levels)):
        weight = source_weight
        for group, place in zip(levels, places, strict=True):
            weight *= group[place][0]
        own = all(levels[feature][places[feature]][1] for feature in own_places)
        # Rounded, so that weights that agree but for the last digit share one class.
        context = Context(round(weight, 12), own)
        # Not even tests with the same liquid speak from there.
        if context.weight >= LEAST_WEIGHT - EDGE_SLACK:
            combinations.append((places, found.setdefault(context, len(found))))
    return list(found), combinations


def _arranged(vector: int, places: Places) -> Sequence[int]:
    """A stored vector with its liquids in the order of the candidates."""
    return liquids_of(vector, places.length, places.arrange)


def printed_release(
    compiled: Compiled, question: Question, candidates: Sequence[Named]
) -> list[tuple[CPrint, Extra]]:
    """Reported releases as single cells; a feature that a report does not state counts half."""
    order = {one.id: place for place, one in enumerate(candidates)}
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
        what = candidates[order[row.liquid]]
        p0 = compiled.release_p0(row.adhesive or question.adhesive, row.stage, row.carrier, row.method, what)
        cells.append((row, Extra(order[row.liquid], weight, own, n, n if row.release else 0.0, p0)))
    return cells


def printed_harm(
    compiled: Compiled, question: Question, medium: str, candidates: Sequence[Named]
) -> list[tuple[CPrint, Extra]]:
    """Reported harm to one medium as single cells."""
    order = {one.id: place for place, one in enumerate(candidates)}
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
        what = candidates[order[row.liquid]]
        p0 = compiled.harm_p0(row.medium or medium, row.paper, row.method, what)
        cells.append((row, Extra(order[row.liquid], weight, own, n, n if row.harm else 0.0, p0)))
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
    if not said or not asked:
        return UNSTATED
    media = compiled.media
    a = media[asked].kin if asked in media else ""
    b = media[said].kin if said in media else ""
    return medium_weight(asked, a, said, b)
