"""How well an order of liquids agrees with what reports in print say released, and with chance.

AUC: the chance that a liquid reported effective stands before another pure liquid. Crossed: every case is
given another case's effective liquids, so that the popularity of liquids stays and chemistry is lost; an
order whose score is no better than its crossed score knows no chemistry.
"""

from __future__ import annotations

import random
import statistics
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import msgspec

from kb.desk.choose.choose import choose
from kb.desk.studio import Studio
from kb.index.queries import entries
from kb.model.guidance import Report
from kb.model.question import Answer, Dials, Question

SHUFFLES = 150


class Case(NamedTuple):
    """One report: its question, the pure liquids it calls effective, and the tool's answer."""

    id: str
    wanted: frozenset[str]
    answer: Answer


def cases(studio: Studio, *, use_print: bool) -> list[Case]:
    """Every report with a stated adhesive and a pure liquid that released, asked on bare rag paper."""
    found = []
    for row in entries(studio.index.conn, "report"):
        report = msgspec.json.decode(row.body, type=Report)
        pure = {
            next(iter(one.parts))
            for one in report.liquids
            if one.result == "released" and len(one.parts) == 1
        }
        if not report.adhesive or not pure:
            continue
        asked = Question(
            adhesive=report.adhesive,
            stage=report.stage or "",
            carrier=report.carrier or "",
            medium="bare-paper",
            paper="paper-rag",
        )
        answer = choose(studio, asked, Dials(use_print=use_print), limit=1000)
        found.append(Case(row.id, frozenset(pure), answer))
    return found


def by_release(answer: Answer) -> dict[str, float]:
    """Chance of release of each pure liquid; those that a caution bars stand last."""
    lines = (*answer.suggestions, *answer.refused)
    scores = {one.liquid: one.release_general.p for one in lines if len(one.parts) == 1}
    return scores | {one.liquid: -1.0 for one in answer.vetoed}


def by_answer(answer: Answer) -> dict[str, float]:
    """Place in the list as it is shown: proposed, then held back, then barred."""
    lines = [one.liquid for one in (*answer.suggestions, *answer.refused) if len(one.parts) == 1]
    scores = {liquid: float(-place) for place, liquid in enumerate(lines)}
    return scores | {one.liquid: -1e6 for one in answer.vetoed}


def auc(scores: Mapping[str, float], wanted: frozenset[str]) -> float | None:
    """Chance that a wanted liquid scores above another; a tie counts half. None: nothing to compare."""
    good = [score for liquid, score in scores.items() if liquid in wanted]
    rest = [score for liquid, score in scores.items() if liquid not in wanted]
    if not good or not rest:
        return None
    wins = sum((a > b) + 0.5 * (a == b) for a in good for b in rest)
    return wins / (len(good) * len(rest))


def first_third(scores: Mapping[str, float], wanted: frozenset[str]) -> list[bool]:
    """For each wanted liquid, whether it stands in the first third."""
    order = sorted(scores, key=lambda liquid: -scores[liquid])
    third = set(order[: len(order) // 3])
    return [liquid in third for liquid in wanted if liquid in scores]


class Score(NamedTuple):
    """Mean over reports, with the same under crossed cases and the share of shuffles that do as well."""

    auc: float
    third: float
    crossed: float
    as_good: float


def score(tables: Sequence[Mapping[str, float]], wanted: Sequence[frozenset[str]]) -> Score:
    """AUC, share in the first third, crossed AUC."""
    true = _mean_auc(tables, wanted)
    thirds = [hit for table, good in zip(tables, wanted, strict=True) for hit in first_third(table, good)]
    rng = random.Random(20251128)
    crossed = []
    for _ in range(SHUFFLES):
        other = list(wanted)
        rng.shuffle(other)
        crossed.append(_mean_auc(tables, other))
    return Score(
        true, statistics.mean(thirds), statistics.mean(crossed), sum(c >= true for c in crossed) / SHUFFLES
    )


def _mean_auc(tables: Sequence[Mapping[str, float]], wanted: Sequence[frozenset[str]]) -> float:
    found = [auc(table, good) for table, good in zip(tables, wanted, strict=True)]
    return statistics.mean(one for one in found if one is not None)


def first_lines(found: Sequence[Case], count: int) -> tuple[float, float]:
    """Share of effective liquids inside the first ``count`` lines, and the mean of it over crossed cases."""
    inside = [{one for line in case.answer.groups[:count] for one in line.members} for case in found]
    wanted = [case.wanted for case in found]
    rng = random.Random(20251128)
    crossed = []
    for _ in range(SHUFFLES):
        other = list(wanted)
        rng.shuffle(other)
        crossed.append(_share(inside, other))
    return _share(inside, wanted), statistics.mean(crossed)


def _share(inside: Sequence[set[str]], wanted: Sequence[frozenset[str]]) -> float:
    return statistics.mean(
        liquid in lines for lines, good in zip(inside, wanted, strict=True) for liquid in good
    )
