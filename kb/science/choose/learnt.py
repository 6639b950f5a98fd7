"""What a book teaches chemistry, and what a spot says of the stage: shifts of a chance on the logit scale.

Tests of one liquid on one adhesive say something about every liquid (this bench sees more release than
chemistry foresees), about the adhesive, about the family of the liquid, and about both together. All figures
in capitals are this project's own, found in simulation; ``scripts/simulate.py`` measures what they are worth.

The ageing stage is a mixture: what a spot says about it moves every other liquid. A failed aliphatic on oily
rubber makes it likelier that the rubber has cross-linked, and there polar liquids do better: they rise while
its kin fall.
"""

import math
from collections.abc import Iterable, Sequence
from operator import mul
from typing import NamedTuple

from kb.science.choose.acting import logistic, logit
from kb.science.choose.evidence import MEAN_LIMITS, Posterior

RELEASE_CREDIT = (-0.04, 0.08, 0.35, 0.67, 1.02)
"""What a release grade, 0 to 4, says of the chance of a release graded 3 or more."""
HARM_CREDIT = (-0.02, 0.35, 0.66, 0.89, 1.03)
"""What a harm grade, 0 to 4, says of the chance of harm graded 2 or more."""
STRENGTHS = (5.6, 4.2, 4.2, 2.8)
"""What holds back the shift by the whole book, the material, the family, and both: the information, in
n p (1 - p), of tests that went as expected. Shifts of 0.4 to 0.6 logits are usual then."""
MOST_SHIFT = 2.0
"""Logits beyond which tests elsewhere move no prior."""
GOOD_NEWS = 0.0
"""Share of a shift that makes harm less likely: none. To be wrong there costs a sheet, and on invented sheets
a half cost harms (DEVELOPERS.md). Tests that harmed nothing still speak for their own liquid and its like."""
# Less than a millionth of a test is what parts of tests leave by rounding.
_LEAST = 1e-6


class Seen(NamedTuple):
    """Tests of one sort, the events that chemistry expected, and those that were seen, by partial credit."""

    tests: float = 0.0
    expected: float = 0.0
    credit: float = 0.0


def shift(book: Seen, material: Seen, family: Seen, both: Seen) -> float:
    """Logits by which the prior of a liquid of that family on that material moves, at most MOST_SHIFT.

    The four shifts are found together, so that none takes what another explains: least squares over the tests
    of both, of the material alone, of the family alone and of neither, each shift held back by its strength.
    """
    # Each test in one of the four parts only, so that none is counted twice.
    alone = (
        both,
        _less(material, both),
        _less(family, both),
        _less(_less(book, material), _less(family, both)),
    )
    told = [_told(seen) if seen.tests > _LEAST else (0.0, 0.0) for seen in alone]
    (both_n, both_far), (here_n, here_far), (kin_n, kin_far), (rest_n, rest_far) = told
    # By which shifts bear on them: all four on tests of both, two on those of the material or family alone.
    on_material, on_family = both_n + here_n, both_n + kin_n
    far = both_n * both_far
    rows = [
        [on_material + kin_n + rest_n, on_material, on_family, both_n],
        [on_material, on_material, both_n, both_n],
        [on_family, both_n, on_family, both_n],
        [both_n, both_n, both_n, both_n],
    ]
    right = [far + here_n * here_far + kin_n * kin_far + rest_n * rest_far]
    right += [far + here_n * here_far, far + kin_n * kin_far, far]
    # Ridge least squares: the strengths on the diagonal hold each shift back by its own measure.
    for i, strength in enumerate(STRENGTHS):
        rows[i][i] += strength
        rows[i].append(right[i])
    # The four add up: a liquid of that family on that material feels all of them.
    return max(-MOST_SHIFT, min(sum(_solved(rows)), MOST_SHIFT))


def _less(a: Seen, b: Seen) -> Seen:
    return Seen(a.tests - b.tests, a.expected - b.expected, a.credit - b.credit)


def _told(seen: Seen) -> tuple[float, float]:
    """How much tests tell, n p (1 - p), and how far in logits they lie from what chemistry expected."""
    p = _chance(seen.expected / seen.tests)
    # One test as expected beside them: a single grade is no proof of a chance of 1.
    found = _chance((seen.credit + p) / (seen.tests + 1.0))
    return seen.tests * p * (1.0 - p), logit(found) - logit(p)


def _chance(p: float) -> float:
    # At 0 or 1 the logit is not finite.
    low, high = MEAN_LIMITS
    return low if p < low else min(p, high)


def _solved(rows: list[list[float]]) -> list[float]:
    """The solution of a small system whose last column is the right side; its diagonal is never zero.

    What is left of the diagonal afterwards means nothing.
    """
    size = len(rows)
    for i, first in enumerate(rows):
        # No search for a pivot: the strengths keep the diagonal away from zero.
        for number in range(i + 1, size):
            factor = rows[number][i] / first[i]
            rows[number] = [a - factor * b for a, b in zip(rows[number], first, strict=True)]
    found = [0.0] * size
    for i in reversed(range(size)):
        rest = sum(rows[i][j] * found[j] for j in range(i + 1, size))
        found[i] = (rows[i][size] - rest) / rows[i][i]
    return found


def shifted(p0: float, by: float) -> float:
    """A prior moved by so many logits."""
    return logistic(logit(p0) + by) if by else p0


def less_harm(by: float, good_news: float = GOOD_NEWS) -> float:
    """A shift of the chance of harm: bad news in full, good news at their share."""
    # Without the sum a share of none would leave a nought with a minus sign, which is shown.
    return by if by > 0.0 else good_news * by + 0.0


# A stage is judged by eye, so one named for sure would leave a failed spot nothing to say.
NAMED_STAGE = ((0.75, 0.2, 0.05), (0.2, 0.6, 0.2), (0.05, 0.2, 0.75))
"""How sure a named stage is, by position: a stage is seen and not measured. This project's own."""
UNKNOWN_STAGE = (1 / 3, 1 / 3, 1 / 3)


def reweighed(weights: Sequence[float], spots: Iterable[tuple[Sequence[float], bool]]) -> tuple[float, ...]:
    """Weights of the stages after spots; a spot is (chance of release at each stage, released?)."""
    found = list(weights)
    for chances, released in spots:
        # By the rule of Bayes: what happened is weighed by how likely each stage had made it.
        made = chances if released else [1.0 - p for p in chances]
        found = [w * p for w, p in zip(found, made, strict=True)]
    total = math.fsum(found)
    return tuple(w / total for w in found)


def moved(
    posterior: Posterior, chances: Sequence[float], before: Sequence[float], after: Sequence[float]
) -> Posterior:
    """A posterior shifted, in logits, by what the new weights of the stages change in its prior."""
    old, new = math.fsum(map(mul, before, chances)), math.fsum(map(mul, after, chances))
    # In logits, so that a chance near 0 or 1 moves as little as it should.
    mean, total = logistic(logit(posterior.mean) + logit(new) - logit(old)), posterior.total
    return Posterior(mean * total, (1.0 - mean) * total)
