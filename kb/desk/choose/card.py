"""The series as a card for the bench: to be filled in by hand and typed in afterwards."""

from __future__ import annotations

from kb.book.kinds.spot_test import HARM_WORDS, RELEASE_WORDS
from kb.desk.choose.explain import DISCLAIMER
from kb.model.question import Answer, SeriesStep


def card(answer: Answer) -> str:
    """The card as plain text; of an answer without a series, what it says instead."""
    if not answer.series or answer.expected_spots is None:
        return answer.stop.text if answer.stop else answer.next_step
    whole = answer.expected_spots
    lines = [
        "SERIES OF SPOTS   sheet ____________________   date __________   by __________",
        f"Expected: {whole.spots:.1f} spots; safe release {whole.release:.0%}; "
        f"harm on the way {whole.harm:.0%}.",
        "",
    ]
    for number, step in enumerate(answer.series, start=1):
        lines += [*_step(number, step), ""]
    lines += [f"release: {'; '.join(RELEASE_WORDS)}", f"harm: {'; '.join(HARM_WORDS)}", "", DISCLAIMER]
    return "\n".join(lines)


def _step(number: int, step: SeriesStep) -> list[str]:
    looks = f"first {step.looks} x bare paper at a margin: clean? " + "[ ] " * step.looks
    return [
        f"{number}. {step.name}, by {step.method}   (release {step.release:.0%}, harm {step.harm:.0%})",
        *([f"   {looks.rstrip()}"] if step.looks else []),
        "   dwell ______ s   release 0 1 2 3 4   harm 0 1 2 3 4   kind ____________",
        f"   releases: {step.if_releases}",
        f"   does not: {step.if_not}   harms: {step.if_harms}",
    ]
