"""A spot test: one liquid or blend, put on one spot, and what was seen."""

from __future__ import annotations

import math
from functools import cache
from typing import Annotated, Any, Literal

import msgspec

from kb.book.kinds.field import Says, check_own, is_day, is_moment, is_sha256
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import (
    BatchOrWords,
    MayBe,
    Photo,
    Remarks,
    SheetName,
    Signs,
    Site,
    check_may_be,
    may_be_words,
)
from kb.book.text import KEY_LIMIT
from kb.model.record import BookStruct
from kb.science.numbers import dwell_words

HARM_KINDS = ("bleed", "offset", "tideline", "gloss", "surface", "colour")
"""What harm is looked for: bleeding, offset to blotter, tideline, gloss, paper surface, colour."""
RELEASE_WORDS = (
    "0 no effect",
    "1 softens slightly",
    "2 swells, can be rolled off in part",
    "3 releases with light work",
    "4 releases clean",
)
HARM_WORDS = ("0 none seen", "1 trace", "2 visible on careful look", "3 clear change", "4 loss")
"""Of harm of any kind; ``harm_words`` says of one kind where a trace of it is seen."""
TRACE_SEEN = {
    "bleed": "on the blotter only",
    "offset": "on the blotter only",
    "tideline": "under a lens or UV only",
    "gloss": "in raking light only",
    "surface": "under a lens only",
    "colour": "beside an untreated spot only",
}
"""Common practice, no source."""
GRADES = range(5)
PARTS_TOLERANCE = 1e-6
MOST_PARTS = 40
"""Liquids in one blend. Nobody pours more; a line of thousands of shares only stops whoever reads it."""


def harm_words(kind: str) -> tuple[str, ...]:
    """The grades of one kind of harm in words."""
    none, trace, *more = HARM_WORDS
    return (none, f"{trace} {TRACE_SEEN[kind]}", *more)


Harm = Annotated[dict[str, int], Says("harm", "Harm seen, by kind; absent: not looked at.")]


class Round(BookStruct, frozen=True, kw_only=True):
    """One application on the spot. Practice is at least three rounds on one spot."""

    dwell_s: Annotated[float, Says("dwell", "How long the liquid stayed.", unit="s")]
    amount: Annotated[str, Says("amount", "How much was put on, in words.")] = ""
    wet: Annotated[str, Says("wet", "What was seen while wet.")] = ""
    dry: Annotated[str, Says("dry", "What was seen when dry.")] = ""

    def __str__(self) -> str:
        seen = (self.amount, self.wet and f"wet: {self.wet}", self.dry and f"dry: {self.dry}")
        return "; ".join((dwell_words(self.dwell_s), *(part for part in seen if part)))


def _entry(kind: str, meaning: str, label: str = "") -> Says:
    return Says(label or kind, meaning, entries=(kind,))


class SpotTest(BookStruct, frozen=True, kw_only=True):
    """One spot test.

    ``harm`` maps kinds of HARM_KINDS to grades 0-4; a kind that is absent was *not looked at* and
    never counts as no harm. ``parts`` are volume shares that sum to 1. ``release`` is None on a
    control or where no adhesive was tested.
    """

    adhesive: Annotated[str, _entry("adhesive", "Id of the adhesive in the catalogue.")] = ""
    stage: Annotated[str, _entry("stage", "Id of the ageing stage of the adhesive.")] = ""
    carrier: Annotated[str, _entry("carrier", "Id of the carrier of the tape: film, cloth, paper.")] = ""
    tape: Annotated[str, _entry("tape", "Id of the tape in the catalogue.")] = ""
    carrier_present: Annotated[
        bool | None,
        Says("carrier present", "Whether the carrier was still on the spot; false: residue only."),
    ] = None
    medium: Annotated[str, _entry("medium", "Id of the ink, paint or toner that lies within reach.")] = ""
    paper: Annotated[str, _entry("paper", "Id of the paper in the catalogue.")] = ""
    signs: Signs = ()
    may_be: MayBe = msgspec.field(default_factory=dict)
    parts: Annotated[
        dict[str, float],
        Says("liquid", "What was put on: each liquid of the blend, shares by volume."),
    ]
    # The usual way; it is written out in the book, so that a change of default cannot reach back.
    method: Annotated[str, _entry("method", "Id of the way in which the liquid was put on.")] = "swab"
    sheet: SheetName = ""
    site: Site = Site()
    rounds: Annotated[
        tuple[Round, ...], Says("round", "Each time that the liquid was put on.", numbered=True)
    ] = ()
    release: Annotated[
        int | None,
        Says(
            "release",
            "Release seen, 0 no effect to 4 releases clean; empty: not graded.",
            unit="grade 0-4",
            grades=RELEASE_WORDS,
        ),
    ] = None
    # By kind and not one figure: a kind that was not looked at must stay open.
    harm: Harm = msgspec.field(default_factory=dict)
    control: Annotated[bool, Says("control", "True for a control where no adhesive was treated.")] = False
    magnification: Annotated[
        str,
        Says(
            "magnification", "With which magnification the spot was looked at.", "such as 10x", form="Glass"
        ),
    ] = ""
    light: Annotated[
        str, Says("light", "In which light the spot was looked at.", "raking, UV, daylight ...")
    ] = ""
    photos: Annotated[tuple[Photo, ...], Says("photograph")] = ()
    batch: BatchOrWords = ""
    tested_at: Annotated[
        str, Says("tested at", "When the test was made, if not when it was written down (ISO 8601).")
    ] = ""
    remarks: Remarks = ""


def nothing_seen(test: SpotTest) -> bool:
    """Whether it says of nothing that was seen, nor in its remarks why not."""
    seen_wet_or_dry = any(one.wet or one.dry for one in test.rounds)
    after = any(one.when != "before" for one in test.photos)
    return test.release is None and not (test.harm or seen_wet_or_dry or after or test.remarks)


def check_test(test: SpotTest) -> SpotTest:
    """The same test, if its grades, shares, times and places can be. Raises ValueError in a sentence."""
    _check_parts(test.parts)
    if test.release is not None and test.release not in GRADES:
        raise ValueError(f"Release is graded 0 to 4, not {test.release}.")
    for kind, grade in test.harm.items():
        if kind not in HARM_KINDS:
            raise ValueError(f"{kind!r} is not a kind of harm; known are {', '.join(HARM_KINDS)}.")
        if grade not in GRADES:
            raise ValueError(f"Harm ({kind}) is graded 0 to 4, not {grade}.")
    for number, made in enumerate(test.rounds, 1):
        if not (math.isfinite(made.dwell_s) and made.dwell_s >= 0):
            raise ValueError(f"The dwell of round {number} is not a time in seconds: {made.dwell_s}.")
    # Looked at in the plain order of a form, so that the first thing wrong is the first on the screen.
    check_may_be(test.may_be)
    site = test.site
    if site.x_mm is not None or site.y_mm is not None:
        _check_place(site)
    for photo in test.photos:
        if not is_sha256(photo.sha256):
            raise ValueError(f"The photograph {photo.path!r} has no SHA-256 of 64 hex digits.")
    if test.tested_at and not (is_day(test.tested_at) or is_moment(test.tested_at)):
        raise ValueError(f"{test.tested_at!r} is not a date; write 2024-05-31 or 2024-05-31T14:30.")
    # Last: the rules of single fields are few here and the test's own sentences say more.
    check_own("test", test)
    return test


@cache
def usual_tests() -> msgspec.json.Decoder[SpotTest]:
    """Takes tests in which no single field can be wrong, as nearly all are, and says nothing of others.

    Narrower than `check_test`, so that the library alone sees to it: no figure that JSON writes with an
    exponent, and nothing where a rule looks further. ``method`` is empty where the test names none.
    """
    meta = msgspec.Meta
    figure = Annotated[float, meta(ge=1e-4, le=1e15)]
    grade = Annotated[int, meta(ge=GRADES[0], le=GRADES[-1])]
    name = Annotated[str, meta(min_length=1, max_length=KEY_LIMIT)]
    nothing = meta(max_length=0)
    site = _narrower(Site, ("x_mm", figure, 1.0), ("y_mm", figure, 1.0))
    test = _narrower(
        SpotTest,
        ("carrier_present", bool, False),
        ("may_be", Annotated[dict[str, float], nothing], {}),
        ("parts", Annotated[dict[name, figure], meta(max_length=MOST_PARTS)]),
        ("method", Annotated[str, meta(min_length=1)], ""),
        ("site", site, site()),
        ("rounds", tuple[_narrower(Round, ("dwell_s", figure)), ...], ()),  # type: ignore[misc]
        ("release", grade, 0),
        ("harm", dict[Literal[HARM_KINDS], grade], {}),  # type: ignore[valid-type]
        ("photos", Annotated[tuple[Photo, ...], nothing], ()),
        ("tested_at", Annotated[str, nothing], ""),
    )
    return msgspec.json.Decoder(test)


def _narrower(struct: type[msgspec.Struct], *fields: Any) -> Any:
    """A struct of the same fields, some of which take less."""
    return msgspec.defstruct("Usual", fields, bases=(struct,), frozen=True, kw_only=True, gc=False)


def _check_place(site: Site) -> None:
    for name, place_mm in (("x_mm", site.x_mm), ("y_mm", site.y_mm)):
        if place_mm is not None and not math.isfinite(place_mm):
            raise ValueError(f"The place of the spot ({name}) is not a length in mm: {place_mm}.")


def _check_parts(parts: dict[str, float]) -> None:
    if not parts:
        raise ValueError("The test names no liquid.")
    # The usual case first: this runs for each test of a book that is derived anew.
    if len(parts) == 1 and _is_plain(parts):
        return
    if len(parts) > MOST_PARTS:
        raise ValueError(f"The liquid has {len(parts):,} parts; at most {MOST_PARTS} are taken.")
    for name, share in parts.items():
        if not name.strip():
            raise ValueError("A part of the liquid has no name.")
        if len(name) > KEY_LIMIT:
            raise ValueError(f"The name {name[:40]!r}... of a part is longer than {KEY_LIMIT} characters.")
        if not (math.isfinite(share) and share > 0):
            raise ValueError(f"The share of {name} is {share}; shares are greater than 0.")
    total = math.fsum(parts.values())
    if abs(total - 1) > PARTS_TOLERANCE:
        raise ValueError(f"The shares of the liquid sum to {total:.6g}, not to 1.")


def _is_plain(parts: dict[str, float]) -> bool:
    """Whether it is all one liquid under a usable name, as in nearly every test."""
    ((name, share),) = parts.items()
    return share == 1.0 and len(name) <= KEY_LIMIT and bool(name.strip())


# The form of the spot test asks these in pairs and pop-ups; every other field follows from its declaration.
_APART = frozenset(
    (
        *("adhesive", "stage", "carrier", "tape", "carrier_present", "medium", "paper", "signs", "may_be"),
        *("parts", "method", "sheet", "site", "rounds", "release", "harm", "control", "photos", "batch"),
        "tested_at",
    )
)
TEST = Kind(
    "test",
    "spot test",
    "spot_tests",
    SpotTest,
    {"parts": {"water": 1.0}},
    command="-",
    called=("test", "tests"),
    check=check_test,
    apart=_APART,
    computed=lambda test: may_be_words(test.may_be),
    tables={
        "rounds": (
            "rounds",
            "Each time that the liquid was put on in a spot test: how long, how much, what was seen.",
        ),
        "harm": ("harm", "Harm in a spot test, one row for each kind looked at; no row: not looked at."),
        "parts": (
            "parts",
            "What was put on in a spot test: one row for each liquid of the blend, shares by volume.",
        ),
    },
)
