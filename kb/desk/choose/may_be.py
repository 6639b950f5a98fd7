"""What the tape may be, where it is not known: the answer is averaged over it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import msgspec

from kb.desk.studio import Studio
from kb.model.question import Possible, Question

LEAST = 0.02
"""Possibilities less likely than this are left out of the average. This project's own."""


class Component(NamedTuple):
    """One thing the tape may be: its weight, and the question as if it were known to be that."""

    weight: float
    question: Question


def components(studio: Studio, question: Question) -> list[Component]:
    """What to average over, the likeliest first; weights sum to 1.

    A known adhesive is one component. Else it is what the signs left possible, or any listed tape if
    nothing was looked at; a known stage or carrier narrows it.
    """
    if question.adhesive:
        return [Component(1.0, question)]
    possible = _narrowed(question.may_be or tuple(possible_from(studio, {})), question)
    weights: dict[tuple[str, str, str], float] = {}
    for one in possible:
        key = (one.adhesive, question.stage or one.stage, question.carrier or one.carrier)
        if not question.may_be:
            # With nothing looked at, carriers differ too little to be worth an average each.
            key = (key[0], key[1], question.carrier)
        weights[key] = weights.get(key, 0.0) + one.weight
    most = max(weights.values(), default=0.0)
    kept = sorted(
        ((weight, key) for key, weight in weights.items() if weight >= min(LEAST, most)),
        key=lambda pair: (-pair[0], pair[1]),
    )
    total = sum(weight for weight, _ in kept)
    if not total:
        return [Component(1.0, question)]
    return [
        Component(
            weight / total,
            msgspec.structs.replace(question, adhesive=adhesive, stage=stage, carrier=carrier),
        )
        for weight, (adhesive, stage, carrier) in kept
    ]


def _narrowed(possible: Iterable[Possible], question: Question) -> list[Possible]:
    """Those that agree with a carrier or stage that is known; all, if none does."""
    found = list(possible)
    for value, field in ((question.carrier, "carrier"), (question.stage, "stage")):
        agreeing = [one for one in found if getattr(one, field) == value]
        if value and agreeing:
            found = agreeing
    return found


def possible_from(studio: Studio, findings: dict[str, str]) -> list[Possible]:
    """What a tape with these signs may be."""
    from kb.desk.identify.identify import adhesive_mix, identify

    return [
        Possible(adhesive=adhesive, stage=stage, carrier=carrier, weight=weight)
        for adhesive, stage, carrier, weight in adhesive_mix(identify(studio, findings))
    ]
