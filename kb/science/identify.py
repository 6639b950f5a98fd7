"""What is it? Naive Bayes over hypotheses, and which look would tell most.

A hypothesis is a kind of tape in a stage of ageing. A look has findings; each hypothesis says how often it
shows each of them. ``likelihoods[look][hypothesis][finding]`` are those shares, and each row sums to 1.
Looks are taken as independent once the hypothesis is known: nothing better can be tabulated from words.

Sources of the method: T. Bayes (1763) and C. E. Shannon (1948), as in any textbook.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

Look = Sequence[Sequence[float]]
"""For each hypothesis the share of each finding."""

MISFIT = -2.5
"""Findings this many standard deviations less likely than expected are not explained. This project's own."""
FLAT = 0.9
"""From this share of the entropy before any sign on, nothing is told apart. This project's own."""


def posterior(
    prior: Sequence[float], likelihoods: Sequence[Look], findings: Mapping[int, int]
) -> list[float]:
    """Probability of each hypothesis after some findings (look number -> finding number).

    Sums of logarithms are exact, so the order of the findings changes nothing, not even the last digit.
    Raises ValueError if no hypothesis is possible.
    """
    terms = [
        math.fsum(
            [_log(chance), *(_log(likelihoods[look][place][found]) for look, found in findings.items())]
            # Summed exactly, so that findings typed in another order give the same last digit.
        )
        # A finding that a tape never shows rules it out here; the table keeps a least share, so it does not
        # happen.
        if chance > 0 and all(likelihoods[look][place][found] > 0 for look, found in findings.items())
        else -math.inf
        for place, chance in enumerate(prior)
    ]
    most = max(terms, default=-math.inf)
    if most == -math.inf:
        raise ValueError("no hypothesis is possible with these findings")
    # Less the largest: many findings make every weight too small for a number.
    weights = [math.exp(term - most) for term in terms]
    total = math.fsum(weights)
    return [weight / total for weight in weights]


def entropy(chances: Iterable[float]) -> float:
    """What is not known, in bits: 0 for certainty, log2(n) for n equal chances."""
    # Adding nothing turns a negative zero into a plain one.
    return -math.fsum(chance * math.log2(chance) for chance in chances if chance > 0) + 0.0


def evenness(chances: Sequence[float]) -> float:
    """Entropy as a share of the greatest possible: 0 certainty, 1 all equal (also if there is but one)."""
    return entropy(chances) / math.log2(len(chances)) if len(chances) > 1 else 1.0


def marginal(chances: Sequence[float], groups: Sequence[int], count: int) -> list[float]:
    """Probability of each of ``count`` groups; ``groups`` names the group of each hypothesis."""
    parts: list[list[float]] = [[] for _ in range(count)]
    for chance, group in zip(chances, groups, strict=True):
        parts[group].append(chance)
    return [math.fsum(part) for part in parts]


def collapsed(chances: Sequence[float], look: Look, groups: Sequence[int], count: int) -> list[list[float]]:
    """A look as each group shows it: the mean over its hypotheses, weighted by their probabilities.

    A group with no probability left has the plain mean.
    """
    totals = marginal(chances, groups, count)
    sizes = [0] * count
    for group in groups:
        sizes[group] += 1
    width = len(look[0])
    shares = [[0.0] * width for _ in range(count)]
    for chance, group, row in zip(chances, groups, look, strict=True):
        # A group that is ruled out still needs some look, and the mean is no worse than any.
        weight = chance / totals[group] if totals[group] > 0 else 1.0 / sizes[group]
        for found in range(width):
            shares[group][found] += weight * row[found]
    return shares


def expected_information(chances: Sequence[float], look: Look) -> float:
    """By how many bits a look lowers the entropy of the hypotheses on average; never below 0."""
    expected = 0.0
    for found in range(len(look[0])):
        joint = [chance * row[found] for chance, row in zip(chances, look, strict=True)]
        share = math.fsum(joint)
        if share > 0:
            expected += share * entropy(one / share for one in joint)
    return max(0.0, entropy(chances) - expected)


class Fit(NamedTuple):
    """How well one hypothesis explains the findings: ``score`` in standard deviations from expectation."""

    score: float
    odd: tuple[int, ...]
    """Looks whose finding the hypothesis shows less than a quarter as often as an even guess would."""

    @property
    def explained(self) -> bool:
        """Whether the findings are such as the hypothesis gives."""
        return self.score >= MISFIT


def fit(rows: Mapping[int, Sequence[float]], findings: Mapping[int, int]) -> Fit:
    """Compare the findings with what a hypothesis would give on average.

    ``rows`` are its shares for each look of ``findings``. The score is the logarithm of the likelihood less
    its expectation, over its standard deviation; 0 if there is nothing to compare.
    """
    got = expected = variance = 0.0
    odd = []
    for look, found in sorted(findings.items()):
        row = rows[look]
        logs = [_log(share) for share in row]
        mean = math.fsum(share * log for share, log in zip(row, logs, strict=True))
        got += logs[found]
        expected += mean
        variance += math.fsum(share * (log - mean) ** 2 for share, log in zip(row, logs, strict=True))
        if row[found] * len(row) < 0.25:
            odd.append(look)
    score = (got - expected) / math.sqrt(variance) if variance > 1e-12 else 0.0
    return Fit(score, tuple(odd))


def indistinguishable(
    looks: Iterable[Sequence[Sequence[float]]], among: Sequence[int], factor: float
) -> list[tuple[int, int]]:
    """Pairs of ``among`` (numbers of rows) that none of the looks can tell apart.

    A look tells two apart if some finding is more than ``factor`` times as frequent with one of them.
    """
    left = {(a, b) for place, a in enumerate(among) for b in among[place + 1 :]}
    limit = math.log(factor)
    for look in looks:
        left -= {
            (a, b)
            for a, b in left
            if any(abs(_log(p) - _log(q)) > limit for p, q in zip(look[a], look[b], strict=True))
        }
    return [pair for place, a in enumerate(among) for b in among[place + 1 :] if (pair := (a, b)) in left]


def _log(share: float) -> float:
    # A logarithm of nothing that can still be compared.
    return math.log(share) if share > 0 else -1e9
