"""Infill colour: toned papers against the sheet, near but still to be told apart."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal

from kb.desk.errors import DeskError
from kb.desk.materials.measured import Maker, Measured
from kb.desk.studio import Studio
from kb.model.question import Plain
from kb.science.sheet.colour import NEAR_TO, UNSEEN_BELOW, Lab, delta_e_2000, difference_in_words

Fit = Literal["too close", "near but detectable", "too far"]
MODEL = "CIEDE2000"
NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?")
ADVICE: dict[Fit, str] = {
    "too close": "Cannot be told apart by eye: mark the infill on the back, or tone it a little lighter.",
    "near but detectable": "Near, and still to be seen on a close look.",
    "too far": "Seen at once: tone again.",
}
SAME_WAY = (
    "Read all papers with one instrument, one geometry and the same backing; other readings do not compare."
)


class InfillView(Plain, frozen=True, kw_only=True):
    """One infill against the sheet."""

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
    plain = text.replace("\N{MINUS SIGN}", "-").replace(";", " ")
    found = [part for part in re.split(r"[\s/]+|,\s+", plain.strip()) if part]
    if len(found) == 3:
        found = [part.replace(",", ".") for part in found]
    if len(found) != 3 or not all(NUMBER.fullmatch(part) for part in found):
        raise DeskError(f'"{text}" is not a reading; write L a b, for instance "88.1 1.2 12.5".')
    one = Lab(*(float(part) for part in found))
    if not 0.0 <= one.lightness <= 100.0 or max(abs(one.a), abs(one.b)) > 200.0:
        raise DeskError(f'"{text}" is outside CIELAB: L runs from 0 to 100, a and b from about -128 to 127.')
    return one


def compare(studio: Studio, sheet: Lab, infills: Sequence[Lab]) -> InfillAnswer:
    """Each infill against the sheet, by CIEDE2000. Thresholds in words are from memory."""
    if not infills:
        raise DeskError("Give the reading of the sheet and then of at least one infill.")
    views = [_view(studio, number, sheet, one) for number, one in enumerate(infills, 1)]
    order: list[Fit] = ["near but detectable", "too close", "too far"]
    views.sort(key=lambda one: (order.index(one.fit), one.difference.value, one.number))
    return InfillAnswer(sheet=(sheet.lightness, sheet.a, sheet.b), infills=tuple(views), note=SAME_WAY)


def _view(studio: Studio, number: int, sheet: Lab, one: Lab) -> InfillView:
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
