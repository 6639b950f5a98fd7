"""The answer in words, the same on every screen."""

from __future__ import annotations

import re
from collections.abc import Sequence

from kb.model.question import Answer, Group, SeriesStep
from kb.science.numbers import counted, percent

HERE = "This sheet: "
"""So begins a warning that holds whatever the liquid."""
MOST_BARRED = 6
"""Names that are said of those barred for the same reason."""


def within(name: str) -> str:
    """A name as it stands within a sentence: "carbon ink (Chinese or India ink"."""
    return f"{name[:1].lower()}{name[1:]}"


def called(name: str) -> str:
    """A name within a sentence without what stands in brackets: copying (indelible) pencil is one too."""
    return within(re.sub(r" \([^)]*\)", "", name))


def alike(line: Group) -> str:
    """``, +10 alike``: how many liquids stand behind a leader."""
    more = len(line.members) - 1
    return f", +{more} alike" if more else ""


def numbers(answer: Answer) -> list[int]:
    """Place of each line among those proposed, from 1; 0 for one that is shown and not proposed.

    A line that is held back now may still be a later spot of the series: then it is proposed.
    """
    planned = {step.liquid for step in answer.series}
    found, place = [], 0
    for line in answer.groups:
        proposed = not line.held or line.looks > 0 or line.liquid in planned
        place += proposed
        found.append(place if proposed else 0)
    return found


def before(answer: Answer, line: Group, ceiling: float = 1.0) -> str:
    """What comes before the spot, or why there is none; and why one above the ``ceiling`` of harm is free."""
    if line.looks:
        said = f"; first {looks_at_a_margin(line.looks)}, then the spot"
    elif line.held and step_of(answer, line.liquid) is not None:
        said = f"; only in its place in the series, now held back: {line.held}"
    else:
        said = f"; not proposed: {line.held}" if line.held else _above(line, ceiling)
    said += "; only if the milder ones fail" if line.last_resort else ""
    return f"{said}; one that acts like it was tried here" if line.tried else said


def _above(line: Group, ceiling: float) -> str:
    from kb.science.choose.evidence import KEEP_FROM, safe_release

    one = line.lead
    if one is None or one.harm.high <= ceiling or safe_release(one.release.p, one.harm.p) <= KEEP_FROM:
        return ""
    upper = percent(one.harm.high, 1)
    return f"; harm up to {upper} is above your ceiling, but it rather releases without harm than not"


def looks_at_a_margin(looks: int) -> str:
    """``2 clean looks at a margin``."""
    return f"{'one clean look' if looks == 1 else f'{looks} clean looks'} at a margin"


def about(place: int) -> str:
    """Before the looks of a step of the series, by its place from 1: only those of the first are sure."""
    return "about " if place > 1 else ""


def mean_spots(spots: float) -> str:
    """``2 spots``, ``1.4 spots``: to a tenth, which a whole number does not show."""
    text = f"{spots:.1f}".removesuffix(".0")
    return f"{text} {'spot' if text == '1' else 'spots'}"


def series(answer: Answer) -> str:
    """The series in one sentence without its full stop; empty if there is none."""
    whole = answer.expected_spots
    if whole is None:
        return ""
    path = ", then ".join(one.name for one in answer.series)
    return (
        f"A series, each if the one before does not release: {path}. On average {mean_spots(whole.spots)}; a "
        f"safe release in {percent(whole.release)} of such sheets, harm on the way in "
        f"{percent(whole.harm)}"
    )


def series_in_short(answer: Answer) -> str:
    """The same in a few words; empty if there is none."""
    whole = answer.expected_spots
    if whole is None:
        return ""
    chances = f"about {mean_spots(whole.spots)}, released without harm in the end {percent(whole.release)}"
    return f"Series of {len(answer.series)} (E): {chances}."


def first_in_short(answer: Answer) -> str:
    """What comes before any liquid, in a few words; empty if nothing does."""
    look = "See first what it is (F5)." if answer.look_first else ""
    # A stop says itself that the carrier goes first, and why.
    lift = "Lift the carrier first." if answer.carrier_first and answer.stop is None else ""
    # What the sheet asks for whatever the liquid: the gravest stands first, and its first sentence says what.
    grave = next((one for one in answer.cautions if not one.startswith("note")), "")
    mind = f"Mind: {grave.partition(': ')[2].partition('. ')[0].rstrip('.')}." if grave else ""
    return " ".join(filter(None, (mind, look, lift)))


def step_of(answer: Answer, liquid: str) -> tuple[int, SeriesStep] | None:
    """The place of a liquid in the series, counted from 1, and its step; None if it has none."""
    return next(((n, one) for n, one in enumerate(answer.series, 1) if one.liquid == liquid), None)


def before_spot(place: int, step: SeriesStep) -> str:
    """``1. Ethanol, by swab; first one clean look at a margin (release about even, harm unlikely).``

    Of a later spot ``first about one clean look``: those before it count in the book too, once they are made.
    """
    from kb.science.choose.evidence import in_words

    first = f"; first {about(place)}{looks_at_a_margin(step.looks)}" if step.looks else ""
    chances = f"release {in_words(step.release)}, harm {in_words(step.harm)}"
    return f"{place}. {step.name}, by {step.method}{first} ({chances})."


def outcomes(step: SeriesStep) -> tuple[str, ...]:
    """What each outcome of a spot would mean."""
    return (
        f"If it releases: {step.if_releases}.",
        f"If it does not: {step.if_not}.",
        f"If it harms: {step.if_harms}.",
    )


def warnings(answer: Answer) -> list[str]:
    """What the sheet asks for first; then each warning about a leader once, with its lines, the widest first.

    A line is called by its number; by its name where it is not proposed and bears none.
    """
    of_sheet = [text for _, _, text in (one.partition(": ") for one in answer.cautions)]
    found: dict[str, list[int]] = {}
    for at, line in enumerate(answer.groups):
        for caution in line.lead.cautions if line.lead is not None else ():
            severity, _, text = caution.partition(": ")
            if severity != "note" and text not in of_sheet:
                found.setdefault(text, []).append(at)
    ordered = sorted(found.items(), key=lambda pair: (-len(pair[1]), pair[1]))
    called = [str(n or line.name) for n, line in zip(numbers(answer), answer.groups, strict=True)]
    here = [f"{HERE}{text}" for text in of_sheet]
    return here + [f"{some([called[at] for at in places], len(called))}: {text}" for text, places in ordered]


def barred(answer: Answer) -> list[str]:
    """What this sheet bars, with the reason; of what is barred anywhere only how many there are."""
    names: dict[str, list[str]] = {}
    for one in answer.vetoed:
        if one.here:
            names.setdefault(one.text, []).append(one.name)
    here = [f"Barred here: {some(sorted(found, key=_blend))}. {text}" for text, found in names.items()]
    never = sum(not one.here for one in answer.vetoed)
    said = f"{counted(never, 'liquid is', 'liquids are')} barred whatever the sheet (--json lists them)."
    return here + ([said] if never else [])


def _blend(name: str) -> bool:
    return "%" in name


def some(names: Sequence[str], most: int = MOST_BARRED, between: str = ", ") -> str:
    """The first few and how many more; "Xylene, mixed isomers" is one."""
    more = len(names) - most
    between = "; " if between == ", " and any(", " in one for one in names[:most]) else between
    return between.join(names[:most]) + (f" and {more} more" if more > 0 else "")


def either(names: Sequence[str]) -> str:
    """``water, ethanol or acetone``."""
    return " or ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))
