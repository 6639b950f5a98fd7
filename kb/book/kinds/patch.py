"""A strip of tape, or a weak zone, as it lies on one face; and one patch of tape as it was lifted."""

from __future__ import annotations

from typing import Annotated, Literal

from kb.book.kinds.field import Names, Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import LONGEST_MM, NeededSheet, Photos, Remarks, corners, count
from kb.model.record import BookStruct


class Strip(BookStruct, frozen=True, kw_only=True):
    """A strip of tape, or a weak zone, as it lies on one face."""

    sheet: NeededSheet
    face: Annotated[Literal["front", "back"], Says("face", "Which face it lies on.")]
    outline: Annotated[
        str,
        Says("outline", "Corners in mm from the left and top edges of that face: 10,20 110,20 110,45."),
    ]
    weak: Annotated[
        str,
        Says("weak zone", "Of a weak zone its kind: fold, tear, loss, friable media. Empty: it is tape."),
    ] = ""
    tape: Annotated[str, Says("tape", "Id of a tape of the catalogue, or words.", entries=("tape",))] = ""
    stage: Annotated[str, Says("stage", "Id of the stage of its adhesive.", entries=("stage",))] = ""
    remarks: Remarks = ""


def _check(laid: Strip | PatchDone) -> None:
    # Refused here: the plan is cut from strips each time and could not say where the fault came from, and a
    # patch could not be matched to its strip and would be no evidence.
    corners(laid.outline)


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


PatchState = Literal["running", "done", "partly", "skipped", "stopped"]
InkVerdict = Literal["", "no-change", "possible-change", "cannot-tell"]
# A word for "looked at and nothing seen": an empty field says that nobody looked.
NO_COLOUR = "none"
NOTHING_SEEN = frozenset(
    (NO_COLOUR, "no", "no colour", "no color", "nothing", "none seen", "clean", "clear", "0", "-")
)
"""What people write for it: a stop for "no colour" would be an untrue record."""
STATE_WORDS = {
    "running": "under way",
    "done": "lifted",
    "partly": "lifted in part",
    "skipped": "left out",
    "stopped": "stopped",
}
INK_WORDS = {
    "": "",
    "no-change": "no change of ink seen above noise",
    "possible-change": "possible change of ink: look at the pair",
    "cannot-tell": "the photographs cannot tell",
}


class PatchDone(BookStruct, frozen=True, kw_only=True):
    """One patch of tape as it was lifted, or why it was not."""

    sheet: NeededSheet
    patch: Annotated[str, Says("patch", "Its number in the plan: F3 is the third on the front.", needed=True)]
    face: Annotated[Literal["front", "back"], Says("face", "Which face it lies on.")]
    outline: Annotated[str, Says("outline", "Corners as seen from that face, as of a strip.")]
    area_mm2: Annotated[
        float | None, Says("area", "Area of the patch.", unit="mm²", low=0, high=LONGEST_MM**2)
    ] = None
    progress: Annotated[PatchState, Says("progress")] = "running"
    share_percent: Annotated[
        float | None,
        Says("share", "Of the patch that is free, where it is not the whole.", unit="%", low=0, high=100),
    ] = None
    liquid: Annotated[
        str,
        Says(
            "liquid",
            "Id of the liquid, or the blend: acetone 50, n-heptane 50.",
            "a name, or a blend: acetone 50, n-heptane 50",
            entries=("liquid",),
        ),
    ] = ""
    method: Annotated[str, Says("method", entries=("method",))] = ""
    rounds: Annotated[int | None, count("rounds")] = None
    dwell_s: Annotated[float | None, Says("dwell", "Of one round.", unit="s", low=0, high=10_000_000)] = None
    swabs: Annotated[int | None, count("swabs")] = None
    volume_ml: Annotated[
        float | None, Says("volume", "Liquid that was used.", unit="ml", low=0, high=100_000)
    ] = None
    colour: Annotated[
        str,
        Says("colour", "Colour seen on the swab; none: looked at and nothing seen; empty: not looked at."),
    ] = ""
    release: Annotated[int | None, Says("release", low=0, high=4, what="a grade of release")] = None
    harm: Annotated[
        int | None,
        Says("harm", "The worst that was seen, of any kind.", low=0, high=4, what="a grade of harm"),
    ] = None
    ink: Annotated[
        InkVerdict,
        Says("photographs compared", "What the comparison of the photographs before and after said."),
    ] = ""
    decision: Annotated[
        str, Says("decision", "What was decided after colour on a swab or a possible change.")
    ] = ""
    why: Annotated[str, Says("why", "Why it was skipped or stopped.")] = ""
    batch: Annotated[str, Says("from batch", record="batch", reads="batch or words")] = ""
    photos: Photos = ()
    started_at: Annotated[str, Says("started at", reads="moment")] = ""
    ended_at: Annotated[str, Says("ended at", reads="moment")] = ""
    remarks: Remarks = ""


def patch_line(patch: PatchDone, names: Names) -> str:
    """``Patch F3 (front) lifted with acetone, swab: release 3; no colour on the swab``."""
    with_what = ", ".join(part for part in (names(("liquid",), patch.liquid), patch.method) if part)
    found = "; ".join(outcome(patch))
    return f"Patch {patch.patch} ({patch.face}) {STATE_WORDS[patch.progress]}" + (
        # Text times whether there is any: an empty part takes its own punctuation with it.
        f" with {with_what}" * bool(with_what) + f": {found}" * bool(found)
    )


def bears_colour(patch: PatchDone) -> bool:
    """Whether colour was seen on the swab, which stops the plan until it is decided how to go on."""
    said = patch.colour.strip(" .").lower()
    return bool(said) and said not in NOTHING_SEEN


def outcome(patch: PatchDone) -> list[str]:
    """What came of it, each in a few words."""
    share = "" if patch.share_percent is None else f"{patch.share_percent:g} % free"
    colour = "no colour on the swab" if patch.colour else ""
    if bears_colour(patch):
        # In capitals: it stops the plan, and whoever leafs through should see it.
        colour = f"COLOUR on the swab: {patch.colour}"
    found = (
        "" if patch.release is None else f"release {patch.release}",
        "" if patch.harm is None else f"worst harm {patch.harm}",
        share,
        colour,
        INK_WORDS[patch.ink],
        f"decided: {patch.decision}" if patch.decision else "",
        patch.why,
    )
    return [part for part in found if part]


PATCH = Kind(
    "patch",
    "patch",
    "patches",
    PatchDone,
    # The least body needs an outline of some area, or its check would refuse it.
    {"sheet": "-", "patch": "-", "face": "front", "outline": "0,0 1,0 1,1"},
    command="-",
    when="started_at",
    check=_check,
    words=lambda body, names: (patch_line(body, names),),
    line=lambda body, said: said,
)
