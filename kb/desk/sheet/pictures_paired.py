"""Photographs before and after of one place, paired; compared one after the other, the answer kept.

Also made small enough for cells of a terminal: for orientation, never for judging.
"""

from __future__ import annotations

import json
import sys
import warnings
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import msgspec

from kb.book.kinds.parts import Face, Photo
from kb.book.kinds.photograph import Photograph, PhotoPair, area_words, circle, pair_line, when_taken
from kb.book.line import hash_of
from kb.book.storage import put_whole
from kb.desk.errors import DeskError
from kb.desk.records.book_list import amend_record
from kb.desk.records.photographs import FOLDER, stored
from kb.desk.records.record import Written, record_named, write
from kb.desk.sheet.names import sheet_named
from kb.desk.sheet.photo_compare import Compared, Progress, compare_files, lines_of, packed
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept, one_kept
from kb.model.question import Plain


class Pair(Plain, frozen=True, kw_only=True):
    """A pair as it stands. Files are paths on this machine by what they show; what is not here is missing."""

    id: str
    at: str
    sheet: str
    face: Face
    area: str
    before: str
    after: str
    px_per_mm: float | None
    swab: str
    verdict: str
    said: str
    words: str
    files: dict[str, str]
    wants: str
    """What has to be said before the pair can be compared; empty if nothing."""

    @property
    def place(self) -> str:
        """``F3, front``, as the record says it."""
        return area_words(PhotoPair(sheet="", before="", after="", face=self.face, area=self.area))


def pairs(studio: Studio, typed: str = "") -> list[Pair]:
    """The pairs of one sheet or of all, the oldest first."""
    name = sheet_named(studio, typed) if typed.strip() else ""
    return [_view(studio, row) for row in kept(studio.index.conn, "photo-pair", name)]


def one_pair(studio: Studio, record: str) -> Pair:
    """A pair by the beginning of its id. Raises DeskError, or Unclear."""
    return _view(studio, _row(studio, "photo-pair", record))


def pair_two(studio: Studio, before: str, after: str) -> Written:
    """Pair two photographs by the beginnings of their ids. Raises DeskError if they show two sheets."""
    first, second = (_row(studio, "photograph", one) for one in (before, after))
    if first.id == second.id:
        raise DeskError("That is one photograph; a pair has one before and one after.")
    if first.body.sheet != second.body.sheet:
        raise DeskError(
            f'The photographs show two sheets, "{first.body.sheet}" and "{second.body.sheet}". Nothing was '
            "recorded."
        )
    return write(studio, "photo-pair", _paired(first, second))


def pair_by_area(studio: Studio, typed: str) -> list[Written]:
    """Pair what shows one area of a sheet in one light, the last before with the last after it."""
    name = sheet_named(studio, typed)
    there = {(row.body.before, row.body.after) for row in kept(studio.index.conn, "photo-pair", name)}
    areas: dict[tuple[str, str, str], dict[str, KeptRow]] = {}
    for row in kept(studio.index.conn, "photograph", name):
        body: Photograph = row.body
        if body.area:
            areas.setdefault((body.area.casefold(), body.face, body.light), {})[when_taken(body)] = row
    return [
        write(studio, "photo-pair", _paired(shots["before"], shots["after"]))
        for shots in areas.values()
        if {"before", "after"} <= set(shots) and (shots["before"].id, shots["after"].id) not in there
    ]


def _paired(before: KeptRow, after: KeptRow) -> PhotoPair:
    body: Photograph = before.body
    return PhotoPair(
        sheet=body.sheet,
        before=before.id,
        after=after.id,
        face=body.face or after.body.face,
        area=body.area or after.body.area,
    )


def _row(studio: Studio, kind: str, record: str) -> KeptRow:
    row = one_kept(studio.index.conn, kind, record_named(studio, kind, record))
    if row is None:
        raise DeskError(f"The {kind} {record} is not in the book.")
    return row


def _view(studio: Studio, row: KeptRow) -> Pair:
    body: PhotoPair = row.body
    shots = {
        name: one_kept(studio.index.conn, "photograph", record)
        for name, record in (("before", body.before), ("after", body.after))
    }
    named = {name: shot.body.photos[0].sha256 for name, shot in shots.items() if shot and shot.body.photos}
    named |= {Path(one.path).stem: one.sha256 for one in body.photos}
    files = {name: str(path) for name, sha in named.items() if (path := stored(studio.root, sha))}
    before = shots["before"].body if shots["before"] else Photograph(sheet=body.sheet)
    return Pair.taken_from(row, body, before, words=pair_line(body), files=files, wants=_wants(before, files))


def _wants(before: Photograph, files: dict[str, str]) -> str:
    if lost := [name for name in ("before", "after") if name not in files]:
        return f"the photograph {' and '.join(lost)} is not on this machine"
    missing = [
        words
        for words, there in (("the scale in px/mm", before.px_per_mm), ("the swabbed area", before.swab))
        if not there
    ]
    return f"say {' and '.join(missing)}" if missing else ""


# -- compared ------------------------------------------------------------------------------------------------


def compare_pair(
    studio: Studio, record: str, progress: Progress = lambda _text, _share: None
) -> tuple[Pair, Compared]:
    """Compare one pair and keep the answer.

    What ``progress`` raises ends the work, and nothing is kept of it. Raises DeskError without the extra, or
    for photographs that are not here or cannot be read.
    """
    pair = one_pair(studio, record)
    compared = work_out(pair, progress)
    return keep(studio, pair, compared), compared


def work_out(pair: Pair, progress: Progress) -> Compared:
    """The comparison alone, which takes seconds and needs no studio: others may use that meanwhile."""
    if "before" not in pair.files or "after" not in pair.files:
        raise DeskError(f"{pair.words}: {pair.wants}.")
    return compare_files(
        Path(pair.files["before"]),
        Path(pair.files["after"]),
        pair.px_per_mm,
        circle(pair.swab) if pair.swab else None,
        progress=progress,
    )


def keep(studio: Studio, pair: Pair, compared: Compared) -> Pair:
    """Pictures and report beside the originals, verdict in the book and on the record of the patch."""
    made = [
        Photo(path=name, sha256=_stored(studio.root.absolute(), content, Path(name).suffix), when="after")
        for name, content in packed(compared).items()
    ]
    lines = lines_of(compared)
    changes: dict[str, Any] = {
        "verdict": compared.result.verdict,
        "said": "\n".join(lines),
        "photos": msgspec.to_builtins(made),
        "compared_at": datetime.now(UTC).astimezone().isoformat(timespec="seconds"),
    }
    amend_record(studio, pair.id, changes, "photographs compared")
    _tell_patch(studio, pair, compared.result.verdict)
    return one_pair(studio, pair.id)


def compare_all(
    studio: Studio, records: Iterable[str], progress: Callable[[int, str, float], None]
) -> Iterator[Pair | str]:
    """Compare pairs one after the other; a sentence instead of a pair where one could not be compared."""
    for number, record in enumerate(records):
        try:
            yield compare_pair(studio, record, partial(progress, number))[0]
        except DeskError as error:
            yield str(error)


def _stored(root: Path, content: bytes, ending: str) -> str:
    """Keep what was made of a pair under its hash; the hash. Raises DeskError if the disk is full."""
    sha256 = hash_of(content)
    target = root / FOLDER / f"{sha256}{ending}"
    try:
        target.parent.mkdir(exist_ok=True, mode=0o700)
        if not target.exists():
            put_whole(target, content)
    except OSError as error:
        raise DeskError(
            f"The comparison could not be kept ({error.strerror}); the photographs are as they were. Make "
            "room and compare again."
        ) from error
    return sha256


def _tell_patch(studio: Studio, pair: Pair, verdict: str) -> None:
    """The verdict on the record of the patch, where a possible change stops the plan for a decision."""
    patches = [
        row
        for row in kept(studio.index.conn, "patch", pair.sheet)
        if row.body.patch.casefold() == pair.area.casefold() and (not pair.face or row.body.face == pair.face)
    ]
    if patches and patches[-1].body.ink != verdict:
        amend_record(studio, patches[-1].id, {"ink": verdict}, f"photographs compared, pair {pair.id}")


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
