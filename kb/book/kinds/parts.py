"""What records of several kinds hold: a place or outline on the sheet, photographs, portions, colours."""

from __future__ import annotations

import math
import re
from typing import Annotated, Any, Literal

from kb.book.kinds.field import Says
from kb.model.record import BookStruct
from kb.science.numbers import percent

Face = Literal["front", "back", ""]
TISSUE = ("tissue",)
ADHESIVE = ("recipe", "adhesive")
"""A paste is a recipe before it is an adhesive."""
# Twenty metres: no sheet on a bench is longer, so that a wrong unit is seen.
LONGEST_MM = 20_000.0
MOST_POSSIBLE = 400
"""Things that a tape may be; more than all tapes with all their stages."""
MOST_SHOWN = 5
# Chances are rounded where they are written down.
CHANCES_TOLERANCE = 1e-6
MOST = 10_000
"""Of a count; more is no count of strips, coats or hinges."""

_SHEET = Says("sheet", "The object on the bench, as the studio names it.", "which object", reads="sheet")
SheetName = Annotated[str, _SHEET]
NeededSheet = Annotated[str, _SHEET._replace(needed=True)]
_BATCH = Says(
    "from batch", "Id of the batch that was used, or its beginning, as it was typed.", record="batch"
)
BatchId = Annotated[str, _BATCH._replace(hint="the beginning of its id", form="Batch")]
BatchOrWords = Annotated[str, _BATCH._replace(reads="batch or words")]
"""The whole id where the words begin that of one batch; any others stay as they were typed."""
Signs = Annotated[
    tuple[str, ...],
    Says("signs", "What an unknown tape showed, LOOK=FINDING of the catalogue.", asked="-"),
]
MayBe = Annotated[
    dict[str, float],
    Says("may be", "What the tape may be by its signs, and how likely that is.", asked="-"),
]
"""By ``adhesive/stage/carrier``, ids of the catalogue, each empty where it is not known; chances sum to 1."""
Remarks = Annotated[str, Says("remarks", "Remarks, as typed.")]


class Site(BookStruct, frozen=True, kw_only=True):
    """Where on the sheet: in words, and if measured in mm from the left and top edges of a face."""

    words: Annotated[
        str,
        Says("place", "Where on the sheet, in words.", "where, in words", asked="site", form="Site"),
    ] = ""
    face: Annotated[Face, Says("face", "Face of the sheet.", empty="not said")] = ""
    x_mm: Annotated[
        float | None, Says("from left edge", "Distance from the left edge of the face.", unit="mm", asked="-")
    ] = None
    y_mm: Annotated[
        float | None, Says("from top edge", "Distance from the top edge of the face.", unit="mm", asked="-")
    ] = None


class Photo(BookStruct, frozen=True, kw_only=True):
    """A photograph by path, tied to its content by SHA-256 (lower-case hex)."""

    path: Annotated[
        str,
        Says("path", "Where the photograph lay when the record was written; only to be read, never opened."),
    ]
    sha256: Annotated[
        str,
        Says(
            "SHA-256",
            "SHA-256 of the photograph, lower-case hex: this ties it to the record.",
            reads="sha256",
        ),
    ]
    when: Annotated[
        Literal["before", "after", "during"],
        Says("when", "When it was taken, before or after the work or during it."),
    ] = "after"

    def __str__(self) -> str:
        # In the printed record the hash is what ties a picture to it.
        return f"{self.path} ({self.when}), SHA-256 {self.sha256}"


Photos = Annotated[
    tuple[Photo, ...],
    Says("photograph", hint="paths, ; between", asked="photo", form="Photos", reads="photographs"),
]


class Portion(BookStruct, frozen=True, kw_only=True):
    """What went into a batch of one ingredient, as it was weighed or measured.

    ``batch`` is the id of the batch it was taken from, if it was itself made up here.
    """

    name: Annotated[str, Says("name", "Ingredient.", needed=True)]
    amount: Annotated[float, Says("amount", "How much, in the unit of the next column.", low=0)]
    unit: Annotated[str, Says("unit", "Unit of the amount.")]
    batch: Annotated[
        str, Says("batch", "Id of the batch that it was taken from, if it was made up in the studio.")
    ] = ""
    lot: Annotated[str, Says("lot", "Lot on the label of what was used.")] = ""

    def __str__(self) -> str:
        taken = f", from batch {self.batch}" if self.batch else ""
        return f"{self.name} {self.amount:.4g} {self.unit}{taken}{f', lot {self.lot}' if self.lot else ''}"


class ColourReading(BookStruct, frozen=True, kw_only=True):
    """A colour reading in CIELAB. The instrument's light and observer are words of the toning test."""

    lightness: Annotated[float, Says("lightness", "Lightness L*.", unit="CIELAB L*", low=0.0, high=100.0)]
    a: Annotated[float, Says("a", "Green to red, a*.", unit="CIELAB a*", low=-200.0, high=200.0)]
    b: Annotated[float, Says("b", "Blue to yellow, b*.", unit="CIELAB b*", low=-200.0, high=200.0)]

    def __str__(self) -> str:
        return f"{self.lightness:g} {self.a:g} {self.b:g}"


def length(label: str, meaning: str = "", hint: str = "", least: float = 0.01, **more: Any) -> Says:
    """A length on a sheet, in mm; ``least`` is 0 of a place, and of room that may be none.

    Nobody measures less than 0.01 mm with a rule: this project's own bound, as those of thickness and mass.
    """
    return Says(label, meaning, hint, unit="mm", low=0, high=LONGEST_MM, least=least, **more)


def count(label: str, meaning: str = "", hint: str = "how many", form: str = "") -> Says:
    return Says(label, meaning, hint, form=form, low=0, high=MOST)


def moment(label: str, form: str, meaning: str = "") -> Says:
    """When something was done, if not when it was written down."""
    said = meaning or "When it was made, if not when it was written down (ISO 8601)."
    return Says(label, said, "today, if left empty", asked="at", form=form, reads="moment")


def day(label: str, meaning: str, hint: str = "", form: str = "") -> Says:
    """A day, perhaps without day or month, as labels have it."""
    return Says(label, meaning, hint, form=form, reads="day")


FinishedOn = Annotated[
    str, day("used up on", "Day on which it was used up or thrown away; from then on nothing is due.")
]


def check_may_be(chances: dict[str, float]) -> None:
    """Refuse what is no adhesive/stage/carrier, and chances that cannot be. Raises ValueError."""
    # Two strokes also where a part is not known: its place tells which part is missing.
    if len(chances) > MOST_POSSIBLE:
        raise ValueError(f"The tape may be {len(chances):,} things; at most {MOST_POSSIBLE} are taken.")
    for key, chance in chances.items():
        if key.count("/") != 2:
            raise ValueError(f"{key[:80]!r} does not say what the tape may be: adhesive/stage/carrier.")
        if not 0 < chance <= 1:
            # Exact summing: many small chances must not add up to a refusal.
            raise ValueError(
                f"{chance} is not the chance of what the tape may be; it lies above 0 and up to 1."
            )
    total = math.fsum(chances.values())
    if chances and abs(total - 1) > CHANCES_TOLERANCE:
        raise ValueError(f"The chances of what the tape may be sum to {total:.6g}, not to 1.")


def check_humidity(body: Any) -> None:
    """Refuse a humidity that runs from more to less. Raises ValueError in a sentence."""
    low, high = body.humidity_low, body.humidity_high
    if low is not None and high is not None and low > high:
        raise ValueError(f"The humidity runs from {low:g} to {high:g} %: the first is the lower one.")


def may_be_words(chances: dict[str, float]) -> list[tuple[str, str]]:
    """Label and text of what the tape may be, the likeliest first, for the reading pane and paper."""
    likely = sorted(chances.items(), key=lambda pair: (-pair[1], pair[0]))[:MOST_SHOWN]
    said = [f"{', '.join(filter(None, what.split('/'))) or 'not listed'} {percent(p)}" for what, p in likely]
    more = f"; {len(chances) - MOST_SHOWN} more" if len(chances) > MOST_SHOWN else ""
    return [("may be", "; ".join(said) + more)] if said else []


_CORNER = r"\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*"
# A drawn outline has a few dozen; more comes from a damaged or hostile file and is slow to cut.
_MOST_CORNERS = 1_000


def corners(text: str) -> tuple[tuple[float, float], ...]:
    """The corners of an outline in words: ``10,20 110,20 110,45``. Raises ValueError in a sentence."""
    found: list[tuple[float, float]] = []
    # People put blanks after commas, and some programs write semicolons between corners.
    for part in re.sub(r"\s*,\s*", ",", text.replace(";", " ")).split():
        match = re.fullmatch(_CORNER, part)
        if match is None:
            raise ValueError(
                f"{part[:40]!r} is no corner of an outline; write x,y in mm, such as 10,20 110,20 110,45."
            )
        found.append((float(match[1]), float(match[2])))
    if not 3 <= len(found) <= _MOST_CORNERS:
        raise ValueError(f"The outline has {len(found)} corners; it has from 3 to {_MOST_CORNERS}.")
    # Digits enough make infinity.
    if not all(math.isfinite(value) for corner in found for value in corner):
        raise ValueError("The outline has a corner that is no place.")
    return tuple(found)


def outline_text(outline: Any) -> str:
    """Corners as an outline is written in the book."""
    return " ".join(f"{x:g},{y:g}" for x, y in outline)
