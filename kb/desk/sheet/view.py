"""One sheet with its facts, its condition and its tape, for the command and the screen.

One face of a sheet with its patches as an SVG drawing.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from kb.book.kinds.condition import Condition, condition_words
from kb.book.kinds.patch import strip_line
from kb.book.kinds.sheet import SHEET, Sheet
from kb.desk.errors import DeskError
from kb.desk.records.work_records import Teller, name_of
from kb.desk.sheet.facts import conditions
from kb.desk.sheet.names import sheet_named, sheet_record, sheet_row
from kb.desk.sheet.tape import LETTERS, PatchView, TapeView, strips, tape_view
from kb.desk.studio import Studio
from kb.model.question import Plain
from kb.science.numbers import counted
from kb.science.sheet.polygons import box

HATCH = {
    "done": ("#2f6b3f", "M0 0H3M0 1H3M0 2H3"),
    "look": ("#a8650b", "M0 0L3 3M3 0L0 3"),
    "partly": ("#2f6b3f", "M0 1.5H3"),
    "now": ("#1f4e6b", "M0 3L3 0"),
    "stopped": ("#8a2f1d", "M1.5 0V3"),
    "skipped": ("#6b6b6b", "M0 0L.6 .6"),
}
"""Ink and pattern of each state. The pattern and the letter say the same without colour."""
_PATTERNS = (
    '<pattern id="{0}-{1}" width="3" height="3" patternUnits="userSpaceOnUse"><path d="{2}" stroke="{3}" '
    'stroke-width=".5" fill="none"/></pattern>'
)


def face_svg(patches: Iterable[PatchView], width_mm: float, height_mm: float, face: str) -> str:
    """The face as one looks at it, in mm; each patch with its number, pattern and letter."""
    from html import escape

    patterns = "".join(_PATTERNS.format(face, name, path, ink) for name, (ink, path) in HATCH.items())
    size = max(4.0, max(width_mm, height_mm) / 60)
    shapes = []
    for patch in patches:
        around = box(patch.polygon)
        corners = " ".join(f"{x:g},{y:g}" for x, y in patch.polygon)
        fill = f"url(#{face}-{patch.state})" if patch.state in HATCH else "none"
        ink = HATCH[patch.state][0] if patch.state in HATCH else "#888"
        words = f"{patch.id} {LETTERS[patch.state]}".strip()
        # Figures must stay inside their patch, whose neighbours have figures too.
        high = min(size, (around.right - around.left) / (0.62 * len(words)))
        x, y = (around.left + around.right) / 2, (around.top + around.bottom) / 2 + high / 3
        shapes.append(
            f'<polygon points="{corners}" fill="{fill}" stroke="{ink}" stroke-width="{size / 12:.2f}"/>'
            f'<text x="{x:g}" y="{y:.2f}" font-size="{high:.2f}" text-anchor="middle" stroke="white" '
            f'stroke-width="{high / 4:.2f}" paint-order="stroke" fill="#111">'
            f"{escape(words)}</text>"
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-2 -2 {width_mm + 4:g} {height_mm + 4:g}" '
        f'font-family="sans-serif" role="img" aria-label="Patches of the {face}"><defs>{patterns}</defs>'
        f'<rect width="{width_mm:g}" height="{height_mm:g}" fill="white" stroke="#333" '
        f'stroke-width="{size / 8:.2f}"/>{"".join(shapes)}</svg>'
    )


class SheetView(Plain, frozen=True, kw_only=True):
    """A sheet, and all that belongs to its face. ``tape`` is None where there is none, or no size."""

    sheet: str
    id: str
    record: Sheet
    facts: tuple[tuple[str, str], ...]
    condition: tuple[Condition, ...]
    condition_words: tuple[str, ...]
    tape: TapeView | None
    tape_words: tuple[str, ...]
    no_tape: str
    """Why there is no tape to show."""


def sheet_view(studio: Studio, typed: str) -> SheetView:
    """The sheet that is meant by any part of its name. Raises DeskError and Unclear as ``sheet_named``."""
    name = sheet_named(studio, typed)
    row = sheet_row(studio, name)
    record = sheet_record(studio, name)
    condition = [found.body for found in conditions(studio, name)]
    tape, why = None, ""
    try:
        tape = tape_view(studio, name)
    except DeskError as error:
        why = str(error)
    return SheetView(
        sheet=name,
        id=row.id if row is not None else "",
        record=record,
        facts=Teller(studio).fields(SHEET, record),
        condition=tuple(condition),
        condition_words=tuple(condition_words(found) for found in condition),
        tape=tape,
        tape_words=(*strip_lines(studio, name), *_progress(tape)),
        no_tape=why,
    )


def strip_lines(studio: Studio, name: str) -> tuple[str, ...]:
    """Each strip of a sheet as it lay, and each weak zone: they are drawn, and a page is also read aloud."""
    return tuple(strip_line(row.body, partial(name_of, studio)) for row in strips(studio, name))


def _progress(tape: TapeView | None) -> tuple[str, ...]:
    if tape is None:
        return ()
    return (
        f"{tape.done} of {counted(len(tape.patches), 'patch', 'patches')} lifted, {lifted_area(tape)}; "
        f"about {hours(tape.minutes_left)}, "
        f"{tape.ml_left:.0f} ml and {counted(round(tape.swabs_left), 'swab')} to go",
    )


def lifted_area(tape: TapeView) -> str:
    """``11.4 of 48.0 cm²``: patches differ in size, and what came off in part counts."""
    return "{:.1f} of {:.1f} cm²".format(*lifted_cm2(tape))


def lifted_cm2(tape: TapeView) -> tuple[float, float]:
    """Area of tape that is off, and that there was, on both faces, in cm²."""
    # Of a patch that is planned again its own area is only what is left of it.
    whole = sum((one.done.area_mm2 if one.done else None) or one.area_mm2 for one in tape.patches)
    return (tape.freed_front_mm2 + tape.freed_back_mm2) / 100.0, whole / 100.0


def hours(minutes: float) -> str:
    """``3 h 20 min``, ``45 min``."""
    whole = round(minutes)
    return f"{whole // 60} h {whole % 60:02} min" if whole >= 60 else f"{whole} min"
