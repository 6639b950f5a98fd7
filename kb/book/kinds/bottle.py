"""An opened bottle on the shelf."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import FinishedOn, Remarks
from kb.model.record import BookStruct


class Bottle(BookStruct, frozen=True, kw_only=True):
    """An opened bottle on the shelf; its record's id is the bottle's name.

    Dates are ISO 8601 and may leave out the day or the month, as labels do; empty means not known. A
    test for peroxides and the last day of the bottle are amendments, so their history is kept.
    """

    liquid: Annotated[
        str,
        Says(
            "liquid",
            meaning="Id of the liquid in the catalogue.",
            hint="any of its names",
            needed=True,
            entries=("liquid",),
        ),
    ]
    label: Annotated[
        str,
        Says(
            "label",
            meaning="What is written on it, as far as it helps to find it: hazard words, shelf, own number.",
            hint="what helps to find it",
        ),
    ] = ""
    opened: Annotated[
        str,
        Says(
            "opened on",
            meaning="Day on which it was opened, ISO 8601, perhaps without day or month.",
            hint="today, a date, or unknown",
            form="Opened",
            reads="day",
        ),
    ] = ""
    expires: Annotated[
        str,
        Says(
            "use by",
            meaning="Last day on its label, ISO 8601, perhaps without day or month.",
            hint="as on the label; may be empty",
            reads="day",
        ),
    ] = ""
    peroxide_tested: Annotated[
        str, Says("peroxide tested", meaning="Day of the last test for peroxides.", reads="day")
    ] = ""
    peroxide_result: Annotated[
        str, Says("peroxide result", meaning="What the last test for peroxides showed.")
    ] = ""
    finished: FinishedOn = ""
    lot: Annotated[str, Says("lot", meaning="Lot on the label.", hint="may be empty")] = ""
    grade: Annotated[str, Says("grade", meaning="Grade of purity on the label.", hint="may be empty")] = ""
    remarks: Remarks = ""


def _words(bottle: Bottle, names: Names) -> Iterator[str]:
    yield names(("liquid",), bottle.liquid)
    yield bottle.label
    yield f"opened {bottle.opened}" if bottle.opened else ""
    yield f"use by {bottle.expires}" if bottle.expires else ""
    yield "used up" if bottle.finished else ""


BOTTLE = Kind(
    "bottle",
    "bottle",
    "bottles",
    Bottle,
    {"liquid": "water"},
    command="-",
    subject="liquid",
    words=_words,
    # These come later, by amendment, and their history is what counts.
    apart=frozenset(("peroxide_tested", "peroxide_result", "finished")),
)
