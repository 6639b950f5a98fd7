"""The series as a card for the bench: to be filled in by hand and typed in afterwards."""

from __future__ import annotations

import shlex

from kb.book.kinds.spot_test import HARM_KINDS, HARM_WORDS, RELEASE_WORDS
from kb.desk.choose.explain import DISCLAIMER
from kb.desk.choose.words import HERE, mean_spots
from kb.model.question import Answer, Question, SeriesStep
from kb.science.numbers import percent

TYPED_IN = (
    'Typed in afterwards, one line a spot: benchleaf test card{options} "LIQUID: 30s, release 2, bleed 0"'
)


def card(answer: Answer) -> str:
    """The card as plain text; of an answer without a series, what it says instead."""
    if not answer.series or answer.expected_spots is None:
        return answer.stop.text if answer.stop else answer.next_step
    whole = answer.expected_spots
    lines = [
        # Lines to write on: the card lies beside the sheet and is filled in by hand.
        f"SERIES OF SPOTS   sheet {answer.question.sheet or '_' * 20}   date __________   by __________",
        f"Expected: {mean_spots(whole.spots)}; safe release {percent(whole.release)}; "
        f"harm on the way {percent(whole.harm)}.",
        # What comes before any spot, and what the sheet asks for: the card is all that lies beside it.
        *filter(None, [*answer.other_ways, answer.look_first, answer.carrier_first]),
        *(f"{HERE}{one.partition(': ')[2]}" for one in answer.cautions),
        "",
    ]
    for number, step in enumerate(answer.series, start=1):
        lines += [*_step(number, step), ""]
    lines += [f"release: {'; '.join(RELEASE_WORDS)}", f"harm: {'; '.join(HARM_WORDS)}"]
    # As in the book: nothing ticked is not "no harm".
    lines += ["What is left empty was not looked at.", "", TYPED_IN.format(options=_options(answer.question))]
    return "\n".join([*lines, "", DISCLAIMER])


def _options(question: Question) -> str:
    """The question as options of the command, so that nobody has to type it again."""
    named = ("tape", "adhesive", "stage", "carrier", "medium", "paper", "method", "sheet")
    said = ((name, getattr(question, name)) for name in named)
    # Quoted for a shell, because the line is copied from the card.
    return "".join(f" --{name} {shlex.quote(value)}" for name, value in said if value)


def _step(number: int, step: SeriesStep) -> list[str]:
    looks = f"first {step.looks} x bare paper at a margin: clean? " + "[ ] " * step.looks
    return [
        f"{number}. {step.name}, by {step.method}   (release {percent(step.release)}, "
        f"harm {percent(step.harm)})",
        *([f"   {looks.rstrip()}"] if step.looks else []),
        # Three dwells, as practice is at least three rounds on one spot.
        "   place ______________   dwell ____ ____ ____ s   release ___",
        f"   {'   '.join(f'{kind} ___' for kind in HARM_KINDS)}",
        f"   releases: {step.if_releases}",
        f"   does not: {step.if_not}   harms: {step.if_harms}",
    ]
