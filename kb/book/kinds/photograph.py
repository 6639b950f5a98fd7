"""A photograph of a place on a sheet, and two of one place that are compared."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from kb.book.kinds.field import Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import Face, NeededSheet, Photos, Remarks
from kb.book.kinds.patch import INK_WORDS, InkVerdict
from kb.model.record import BookStruct

Light = Literal["raking", "transmitted", "uv", ""]
# Beyond any lens on a bench; a scale typed in the wrong unit is seen.
MOST_PX_PER_MM = 10_000.0


class Photograph(BookStruct, frozen=True, kw_only=True):
    """One photograph of one place. When it was taken stands with the file that it names."""

    sheet: NeededSheet
    face: Annotated[Face, Says("face", "Which face it shows.")] = ""
    area: Annotated[
        str,
        Says(
            "area", "What it shows: a patch of the plan, such as F3, or a place in words; empty: the whole."
        ),
    ] = ""
    light: Annotated[Light, Says("light", "Raking or transmitted light, or UV; empty: as usual.")] = ""
    px_per_mm: Annotated[
        float | None,
        Says("scale", "Pixels of the photograph to one mm.", unit="px/mm", low=1, high=MOST_PX_PER_MM),
    ] = None
    swab: Annotated[
        str,
        Says("swabbed area", "Centre and radius in pixels of the photograph the right way up: x,y,r."),
    ] = ""
    photos: Photos = ()
    taken_at: Annotated[str, Says("taken at", reads="moment")] = ""
    remarks: Remarks = ""


class PhotoPair(BookStruct, frozen=True, kw_only=True):
    """A photograph before and one after, and what comparing them said. The pictures made of it are files."""

    sheet: NeededSheet
    before: Annotated[
        str, Says("before", "Record of the photograph before.", record="photograph", needed=True)
    ]
    after: Annotated[str, Says("after", "Record of the photograph after.", record="photograph", needed=True)]
    face: Annotated[Face, Says("face", "Which face they show.")] = ""
    area: Annotated[str, Says("area", "The patch or place that both show.")] = ""
    verdict: Annotated[InkVerdict, Says("verdict", "Whether ink moved, as far as the photographs tell.")] = ""
    said: Annotated[str, Says("said", "The answer in sentences.")] = ""
    photos: Photos = ()
    compared_at: Annotated[str, Says("compared at", reads="moment")] = ""
    remarks: Remarks = ""


def circle(text: str) -> tuple[float, float, float]:
    """``480,360,120``: centre and radius. Raises ValueError in a sentence."""
    try:
        x, y, radius = (float(part) for part in text.split(","))
    except ValueError:
        raise ValueError(
            f'"{text}" is no swabbed area; write X,Y,R in pixels, such as 480,360,120.'
        ) from None
    # A radius of a million pixels is larger than any picture; sums over it would not end.
    if not (all(map(math.isfinite, (x, y, radius))) and max(abs(x), abs(y), radius) < 1e6 and radius > 0):
        raise ValueError("The swabbed area needs a centre and a radius above zero, in pixels.")
    return x, y, radius


def _check(taken: Photograph) -> None:
    # The pair names records; with two pictures in one it could not say which of them is compared.
    if len(taken.photos) > 1:
        raise ValueError("A record of a photograph names one photograph.")
    if taken.swab:
        circle(taken.swab)


def when_taken(taken: Photograph) -> str:
    """before, during or after; empty if it names no file."""
    return taken.photos[0].when if taken.photos else ""


def area_words(body: Photograph | PhotoPair) -> str:
    """``F3, front``, or what is known of it."""
    return ", ".join(part for part in (body.area or "the whole", body.face) if part)


def photograph_line(taken: Photograph) -> str:
    """``Photograph before, raking light: F3, front``."""
    light = {"": "", "uv": ", UV"}.get(taken.light, f", {taken.light} light")
    return f"Photograph {when_taken(taken)}{light}: {area_words(taken)}"


def pair_line(pair: PhotoPair) -> str:
    """``Pair of photographs, F3, front: no change of ink seen above noise``."""
    return f"Pair of photographs, {area_words(pair)}: {INK_WORDS[pair.verdict] or 'not compared yet'}"


PHOTOGRAPH = Kind(
    "photograph",
    "photograph",
    "photographs_taken",
    Photograph,
    {"sheet": "-"},
    command="-",
    when="taken_at",
    check=_check,
    words=lambda body, names: (photograph_line(body),),
    line=lambda body, said: said,
)
PAIR = Kind(
    "photo-pair",
    "pair of photographs",
    "photograph_pairs",
    PhotoPair,
    {"sheet": "-", "before": "-", "after": "-"},
    command="-",
    called=("pair",),
    words=lambda body, names: (pair_line(body),),
    line=lambda body, said: said,
)
