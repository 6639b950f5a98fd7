"""From typed words to a spot test or a card of them, to changes of one, and to filters of a list.

A filled-in card of a series has one line for each spot; all are read before any is stored.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

import msgspec

from kb.book.kinds.field import asked
from kb.book.kinds.kind import Kind, plain_of
from kb.book.kinds.parts import Site
from kb.book.kinds.spot_test import HARM_KINDS, Round, SpotTest, nothing_seen
from kb.book.kinds.table import KINDS
from kb.desk.amounts import if_typed, millimetres, seconds
from kb.desk.choose.may_be import for_record, from_sheet, with_signs
from kb.desk.errors import DeskError, Unclear
from kb.desk.materials.resolve import carrier, optional, parts
from kb.desk.records.record import photo, storable
from kb.desk.studio import Studio
from kb.index.queries import sheet_as_known
from kb.index.rows import BARE_PAPER
from kb.model.question import Question
from kb.science.numbers import dwell_words

NOTHING_SEEN = (
    "Nothing that was seen is said, so nothing was recorded. Add --release 0-4, --harm KIND=0-4 for each "
    "kind looked at, or --wet and --dry; of a test that was broken off, say why in --remarks."
)


def grade(text: str, what: str) -> int:
    if text.strip() not in {"0", "1", "2", "3", "4"}:
        raise DeskError(f'The grade "{text}" of {what} is not one of 0, 1, 2, 3, 4.')
    return int(text)


def dwell(text: str) -> float:
    """How long a liquid stayed, s. Raises DeskError beyond what a crumb may lie in one."""
    found, longest = seconds(text), asked(KINDS["swelling"].type)["dwell"][0].says.high
    if found > longest:
        raise DeskError(f'The dwell "{text}" is more than {longest:,.0f} s. Nothing was recorded.')
    return found


def harm_grades(texts: list[str]) -> dict[str, int]:
    """``["bleed=0", "tideline=1"]`` -> grades; a kind that is not named was not looked at."""
    return {kind: given for kind, given in _harm_said(texts).items() if given is not None}


def _harm_said(texts: Iterable[str]) -> dict[str, int | None]:
    """The same, with None for a kind that is said not to have been looked at."""
    said: dict[str, int | None] = {}
    for text in texts:
        kind, sign, number = text.partition("=")
        kind = kind.strip().lower()
        if not sign or kind not in HARM_KINDS:
            raise DeskError(f'Harm "{text}" is not KIND=GRADE; kinds are {", ".join(HARM_KINDS)}.')
        not_looked = number.strip().lower() in {"-", "", "not looked"}
        said[kind] = None if not_looked else grade(number, kind)
    return said


def test_from_words(studio: Studio, words: dict[str, Any]) -> SpotTest:
    """A spot test from the options of ``test add``; every name may be typed loosely."""
    from kb.desk.making.batches import named
    from kb.desk.records.typed_fields import must_be_graded_fitly, must_lie_on, plain_from_words
    from kb.desk.records.work_records import done_at

    tape = optional(studio, "tape", words["tape"])
    _, tape_adhesive, tape_carrier = studio.compiled.tapes.get(tape, ("", "", ""))
    carrier_id = carrier(studio, words["carrier"]) or tape_carrier
    present = True if words["carrier_present"] else None
    if words["residue_only"] or carrier_id == "none-transfer":
        present = False
    release = words["release"]
    adhesive = optional(studio, "adhesive", words["adhesive"]) or tape_adhesive
    unknown = _unknown(studio, adhesive, words)
    made: SpotTest = KINDS["test"].type(
        tape=tape,
        adhesive=adhesive,
        signs=unknown.signs,
        may_be=for_record(unknown),
        **{name: optional(studio, name, words[name]) for name in ("stage", "medium", "paper")},
        carrier=carrier_id,
        carrier_present=present,
        parts=parts(studio, words["liquid"], words["blend"]),
        method=optional(studio, "method", words["method"]) or "swab",
        sheet=sheet_as_known(studio.index.conn, words["sheet"]),
        site=Site(words=words["site"], face=words["face"], x_mm=_edge(words["x"]), y_mm=_edge(words["y"])),
        rounds=_rounds(words),
        release=None if release in {None, "", "-"} else grade(str(release), "release"),
        harm=harm_grades(words["harm"]),
        control=bool(words["control"]),
        photos=(
            *(photo(path, "before") for path in words["photo_before"]),
            *(photo(path, "after") for path in words["photo_after"]),
        ),
        batch=named(studio, words["batch"]) if words["batch"].strip() else "",
        tested_at=done_at(words["tested_at"].strip()),
        **plain_from_words(studio, KINDS["test"], words),
    )
    must_lie_on(studio, made.sheet, (made.site.x_mm, made.site.y_mm))
    must_be_graded_fitly(made)
    if nothing_seen(made):
        raise DeskError(NOTHING_SEEN)
    return storable("test", made)


def _edge(text: str) -> float | None:
    return if_typed(millimetres, text)


def _unknown(studio: Studio, adhesive: str, words: dict[str, Any]) -> Question:
    """What an unknown tape may be: by the signs typed, else as it was identified on its sheet."""
    asked = Question(adhesive=adhesive, sheet=words["sheet"].strip())
    if adhesive or words["release"] in {None, "", "-"}:
        return asked  # where no release is graded, no adhesive was tested
    if words.get("sign"):
        from kb.desk.identify.identify import signs

        return with_signs(studio, asked, signs(studio, words["sign"]))
    return from_sheet(studio, asked)


def _rounds(words: dict[str, Any]) -> tuple[Round, ...]:
    """Rounds from lists that run side by side; the dwell is what makes a round."""
    dwells = words["dwell"]

    def at(name: str, place: int) -> str:
        return str(words[name][place]) if place < len(words[name]) else ""

    if any(len(words[name]) > len(dwells) for name in ("amount", "wet", "dry")):
        raise DeskError("There are more amounts or observations than dwells; give one dwell for each round.")
    return tuple(
        Round(dwell_s=dwell(text), amount=at("amount", n), wet=at("wet", n), dry=at("dry", n))
        for n, text in enumerate(dwells)
    )


def changes_from_words(studio: Studio, texts: list[str]) -> dict[str, Any]:
    """``["release=2", "remarks=..."]`` -> fields of a test; names are resolved as when adding."""
    from kb.desk.records.typed_fields import changes_from_words as of_kind

    return of_kind(studio, "test", texts, _change, "release=2")


def _change(studio: Studio, kind: Kind, field: str, value: str) -> dict[str, Any]:
    if field in {"tape", "adhesive", "stage", "medium", "paper", "method"}:
        return {field: optional(studio, field, value)}
    if field == "carrier":
        return {field: carrier(studio, value)}
    if field == "liquid":
        return {"parts": parts(studio, value)}
    if field == "blend":
        return {"parts": parts(studio, "", value)}
    if field == "release":
        return {field: None if value in {"", "-"} else grade(value, "release")}
    if field == "harm":
        # Kind by kind: what is not named stays as it is stored.
        said = _harm_said(value.replace(";", ",").replace(":", "=").split(","))
        return {f"harm.{kind}": given for kind, given in said.items()}
    if field in {"control", "carrier_present"}:
        answers = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
        if value.lower() not in answers:
            raise DeskError(f'"{value}" is neither yes nor no. Nothing was recorded.')
        return {field: answers[value.lower()]}
    if field == "tested_at":
        from kb.desk.records.work_records import done_at

        return {field: done_at(value)}
    plain = {word for key, group in plain_of(kind).items() for word in (key, group[0].name)}
    if "." in field or field in {*plain, "sheet", "batch", "photos", "rounds"}:
        from kb.desk.records.typed_fields import change

        return change(studio, kind, field, value)
    raise DeskError(f'"{field}" is not a field that can be amended this way.')


def filters_from_words(studio: Studio, words: dict[str, str]) -> dict[str, str]:
    """Filters of a list: names resolved, sheets and people as typed, blends by their canonical text."""
    filters: dict[str, str] = {}
    for field, text in words.items():
        if not text:
            continue
        if field in {"sheet", "who"}:
            filters[field] = text
        elif field == "carrier":
            filters[field] = carrier(studio, text)
        elif field == "liquid":
            from kb.science.liquids.blends import blend_id

            filters[field] = blend_id(_liquid_or_blend(studio, text))
        else:
            filters[field] = optional(studio, field, text)
    return filters


def _liquid_or_blend(studio: Studio, text: str) -> dict[str, float]:
    """Shares of a liquid by its name, else of a blend."""
    try:
        return parts(studio, text)
    except Unclear:
        if "," not in text and "+" not in text:
            raise
        return parts(studio, "", text)


# -- a filled-in card ----------------------------------------------------------------------------------------


HOW = 'Write for instance "n-heptane: 30s, 1min, release 2, bleed 0, tideline 1", or "water: look, all 0".'
BESIDE = (
    'Write beside the liquid, for instance, "30s, 1min, release 2, bleed 0, tideline 1", or "look, all 0".'
)
"""The same where the liquid stands already: its name and a colon are not understood there."""
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
        found.append(spot(asked, _liquid_or_blend(studio, liquid.strip()), rest, f"Spot {number}"))
    if not found:
        raise DeskError(f"The card holds no spot. {HOW}")
    return found


def spot(asked: Question, parts: dict[str, float], text: str, which: str) -> SpotTest:
    """One spot from the words beside its liquid. Raises DeskError that quotes what was not understood."""
    place = _AT.search(text)
    left = _AT.sub(" ", text)
    rounds = tuple(Round(dwell_s=dwell(one)) for one in _DWELL.findall(left))
    left = _DWELL.sub(" ", left)
    releases, harms = _RELEASE.findall(left), _HARM.findall(left)
    look = _LOOK.search(left) is not None
    for pattern in (_RELEASE, _HARM, _LOOK):
        left = pattern.sub(" ", left)
    unread = left.strip(" ,;.")
    if unread or len(releases) > 1:
        # A word with a figure stands for a kind of harm, by a name that it does not have here.
        named = f" Kinds of harm are {', '.join(HARM_KINDS)}." if re.search(r"[^\W\d] *\d", unread) else ""
        raise DeskError(f'{which}: "{unread or text.strip()}" is not understood. {BESIDE}{named}')
    harm: dict[str, int] = {}
    for kind, degree in harms:
        kinds = HARM_KINDS if kind.lower() == ALL else (kind.lower(),)
        harm.update(dict.fromkeys(kinds, grade(degree, which)))
    if look and releases:
        raise DeskError(f"{which}: a look on bare paper has no release.")
    if not releases and not harm:
        raise DeskError(f"{which}: no grade is said. {BESIDE}")
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
        return storable("test", msgspec.structs.replace(made, medium=BARE_PAPER, control=False))
    made = msgspec.structs.replace(
        made,
        **{name: getattr(asked, name) for name in ("tape", "adhesive", "stage", "carrier", "medium")},
        release=grade(releases[0], which) if releases else None,
        signs=() if asked.adhesive else asked.signs,
        may_be=for_record(asked),
    )
    return storable("test", made)


def graded(test: SpotTest) -> list[str]:
    """Dwells and grades as they were understood."""
    from kb.book.kinds.spot_test import RELEASE_WORDS, harm_words

    dwells = ", ".join(dwell_words(one.dwell_s) for one in test.rounds)
    harm = "; ".join(f"{kind} {harm_words(kind)[grade]}" for kind, grade in test.harm.items())
    release = RELEASE_WORDS[test.release] if test.release is not None else "not graded"
    return [f"dwell: {dwells or 'not said'}; release: {release}", f"harm: {harm or 'not looked at'}"]
