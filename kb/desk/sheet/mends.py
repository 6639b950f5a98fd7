"""Mends and infills on a sheet as they were made, the colour of toned papers against it, and toning tests."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Literal

from kb.book.kinds.toning import Toning, difference
from kb.desk.amounts import three
from kb.desk.errors import DeskError
from kb.desk.materials.measured import Maker, Measured
from kb.desk.studio import Studio
from kb.model.question import Plain
from kb.science.quantities import parse_number
from kb.science.sheet.colour import NEAR_TO, UNSEEN_BELOW, Lab, delta_e_2000, difference_in_words

Fit = Literal["too close", "near but detectable", "too far"]
MODEL = "CIEDE2000"
ADVICE: dict[Fit, str] = {
    "too close": "Cannot be told apart by eye: mark the infill on the back, or tone it a little lighter.",
    "near but detectable": "Near, and still to be seen on a close look.",
    "too far": "Seen at once: tone again.",
}
SAME_WAY = (
    "Read all papers with one instrument, one geometry and the same backing; other readings do not compare."
)


class InfillView(Plain, frozen=True, kw_only=True):
    number: int
    reading: tuple[float, float, float]
    difference: Measured
    words: str
    fit: Fit
    advice: str
    lighter: Measured
    redder: Measured
    yellower: Measured


class InfillAnswer(Plain, frozen=True, kw_only=True):
    """All infills, the best first: near but detectable, then by how near."""

    sheet: tuple[float, float, float]
    infills: tuple[InfillView, ...]
    note: str


def lab(text: str) -> Lab:
    """A reading from ``88.1 1.2 12.5``. Raises DeskError for anything but three numbers."""
    try:
        # Of a comma in 1,000 only one reading is a colour.
        lightness, a, b = (parse_number(part, 200.0) for part in three(text))
    except ValueError:
        raise DeskError(f'"{text}" is not a reading; write L a b, for instance "88.1 1.2 12.5".') from None
    one = Lab(lightness, a, b)
    if not 0.0 <= one.lightness <= 100.0 or max(abs(one.a), abs(one.b)) > 200.0:
        raise DeskError(f'"{text}" is outside CIELAB: L runs from 0 to 100, a and b from about -128 to 127.')
    return one


def compare(studio: Studio, sheet: Lab, infills: Sequence[Lab]) -> InfillAnswer:
    """Each infill against the sheet, by CIEDE2000. Thresholds in words are from memory."""
    if not infills:
        raise DeskError("Give the reading of the sheet and then of at least one infill.")
    views = [_infill_view(studio, number, sheet, one) for number, one in enumerate(infills, 1)]
    order: list[Fit] = ["near but detectable", "too close", "too far"]
    views.sort(key=lambda one: (order.index(one.fit), one.difference.value, one.number))
    return InfillAnswer(sheet=(sheet.lightness, sheet.a, sheet.b), infills=tuple(views), note=SAME_WAY)


def _infill_view(studio: Studio, number: int, sheet: Lab, one: Lab) -> InfillView:
    make = Maker(studio)
    delta = delta_e_2000(sheet, one)
    fit = fit_of(delta)
    return InfillView(
        number=number,
        reading=(one.lightness, one.a, one.b),
        difference=make.one(delta, "dE00", MODEL, ("computed",)),
        words=difference_in_words(delta),
        fit=fit,
        advice=ADVICE[fit],
        lighter=make.one(one.lightness - sheet.lightness, "L*", "difference", ("computed",)),
        redder=make.one(one.a - sheet.a, "a*", "difference", ("computed",)),
        yellower=make.one(one.b - sheet.b, "b*", "difference", ("computed",)),
    )


def fit_of(delta: float) -> Fit:
    """Near but detectable: seen by most people, and not seen at once."""
    if delta < UNSEEN_BELOW.high:
        return "too close"
    return "near but detectable" if delta <= NEAR_TO else "too far"


NOT_READ = "no difference is computed: the colour was not read on both"


def against(toning: Toning) -> Iterator[str]:
    """What speaks against it besides its batches."""
    if toning.bleeds in {"slightly", "yes"}:
        yield "The dry colour gives off on a damp swab: do not use it where paste or water comes near."


def notes(studio: Studio, toning: Toning) -> tuple[str, ...]:
    """How near it came and what to do, in one line."""
    found = difference(toning)
    said = NOT_READ if found is None else difference_in_words(found)
    return (_verdict(said, ADVICE[fit_of(found)] if found is not None else ""),)


def answer(studio: Studio, toning: Toning) -> dict[str, Any]:
    """The difference, with its mark, how well it fits, and what to do."""
    found = difference(toning)
    fit: Fit | Literal[""] = "" if found is None else fit_of(found)
    return {
        "difference": None if found is None else Maker(studio).one(found, "dE00", MODEL, ("computed",)),
        "difference_words": NOT_READ if found is None else difference_in_words(found),
        "fit": fit,
        "advice": ADVICE[fit] if fit else "",
        "verdict": notes(studio, toning)[0],
    }


def _verdict(said: str, advice: str) -> str:
    if advice.casefold().startswith(said):
        return advice
    return f"{said[:1].upper()}{said[1:]}. {advice}".rstrip()


def said(studio: Studio, toning: Toning) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """How it is understood while it is typed: the difference, as soon as both readings are there."""
    found = difference(toning)
    if found is None:
        return (
            ("The difference shows here as soon as both readings are typed: L a b of the sheet and dry.",),
            (),
        )
    words = f"Difference (CIEDE2000) {found:.1f}: {difference_in_words(found)}. {ADVICE[fit_of(found)]}"
    return ((words,), ())
