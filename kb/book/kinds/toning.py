"""A trial of toning tissue or paper towards the colour of a sheet."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import TISSUE, BatchId, ColourReading, Portion, Remarks, SheetName, count, moment
from kb.model.record import BookStruct
from kb.science.numbers import counted

Bleeds = Literal["", "no", "slightly", "yes"]
BLEEDS_WORDS = {"": "", "no": "does not bleed", "slightly": "bleeds slightly", "yes": "bleeds"}


class Toning(BookStruct, frozen=True, kw_only=True):
    """One trial of toning tissue or paper towards the colour of a sheet.

    The difference is not stored: it is computed from the two readings (CIEDE2000), so that it can be checked.
    """

    sheet: SheetName = ""
    tissue: Annotated[
        str,
        Says(
            "tissue",
            "Id of a tissue or paper, or plain words.",
            "or paper: a name, or any words",
            needed=True,
            entries=TISSUE,
        ),
    ] = ""
    colourants: Annotated[
        tuple[Portion, ...],
        Says(
            "put on",
            "What was put on, as weighed or measured, the water too.",
            "such as raw umber 0.4 g; water 20 ml",
            asked="colourant",
            reads="portions",
        ),
    ] = ()
    batch: BatchId = ""
    coats: Annotated[int | None, count("coats", "How many coats were put on.")] = None
    aim: Annotated[
        ColourReading | None,
        Says(
            "colour of the sheet",
            "The sheet beside the place.",
            "L a b, such as 88 1.2 12",
            unit="L a b",
            form="Sheet tone",
            reads="colour",
        ),
    ] = None
    dry: Annotated[
        ColourReading | None,
        Says(
            "colour when dry",
            "The toned tissue when dry.",
            "L a b, when dry",
            unit="L a b",
            form="Dry colour",
            reads="colour",
        ),
    ] = None
    read_with: Annotated[
        str,
        Says(
            "read with",
            "Instrument, light, observer, backing: readings taken otherwise do not compare.",
            "instrument, light, observer, backing",
        ),
    ] = ""
    judged: Annotated[
        str,
        Says(
            "judged",
            "By eye, in words: too warm, a shade too dark.",
            "such as a shade too dark",
            form="By eye",
        ),
    ] = ""
    bleeds: Annotated[
        Bleeds,
        Says(
            "bleeds",
            "Whether the dry colour gives off on a damp swab; empty: not looked at.",
            "on a damp swab, when dry",
            empty="not looked at",
        ),
    ] = ""
    toned_at: Annotated[str, moment("toned at", "Made on")] = ""
    remarks: Remarks = ""


def difference(toning: Toning) -> float | None:
    """CIEDE2000 between the sheet and the dry tissue; None where one was not read.

    Source: `kb.science.sheet.colour.delta_e_2000`.
    """
    # With one reading there is nothing to compare.
    if toning.aim is None or toning.dry is None:
        return None
    from kb.science.sheet.colour import Lab, delta_e_2000

    aim, dry = (Lab(one.lightness, one.a, one.b) for one in (toning.aim, toning.dry))
    return delta_e_2000(aim, dry)


def _words(toning: Toning, names: Names) -> Iterator[str]:
    put_on = ", ".join(f"{one.name} {one.amount:.4g} {one.unit}".strip() for one in toning.colourants)
    tissue = names(TISSUE, toning.tissue)
    said = f"{tissue} with {put_on}" if put_on else tissue
    if toning.batch:
        said += f" (batch {toning.batch[:10]})"
    if toning.coats is not None:
        said += f", {counted(toning.coats, 'coat')}"
    found = difference(toning)
    # To a tenth, which is well below what an eye tells apart.
    parts = ("" if found is None else f"difference {found:.1f}", toning.judged, BLEEDS_WORDS[toning.bleeds])
    ending = ", ".join(part for part in parts if part)
    yield f"{said}: {ending}" if ending else said


def _computed(toning: Toning) -> Iterator[tuple[str, str]]:
    found = difference(toning)
    if found is not None:
        yield "difference from the sheet (CIEDE2000, computed)", f"{found:.1f}"


TONING = Kind(
    "toning",
    "toning test",
    "toning_tests",
    Toning,
    {"tissue": "-"},
    command="tone",
    called=("toning", "tonings"),
    summary="How near a toned tissue came to a sheet",
    about=(
        "One trial of toning tissue towards the colour of the sheet. Readings are L a b, three numbers: the "
        "sheet beside the place, and the toned tissue when dry. Read both with one instrument, light and "
        "backing; the difference (CIEDE2000) shows as soon as both are typed. It is worked out, not stored."
    ),
    when="toned_at",
    rows=(
        ("sheet",),
        ("tissue",),
        ("colourant",),
        ("batch", "coats"),
        ("aim", "dry"),
        ("read_with",),
        ("judged",),
        ("bleeds",),
        ("at",),
    ),
    words=_words,
    computed=_computed,
    tables={
        "colourants": (
            "toning_portions",
            "What was put on in each toning test, as it was weighed or measured.",
        )
    },
)
