"""The label of a batch, as text and as a drawing to print."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path

from kb.desk.errors import DeskError
from kb.desk.making.batches import BatchView, show
from kb.desk.new_file import write_new_file
from kb.desk.studio import Studio
from kb.model.question import Plain

WIDTH_MM, HEIGHT_MM = 80, 50
_COLUMNS = 38
_MOST_LINES = 11
_UNWANTED = re.compile(
    "[\x00-\x1f\x7f-\x9f\u200b\ufeff\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)


class Label(Plain, frozen=True, kw_only=True):
    """A label of 80 by 50 mm: the lines as text, and the drawing as one SVG document."""

    batch: str
    short: str
    text: str
    svg: str


def label(studio: Studio, batch_id: str) -> Label:
    """The label of a batch: contents, strength, day, last day, hazard words, short id."""
    one = show(studio, batch_id)
    lines = label_lines(one)
    return Label(
        batch=one.id,
        short=one.short,
        text="\n".join(line for line, _ in lines) + "\n",
        svg=_svg(lines),
    )


def save_svg(made: Label, path: Path) -> None:
    """Write the drawing. Raises DeskError if the file exists already or cannot be written."""
    try:
        write_new_file(path, made.svg)
    except FileExistsError:
        raise DeskError(f"{path} exists already; name a new file.") from None
    except OSError as error:
        raise DeskError(f"The label could not be written to {path} ({error.strerror}).") from error


def label_lines(one: BatchView) -> list[tuple[str, bool]]:
    """The lines of a label, each with whether it is set bold. Nothing is cut off: long words are broken."""
    told: list[tuple[str, bool]] = [(one.name, True)]
    if one.bad:
        told.append((f"DO NOT USE: {one.bad}", True))
    told += [(", ".join(one.hazards).upper(), True)] if one.hazards else []
    told += [(one.strength, False)] if one.strength else []
    if one.ph is not None:
        told.append((f"pH {one.ph:g}", False))
    told.append((f"made {one.made_at} by {one.who}", False))
    told.append((f"use by {one.expires} at the latest" if one.expires else "use by: not known", True))
    told.append((f"batch {one.short}", True))
    return [
        (line, bold)
        for text, bold in told
        for line in textwrap.wrap(_UNWANTED.sub(" ", text), _COLUMNS, break_long_words=True) or [""]
    ]


def _svg(lines: list[tuple[str, bool]]) -> str:
    """The lines as a drawing; more lines than usual are set smaller, so that all of them fit."""
    from html import escape

    step_mm = (HEIGHT_MM - 6) / max(_MOST_LINES, len(lines))
    size_mm = round(step_mm * 0.82, 2)
    rows = "".join(
        f'<text x="3" y="{3 + step_mm * (place + 0.85):.2f}" font-size="{size_mm}"'
        f"{' font-weight=' + chr(34) + 'bold' + chr(34) if bold else ''}>{escape(line)}</text>"
        for place, (line, bold) in enumerate(lines)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_MM}mm" height="{HEIGHT_MM}mm" '
        f'viewBox="0 0 {WIDTH_MM} {HEIGHT_MM}" font-family="sans-serif" fill="black">'
        f'<rect x="0.5" y="0.5" width="{WIDTH_MM - 1}" height="{HEIGHT_MM - 1}" fill="white" '
        f'stroke="black" stroke-width="0.3"/>{rows}</svg>\n'
    )
