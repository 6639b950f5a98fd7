"""Photographs before and after of one place, paired; compared one after the other, the answer kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import msgspec

from kb.book.kinds.parts import Photo
from kb.book.kinds.photograph import Photograph, PhotoPair, circle, pair_line, when_taken
from kb.book.line import hash_of
from kb.book.storage import put_whole
from kb.desk.errors import DeskError
from kb.desk.records.book_list import amend_record
from kb.desk.records.photographs import FOLDER, stored
from kb.desk.records.record import Written, write
from kb.desk.records.work_records import record_named
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
    face: str
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


def pairs(studio: Studio, typed: str = "") -> list[Pair]:
    """The pairs of one sheet or of all, the oldest first."""
    name = sheet_named(studio, typed) if typed.strip() else ""
    return [_view(studio, row) for row in kept(studio.index.conn, "photo-pair", name)]


def one_pair(studio: Studio, record: str) -> Pair:
    """A pair by the beginning of its id. Raises DeskError, or Unclear."""
    row = one_kept(studio.index.conn, "photo-pair", record_named(studio, "photo-pair", record))
    if row is None:
        raise DeskError(f'There is no pair "{record}".')
    return _view(studio, row)


def pair_two(studio: Studio, before: str, after: str) -> Written:
    """Pair two photographs by the beginnings of their ids. Raises DeskError if they show two sheets."""
    first, second = (_photograph(studio, record_named(studio, "photograph", one)) for one in (before, after))
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


def _photograph(studio: Studio, record: str) -> KeptRow:
    row = one_kept(studio.index.conn, "photograph", record)
    if row is None:
        raise DeskError(f"The photograph {record} is not in the book.")
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
    return Pair(
        id=row.id,
        at=row.at,
        sheet=body.sheet,
        face=body.face,
        area=body.area,
        before=body.before,
        after=body.after,
        px_per_mm=before.px_per_mm,
        swab=before.swab,
        verdict=body.verdict,
        said=body.said,
        words=pair_line(body),
        files=files,
        wants=_wants(before, files),
    )


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
