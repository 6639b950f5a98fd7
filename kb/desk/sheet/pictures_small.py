"""Pictures of a pair made small enough for cells of a terminal: for orientation, never for judging."""

from __future__ import annotations

import json
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from kb.desk.errors import DeskError
from kb.desk.sheet.pictures_paired import Pair
from kb.model.question import Plain

TITLES = ("before", "after", "difference")
ZOOM_MM = 8.0
BESIDE_MM = 1.5
BOX = 4
"""Pillow's number for the mean over each box of pixels."""
Pixel = tuple[int, int, int]


class Panel(Plain, frozen=True, kw_only=True):
    """One picture: rows of pixels, two of them to a row of cells; none where it cannot be shown."""

    title: str
    rows: tuple[tuple[Pixel, ...], ...]


class Triptych(Plain, frozen=True, kw_only=True):
    """Before, after and what differs, of one place; ``place`` says which and how wide it is."""

    panels: tuple[Panel, ...]
    place: str


def triptych(pair: Pair, columns: int, rows: int) -> Triptych:
    """The pair in panels of ``columns`` x ``rows`` cells: the place that changed, else the swabbed area.

    A pair that was not compared shows the whole photographs. Without the extra nothing is shown.
    """
    aligned = "aligned-before" in pair.files and "report" in pair.files
    names = ("aligned-before", "aligned-after", "difference") if aligned else ("before", "after")
    box, place = _place(pair) if aligned else (None, "whole photographs, not aligned")
    panels = [
        Panel(title=title, rows=_small(Path(pair.files[name]), box, columns, 2 * rows))
        for name, title in zip(names, TITLES, strict=False)
        if name in pair.files
    ]
    return Triptych(panels=tuple(panels), place=place)


def _place(pair: Pair) -> tuple[tuple[float, float, float, float] | None, str]:
    """The part of the aligned pictures to show, and what it is."""
    try:
        report: dict[str, Any] = json.loads(Path(pair.files["report"]).read_bytes())
        left, top, factor = report["cut"]
        scale = float(report["px_per_mm"])
        if report["boxes"]:
            found = report["boxes"][0]
            x, y, words = found["x"] + found["w"] / 2, found["y"] + found["h"] / 2, found["kind"]
            wide = max(found["w"], found["h"]) / scale + 2 * BESIDE_MM
        else:
            (x, y, radius), words = map(float, pair.swab.split(",")), "the swabbed area"
            wide = 2 * (radius / scale + BESIDE_MM)
    except (OSError, ValueError, KeyError, TypeError):
        return None, "the whole of what was compared"
    wide = min(wide, ZOOM_MM) if report["boxes"] else wide
    half = wide * scale / 2
    corners = ((x - half - left) * factor, (y - half - top) * factor)
    side = 2 * half * factor
    return (*corners, corners[0] + side, corners[1] + side), f"{words}, {wide:.0f} mm wide"


def side_by_side(pair: Pair, wide: int = 360) -> str:
    """Before and after as a drawing that needs nothing else; empty if they cannot be shown.

    Each is made new from its pixels, so that nothing the camera wrote beside them is handed on.
    """
    from base64 import b64encode
    from io import BytesIO

    names = ("aligned-before", "aligned-after") if "aligned-before" in pair.files else ("before", "after")
    shown, height = [], 0.0
    for number, name in enumerate(names):
        picture = _opened(Path(pair.files.get(name, "")), wide) if name in pair.files else None
        if picture is None:
            return ""
        picture.thumbnail((wide, 2 * wide))
        stream = BytesIO()
        picture.save(stream, "JPEG", quality=82)
        high = wide * picture.height / picture.width
        height = max(height, high)
        shown.append(
            f'<image x="{number * (wide + 12)}" y="0" width="{wide}" height="{high:.0f}" '
            f'href="data:image/jpeg;base64,{b64encode(stream.getvalue()).decode()}"/>'
        )
    size = f"0 0 {2 * wide + 12} {height:.0f}"
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{size}">{"".join(shown)}</svg>'


def _small(
    path: Path, box: tuple[float, float, float, float] | None, columns: int, rows: int
) -> tuple[tuple[Pixel, ...], ...]:
    shown = _opened(path, max(columns, rows))
    if shown is None:
        return ()
    if box is not None:
        whole = (0, 0, *shown.size)
        part = [round(max(whole[at % 2], min(box[at], whole[2 + at % 2]))) for at in range(4)]
        if part[2] - part[0] > 2 and part[3] - part[1] > 2:
            shown = shown.crop((part[0], part[1], part[2], part[3]))
    factor = min(columns / shown.width, rows / shown.height)
    size = (max(1, round(shown.width * factor)), max(2, round(shown.height * factor)))
    return tuple(_rows(shown.resize(size, BOX)))


def _opened(path: Path, side: int) -> Any:
    """A picture the right way up, at least ``side`` pixels wide if it is; None if it cannot be shown."""
    try:
        from PIL import Image, ImageOps
    except ImportError:
        return None
    from kb.desk.sheet.photo_compare import learn_heic

    if path.suffix in {".heic", ".heif"}:
        learn_heic()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(path) as opened:
                # JPEG is read no finer than is needed, which is many times quicker.
                opened.draft("RGB", (4 * side, 4 * side))
                return ImageOps.exif_transpose(opened).convert("RGB")
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        return None


def _rows(picture: Any) -> Iterator[tuple[Pixel, ...]]:
    raw, wide = picture.tobytes(), 3 * picture.width
    for at in range(0, len(raw), wide):
        row = raw[at : at + wide]
        yield tuple((row[x], row[x + 1], row[x + 2]) for x in range(0, wide, 3))


def open_outside(paths: tuple[str, ...]) -> None:
    """Hand pictures to the viewer of the system, which judges better than a terminal. Raises DeskError."""
    import subprocess

    opener = {"darwin": "open", "win32": "explorer"}.get(sys.platform, "xdg-open")
    try:
        for path in paths:
            subprocess.Popen(
                [opener, path],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
    except OSError as error:
        shown = "; ".join(paths)
        raise DeskError(
            f"No viewer could be started ({error.strerror}). The pictures are: {shown}"
        ) from error
