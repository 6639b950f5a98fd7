"""The ageing stage as a mixture: what a spot says about it moves every other liquid.

A failed aliphatic on oily rubber makes it likelier that the rubber has cross-linked, and there polar
liquids do better: they rise while its kin fall.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from operator import mul

from kb.science.choose.acting import logistic, logit
from kb.science.choose.evidence import Posterior

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
