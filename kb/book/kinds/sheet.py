"""A sheet as an object."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import (
    MayBe,
    Photos,
    Remarks,
    Signs,
    check_humidity,
    check_may_be,
    length,
    may_be_words,
)
from kb.model.record import BookStruct


def _size(side: str) -> Says:
    return length(side, hint="such as 410 x 560 mm; no unit: mm", asked="size", form="Size", reads="size")


def _humidity(end: str) -> Says:
    hint = "of the place it is for: 40-60 %"
    return Says(
        f"humidity, {end}",
        "",
        hint,
        unit="% RH",
        asked="humidity",
        form="Humidity",
        low=0,
        high=100,
        reads="range",
    )


class Sheet(BookStruct, frozen=True, kw_only=True):
    """A sheet as an object. Its other records name it by its title, ``sheet``."""

    sheet: Annotated[str, Says("sheet", "Its title, by which all other records name it.", needed=True)]
    number: Annotated[str, Says("number", "Number of the owner or of the studio.")] = ""
    also: Annotated[
        tuple[str, ...],
        Says("also known as", "Earlier names, and those of sheets that were merged into it."),
    ] = ()
    owner: Annotated[str, Says("owner", hint="whose it is")] = ""
    maker: Annotated[str, Says("maker", "Who made the object, as far as known.")] = ""
    dated: Annotated[str, Says("dated", "Date of the object, in words.")] = ""
    width_mm: Annotated[float | None, _size("width")] = None
    height_mm: Annotated[float | None, _size("height")] = None
    thickness_mm: Annotated[float | None, Says("thickness", unit="mm", low=0, high=100, least=0.001)] = None
    grammage_g_m2: Annotated[float | None, Says("grammage", unit="g/m²", low=0, high=100_000)] = None
    mass_g: Annotated[
        float | None,
        Says("mass", "Dry mass, if it was weighed.", unit="g", low=0, high=1_000_000, least=0.001),
    ] = None
    grain: Annotated[Literal["", "width", "height"], Says("grain", "Edge along which the grain runs.")] = ""
    media_front: Annotated[
        tuple[str, ...],
        Says(
            "media front",
            "Media on the front, ids of the catalogue or words, each with its place if it matters.",
        ),
    ] = ()
    media_back: Annotated[tuple[str, ...], Says("media back", hint="media on the back")] = ()
    paper: Annotated[str, Says("paper", entries=("paper",))] = ""
    marks: Annotated[str, Says("marks", "Marks, stamps and labels on it, and where.")] = ""
    parts_with_it: Annotated[
        str, Says("what came with it", "Mount, frame, old housing, papers that belong to it.")
    ] = ""
    examined: Annotated[
        str,
        Says("examined", "For what purpose it was examined, in what circumstances, by what methods."),
    ] = ""
    earlier: Annotated[
        str, Says("earlier treatment", "Signs of earlier treatment, and where its records are.")
    ] = ""
    tapes: Annotated[str, Says("tapes", "What tapes, in words, and where.")] = ""
    identified: Annotated[
        str, Says("identified", "What the tape was identified as, on what grounds, and when.")
    ] = ""
    signs: Signs = ()
    may_be: MayBe = msgspec.field(default_factory=dict)
    humidity_low: Annotated[float | None, _humidity("lowest")] = None
    humidity_high: Annotated[float | None, _humidity("highest")] = None
    significance: Annotated[str, Says("significance", "What it matters for, and how it is used.")] = ""
    proposal: Annotated[str, Says("proposal", "What was proposed to the owner, with what it risks.")] = ""
    planned: Annotated[str, Says("materials planned", "Materials that were to be used, as proposed.")] = ""
    time_estimate: Annotated[str, Says("time estimated")] = ""
    cost_estimate: Annotated[str, Says("cost estimated", "If the agreement rests on it.")] = ""
    consent: Annotated[str, Says("consent", "Who agreed to the proposal, how and when.")] = ""
    departures: Annotated[
        str, Says("otherwise than proposed", "What was done otherwise than proposed, and why.")
    ] = ""
    learnt: Annotated[str, Says("learnt", "What the treatment brought to light of the object.")] = ""
    left: Annotated[str, Says("left", "What was left as it is, and why.")] = ""
    after: Annotated[str, Says("after", "Condition after treatment.")] = ""
    advice: Annotated[str, Says("advice", "Advice for keeping and handling.")] = ""
    photos: Photos = ()
    remarks: Remarks = ""


def _check(sheet: Sheet) -> None:
    check_may_be(sheet.may_be)
    check_humidity(sheet)


def size_words(sheet: Sheet) -> str:
    """``410 x 560 mm``; empty where a side is missing."""
    # One side alone is no size that a frame could be built to.
    if sheet.width_mm is None or sheet.height_mm is None:
        return ""
    return f"{sheet.width_mm:g} x {sheet.height_mm:g} mm"


def _words(sheet: Sheet, names: Names) -> tuple[str, ...]:
    return (sheet.sheet, sheet.number, size_words(sheet), sheet.owner)


SHEET = Kind(
    "sheet",
    "sheet",
    "sheets",
    Sheet,
    {"sheet": "-"},
    command="-",
    check=_check,
    words=_words,
    apart=frozenset({"also"}),
    # Chances are worked out from signs and shown as such beside what was typed.
    computed=lambda sheet: may_be_words(sheet.may_be),
)
