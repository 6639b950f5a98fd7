"""A filled-in card of a series, typed in: one line for each spot, all read before any is stored."""

from __future__ import annotations

import re
from collections.abc import Iterable

import msgspec

from kb.book.kinds.parts import Site
from kb.book.kinds.spot_test import HARM_KINDS, Round, SpotTest
from kb.desk import amounts
from kb.desk.choose.may_be import for_record, from_sheet
from kb.desk.errors import DeskError, Unclear
from kb.desk.materials import resolve
from kb.desk.studio import Studio
from kb.index.compiled import BARE_PAPER
from kb.model.question import Question

HOW = 'Write for instance "n-heptane: 30s, 1min, release 2, bleed 0, tideline 1", or "water: look, all 0".'
ALL = "all"
"""Stands for every kind of harm."""
_DWELL = re.compile(r"\b(\d+:\d{2}|\d+(?:[.,]\d+)?\s*(?:s|sec|seconds?|min|minutes?|h))\b", re.IGNORECASE)
_RELEASE = re.compile(r"\b(?:release|r)\s*[=:]?\s*(\d+)", re.IGNORECASE)
_HARM = re.compile(rf"\b({'|'.join((*HARM_KINDS, ALL))})\s*[=:]?\s*(\d+)", re.IGNORECASE)
_LOOK = re.compile(r"\b(?:look|margin)\b", re.IGNORECASE)
_AT = re.compile(r"\bat\s+(.+)$", re.IGNORECASE)


def from_card(studio: Studio, asked: Question, lines: Iterable[str]) -> list[SpotTest]:
    """The spots of a card, each line ``LIQUID: dwells, grades``. Raises DeskError or Unclear; stores nothing.

    A line with the word look is a look on bare paper at a margin. What follows the word at is the place.
    """
    found = []
    asked = from_sheet(studio, asked)
    for number, text in enumerate((one for one in lines if one.strip()), start=1):
        liquid, colon, rest = text.partition(":")
        if not colon:
            raise DeskError(f'Spot {number}, "{text.strip()}", names no liquid before a colon. {HOW}')
        found.append(spot(asked, _parts(studio, liquid), rest, f"Spot {number}"))
    if not found:
        raise DeskError(f"The card holds no spot. {HOW}")
    return found


def spot(asked: Question, parts: dict[str, float], text: str, which: str) -> SpotTest:
    """One spot from the words beside its liquid. Raises DeskError that quotes what was not understood."""
    place = _AT.search(text)
    left = _AT.sub(" ", text)
    rounds = tuple(Round(dwell_s=amounts.seconds(one)) for one in _DWELL.findall(left))
    left = _DWELL.sub(" ", left)
    releases, harms = _RELEASE.findall(left), _HARM.findall(left)
    look = _LOOK.search(left) is not None
    for pattern in (_RELEASE, _HARM, _LOOK):
        left = pattern.sub(" ", left)
    unread = left.strip(" ,;.")
    if unread or len(releases) > 1:
        raise DeskError(f'{which}: "{unread or text.strip()}" is not understood. {HOW}')
    harm: dict[str, int] = {}
    for kind, grade in harms:
        kinds = HARM_KINDS if kind.lower() == ALL else (kind.lower(),)
        harm.update(dict.fromkeys(kinds, _grade(grade, which)))
    if look and releases:
        raise DeskError(f"{which}: a look on bare paper has no release.")
    if not releases and not harm:
        raise DeskError(f"{which}: no grade is said. {HOW}")
    made = SpotTest(
        parts=parts,
        method=asked.method,
        sheet=asked.sheet,
        paper=asked.paper,
        site=Site(words=place[1].strip() if place else ""),
        rounds=rounds,
        harm=harm,
    )
    if look:
        return msgspec.structs.replace(made, medium=BARE_PAPER, control=False)
    return msgspec.structs.replace(
        made,
        tape=asked.tape,
        adhesive=asked.adhesive,
        stage=asked.stage,
        carrier=asked.carrier,
        medium=asked.medium,
        release=_grade(releases[0], which) if releases else None,
        signs=() if asked.adhesive else asked.signs,
        may_be=for_record(asked),
    )


def _parts(studio: Studio, text: str) -> dict[str, float]:
    """A liquid by its name, else a blend."""
    try:
        return resolve.parts(studio, text.strip())
    except Unclear:
        if "," not in text and "+" not in text:
            raise
        return resolve.parts(studio, "", text.strip())


def _grade(text: str, which: str) -> int:
    if text not in {"0", "1", "2", "3", "4"}:
        raise DeskError(f"{which}: the grade {text} is not one of 0, 1, 2, 3, 4.")
    return int(text)


def graded(test: SpotTest) -> list[str]:
    """Dwells and grades as they were understood."""
    from kb.book.kinds.spot_test import RELEASE_WORDS, harm_words

    dwells = ", ".join(f"{one.dwell_s:g} s" for one in test.rounds)
    harm = "; ".join(f"{kind} {harm_words(kind)[grade]}" for kind, grade in test.harm.items())
    release = RELEASE_WORDS[test.release] if test.release is not None else "not graded"
    return [f"dwell: {dwells or 'not said'}; release: {release}", f"harm: {harm or 'not looked at'}"]
