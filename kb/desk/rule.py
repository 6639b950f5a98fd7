"""Which cautions apply to a liquid in a question."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from kb.index.compiled import MIN_SHARE, CLiquid, Compiled
from kb.model.guidance import Caution, When
from kb.model.question import Question

ORDER = {"stop": 0, "warn": 1, "note": 2}


def bearing(compiled: Compiled, question: Question) -> list[Caution]:
    """Cautions whose condition about the sheet and the way of work is met, the most severe first."""
    met = [caution for caution in compiled.cautions if _context(caution.when, question)]
    return sorted(met, key=lambda caution: (ORDER[caution.severity], caution.id))


def applying(
    compiled: Compiled, cautions: Sequence[Caution], parts: Mapping[str, float]
) -> tuple[Caution, ...]:
    """Those of :func:`bearing` whose condition about the liquid this liquid or blend meets.

    Parts below 5 % by volume are passed over, as the condition's own definition says.
    """
    liquids = [
        compiled.by_id[part] for part, share in parts.items() if share >= MIN_SHARE and part in compiled.by_id
    ]
    return tuple(caution for caution in cautions if _liquid(caution.when, liquids))


def _context(when: When, question: Question) -> bool:
    """Whether the question meets every condition about the sheet and the way of work."""
    pairs = (
        (when.tapes, question.tape),
        (when.adhesives, question.adhesive),
        (when.carriers, question.carrier),
        (when.stages, question.stage),
        (when.media, question.medium),
        (when.papers, question.paper),
        (when.methods, question.method),
    )
    return all(not wanted or found in wanted for wanted, found in pairs)


def _liquid(when: When, liquids: Iterable[CLiquid]) -> bool:
    """Whether one part meets every condition about the liquid."""
    if not (when.liquids or when.families or when.hazards or when.agents):
        return True
    return any(_part(when, liquid) for liquid in liquids)


def _part(when: When, liquid: CLiquid) -> bool:
    if when.liquids and liquid.id not in when.liquids:
        return False
    if when.families and liquid.family not in when.families and liquid.related not in when.families:
        return False
    if when.agents and liquid.agent not in when.agents:
        return False
    return not when.hazards or any(_has(code, liquid.statements) for code in when.hazards)


def _has(code: str, statements: tuple[str, ...]) -> bool:
    """``H360`` meets ``H360FD`` and ``H360 (...)``; EUH codes only themselves."""
    return any(statement.split(" ", 1)[0].startswith(code) for statement in statements)
