"""Bring a data package back into a studio: check everything first, show what would come in, then add it.

The bench book comes in line by line (`bring_in_book.py`); catalogue, settings and pool file by file,
without overwriting what is here.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any, Literal

import msgspec

from kb.book.check import BookError
from kb.book.files import files
from kb.book.storage import free_path, part_folder, sync
from kb.book.verify import verify
from kb.catalogue.own_files import read_settings
from kb.catalogue.paths import yaml_files
from kb.catalogue.yaml_reader import read
from kb.desk.errors import DeskError
from kb.desk.package.bring_in_book import BookChange, apply_book, plan_book, put_new
from kb.desk.package.files import SETTINGS, SIDE_FOLDERS, SIDE_LIMIT
from kb.desk.package.opened import Package, open_package
from kb.desk.records.photographs import NAMED, stored
from kb.desk.studio import STARTER, Studio
from kb.index.open import Progress, silent
from kb.index.pool_file import STUDIO_ID
from kb.index.pool_queries import OWN_ID
from kb.model.question import Plain
from kb.model.studio import Settings
from kb.science.numbers import percent

Whose = Literal["ours", "theirs"]
Action = Literal["new", "same", "kept ours", "replaced"]
OWN = f"pool/{OWN_ID}"
"""Where a studio keeps the id that its counts bear."""
KEPT = ".kept"
"""Ending of a file that was set aside; it is no longer read."""
Key = tuple[str, str]


class FileChange(Plain, frozen=True, kw_only=True):
    """What becomes of one file. ``entries`` are ids that differ or are only there, by ``kind/id``."""

    file: str
    action: Action
    entries: tuple[str, ...]
    text: str


def plan_entries(incoming: Path, root: Path, catalogue: Whose) -> list[FileChange]:
    """What each catalogue file of the package does here. Changes nothing."""
    ours = {path: read_entries(root / path) for path in _catalogue_files(root)}
    return [_entries_of(incoming, root, path, ours, catalogue) for path in _catalogue_files(incoming)]


def apply_files(incoming: Path, root: Path, changes: Iterable[FileChange]) -> None:
    """Do what was planned. Our own file is set aside under another name before it is replaced."""
    for one in changes:
        target = root / one.file
        if one.action == "replaced" or (one.action == "new" and os.path.lexists(target)):
            target.rename(free_path(target.with_name(target.name + KEPT)))
            put_new(incoming / one.file, target)
        elif one.action == "new":
            put_new(incoming / one.file, target)


def own_id(root: Path) -> str:
    """The random id under which a studio gives its counts away; empty if it has none that can be read."""
    try:
        said = json.loads((root / OWN).read_bytes())
    except (OSError, ValueError, RecursionError):
        return ""
    found = said.get("studio") if isinstance(said, dict) else None
    return found if isinstance(found, str) and STUDIO_ID.fullmatch(found) else ""


def _plain_file(incoming: Path, root: Path, path: str, settings: Whose) -> FileChange:
    """What settings, shelf or pooled counts of the package do here. Changes nothing."""
    ours = root / path
    if path == OWN and files(root / "book") and own_id(incoming) != own_id(root):
        return _file(path, "kept ours", "it is the id of the other studio, and this one keeps its own")
    if path == f"pool/{own_id(root)}.json":
        return _file(path, "kept ours", "these are this studio's own counts, which must not count twice")
    if not os.path.lexists(ours):
        return _file(path, "new", "not here: it comes in as it is")
    there, here = (incoming / path).read_bytes(), _bytes(ours)
    if there == here:
        return _file(path, "same", "the same here")
    if path == "studio.yaml" and here == STARTER.encode():
        return _file(path, "new", "here it was never filled in: it comes in as it is")
    return _differing(path, "settings", settings)


def _entries_of(
    incoming: Path, root: Path, path: str, ours: dict[str, dict[Key, Any]], catalogue: Whose
) -> FileChange:
    theirs = read_entries(incoming / path)
    elsewhere = {
        key: file for file, entries in ours.items() if file != path for key in entries if key in theirs
    }
    if os.path.lexists(root / path):
        here = ours.get(path, {})
        if _bytes(root / path) == (incoming / path).read_bytes():
            return _file(path, "same", "the same here")
        listed = _names(key for key in {**here, **theirs} if here.get(key) != theirs.get(key))
        if elsewhere:
            return _file(path, "kept ours", _stands(elsewhere), listed)
        return _differing(path, "catalogue", catalogue, listed)
    if elsewhere:
        return _file(path, "kept ours", _stands(elsewhere), _names(elsewhere))
    return _file(path, "new", "not here: it comes in as it is", _names(theirs))


def _differing(path: str, of: str, whose: Whose, entries: tuple[str, ...] = ()) -> FileChange:
    if whose == "theirs":
        return _file(path, "replaced", f"replaced; ours stays beside it as {path}{KEPT}", entries)
    return _file(path, "kept ours", f"it differs, and ours stays; --{of} theirs replaces it", entries)


def _stands(elsewhere: dict[Key, str]) -> str:
    key, file = next(iter(elsewhere.items()))
    return f"it is left out, for {'/'.join(key)} stands in {file} here; take it out there to bring it in"


def read_entries(path: Path) -> dict[Key, Any]:
    """The entries of a catalogue file as plain values, by kind and id; what cannot be read is left out."""
    found: dict[Key, Any] = {}
    for kind, items in read(path).value.items():
        for item in items if isinstance(items, list) else ():
            if isinstance(item, dict) and isinstance(item.get("id"), str):
                found[kind, item["id"]] = item
    return found


def _catalogue_files(root: Path) -> list[str]:
    return [path.relative_to(root).as_posix() for path in yaml_files(root / "catalogue")]


def _names(keys: Iterable[Key]) -> tuple[str, ...]:
    return tuple(sorted("/".join(key) for key in keys))


def _file(file: str, action: Action, text: str, entries: tuple[str, ...] = ()) -> FileChange:
    return FileChange(file=file, action=action, entries=entries, text=text)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        return b"\x00 not readable"


_BOOK = re.compile(r"book/[^/]+\.jsonl")
_CATALOGUE = re.compile(r"catalogue/.+\.ya?ml", re.IGNORECASE)
_SIDE = re.compile(f"({'|'.join(SIDE_FOLDERS)})/.+")
_PHOTO = re.compile(f"photographs/{NAMED.pattern}")
_TABLE = re.compile(r"tables(-raw)?/[^/]+\.csv")
_SPARE_BYTES = 8 << 20


class Brought(Plain, frozen=True, kw_only=True):
    """What came in, or would come in (``done`` False). ``photographs`` counts those that are new here.

    ``files`` and ``bytes`` were checked against their SHA-256. ``ignored`` are files of the package that
    are never brought in.
    """

    done: bool = False
    package: str
    title: str
    files: int
    bytes: int
    book: tuple[BookChange, ...]
    catalogue: tuple[FileChange, ...]
    settings: tuple[FileChange, ...]
    records: int
    photographs: int
    ignored: tuple[str, ...]
    mind: tuple[str, ...]

    @property
    def kept(self) -> tuple[FileChange, ...]:
        """Files that differ and were not brought in."""
        return tuple(one for one in (*self.catalogue, *self.settings) if one.action == "kept ours")


def bring_in(
    studio: Studio,
    path: Path,
    *,
    dry_run: bool = False,
    catalogue: Whose = "ours",
    settings: Whose = "ours",
    damaged: bool = False,
    progress: Progress = silent,
) -> Brought:
    """Bring in a package, a folder or zip file. Nothing is changed before all of it has been checked.

    ``damaged`` also takes a book that was damaged before the export. Raises DeskError in a sentence. If
    it stops half way, for instance for want of room, what came in is whole, and doing it again goes on.
    """
    try:
        with open_package(path) as package, _staging(studio, package) as stage:
            _stage(package, stage, progress)
            plan = _plan(studio, package, stage, catalogue=catalogue, settings=settings, damaged=damaged)
            if not dry_run:
                _apply(studio, stage, plan)
                plan = msgspec.structs.replace(plan, done=True)
            return plan
    except BookError as error:
        raise DeskError(
            f"{error} Files that came in before stay and are whole; bring it in again."
        ) from error
    except OSError as error:
        said = error.strerror or type(error).__name__
        raise DeskError(
            f"The package could not be brought in ({said}). Files that came in before stay and are whole; "
            "put it right and bring it in again."
        ) from error


def _staging(studio: Studio, package: Package) -> AbstractContextManager[Path]:
    """A folder on the same disk as the studio, with room enough."""
    place = studio.root.absolute().parent
    while not place.is_dir():
        place = place.parent
    needed = sum(one.bytes for one in package.members if _comes_in(one.path)) + _SPARE_BYTES
    free = shutil.disk_usage(place).free
    if needed > free:
        raise DeskError(
            f"The package takes {needed:,} bytes and the disk has {free:,} left. Nothing was brought in; "
            "make room first."
        )
    return part_folder(place, f".{studio.root.name[:60]}-")


def _comes_in(path: str) -> bool:
    known = (_BOOK, _CATALOGUE, _SIDE, _PHOTO)
    return path in SETTINGS or any(one.fullmatch(path) for one in known)


def _stage(package: Package, stage: Path, progress: Progress) -> None:
    """Copy what may come in, and check every file of the package on the way."""
    done, whole = 0, sum(member.bytes for member in package.members) or 1
    for member in package.members:
        progress(f"Checking the package, {percent(done / whole)}")
        done += member.bytes
        if not _comes_in(member.path):
            package.copy(member, None)
            continue
        photo = _PHOTO.fullmatch(member.path)
        if member.bytes > SIDE_LIMIT and not (photo or _BOOK.fullmatch(member.path)):
            raise DeskError(f"{member.path} is far larger than such a file can be. Nothing was brought in.")
        if photo and (photo[2] or photo[1]) != member.sha256:
            raise DeskError(f"{member.path} does not bear the name of its content. Nothing was brought in.")
        target = stage / member.path
        target.parent.mkdir(parents=True, exist_ok=True)
        package.copy(member, target)
        with target.open("rb") as copied:
            sync(copied.fileno())
        target.chmod(0o600)


def _plan(
    studio: Studio, package: Package, stage: Path, *, catalogue: Whose, settings: Whose, damaged: bool
) -> Brought:
    mind = _check_book(stage / "book", damaged=damaged)
    book = plan_book(stage / "book", studio.root / "book")
    theirs = read_settings(stage / "studio.yaml")[0]
    _check_invented(studio, theirs)
    mind += [*_check_bench(studio, theirs.bench), *_check_pool(studio, stage)]
    side = sorted(one.path for one in package.members if _SIDE.fullmatch(one.path))
    beside = [path for path in (*SETTINGS, *side) if (stage / path).is_file()]
    photos = [one.path for one in package.members if _PHOTO.fullmatch(one.path)]
    others = [one.path for one in package.members if not (_comes_in(one.path) or _TABLE.fullmatch(one.path))]
    return Brought(
        package=package.shown,
        title=package.title,
        files=len(package.members),
        bytes=package.size,
        book=tuple(book),
        catalogue=tuple(plan_entries(stage, studio.root, catalogue)),
        settings=tuple(_plain_file(stage, studio.root, path, settings) for path in beside),
        records=sum(one.records for one in book),
        photographs=sum(1 for one in photos if stored(studio.root, Path(one).name[:64]) is None),
        ignored=(*others, *package.unnamed),
        mind=tuple(mind),
    )


def _check_book(book: Path, *, damaged: bool) -> list[str]:
    """What to mind of the book in the package. Raises DeskError if its chain is broken."""
    errors = [one for one in verify(book) if one.severity == "error"]
    if errors and not damaged:
        more = f" ({len(errors) - 1} more)" if len(errors) > 1 else ""
        raise DeskError(
            f"The book in the package is not whole: {errors[0].sentence}{more} Nothing was brought in. "
            "--damaged brings it in as it stands."
        )
    return [one.sentence for one in errors]


def _check_invented(studio: Studio, theirs: Settings) -> None:
    """Invented records among real ones would be counted as real."""
    invented = read_settings(studio.settings_file)[0].invented
    if not files(studio.root / "book") or theirs.invented == invented:
        return
    which = "This studio is an invented one" if invented else "The package is of an invented studio"
    raise DeskError(
        f"{which}, and the records would be taken for one another's. Nothing was brought in; "
        "name a folder of its own with --studio."
    )


def _check_bench(studio: Studio, bench: str) -> list[str]:
    """Two machines that write under one bench name part ways; say so before that happens."""
    if not bench or studio.settings_file.exists():
        return []
    return [
        f"studio.yaml of the package names the bench {bench}: if that machine goes on writing, give this "
        "one a bench name of its own in studio.yaml first."
    ]


def _check_pool(studio: Studio, stage: Path) -> list[str]:
    """Records that came in must not count a second time through the pool."""
    theirs = own_id(stage)
    if not theirs or theirs == own_id(studio.root) or not (studio.root / "pool" / f"{theirs}.json").exists():
        return []
    return [
        f"The pool here has counts of the studio whose records come in: they would count twice. Take them "
        f"out: benchleaf pool drop {theirs}"
    ]


def _apply(studio: Studio, stage: Path, plan: Brought) -> None:
    studio.close()
    studio.root.mkdir(parents=True, exist_ok=True, mode=0o700)
    for path in sorted((stage / "photographs").glob("*")):
        if stored(studio.root, path.name[:64]) is None:
            put_new(path, studio.root / "photographs" / path.name)
    apply_files(stage, studio.root, (*plan.catalogue, *plan.settings))
    apply_book(stage / "book", studio.root / "book", list(plan.book))
    studio.mark_stale()
