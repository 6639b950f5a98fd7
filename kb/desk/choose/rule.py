"""Which cautions apply to a liquid in a question."""

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from kb.index.compiled import MIN_SHARE, Compiled
from kb.model.guidance import ABOUT_LIQUID, Caution, When
from kb.model.question import Question

ORDER = {"stop": 0, "warn": 1, "note": 2}
KEYS = {
    "tapes": "tape",
    "adhesives": "adhesive",
    "carriers": "carrier",
    "stages": "stage",
    "papers": "paper",
    "methods": "method",
}
"""Keys of a condition that ask for one field of the question."""


CAUTION_FROM = 0.1
"""A caution about what the tape may be is raised from this chance on: one about what it hardly is would bar
liquids for nothing. This project's own."""


def bearing(compiled: Compiled, may_be: Sequence[tuple[float, Question]]) -> dict[str, Caution]:
    """Cautions by id whose condition about the sheet and the way of work is met, the most severe first.

    Where the tape is not known they are held against all that it may be, together: ten tapes of one adhesive
    that are each unlikely make that adhesive likely, and what is within reach is met whatever the tape is.
    ``may_be`` holds the chance of each and the question as if the tape were that.
    """
    return _met(compiled.kept("rules", None, lambda: _rules(compiled.cautions)), may_be)


def of_sheet(compiled: Compiled, may_be: Sequence[tuple[float, Question]]) -> list[Caution]:
    """Those of :func:`bearing` that hold whatever the liquid: a photograph, loose powder, hard rubber."""
    rules = compiled.kept(
        "rules of sheet",
        None,
        lambda: _rules(
            one for one in compiled.cautions if about_this_sheet(one.when) and not about_liquid(one.when)
        ),
    )
    return list(_met(rules, may_be).values())


def _met(rules: Sequence["_Rule"], may_be: Sequence[tuple[float, Question]]) -> dict[str, Caution]:
    asked = [(weight, question, question.reach) for weight, question in may_be]
    return {
        rule.caution.id: rule.caution
        for rule in rules
        # Most rules ask for the liquid alone.
        if not (rule.keys or rule.media)
        or sum([weight for weight, question, reach in asked if _context(rule, question, reach)])
        >= CAUTION_FROM
    }


class _Rule(NamedTuple):
    """A caution and what must be met of a question: any value of each key, and any medium within reach."""

    caution: Caution
    keys: tuple[tuple[str, frozenset[str]], ...]
    media: frozenset[str]


def _rules(cautions: Iterable[Caution]) -> list[_Rule]:
    found = []
    for one in sorted(cautions, key=lambda one: (ORDER[one.severity], one.id)):
        pairs = ((key, getattr(one.when, many)) for many, key in KEYS.items())
        keys = tuple([(key, frozenset(wanted)) for key, wanted in pairs if wanted])
        found.append(_Rule(one, keys, frozenset(one.when.media)))
    return found


def meets(compiled: Compiled, parts: Mapping[str, float]) -> frozenset[str]:
    """Ids of the cautions whose condition about the liquid this liquid or blend meets.

    Parts below 5 % by volume are passed over, as the condition's own definition says.
    """
    return compiled.cautions_met(tuple([part for part, share in parts.items() if share >= MIN_SHARE]))


def applying(cautions: Mapping[str, Caution], met: frozenset[str]) -> tuple[Caution, ...]:
    """Those of :func:`bearing` that a liquid which meets these has to mind."""
    return tuple([caution for name, caution in cautions.items() if name in met])


def _context(rule: _Rule, asked: Question, reach: Sequence[str]) -> bool:
    """Whether the question meets every condition about the sheet and the way of work."""
    # One medium within reach is enough: liquid runs to all of them.
    if rule.media and rule.media.isdisjoint(reach):
        return False
    return all(getattr(asked, key) in wanted for key, wanted in rule.keys)


def about_this_sheet(when: When) -> bool:
    """Whether a condition is about the sheet or the way of work too, and not about the liquid alone."""
    return any(getattr(when, key) for key in When.__struct_fields__ if key not in ABOUT_LIQUID)


def about_liquid(when: When) -> bool:
    """Whether a condition says anything about the liquid."""
    return any(getattr(when, key) for key in ABOUT_LIQUID)


def with_advice(caution: Caution) -> str:
    """What a rule says, and where it is about this sheet what to do instead."""
    return f"{caution.text} {caution.instead}".strip() if about_this_sheet(caution.when) else caution.text
