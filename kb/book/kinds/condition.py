"""One thing that is wrong with a sheet."""

from __future__ import annotations

from typing import Annotated, Literal

from kb.book.kinds.field import Says
from kb.book.kinds.kind import Kind
from kb.book.kinds.mend import TEAR_KINDS, TEAR_WORDS, TearKind
from kb.book.kinds.parts import Face, NeededSheet, Photos, Remarks, length
from kb.model.record import BookStruct

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


class Condition(BookStruct, frozen=True, kw_only=True):
    """One thing that is wrong with a sheet, where, and how large; and what became of it."""

    sheet: NeededSheet
    damage: Annotated[Damage, Says("damage")]
    face: Annotated[Face, Says("face", "Which face it is seen on.")] = ""
    tear: Annotated[
        TearKind, Says("kind of tear", f"Of a tear, by which a tissue is chosen: {TEAR_KINDS}.")
    ] = ""
    place: Annotated[str, Says("place", hint="where, in words")] = ""
    x_mm: Annotated[float | None, length("from left edge", "From the left edge of its face.", least=0)] = None
    y_mm: Annotated[float | None, length("from top edge", "From the top edge of its face.", least=0)] = None
    width_mm: Annotated[float | None, length("width")] = None
    height_mm: Annotated[float | None, length("height")] = None
    found: Annotated[
        Literal["before", "during", "after"],
        Says(
            "found", "Whether it was there before treatment, appeared in its course, or was found after it."
        ),
    ] = "before"
    treated: Annotated[
        str, Says("treated", "What was done about it, or why it was left; empty: still open.")
    ] = ""
    treated_by: Annotated[str, Says("treated by", "Id of the mend or other record that settled it.")] = ""
    photos: Photos = ()
    found_at: Annotated[str, Says("found at", reads="moment")] = ""
    remarks: Remarks = ""


def condition_words(body: Condition) -> str:
    """``tear 45 mm, lower edge (front), mended``."""
    size = " x ".join(f"{side:g}" for side in (body.width_mm, body.height_mm) if side is not None)
    place = " ".join(part for part in (body.place, f"({body.face})" if body.face else "") if part)
    # A place in words says more to the eye than millimetres; figures stand in only where there are none.
    if not body.place and body.x_mm is not None and body.y_mm is not None:
        place = f"{body.x_mm:g} mm from the left and {body.y_mm:g} mm from the top {place}".strip()
    # A tear by its kind: the word "tear" is in it already.
    named = TEAR_WORDS[body.tear] or body.damage
    what = f"{named} {size} mm" if size else named
    # What was there before treatment is the usual case and need not be said.
    state = body.treated or ("" if body.found == "before" else f"found {body.found} treatment")
    return ", ".join(part for part in (what, place, state) if part)


CONDITION = Kind(
    "condition",
    "condition",
    "conditions",
    Condition,
    {"sheet": "-", "damage": "tear"},
    command="-",
    when="found_at",
    words=lambda body, names: (condition_words(body),),
)
