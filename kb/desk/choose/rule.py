"""Which cautions apply to a liquid in a question."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kb.index.compiled import MIN_SHARE, Compiled
from kb.model.guidance import ABOUT_LIQUID, Caution, When
from kb.model.question import Question

ORDER = {"stop": 0, "warn": 1, "note": 2}


def bearing(compiled: Compiled, questions: Sequence[Question]) -> list[Caution]:
    """Cautions whose condition about the sheet and the way of work is met, the most severe first.

    Several questions are the same question for several things the tape may be: one that meets is enough.
    """
    met = [
        caution
        for caution in compiled.cautions
        if any(_context(caution.when, question) for question in questions)
    ]
    return sorted(met, key=lambda caution: (ORDER[caution.severity], caution.id))


def applying(
    compiled: Compiled, cautions: Sequence[Caution], parts: Mapping[str, float]
) -> tuple[Caution, ...]:
    """Those of :func:`bearing` whose condition about the liquid this liquid or blend meets.

    Parts below 5 % by volume are passed over, as the condition's own definition says.
    """
    met = compiled.cautions_met(tuple([part for part, share in parts.items() if share >= MIN_SHARE]))
    return tuple([caution for caution in cautions if caution.id in met])


def _context(when: When, question: Question) -> bool:
    """Whether the question meets every condition about the sheet and the way of work."""
    pairs = (
        (when.tapes, question.tape),
        (when.adhesives, question.adhesive),
        (when.carriers, question.carrier),
        (when.stages, question.stage),
        (when.papers, question.paper),
        (when.methods, question.method),
    )
    # One medium within reach is enough: liquid runs to all of them.
    if when.media and not any(medium in when.media for medium in question.reach):
        return False
    return all(not wanted or found in wanted for wanted, found in pairs)


def about_this_sheet(when: When) -> bool:
    """Whether a condition is about the sheet or the way of work too, and not about the liquid alone."""
    return any(getattr(when, key) for key in When.__struct_fields__ if key not in ABOUT_LIQUID)
