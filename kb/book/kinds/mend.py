"""A mend or infill on a sheet; and how a sheet was dried and pressed, after a mend as after a bath."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import (
    ADHESIVE,
    TISSUE,
    BatchId,
    NeededSheet,
    Photos,
    Remarks,
    Site,
    count,
    length,
    moment,
)
from kb.model.record import BookStruct
from kb.science.numbers import counted

TearKind = Literal["plain", "scarfed", "through", "inside", "loss", "lifting", ""]
TEAR_KINDS = (
    "plain from one edge, scarfed in layers, through from edge to edge, inside where it reaches no edge, "
    "loss of a piece, lifting of a layer"
)
"""What each kind means; empty: not said."""
TEAR_WORDS = {
    "": "",
    "plain": "plain tear",
    "scarfed": "scarfed tear",
    "through": "tear from edge to edge",
    "inside": "tear that reaches no edge",
    "loss": "loss",
    "lifting": "lifting layer",
}


class Mend(BookStruct, frozen=True, kw_only=True):
    """One mend or infill on a sheet, as it was made.

    ``tissue`` and ``adhesive`` are ids of the catalogue or plain words; ``batch`` is the id of the batch
    that the adhesive came from, ``toning`` that of the toning test the tissue was matched by.
    """

    sheet: NeededSheet
    tear: Annotated[
        TearKind,
        Says("kind of tear", f"What kind of tear or loss it was: {TEAR_KINDS}.", form="Tear"),
    ] = ""
    site: Site = Site()
    length_mm: Annotated[float | None, length("length", "Length of the mend.", "such as 45 mm")] = None
    width_mm: Annotated[
        float | None, length("width", "Of the strip, or of the piece let in.", "of strip or piece")
    ] = None
    tissue: Annotated[
        str,
        Says(
            "tissue",
            "Id of the tissue in the catalogue, or plain words.",
            "a name, or any words",
            entries=TISSUE,
        ),
    ] = ""
    mends: Annotated[
        str,
        Says(
            "mends the damage",
            "Id of the damage of this sheet that it settles; empty: no damage is settled by it.",
            "which damage is settled by it",
            form="Damage",
            record="condition",
        ),
    ] = ""
    strips: Annotated[int | None, count("strips", "How many strips were put on.")] = None
    adhesive: Annotated[
        str,
        Says(
            "adhesive",
            "Id of the adhesive or recipe in the catalogue, or plain words.",
            "that of the batch, if left empty",
            entries=ADHESIVE,
            loosely=False,
            else_of="batch",
        ),
    ] = ""
    batch: BatchId = ""
    toning: Annotated[
        str,
        Says(
            "toned by the test",
            "Id of the toning test by which the tissue was matched.",
            "id of a toning test",
            form="Toned by",
            record="toning",
        ),
    ] = ""
    pressed_minutes: Annotated[
        float | None,
        Says(
            "pressed",
            "Under weight, with blotter changed or not as the remarks say.",
            "such as 30 min",
            unit="min",
            low=0,
            high=10_000_000,
            line="pressed {:g} min",
        ),
    ] = None
    photos: Photos = ()
    mended_at: Annotated[str, moment("mended at", "Made on")] = ""
    remarks: Remarks = ""


def _words(mend: Mend, names: Names) -> Iterator[str]:
    size = " x ".join(f"{side:g}" for side in (mend.length_mm, mend.width_mm) if side is not None)
    yield " ".join(part for part in (TEAR_WORDS[mend.tear], f"{size} mm" if size else "") if part)
    yield " ".join(part for part in (mend.site.words, mend.site.face and f"({mend.site.face})") if part)
    tissue, adhesive = names(TISSUE, mend.tissue), names(ADHESIVE, mend.adhesive)
    if tissue:
        # One strip is the usual mend.
        yield f"{mend.strips} strips of {tissue}" if mend.strips and mend.strips > 1 else tissue
    # Ten letters of an id tell batches of a studio apart and fit a line.
    batch = f"batch {mend.batch[:10]}" if mend.batch else ""
    yield f"{adhesive} ({batch})" if adhesive and batch else adhesive or batch
    if mend.toning:
        yield f"toned as {mend.toning[:10]}"


MEND = Kind(
    "mend",
    "mend",
    "mends",
    Mend,
    {"sheet": "-"},
    called=("infill", "infills"),
    summary="What was mended on a sheet, with what",
    about=(
        "One mend or infill, as it was made. With a batch and no adhesive the adhesive is that of the batch. "
        "A bad batch can then be traced to this sheet."
    ),
    when="mended_at",
    rows=(
        ("sheet",),
        ("tear",),
        ("site",),
        ("face",),
        ("mends",),
        ("length", "width"),
        ("tissue",),
        ("strips", "pressed"),
        ("adhesive",),
        ("batch",),
        ("toning", "at"),
    ),
    words=_words,
)


After = Literal["wash", "mend", "flatten", "hinge"]
JOBS: dict[str, str] = {"wash": "a wash", "mend": "a mend", "flatten": "flattening", "hinge": "hinging"}
"""What a sheet is dried or pressed after, in words."""


class Pressing(BookStruct, frozen=True, kw_only=True):
    """One drying or pressing of a sheet, when it was finished."""

    sheet: NeededSheet
    after: Annotated[After, Says("after", "What the sheet was dried or pressed after.", needed=True)] = "wash"
    steps: Annotated[int | None, count("steps", "Steps of the plan that were ticked.")] = None
    blotters: Annotated[
        int | None, count("fresh blotters", "How often fresh blotters went in.", "how often", "Blotters")
    ] = None
    minutes: Annotated[
        float | None,
        Says("in all", "From the first tick to the last.", "such as 2 h", unit="min", low=0, high=10_000_000),
    ] = None
    pressed_at: Annotated[str, moment("pressed at", "Finished")] = ""
    remarks: Remarks = ""


def _pressed_words(one: Pressing, names: Names) -> Iterator[str]:
    yield f"after {JOBS[one.after]}"
    if one.steps is not None:
        yield counted(one.steps, "step")
    if one.blotters:
        yield f"fresh blotters {one.blotters} times" if one.blotters > 1 else "fresh blotters once"
    if one.minutes is not None:
        hours, minutes = divmod(round(one.minutes), 60)
        # Half a day is no better known than by the hour.
        rest = f" {minutes} min" if minutes and hours < 10 else ""
        yield f"{hours} h{rest}" if hours > 1 else f"{one.minutes:.0f} min"


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
    words=_pressed_words,
)
