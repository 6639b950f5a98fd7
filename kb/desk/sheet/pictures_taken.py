"""Photographs of a sheet: taken in from files, from a folder, from a folder that is watched; listed."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

from kb.book.kinds.photograph import Photograph, photograph_line, when_taken
from kb.book.storage import from_home
from kb.desk.errors import DeskError, in_a_sentence
from kb.desk.records.photographs import stored
from kb.desk.records.record import Written, photo, record_named, write
from kb.desk.sheet.names import found_sheet, sheet_for_record, sheet_named
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept
from kb.index.open import Progress, silent
from kb.model.question import Plain

T = TypeVar("T")
ENDINGS = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif")
WHEN = ("before", "during", "after")
LIGHTS = ("raking", "transmitted", "uv")
PAUSE_S = 2.0
_STARTS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\x00", b"MM\x00*")


class Taken(Plain, frozen=True, kw_only=True):
    """A photograph as it stands. ``file`` is the studio's own copy; empty if it is not on this machine."""

    id: str
    at: str
    who: str
    sheet: str
    face: str
    area: str
    when: str
    light: str
    px_per_mm: float | None
    swab: str
    sha256: str
    file: str
    words: str


def add(studio: Studio, path: Path, words: Mapping[str, Any]) -> Written:
    """Take one photograph in: copied, hashed, written down. The file itself is only read.

    ``words``: sheet, new_sheet, area, face, tags (when and light), px_per_mm, swab, remarks. Raises DeskError
    for a file that is no whole picture; then nothing is recorded.
    """
    path = from_home(path)
    check_picture(path)
    body, when = described(studio, words, _taken_at(path))
    import msgspec

    shot = photo(path.absolute(), when)
    written = write(studio, "photograph", msgspec.structs.replace(body, photos=(shot,)))
    found_sheet(studio, body.sheet)
    return written


def described(studio: Studio, words: Mapping[str, Any], taken_at: str = "") -> tuple[Photograph, str]:
    """The record of a photograph without its picture, and when in the work it was taken.

    Raises DeskError for what would refuse every picture of a folder: a sheet that is none, a wrong tag.
    """
    from kb.book.check import make_kept
    from kb.desk.records.typed_fields import changes_from_words

    typed = str(words.get("sheet") or "")
    if not typed.strip():
        raise DeskError("Name the sheet that the photograph shows: --sheet NAME. Nothing was recorded.")
    sheet = sheet_for_record(studio, typed, new=bool(words.get("new_sheet")))
    when, light = tags(words.get("tags") or ())
    own = {key: str(words[key]) for key in ("face", "area", "px_per_mm", "swab", "remarks") if words.get(key)}
    own |= {"light": light, "taken_at": taken_at}
    said = [f"{name}={text}" for name, text in own.items() if text]
    with in_a_sentence("Nothing was recorded."):
        body = make_kept("photograph", {**changes_from_words(studio, "photograph", said), "sheet": sheet})
    return body, when


def add_if_new(studio: Studio, path: Path, words: Mapping[str, Any], known: set[str]) -> Written | None:
    """Take in a picture of a folder, unless its content is in ``known``, which it then joins."""
    digest = photo(path, "during").sha256
    if digest in known:
        return None
    written = add(studio, path, words)
    known.add(digest)
    return written


def tags(given: Any) -> tuple[str, str]:
    """When it was taken and the light: of each at most one. Raises DeskError for a word that is neither."""
    words = [str(word).strip().lower() for word in given if str(word).strip()]
    for word in words:
        if word not in (*WHEN, *LIGHTS):
            raise DeskError(f'"{word}" is no tag; there are {", ".join((*WHEN, *LIGHTS))}.')
    when, light = ([word for word in words if word in known] for known in (WHEN, LIGHTS))
    if len(set(when)) > 1 or len(set(light)) > 1:
        raise DeskError(f"A photograph is taken once and in one light; not {' and '.join(words)}.")
    # A picture in raking light of which nothing else is said belongs to the course of the work.
    return (when or ["during"])[0], (light or [""])[0]


def check_picture(path: Path) -> None:
    """Refuse what is no picture, and with the extra for photographs what cannot be read to its end."""
    try:
        # The record names the file, and holds no name that is not text.
        str(path).encode()
        if path.exists() and not path.is_file():
            # A pipe would be waited for without end.
            raise DeskError(f"{path} is no plain file. Nothing was recorded; name a picture.")
        with path.open("rb") as stream:
            head = stream.read(32)
    except UnicodeEncodeError as error:
        raise DeskError(f"{path}: the name is not in UTF-8; rename it. Nothing was recorded.") from error
    except OSError as error:
        raise DeskError(
            f"{path} cannot be read ({error.strerror}). Nothing was recorded; check the name and the disk."
        ) from error
    heic = head[4:8] == b"ftyp"
    webp = head[:4] == b"RIFF" and head[8:12] == b"WEBP"
    if not head:
        raise DeskError(f"{path} is empty; copy it from the camera again. Nothing was recorded.")
    if not (heic or webp or head.startswith(_STARTS)):
        raise DeskError(f"{path} is not a picture (JPEG, PNG, TIFF, WebP or HEIC). Nothing was recorded.")
    from importlib.util import find_spec

    from kb.desk.sheet.photo_compare import learn_heic, read_picture

    # Without the extra its end is not looked at; comparing will.
    if all(map(find_spec, ("PIL", "numpy"))) and (not heic or learn_heic()):
        read_picture(path)


def _taken_at(path: Path) -> str:
    """When the file was last written, which a camera does once."""
    moment = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    return moment.astimezone().isoformat(timespec="seconds") if moment <= datetime.now(UTC) else ""


def taken(studio: Studio, typed: str = "") -> list[Taken]:
    """Photographs of one sheet or of all, the oldest first."""
    name = sheet_named(studio, typed) if typed.strip() else ""
    return [_view(studio, row) for row in kept(studio.index.conn, "photograph", name)]


def _view(studio: Studio, row: KeptRow) -> Taken:
    body: Photograph = row.body
    sha256 = body.photos[0].sha256 if body.photos else ""
    own = str((stored(studio.root, sha256) if sha256 else None) or "")
    words = photograph_line(body)
    return Taken.taken_from(row, body, when=when_taken(body), sha256=sha256, file=own, words=words)


def pictures_in(folder: Path) -> list[Path]:
    """The pictures in a folder of a phone or camera, the oldest first. Raises DeskError if it is gone."""
    try:
        found = [
            path
            for path in from_home(folder).iterdir()
            if path.suffix.lower() in ENDINGS and not path.name.startswith(".") and path.is_file()
        ]
        return sorted(found, key=lambda path: (path.stat().st_mtime, path.name))
    except OSError as error:
        raise DeskError(
            f"The folder {folder} cannot be read any more ({error.strerror}). What was taken in before is "
            "stored; plug the device in again and start anew."
        ) from error


def watched(folder: Path, pause: Callable[[float], None] = time.sleep) -> Iterator[Path]:
    """Pictures that appear in a folder from now on, each once it stopped growing. Ends by DeskError only.

    It asks again every few seconds: folders of phones and network drives send no notice of what is new.
    """
    old = set(pictures_in(folder))
    growing: dict[Path, int] = {}
    while True:
        pause(PAUSE_S)
        for path in pictures_in(folder):
            if path in old:
                continue
            try:
                size = path.stat().st_size
            except OSError:
                continue
            if size and growing.get(path) == size:
                old.add(path)
                yield path
            growing[path] = size


def known_hashes(studio: Studio) -> set[str]:
    """SHA-256 of every photograph that is written down, so that a folder is not taken in twice."""
    return {one.sha256 for row in kept(studio.index.conn, "photograph") for one in row.body.photos}


def in_turn(given: Sequence[T], progress: Progress) -> Iterator[T]:
    """Each of them; before each it says how far it is. What ``progress`` raises ends it between two."""
    for number, one in enumerate(given):
        progress(f"Taking photographs in, {100 * number // len(given)} % ({number + 1} of {len(given)})")
        yield one


def named_path(words: Mapping[str, Any]) -> Path:
    """The picture or folder that ``file`` names, without the marks that dragging puts around it."""
    typed = str(words.get("file") or "").strip().strip("'\"")
    if not typed:
        # An empty path is the folder that the program was started in.
        raise DeskError("Name a picture, or a folder of pictures. Nothing was recorded.")
    return from_home(typed)


def add_named(studio: Studio, words: Mapping[str, Any], progress: Progress = silent) -> list[Written]:
    """Take in the picture that ``file`` names, or what is new in that folder; what was written.

    Of a folder what is refused is left out and named at the end, in a DeskError, as the rest is stored. What
    ``progress`` raises ends it between two pictures: those before are stored, and it can be taken up again.
    """
    path = named_path(words)
    if not path.is_dir():
        return [add(studio, path, words)]
    described(studio, words)
    known, written, refused = known_hashes(studio), [], []
    for one in in_turn(pictures_in(path), progress):
        try:
            if made := add_if_new(studio, one, words, known):
                written.append(made)
        except DeskError as error:
            refused.append(str(error))
    if refused:
        raise DeskError(f"What could be taken in is stored. {' '.join(refused[:3])}")
    if not written:
        raise DeskError(f"There is no picture in {path} that is not taken in already.")
    return written


def swab(studio: Studio, record: str, area: str, px_per_mm: str = "") -> Written:
    """Write down the swabbed area, and the scale, on the photograph before. Raises DeskError."""
    from kb.desk.records.book_list import amend_record
    from kb.desk.records.typed_fields import changes_from_words

    said = {"swab": area.replace(" ", ""), "px_per_mm": str(px_per_mm).strip()}
    changes = changes_from_words(
        studio, "photograph", [f"{name}={text}" for name, text in said.items() if text]
    )
    if not changes:
        raise DeskError("Say the swabbed area: X,Y,R in pixels of the photograph, such as 480,360,120.")
    return amend_record(studio, record_named(studio, "photograph", record), changes, "swabbed area marked")
