"""A spot test while it is being written: texts as typed, and what they make when it is stored."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field, fields, replace
from functools import partial
from typing import NamedTuple, TypeVar, cast

from kb.book.kinds.kind import plain_of
from kb.book.kinds.parts import Face, Photo, Site
from kb.book.kinds.spot_test import HARM_KINDS, Round, SpotTest
from kb.book.kinds.table import KINDS
from kb.book.storage import from_home
from kb.desk import amounts
from kb.desk.errors import DeskError, Unclear
from kb.desk.materials import resolve
from kb.desk.studio import Studio
from kb.model.question import Question, Suggestion

T = TypeVar("T")
ROUNDS = 3
"""Practice is at least three rounds on one spot."""
NOT_LOOKED = 'Nothing was looked at for harm: that counts as "not looked", never as "no harm".'
NO_SHEET = "No sheet is named, so this test counts as of none."
STORES_WITHOUT = " Type it, or Ctrl+S once more stores without."
NO_ROUND = "No round has a dwell, so nobody can repeat this test."
HALF_A_PLACE = "Of the place only x or y is typed, so nobody finds it again."
LONGEST_DWELL_S = 7 * 24 * 3600.0
WIDEST_MM = 20_000.0


class Chosen(NamedTuple):
    """A liquid or blend that another screen hands over: its name, and shares by volume."""

    name: str
    parts: dict[str, float]


@dataclass
class RoundDraft:
    """One round as typed."""

    dwell: str = ""
    amount: str = ""
    wet: str = ""
    dry: str = ""

    @property
    def empty(self) -> bool:
        return not (self.dwell.strip() or self.amount.strip() or self.wet.strip() or self.dry.strip())


@dataclass
class Draft:
    """Every field of the form. Grades are digits, or empty for: not looked at."""

    question: Question
    about: str
    """The question in words."""
    parts: dict[str, float]
    """Shares of the liquid it was begun with; they hold while its name is not changed."""
    begun_with: str
    liquid_text: str
    method: str
    medium_name: str = ""
    """Name of the medium it was begun with."""
    medium: str = ""
    """The medium that the drop lay on, as typed."""
    sheet: str = ""
    site: str = ""
    face: str = ""
    x_mm: str = ""
    y_mm: str = ""
    carrier_present: str = ""
    """yes, residue, or empty for not said."""
    rounds: list[RoundDraft] = field(default_factory=lambda: [RoundDraft() for _ in range(ROUNDS)])
    release: str = ""
    harm: dict[str, str] = field(default_factory=dict)
    control: str = "test"
    photos: str = ""
    batch: str = ""
    plain: dict[str, str] = field(default_factory=dict)
    """What else the kind declares, by the word of the field, as typed."""
    aim: str = ""
    """Dwell at which the bell rings; not stored."""
    timed_round: int = 0
    """Which round the clock fills."""
    new_sheet: bool = False
    """Whether the sheet is to be founded with the test."""
    _begun: tuple[object, ...] = ()

    @classmethod
    def begin(cls, question: Question, one: Suggestion | Chosen, about: str, medium: str = "") -> Draft:
        """A draft filled from the question and the liquid of a row."""
        draft = cls(
            question=question,
            about=about,
            parts=dict(one.parts),
            begun_with=one.name,
            liquid_text=one.name,
            method=question.method,
            medium_name=medium,
            medium=medium,
            sheet=question.sheet,
        )
        draft._begun = draft._typed()
        return draft

    def _typed(self) -> tuple[object, ...]:
        left_out = {"question", "about", "parts", "_begun", "timed_round", "aim", "new_sheet"}
        values: list[object] = [getattr(self, one.name) for one in fields(self) if one.name not in left_out]
        rounds = [replace(one) for one in self.rounds if not one.empty]
        harm = {kind: grade for kind, grade in self.harm.items() if grade}
        plain = {key: text for key, text in self.plain.items() if text}
        return (*[value for value in values if not isinstance(value, (list, dict))], rounds, harm, plain)

    @property
    def dirty(self) -> bool:
        """Whether something was typed that leaving would lose."""
        return self._typed() != self._begun

    @property
    def says(self) -> str:
        """What it is about, among other drafts."""
        return f"a spot test of {self.liquid_text}{f' on {self.sheet}' if self.sheet else ''}"

    @property
    def harm_seen(self) -> list[str]:
        """``bleed 2``: kinds of harm with a grade above 0, as typed."""
        grades = ((kind, self.harm.get(kind, "")) for kind in HARM_KINDS)
        return [f"{kind} {grade}" for kind, grade in grades if grade not in {"", "0"}]

    def put(self, name: str, value: str) -> None:
        """Take over what stands in a line, by the name of the line."""
        first, _, rest = name.partition("-")
        place, _, column = rest.partition("-")
        if first == "harm":
            self.harm[rest] = value
        elif first == "round":
            if int(place) < len(self.rounds):
                setattr(self.rounds[int(place)], column, value)
        elif name in plain_of(KINDS["test"]):
            self.plain[name] = value
        elif name:
            setattr(self, name, value)

    @property
    def rounds_done(self) -> int:
        """Rounds with a dwell that is understood."""
        return sum(1 for one in self.rounds if one.dwell.strip() and not dwell_fault(one.dwell))

    @property
    def dwell_faults(self) -> list[str]:
        """Of each dwell that is not understood, why."""
        return [fault for one in self.rounds if (fault := dwell_fault(one.dwell))]

    def clock_stopped(self, seconds: float) -> int:
        """Write the dwell, in whole seconds as one reads it, into the round that is timed; its place."""
        while self.timed_round >= len(self.rounds):
            self.rounds.append(RoundDraft())
        self.rounds[self.timed_round].dwell = f"{int(seconds)}"
        return self.timed_round

    def clock_reset(self) -> None:
        """The next run of the clock belongs to the next round without a dwell."""
        empty = (place for place, one in enumerate(self.rounds) if not one.dwell.strip())
        self.timed_round = next(empty, len(self.rounds))

    def gaps(self) -> list[str]:
        """What a reader would miss; each is asked about once before storing."""
        found = []
        if not any(self.harm.values()):
            found.append(NOT_LOOKED)
        if self.control == "test" and not self.release:
            found.append("Release is not graded.")
        return found

    @property
    def may_pass_ink_by(self) -> bool:
        """Whether it looked at nothing that an ink can show, if the medium that is typed is one."""
        return bool(self._looks_missed(self.medium.strip()))

    @property
    def to_ask_about(self) -> bool:
        """Whether anything is typed that the desk could have a word against."""
        blend = len(self.parts) > 1 or any(sign in self.liquid_text for sign in ",+")
        return bool(self.batch.strip()) or blend or self.may_pass_ink_by

    def against(self, studio: Studio) -> tuple[str, ...]:
        """What speaks against the blend, the batch and what went into it, and the looks. For a thread."""
        from kb.desk.making.batches import named
        from kb.desk.materials.mixing import danger_words
        from kb.desk.records.work_records import batch_warnings

        batch = self.batch.strip()
        found = tuple(batch_warnings(studio, named(studio, batch), "")) if batch else ()
        # A medium that is none is refused where the rest is read.
        medium = _try({}, "medium", lambda: self._medium(studio)) or ""
        blend = _try({}, "liquid_text", lambda: self._parts(studio)) or {}
        return (*danger_words(studio, blend), *found, *self._looks_missed(medium))

    def _looks_missed(self, medium: str) -> tuple[str, ...]:
        from kb.desk.records.record import looks_missed

        return looks_missed(medium, self._grades(), control=self.control == "control")

    def _grades(self) -> dict[str, int]:
        return {kind: int(self.harm[kind]) for kind in HARM_KINDS if self.harm.get(kind)}

    def missing(self) -> dict[str, str]:
        """What a test may lack and seldom means to, each with the line that says it."""
        found = {} if self.sheet.strip() else {NO_SHEET: "field-sheet"}
        x, y = self.x_mm.strip(), self.y_mm.strip()
        # What is no number is refused anyway, with words of its own.
        if bool(x) != bool(y) and (x or y)[0].isdigit():
            found[HALF_A_PLACE] = "field-y_mm" if x else "field-x_mm"
        if all(one.empty for one in self.rounds):
            found[NO_ROUND] = "field-round-0-dwell"
        return found

    # -- what is stored --------------------------------------------------------------------------

    def test(self, studio: Studio) -> SpotTest:
        """The record. For a thread. Raises DeskError that names every field to be mended."""
        from kb.desk.choose.may_be import for_record
        from kb.desk.records.record import storable
        from kb.desk.records.typed_fields import must_lie_on, plain_from_words

        wrong: dict[str, str] = {}
        x_mm = _try(wrong, "x_mm", lambda: _millimetres("x", self.x_mm))
        y_mm = _try(wrong, "y_mm", lambda: _millimetres("y", self.y_mm))
        if not wrong:
            _try(wrong, "x_mm", lambda: must_lie_on(studio, self.sheet.strip(), (x_mm, y_mm)))
        parts = _try(wrong, "liquid_text", lambda: self._parts(studio)) or {"": 1.0}
        medium = _try(wrong, "medium", lambda: self._medium(studio)) or ""
        method = _try(wrong, "method", lambda: resolve.optional(studio, "method", self.method)) or "swab"
        rounds = [
            _try(wrong, f"round-{place}-dwell", partial(_round, place + 1, one))
            for place, one in enumerate(self.rounds)
            if not one.empty
        ]
        photos = _try(wrong, "photos", self._photos) or ()
        plain = (
            _try(wrong, "magnification", lambda: plain_from_words(studio, KINDS["test"], self.plain)) or {}
        )
        if wrong:
            error = DeskError(" ".join(wrong.values()))
            error.line = next(iter(wrong))
            raise error
        control = self.control == "control"
        asked = self.question
        made: SpotTest = KINDS["test"].type(
            adhesive=asked.adhesive,
            stage=asked.stage,
            carrier=asked.carrier,
            tape=asked.tape,
            carrier_present={"yes": True, "residue": False}.get(self.carrier_present),
            signs=() if asked.adhesive else asked.signs,
            may_be=for_record(asked),
            medium=medium,
            paper=asked.paper,
            parts=parts,
            method=method,
            sheet=self.sheet.strip(),
            site=Site(words=self.site.strip(), face=cast(Face, self.face), x_mm=x_mm, y_mm=y_mm),
            rounds=tuple(one for one in rounds if one is not None),
            release=int(self.release) if self.release and not control else None,
            harm=self._grades(),
            control=control,
            photos=photos,
            batch=self.batch.strip(),
            **plain,
        )
        return storable("test", made)

    def understood(self, studio: Studio, test: SpotTest) -> str:
        """Names for what was typed by hand otherwise; what the row brought stands on the form as it is."""
        from kb.desk.materials.names import Names

        names = Names(studio)
        pairs = (
            (self.liquid_text.strip(), self.begun_with, names.parts(test.parts)),
            (self.medium.strip(), self.medium_name, names.of("medium", test.medium)),
        )
        said = [f"{typed} = {name}" for typed, brought, name in pairs if typed not in {"", brought, name}]
        return f" Understood: {'; '.join(said)}." if said else ""

    def _parts(self, studio: Studio) -> dict[str, float]:
        if self.liquid_text.strip() == self.begun_with:
            return dict(self.parts)
        return typed_parts(studio, self.liquid_text)

    def _medium(self, studio: Studio) -> str:
        if self.medium == self.medium_name:
            return self.question.medium

        return resolve.optional(studio, "medium", self.medium)

    def _photos(self) -> tuple[Photo, ...]:
        """Paths with ``;`` between them, each with an optional ``before:``, ``during:`` or ``after:``."""
        from kb.desk.records.record import photo

        found = []
        for text in self.photos.split(";"):
            when, colon, path = text.strip().partition(":")
            if colon and when.strip().lower() in {"before", "during", "after"}:
                found.append(photo(from_home(path.strip()), when.strip().lower()))
            elif text.strip():
                found.append(photo(from_home(text.strip()), "after"))
        return tuple(found)


def typed_parts(studio: Studio, text: str) -> dict[str, float]:
    """Shares by liquid. A name is tried first, since names may hold commas and figures."""
    try:
        return resolve.parts(studio, liquid=text)
    except Unclear as unclear:
        if not re.search(r"[,:+/;]|\d", text):
            raise
        try:
            return resolve.parts(studio, blend=text)
        except DeskError as error:
            raise DeskError(f"{unclear} As a blend: {error}") from error


def _try(wrong: dict[str, str], line: str, make: Callable[[], T]) -> T | None:
    try:
        return make()
    except (DeskError, ValueError) as error:
        wrong[line] = str(error)
        return None


def _round(number: int, one: RoundDraft) -> Round:
    dwell_s = seconds(one.dwell, f"The dwell of round {number}")
    if dwell_s is None:
        raise ValueError(f"Round {number} has no dwell: type seconds such as 30, or 1:30.")
    return Round(dwell_s=dwell_s, amount=one.amount.strip(), wet=one.wet.strip(), dry=one.dry.strip())


def _millimetres(name: str, text: str) -> float | None:
    try:
        value = amounts.if_typed(amounts.millimetres, text)
    except DeskError:
        value = math.inf
    if value is not None and value > WIDEST_MM:
        raise ValueError(f'{name} is "{text.strip()}": type millimetres such as 12.5, or leave it empty.')
    return value


def dwell_fault(text: str) -> str:
    """Why a dwell as typed is not understood; empty if it is, or if there is none."""
    try:
        seconds(text)
    except ValueError as error:
        return str(error)
    return ""


def seconds(text: str, what: str = "The dwell") -> float | None:
    """``45``, ``45 s``, ``2 min``, ``1:30`` or ``1:02:03`` in seconds; None for an empty text.

    Raises ValueError in a sentence for anything else, and for more than a week.
    """
    if not text.strip():
        return None

    try:
        total = amounts.seconds(text)
    except DeskError:
        total = None
    if total is None or total > LONGEST_DWELL_S:
        raise ValueError(f'{what} is "{text.strip()}": type seconds such as 30, or minutes as 1:30.')
    return total
