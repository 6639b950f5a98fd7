"""Records of a sheet as an object: what it is, its condition, the tape on it, each patch that is lifted."""

from __future__ import annotations

from typing import Literal

from kb.model.record import BookStruct, Face, Photo

DAMAGES = (
    "tear",
    "loss",
    "crease",
    "fold",
    "stain",
    "tideline",
    "tape",
    "adhesive residue",
    "old mend",
    "surface dirt",
    "discolouration",
    "foxing",
    "mould",
    "insect damage",
    "cockling",
    "abrasion",
    "media loss",
    "media offset",
)
"""Words of the trade for what is wrong with a sheet of paper: common practice, no source."""
Damage = Literal[
    "tear",
    "loss",
    "crease",
    "fold",
    "stain",
    "tideline",
    "tape",
    "adhesive residue",
    "old mend",
    "surface dirt",
    "discolouration",
    "foxing",
    "mould",
    "insect damage",
    "cockling",
    "abrasion",
    "media loss",
    "media offset",
]
PatchState = Literal["running", "done", "partly", "skipped", "stopped"]
InkVerdict = Literal["", "no-change", "possible-change", "cannot-tell"]
NO_COLOUR = "none"
"""What is written for a swab that was looked at and showed no colour."""


class Sheet(BookStruct, frozen=True, kw_only=True):
    """A sheet as an object. Its other records name it by its title, ``sheet``."""

    sheet: str
    """Its title, by which all other records name it."""
    number: str = ""
    """Number of the owner or of the studio."""
    also: tuple[str, ...] = ()
    """Earlier names, and those of sheets that were merged into it."""
    owner: str = ""
    maker: str = ""
    """Who made the object, as far as known."""
    dated: str = ""
    """Date of the object, in words."""
    width_mm: float | None = None
    height_mm: float | None = None
    thickness_mm: float | None = None
    grammage_g_m2: float | None = None
    mass_g: float | None = None
    """Dry mass, if it was weighed."""
    grain: Literal["", "width", "height"] = ""
    """Edge along which the grain runs."""
    media_front: tuple[str, ...] = ()
    """Media on the front, ids of the catalogue or words, each with its place if it matters."""
    media_back: tuple[str, ...] = ()
    paper: str = ""
    tapes: str = ""
    """What tapes, in words, and where."""
    identified: str = ""
    """What the tape was identified as, on what grounds, and when."""
    humidity_low: float | None = None
    humidity_high: float | None = None
    significance: str = ""
    """What it matters for, and how it is used."""
    proposal: str = ""
    """What was proposed to the owner, with what it risks."""
    consent: str = ""
    """Who agreed to the proposal, how and when."""
    left: str = ""
    """What was left as it is, and why."""
    after: str = ""
    """Condition after treatment."""
    advice: str = ""
    """Advice for keeping and handling."""
    photos: tuple[Photo, ...] = ()
    remarks: str = ""


class Condition(BookStruct, frozen=True, kw_only=True):
    """One thing that is wrong with a sheet, where, and how large; and what became of it."""

    sheet: str
    damage: Damage
    face: Face = ""
    """Which face it is seen on."""
    place: str = ""
    x_mm: float | None = None
    """From the left edge of its face."""
    y_mm: float | None = None
    """From the top edge of its face."""
    width_mm: float | None = None
    height_mm: float | None = None
    found: Literal["before", "during", "after"] = "before"
    """Whether it was there before treatment, appeared in its course, or was found after it."""
    treated: str = ""
    """What was done about it, or why it was left; empty: still open."""
    treated_by: str = ""
    """Id of the mend or other record that settled it."""
    photos: tuple[Photo, ...] = ()
    found_at: str = ""
    remarks: str = ""


class Strip(BookStruct, frozen=True, kw_only=True):
    """A strip of tape, or a weak zone, as it lies on one face."""

    sheet: str
    face: Literal["front", "back"]
    """Which face it lies on."""
    outline: str
    """Corners in order in mm from the left and top edges of that face: 10,20 110,20 110,45 10,45."""
    weak: str = ""
    """Of a weak zone its kind: fold, tear, loss, friable media. Empty: it is tape."""
    tape: str = ""
    """Id of a tape of the catalogue, or words."""
    stage: str = ""
    """Id of the stage of its adhesive."""
    remarks: str = ""


class PatchDone(BookStruct, frozen=True, kw_only=True):
    """One patch of tape as it was lifted, or why it was not."""

    sheet: str
    patch: str
    """Its number in the plan: F3 is the third on the front."""
    face: Literal["front", "back"]
    """Which face it lies on."""
    outline: str
    """Corners as seen from that face, as of a strip."""
    area_mm2: float | None = None
    progress: PatchState = "running"
    share_percent: float | None = None
    """Of the patch that is free, where it is not the whole."""
    liquid: str = ""
    """Id of the liquid, or the blend: acetone 50, n-heptane 50."""
    method: str = ""
    rounds: int | None = None
    dwell_s: float | None = None
    """Of one round."""
    swabs: int | None = None
    volume_ml: float | None = None
    """Liquid that was used."""
    colour: str = ""
    """Colour seen on the swab; none: looked at and nothing seen; empty: not looked at."""
    release: int | None = None
    harm: int | None = None
    """The worst that was seen, of any kind."""
    ink: InkVerdict = ""
    """What the comparison of the photographs before and after said."""
    decision: str = ""
    """What was decided after colour on a swab or a possible change."""
    why: str = ""
    """Why it was skipped or stopped."""
    batch: str = ""
    photos: tuple[Photo, ...] = ()
    started_at: str = ""
    ended_at: str = ""
    remarks: str = ""
