"""How a sheet was dried and pressed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import MOST, NeededSheet, Remarks, moment
from kb.model.record import BookStruct

After = Literal["wash", "mend", "flatten", "hinge"]
JOBS: dict[str, str] = {"wash": "a wash", "mend": "a mend", "flatten": "flattening", "hinge": "hinging"}
"""What a sheet is dried or pressed after, in words."""


class Pressing(BookStruct, frozen=True, kw_only=True):
    """One drying or pressing of a sheet, when it was finished."""

    sheet: NeededSheet
    after: Annotated[
        After, Says("after", meaning="What the sheet was dried or pressed after.", needed=True)
    ] = "wash"
    steps: Annotated[
        int | None,
        Says("steps", meaning="Steps of the plan that were ticked.", hint="how many", low=0, high=MOST),
    ] = None
    blotters: Annotated[
        int | None,
        Says(
            "fresh blotters",
            meaning="How often fresh blotters went in.",
            hint="how often",
            form="Blotters",
            low=0,
            high=MOST,
        ),
    ] = None
    minutes: Annotated[
        float | None,
        Says("in all", "min", "From the first tick to the last.", "such as 2 h", low=0, high=10_000_000),
    ] = None
    pressed_at: Annotated[str, moment("pressed at", "Finished")] = ""
    remarks: Remarks = ""


def _words(one: Pressing, names: Names) -> Iterator[str]:
    yield f"after {JOBS[one.after]}"
    if one.steps is not None:
        yield f"{one.steps} step{'' if one.steps == 1 else 's'}"
    if one.blotters:
        yield f"fresh blotters {one.blotters} times" if one.blotters > 1 else "fresh blotters once"
    if one.minutes is not None:
        # Days are no better known than by the hour.
        yield f"{one.minutes:.0f} min" if one.minutes < 120 else f"{one.minutes / 60:.0f} h"


PRESSING = Kind(
    "pressing",
    "pressing",
    "pressings",
    Pressing,
    {"sheet": "-"},
    command="-",
    called=("pressed", "drying", "dried"),
    summary="How a sheet was dried and pressed",
    about="One drying or pressing, written down from the ticks of its plan when the last step is done.",
    when="pressed_at",
    rows=(("sheet",), ("after",), ("steps", "blotters"), ("minutes", "at")),
    words=_words,
)
