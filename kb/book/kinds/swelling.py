"""A crumb of a material, or a mock-up of it, in a liquid: how far it swells or dissolves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import Remarks, moment
from kb.model.record import BookStruct
from kb.science.numbers import dwell_words

MATERIAL = ("polymer", "medium", "adhesive")
"""A sphere belongs to a polymer or to the binder of an ink; an adhesive stands for its base polymer."""
GRADES = ("nothing", "softens at the edge", "swells", "swells and falls apart", "dissolves")


class Swelling(BookStruct, frozen=True, kw_only=True):
    """One crumb or mock-up in one liquid. Not made on a sheet, so it says nothing of paper or of release."""

    material: Annotated[
        str,
        Says(
            "material",
            "Id of a polymer, medium or adhesive, or plain words.",
            "a polymer, an ink or an adhesive",
            needed=True,
            entries=MATERIAL,
        ),
    ]
    liquid: Annotated[
        str,
        Says("liquid", "Id of the liquid in the catalogue.", "one liquid", needed=True, entries=("liquid",)),
    ]
    grade: Annotated[
        int,
        Says(
            "grade",
            "How far it went: 0 nothing, 1 softens at the edge, 2 swells, 3 falls apart, 4 dissolves.",
            "0 nothing to 4 dissolves",
            unit="0 to 4",
            low=0,
            high=4,
            what="a grade",
            needed=True,
            grades=GRADES,
        ),
    ]
    piece: Annotated[
        Literal["", "crumb", "mock-up", "film"],
        Says("piece", "What was tried.", "crumb, mock-up or film", empty="not said"),
    ] = ""
    dwell_s: Annotated[
        float | None, Says("time in the liquid", "Time in the liquid.", "s", unit="s", low=0, high=10_000_000)
    ] = None
    temperature_c: Annotated[
        float | None, Says("temperature", "Temperature of the liquid.", unit="°C", low=-20, high=200)
    ] = None
    origin: Annotated[str, Says("taken from", "Where the crumb comes from, or how the mock-up was made.")] = (
        ""
    )
    tested_at: Annotated[str, moment("tested at", "Tested on")] = ""
    remarks: Remarks = ""


def _words(test: Swelling, names: Names) -> Iterator[str]:
    dwell = "" if test.dwell_s is None else f" in {dwell_words(test.dwell_s)}"
    material, liquid = names(MATERIAL, test.material), names(("liquid",), test.liquid)
    yield f"{material} in {liquid}: {test.grade} {GRADES[test.grade]}{dwell}"
    yield "" if test.temperature_c is None else f"{test.temperature_c:g} °C"
    yield test.piece


SWELLING = Kind(
    "swelling",
    "crumb test",
    "crumb_tests",
    Swelling,
    {"material": "-", "liquid": "water", "grade": 0},
    command="crumb",
    called=("swelling", "swellings", "crumbs", "crumb"),
    summary="How far a crumb or mock-up swells or dissolves in a liquid",
    about=(
        "A crumb of the adhesive or ink, or a mock-up of it, in a drop of one liquid in a small dish, away "
        "from the sheet: grade 0 nothing, 1 softens at the edge, 2 swells, 3 falls apart, 4 dissolves. Six "
        "to ten liquids far apart on the map, poor ones among them, let a sphere be fitted to what was seen."
    ),
    when="tested_at",
    subject="material",
    rows=(
        # Typed in the order of the bench: what, in what, what came of it.
        ("material",),
        ("liquid",),
        ("grade", "piece"),
        ("dwell", "temperature"),
        ("origin",),
        ("at",),
    ),
    words=_words,
)
