"""Gather the counts that bear on a question, in the classes that :mod:`kb.science.pooling` wants."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from itertools import product
from typing import NamedTuple

from kb.index.compiled import Compiled, CPrint, Named
from kb.index.queries import blends, sums
from kb.index.tally import ANY
from kb.model.question import Question
from kb.science.evidence import discount
from kb.science.pooling import ZERO, Context, Extra, Sums
from kb.science.similarity import (
    UNSTATED,
    adhesive_weight,
    carrier_weight,
    liquid_weight,
    medium_weight,
    method_weight,
    paper_weight,
    stage_weight,
)

POSITIONS = ("0", "1", "2", "")
UNKNOWN_STAGE = 0.6
"""Similarity of stages when one of the two is not known: as of neighbours. This project's own."""


class Level(NamedTuple):
    """One way in which a feature relates to the question: how its sum is found, how like it is.

    ``plus`` and ``minus`` are key values: the class's sum is the sum at ``plus`` less that at ``minus``.
    """

    plus: str
    minus: str
    weight: float
    same: bool


class Gathered(NamedTuple):
    """Candidates in a fixed order with their kernel, and the sums of both events by class."""

    candidates: tuple[Named, ...]
    kernel: list[list[float]]
    release_contexts: list[Context]
    release_sums: list[list[Sums]]
    harm_contexts: list[Context]
    harm_sums: list[list[Sums]]


def gather(conn: sqlite3.Connection, compiled: Compiled, question: Question) -> Gathered:
    """All that the book knows for this question. Costs the same for a short book and a long one."""
    candidates = candidates_of(conn, compiled)
    order = {one.id: place for place, one in enumerate(candidates)}
    release = _release_classes(compiled, question)
    harm = _harm_classes(compiled, question)
    return Gathered(
        candidates,
        kernel_of(candidates),
        [Context(_weight(levels), _same(levels[:2])) for levels in release],
        _release_sums(conn, release, order),
        [Context(_weight(levels), _same(levels[:2])) for levels in harm],
        _harm_sums(conn, harm, order),
    )


def candidates_of(conn: sqlite3.Connection, compiled: Compiled) -> tuple[Named, ...]:
    """Every liquid of the catalogue, every blend in the book, and every blend reported in print."""
    found = {liquid.id: compiled.candidate(liquid.id, {liquid.id: 1.0}) for liquid in compiled.liquids}
    for liquid, parts in blends(conn):
        found.setdefault(liquid, compiled.candidate(liquid, json.loads(parts)))
    for row in compiled.printed:
        found.setdefault(row.liquid, compiled.candidate(row.liquid, row.parts))
    return tuple(found.values())


def kernel_of(candidates: Sequence[Named]) -> list[list[float]]:
    """Similarity of every two candidates."""
    size = len(candidates)
    kernel = [[0.0] * size for _ in range(size)]
    for i, one in enumerate(candidates):
        kernel[i][i] = 1.0
        for j in range(i):
            other = candidates[j]
            family = bool(one.related) and one.related == other.related
            kernel[i][j] = kernel[j][i] = liquid_weight(one.hansen, other.hansen, family, False)
    return kernel


def _weight(levels: Sequence[Level]) -> float:
    weight = 1.0
    for level in levels:
        weight *= level.weight
    return weight


def _same(levels: Sequence[Level]) -> bool:
    return all(level.same for level in levels)


def _release_classes(compiled: Compiled, question: Question) -> list[tuple[Level, ...]]:
    """Adhesive, stage, carrier and method levels in every combination."""
    adhesive = question.adhesive
    if adhesive:
        group = compiled.adhesives[adhesive].group if adhesive in compiled.adhesives else adhesive
        adhesives = _three(adhesive, group, adhesive_weight(adhesive, group, " ", group), 0.25)
    else:
        adhesives = [Level(ANY, "", 0.25, False)]
    stages = [
        Level(p, "", *_stage(compiled.stages.get(question.stage), int(p) if p else None)) for p in POSITIONS
    ]
    carriers = _two(question.carrier, carrier_weight("a", "b"))
    methods = _two(question.method, method_weight("a", "b"))
    return list(product(adhesives, stages, carriers, methods))


def _stage(asked: int | None, found: int | None) -> tuple[float, bool]:
    if asked is None or found is None:
        return UNKNOWN_STAGE, False
    return stage_weight(asked, found), asked == found


def _harm_classes(compiled: Compiled, question: Question) -> list[tuple[Level, ...]]:
    """Medium, paper and method levels in every combination."""
    medium = question.medium
    if medium:
        made_of = compiled.media.get(medium)
        kin = made_of.kin if made_of and made_of.kin else f"only {medium}"
        media = _three(medium, kin, medium_weight(medium, kin, " ", kin), 0.25)
    else:
        media = [Level(ANY, "", 0.25, False)]
    papers = _two(question.paper, paper_weight("a", "b"))
    methods = _two(question.method, method_weight("a", "b"))
    return list(product(media, papers, methods))


def _three(name: str, group: str, in_group: float, other: float) -> list[Level]:
    """The same, another of its group, any other."""
    return [
        Level(f"a:{name}", "", 1.0, True),
        Level(f"g:{group}", f"a:{name}", in_group, False),
        Level(ANY, f"g:{group}", other, False),
    ]


def _two(name: str, other: float) -> list[Level]:
    """The same or another. If the question does not know, every one is another."""
    if not name:
        return [Level(ANY, "", other, False)]
    return [Level(name, "", 1.0, True), Level(ANY, name, other, False)]


def _values(levels: Sequence[Level]) -> list[str]:
    return list(dict.fromkeys(v for level in levels for v in (level.plus, level.minus) if v))


def _spread(
    found: dict[tuple[str, ...], Sums], levels: Sequence[Level]
) -> Iterator[tuple[tuple[str, ...], int]]:
    """The keys whose sums make up one class, each with its sign."""
    choices = [
        ((level.plus, 1), (level.minus, -1)) if level.minus else ((level.plus, 1),) for level in levels
    ]
    for picked in product(*choices):
        sign = 1
        for _, one in picked:
            sign *= one
        yield tuple(key for key, _ in picked), sign


def _release_sums(
    conn: sqlite3.Connection, classes: list[tuple[Level, ...]], order: dict[str, int]
) -> list[list[Sums]]:
    columns = ("adhesive", "carrier", "method", "stage", "liquid")
    keys = [_values([levels[place] for levels in classes]) for place in (0, 2, 3)]
    found = sums(conn, "release_sum", columns, keys)
    # The table's key has the stage last but one, so that one range read brings all stages.
    arranged = [(a, c, m, s) for a, s, c, m in classes]
    return _by_class(found, arranged, order)


def _harm_sums(
    conn: sqlite3.Connection, classes: list[tuple[Level, ...]], order: dict[str, int]
) -> list[list[Sums]]:
    columns = ("medium", "paper", "method", "liquid")
    keys = [_values([levels[place] for levels in classes]) for place in (0, 1, 2)]
    return _by_class(sums(conn, "harm_sum", columns, keys), classes, order)


def _by_class(
    found: dict[tuple[str, ...], Sums], classes: Sequence[Sequence[Level]], order: dict[str, int]
) -> list[list[Sums]]:
    """For each liquid its sums in each class."""
    by_key: dict[tuple[str, ...], list[tuple[int, Sums]]] = {}
    for key, value in found.items():
        place = order.get(key[-1])
        if place is not None:
            by_key.setdefault(key[:-1], []).append((place, value))
    table = [[ZERO] * len(classes) for _ in order]
    for number, levels in enumerate(classes):
        for key, sign in _spread(found, levels):
            for place, value in by_key.get(key, ()):
                table[place][number] = _plus(table[place][number], value, sign)
    return table


def _plus(total: Sums, value: Sums, sign: int) -> Sums:
    if total is ZERO and sign == 1:
        return value
    return Sums(*[a + sign * b for a, b in zip(total, value, strict=True)])


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
        if weight < 0.1:
            continue
        own = row.adhesive == question.adhesive != "" and row.stage == question.stage != ""
        n = discount(row.tests)
        what = candidates[order[row.liquid]]
        p0 = compiled.release_p0(row.adhesive or question.adhesive, row.stage, row.carrier, row.method, what)
        cells.append((row, Extra(order[row.liquid], weight, own, n, n if row.release else 0.0, p0)))
    return cells


def printed_harm(
    compiled: Compiled, question: Question, candidates: Sequence[Named]
) -> list[tuple[CPrint, Extra]]:
    """Reported harm as single cells."""
    order = {one.id: place for place, one in enumerate(candidates)}
    cells = []
    for row in compiled.printed:
        if row.harm is None:
            continue
        weight = (
            _medium(compiled, question.medium, row.medium)
            * (paper_weight(question.paper, row.paper) if row.paper else UNSTATED)
            * (method_weight(question.method, row.method) if row.method else UNSTATED)
        )
        if weight < 0.1:
            continue
        own = row.medium == question.medium != "" and row.paper == question.paper != ""
        n = discount(row.tests)
        what = candidates[order[row.liquid]]
        p0 = compiled.harm_p0(row.medium or question.medium, row.paper, row.method, what)
        cells.append((row, Extra(order[row.liquid], weight, own, n, n if row.harm else 0.0, p0)))
    return cells


def _adhesive(compiled: Compiled, asked: str, said: str) -> float:
    if not said or not asked:
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
