"""How a sheet was put away."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import (
    TISSUE,
    BatchId,
    NeededSheet,
    Photos,
    Remarks,
    check_humidity,
    count,
    length,
    moment,
)
from kb.model.record import BookStruct
from kb.science.numbers import counted

PLACES = ("frame", "window mat", "folder", "box", "drawer")


def _humidity(end: str, upper: str) -> Says:
    meaning = f"Relative humidity of the place, {upper} end."
    return Says(
        f"humidity, {end}",
        meaning,
        "such as 45-55 %",
        unit="% RH",
        asked="humidity",
        form="Humidity",
        low=0,
        high=100,
        reads="range",
    )


class Housing(BookStruct, frozen=True, kw_only=True):
    """How a sheet was put away: framed, matted, in a folder or box.

    Lengths are in mm. ``gap_*`` is what was left between sheet and rebate on each side along that
    direction. What was not measured is left out.
    """

    sheet: NeededSheet
    into: Annotated[
        str,
        Says(
            "put into",
            "What it was put into: frame, window mat, folder, box, drawer.",
            "frame, folder, box",
            needed=True,
        ),
    ] = "frame"
    sheet_width_mm: Annotated[
        float | None,
        length(
            "sheet width",
            "Width of the sheet.",
            "such as 420 x 594 mm",
            asked="size",
            form="Size",
            reads="size",
        ),
    ] = None
    sheet_height_mm: Annotated[
        float | None, length("sheet height", "Height of the sheet.", "", asked="size", reads="size")
    ] = None
    gap_width_mm: Annotated[
        float | None,
        length(
            "gap width",
            "Room left between sheet and rebate on each side, across.",
            "such as 5 x 6 mm",
            asked="gap",
            form="Edge gap",
            reads="both",
            least=0,
        ),
    ] = None
    gap_height_mm: Annotated[
        float | None,
        length(
            "gap height",
            "Room left between sheet and rebate on each side, up and down.",
            "",
            asked="gap",
            reads="both",
            least=0,
        ),
    ] = None
    hinges: Annotated[int | None, count("hinges", "How many hinges hold the sheet.")] = None
    hinge_tissue: Annotated[
        str,
        Says("hinge tissue", "Tissue of the hinges.", "a name", form="of tissue", entries=TISSUE),
    ] = ""
    batch: BatchId = ""
    """Of the adhesive of the hinges."""
    glazing: Annotated[str, Says("glazing", "What it is glazed with.")] = ""
    board: Annotated[str, Says("board", "Board that touches the sheet.")] = ""
    spacer_mm: Annotated[
        float | None,
        length("spacer", "Thickness of the spacer between sheet and glazing.", "such as 4 mm", least=0),
    ] = None
    depth_mm: Annotated[float | None, length("depth", "Depth of the frame or box.", "of the rebate")] = None
    humidity_low: Annotated[float | None, _humidity("lowest", "lower")] = None
    humidity_high: Annotated[float | None, _humidity("highest", "upper")] = None
    light_lux: Annotated[
        float | None,
        Says("light", "Light on the sheet in its place.", "such as 50 lux", unit="lux", low=0, high=200_000),
    ] = None
    place: Annotated[str, Says("place", "Where it went: room, cabinet, shelf.", "room, cabinet, shelf")] = ""
    photos: Photos = ()
    housed_at: Annotated[
        str, moment("housed at", "Done on", "When it was done, if not when it was written down (ISO 8601).")
    ] = ""
    remarks: Remarks = ""


def _words(one: Housing, names: Names) -> Iterator[str]:
    yield one.into
    for what, pair in (
        ("sheet", (one.sheet_width_mm, one.sheet_height_mm)),
        ("gap", (one.gap_width_mm, one.gap_height_mm)),
    ):
        # A dash for the side that nobody measured: leaving it out would turn width into height.
        if pair != (None, None):
            yield f"{what} {' x '.join('-' if side is None else f'{side:g}' for side in pair)} mm"
    tissue = names(TISSUE, one.hinge_tissue)
    if one.hinges is not None or tissue:
        count = "hinges" if one.hinges is None else counted(one.hinges, "hinge")
        yield f"{count} of {tissue}" if tissue else count
    if one.batch:
        yield f"batch {one.batch[:10]}"
    yield from (part for part in (one.glazing, one.board) if part)
    for what, figure in (("spacer", one.spacer_mm), ("depth", one.depth_mm)):
        if figure is not None:
            yield f"{what} {figure:g} mm"
    ends = [f"{end:g}" for end in (one.humidity_low, one.humidity_high) if end is not None]
    if ends:
        # Once, where both ends are the same.
        yield f"{' to '.join(dict.fromkeys(ends))} % humidity"
    if one.light_lux is not None:
        yield f"{one.light_lux:g} lux"
    yield one.place


def _line(one: Housing, said: str) -> str:
    # "Framed" already says into what it was put.
    if one.into != "frame":
        return f"Housed: {said}"
    return f"Framed{said.removeprefix('frame').lstrip()}"


HOUSING = Kind(
    "housing",
    "housing",
    "housings",
    Housing,
    {"sheet": "-"},
    command="frame",
    called=("framed", "frame", "frames"),
    summary="How a sheet was framed or put away",
    about=(
        "How the sheet was put away. The gap is what was left between sheet and rebate, left and right x top "
        "and bottom; it is held against the gap that the sheet needs for its size and the humidity."
    ),
    when="housed_at",
    rows=(
        ("sheet", "size"),
        ("into", "place"),
        ("gap", "humidity"),
        ("hinges", "hinge_tissue"),
        ("batch",),
        ("glazing", "board"),
        ("spacer", "depth"),
        ("light", "at"),
    ),
    check=check_humidity,
    words=_words,
    line=_line,
)
