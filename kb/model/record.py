"""Records of the bench book. A record is never edited; amend and withdraw records point at it."""

from __future__ import annotations

from typing import Literal

import msgspec

Face = Literal["front", "back", ""]
HARM_KINDS = ("bleed", "offset", "tideline", "gloss", "surface", "colour")
"""What harm is looked for: bleeding, offset to blotter, tideline, gloss, paper surface, colour."""
RELEASE_WORDS = (
    "0 no effect",
    "1 softens slightly",
    "2 swells, can be rolled off in part",
    "3 releases with light work",
    "4 releases clean",
)
HARM_WORDS = (
    "0 none seen",
    "1 trace on the blotter only",
    "2 visible on careful look",
    "3 clear change",
    "4 loss",
)


class BookStruct(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """Base of everything written to the book."""


class Site(BookStruct, frozen=True, kw_only=True):
    """Where on the sheet: in words, and if measured in mm from the left and top edges of a face."""

    words: str = ""
    face: Face = ""
    x_mm: float | None = None
    y_mm: float | None = None


class Round(BookStruct, frozen=True, kw_only=True):
    """One application on the spot. Practice is at least three rounds on one spot."""

    dwell_s: float
    amount: str = ""
    wet: str = ""
    """What was seen while wet."""
    dry: str = ""
    """What was seen when dry."""


class Photo(BookStruct, frozen=True, kw_only=True):
    """A photograph by path, tied to its content by SHA-256 (lower-case hex)."""

    path: str
    sha256: str
    when: Literal["before", "after", "during"] = "after"


class SpotTest(BookStruct, frozen=True, kw_only=True):
    """One spot test.

    ``harm`` maps kinds of HARM_KINDS to grades 0-4; a kind that is absent was *not looked at* and
    never counts as no harm. ``parts`` are volume shares that sum to 1. ``release`` is None on a
    control or where no adhesive was tested.
    """

    adhesive: str = ""
    stage: str = ""
    carrier: str = ""
    tape: str = ""
    carrier_present: bool | None = None
    medium: str = ""
    paper: str = ""
    parts: dict[str, float]
    method: str = "swab"
    sheet: str = ""
    site: Site = Site()
    rounds: tuple[Round, ...] = ()
    release: int | None = None
    harm: dict[str, int] = {}
    control: bool = False
    magnification: str = ""
    light: str = ""
    photos: tuple[Photo, ...] = ()
    batch: str = ""
    tested_at: str = ""
    """When the test was made, if not when it was written down (ISO 8601)."""
    remarks: str = ""


class Amend(BookStruct, frozen=True, kw_only=True):
    """Replaces fields of an earlier record, by name, and says why. The earlier line stays."""

    of: str
    set: dict[str, object]
    why: str


class Withdraw(BookStruct, frozen=True, kw_only=True):
    """Takes an earlier record out of all counts and says why. The earlier line stays."""

    of: str
    why: str


class Line(BookStruct, frozen=True, kw_only=True):
    """One line of a book file. ``prev`` is the SHA-256 of the line before it, 64 zeros on the first."""

    id: str
    at: str
    who: str
    bench: str
    kind: str
    body: msgspec.Raw
    prev: str


class Bottle(BookStruct, frozen=True, kw_only=True):
    """An opened bottle on the shelf; its record's id is the bottle's name.

    Dates are ISO 8601 and may leave out the day or the month, as labels do; empty means not known. A
    test for peroxides and the last day of the bottle are amendments, so their history is kept.
    """

    liquid: str
    label: str = ""
    """What is written on it, as far as it helps to find it: hazard words, shelf, own number."""
    opened: str = ""
    expires: str = ""
    peroxide_tested: str = ""
    """Day of the last test for peroxides."""
    peroxide_result: str = ""
    finished: str = ""
    """Day on which it was used up or thrown away; from then on nothing is due."""
    lot: str = ""
    grade: str = ""
    remarks: str = ""


class BathReading(BookStruct, frozen=True, kw_only=True):
    """One reading of the water in which a sheet is washed or buffered.

    ``bath`` counts the changes of water on that sheet from 1; ``minutes`` is the time since the sheet went
    into this bath. What was not measured is left out and never stands for nothing.
    """

    sheet: str
    bath: int = 1
    minutes: float | None = None
    method: str = ""
    """How the water reaches the sheet: blotter, float, immersion, suction ..."""
    water: str = ""
    """What the bath is: deionised, calcium hydroxide ..., and how much of it."""
    ph: float | None = None
    conductivity_us_cm: float | None = None
    temperature_c: float | None = None
    colour: str = ""
    """Colour of the water in words, as seen against white."""
    batch: str = ""
    read_at: str = ""
    """When it was read, if not when it was written down (ISO 8601)."""
    remarks: str = ""


class Portion(BookStruct, frozen=True, kw_only=True):
    """What went into a batch of one ingredient, as it was weighed or measured.

    ``batch`` is the id of the batch it was taken from, if it was itself made up here.
    """

    name: str
    amount: float
    unit: str
    batch: str = ""
    lot: str = ""


class Batch(BookStruct, frozen=True, kw_only=True):
    """Something made up; its record's id is the batch's name.

    ``version`` is the hash of the recipe's entry as it was used; both are empty where no recipe was
    followed. Dates are ISO 8601 and may leave out the day or the month. What was not read is left out.
    """

    recipe: str = ""
    version: str = ""
    name: str = ""
    """What it is, for the label; needed where no recipe was followed."""
    weights: tuple[Portion, ...] = ()
    water: str = ""
    """Which water: deionised, conditioned, tap."""
    made_amount: float | None = None
    made_unit: str = ""
    ph: float | None = None
    strength: str = ""
    """For the label, with its basis: 12.5 % w/w, 2 g in 100 ml."""
    made_at: str = ""
    """Day on which it was made up, if not when it was written down."""
    expires: str = ""
    hazards: tuple[str, ...] = ()
    """Hazard words for the label."""
    bad: str = ""
    """Why it must not be used any more; empty while nothing speaks against it."""
    finished: str = ""
    """Day on which it was used up or thrown away; from then on nothing is due."""
    remarks: str = ""


TearKind = Literal["plain", "scarfed", "through", "inside", "loss", "lifting", ""]
"""From one edge, in layers, edge to edge, reaching no edge, a piece lost, a layer that lifts; or not said."""


class Mend(BookStruct, frozen=True, kw_only=True):
    """One mend or infill on a sheet, as it was made.

    ``tissue`` and ``adhesive`` are ids of the catalogue or plain words; ``batch`` is the id of the batch
    that the adhesive came from, ``toning`` that of the toning test the tissue was matched by.
    """

    sheet: str
    tear: TearKind = ""
    site: Site = Site()
    length_mm: float | None = None
    width_mm: float | None = None
    """Of the strip, or of the piece let in."""
    tissue: str = ""
    strips: int | None = None
    adhesive: str = ""
    batch: str = ""
    toning: str = ""
    pressed_minutes: float | None = None
    """Under weight, with blotter changed or not as the remarks say."""
    photos: tuple[Photo, ...] = ()
    mended_at: str = ""
    """When it was made, if not when it was written down (ISO 8601)."""
    remarks: str = ""


class ColourReading(BookStruct, frozen=True, kw_only=True):
    """A colour reading in CIELAB. The instrument's light and observer are words of the toning test."""

    lightness: float
    a: float
    b: float


class Toning(BookStruct, frozen=True, kw_only=True):
    """One trial of toning tissue or paper towards the colour of a sheet.

    The difference is not stored: it is computed from the two readings (CIEDE2000), so that it can be checked.
    """

    sheet: str = ""
    tissue: str = ""
    """Id of a tissue or paper, or plain words."""
    colourants: tuple[Portion, ...] = ()
    """What was put on, as weighed or measured, the water too."""
    batch: str = ""
    coats: int | None = None
    aim: ColourReading | None = None
    """The sheet beside the place."""
    dry: ColourReading | None = None
    """The toned tissue when dry."""
    read_with: str = ""
    """Instrument, light, observer, backing: readings taken otherwise do not compare."""
    judged: str = ""
    """By eye, in words: too warm, a shade too dark."""
    bleeds: Literal["", "no", "slightly", "yes"] = ""
    """Whether the dry colour gives off on a damp swab; empty: not looked at."""
    toned_at: str = ""
    remarks: str = ""


class Housing(BookStruct, frozen=True, kw_only=True):
    """How a sheet was put away: framed, matted, in a folder or box.

    Lengths are in mm. ``gap_*`` is what was left between sheet and rebate on each side along that
    direction. What was not measured is left out.
    """

    sheet: str
    into: str = "frame"
    """frame, window mat, folder, box, drawer ..."""
    sheet_width_mm: float | None = None
    sheet_height_mm: float | None = None
    gap_width_mm: float | None = None
    gap_height_mm: float | None = None
    hinges: int | None = None
    hinge_tissue: str = ""
    batch: str = ""
    """Of the adhesive of the hinges."""
    glazing: str = ""
    board: str = ""
    spacer_mm: float | None = None
    depth_mm: float | None = None
    humidity_low: float | None = None
    """Relative humidity of the place, in per cent."""
    humidity_high: float | None = None
    light_lux: float | None = None
    place: str = ""
    """Where it went: room, cabinet, shelf."""
    photos: tuple[Photo, ...] = ()
    housed_at: str = ""
    remarks: str = ""
