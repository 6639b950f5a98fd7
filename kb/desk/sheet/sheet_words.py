"""Records of a sheet in one line each."""

from __future__ import annotations

from kb.book.check_sheet import corners
from kb.model.sheet_record import NO_COLOUR, Condition, PatchDone, Sheet, Strip
from kb.science.sheet.polygons import box

STATE_WORDS = {
    "running": "under way",
    "done": "lifted",
    "partly": "lifted in part",
    "skipped": "left out",
    "stopped": "stopped",
}
"""What a reader calls each state of a patch."""
INK_WORDS = {
    "": "",
    "no-change": "no change of ink seen above noise",
    "possible-change": "possible change of ink: look at the pair",
    "cannot-tell": "the photographs cannot tell",
}


def line_of(body: Sheet | Condition | Strip | PatchDone) -> str:
    """The record in one line, as in a list."""
    if isinstance(body, Sheet):
        size = size_words(body)
        return f"Sheet: {', '.join(part for part in (body.sheet, body.number, size, body.owner) if part)}"
    if isinstance(body, Condition):
        return f"Condition: {condition_words(body)}"
    return strip_line(body) if isinstance(body, Strip) else patch_line(body)


def size_words(sheet: Sheet) -> str:
    """``410 x 560 mm``; empty where a side is missing."""
    if sheet.width_mm is None or sheet.height_mm is None:
        return ""
    return f"{sheet.width_mm:g} x {sheet.height_mm:g} mm"


def condition_words(body: Condition) -> str:
    """``tear 45 mm, lower edge (front), mended``."""
    size = " x ".join(f"{side:g}" for side in (body.width_mm, body.height_mm) if side is not None)
    place = " ".join(part for part in (body.place, f"({body.face})" if body.face else "") if part)
    if not body.place and body.x_mm is not None and body.y_mm is not None:
        place = f"{body.x_mm:g} mm from the left and {body.y_mm:g} mm from the top {place}".strip()
    what = f"{body.damage} {size} mm" if size else body.damage
    state = body.treated or ("" if body.found == "before" else f"found {body.found} treatment")
    return ", ".join(part for part in (what, place, state) if part)


def strip_line(strip: Strip) -> str:
    """``Strip of tape on the front, 100 x 25 mm at 10, 20: clear cellulose film``."""
    around = box(corners(strip.outline))
    what = f"Weak zone ({strip.weak})" if strip.weak else "Strip of tape"
    tape = f": {strip.tape}" if strip.tape else ""
    return (
        f"{what} on the {strip.face}, {around.right - around.left:g} x {around.bottom - around.top:g} mm "
        f"at {around.left:g}, {around.top:g}{tape}"
    )


def patch_line(patch: PatchDone) -> str:
    """``Patch F3 (front) lifted with acetone, swab: release 3; no colour on the swab``."""
    with_what = ", ".join(part for part in (patch.liquid, patch.method) if part)
    found = "; ".join(outcome(patch))
    return f"Patch {patch.patch} ({patch.face}) {STATE_WORDS[patch.progress]}" + (
        f" with {with_what}" * bool(with_what) + f": {found}" * bool(found)
    )


def outcome(patch: PatchDone) -> list[str]:
    """What came of it, each in a few words."""
    share = "" if patch.share_percent is None else f"{patch.share_percent:g} % free"
    colour = {"": "", NO_COLOUR: "no colour on the swab"}.get(
        patch.colour, f"COLOUR on the swab: {patch.colour}"
    )
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
