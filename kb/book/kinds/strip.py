"""A strip of tape, or a weak zone, as it lies on one face."""

from __future__ import annotations

from typing import Annotated, Literal

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import NeededSheet, Remarks, corners
from kb.model.record import BookStruct


class Strip(BookStruct, frozen=True, kw_only=True):
    """A strip of tape, or a weak zone, as it lies on one face."""

    sheet: NeededSheet
    face: Annotated[Literal["front", "back"], Says("face", meaning="Which face it lies on.")]
    outline: Annotated[
        str,
        Says(
            "outline", meaning="Corners in mm from the left and top edges of that face: 10,20 110,20 110,45."
        ),
    ]
    weak: Annotated[
        str,
        Says(
            "weak zone",
            meaning="Of a weak zone its kind: fold, tear, loss, friable media. Empty: it is tape.",
        ),
    ] = ""
    tape: Annotated[
        str, Says("tape", meaning="Id of a tape of the catalogue, or words.", entries=("tape",))
    ] = ""
    stage: Annotated[str, Says("stage", meaning="Id of the stage of its adhesive.", entries=("stage",))] = ""
    remarks: Remarks = ""


def _check(strip: Strip) -> None:
    # Refused here, since the plan is cut from it each time and could not say where the fault came from.
    corners(strip.outline)


def strip_line(strip: Strip, names: Names) -> str:
    """``Strip of tape on the front, 100 x 25 mm at 10, 20: clear cellulose film``."""
    from kb.science.sheet.polygons import box

    # The box around it: lists have no room for corners.
    around = box(corners(strip.outline))
    what = f"Weak zone ({strip.weak})" if strip.weak else "Strip of tape"
    tape = f": {names(('tape',), strip.tape)}" if strip.tape else ""
    return (
        f"{what} on the {strip.face}, {around.right - around.left:g} x {around.bottom - around.top:g} mm "
        f"at {around.left:g}, {around.top:g}{tape}"
    )


STRIP = Kind(
    "strip",
    "strip of tape",
    "strips",
    Strip,
    {"sheet": "-", "face": "front", "outline": "0,0 1,0 1,1"},
    command="-",
    called=("tape",),
    check=_check,
    words=lambda body, names: (strip_line(body, names),),
    line=lambda body, said: said,
)
