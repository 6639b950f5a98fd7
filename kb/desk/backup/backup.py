"""Back a studio up: a dated copy that is on disk and was read back before it bears its name."""

from __future__ import annotations

import contextlib
import os
import shutil
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import msgspec

from kb.book.storage import free_path, locked_folder, part_folder, sync_folder, sync_folders
from kb.desk.backup.check import (
    ABOUT,
    README,
    SUMS,
    About,
    about,
    book_faults,
    check_backup,
    readme,
    sums_line,
)
from kb.desk.backup.copy import (
    STUDIO,
    Copied,
    Source,
    copy,
    copy_photographs,
    digest_of,
    line_counts,
    sources,
    write,
)
from kb.desk.errors import DeskError
from kb.desk.sharing.share import Unindexed
from kb.index.open import Progress, silent
from kb.model.question import Plain
from kb.science.numbers import counted

KEPT = "Earlier backups and the records here are as they were."
_MARK = ".backup-"


class BackedUp(Plain, frozen=True, kw_only=True):
    """One backup. ``told`` is what a person should put right; ``removed`` are older backups taken away.

    ``photographs`` lay outside the studio folder and were copied, ``photographs_missing`` are named in
    records and not to be had here. ``same_disk`` is True if studio and backup would be lost together.
    """

    folder: str = ""
    files: int
    bytes: int
    records: int
    photographs: int
    photographs_missing: int
    same_disk: bool = False
    removed: tuple[str, ...] = ()
    told: tuple[str, ...]


def default_target(root: Path) -> Path:
    """Where backups go if no folder is named: ``backups`` beside the studio folder."""
    return root.absolute().parent / "backups"


def back_up(
    root: Path, target: Path | None = None, *, keep: int | None = None, progress: Progress = silent
) -> BackedUp:
    """Copy a whole studio into a new dated folder in ``target``; nothing there is ever overwritten.

    With ``keep``, own backups beyond the newest so many are taken away, if they still are whole. Raises
    DeskError, with no backup made and all earlier ones as they were.
    """
    root, target = root.absolute(), (target or default_target(root)).absolute()
    if keep is not None and keep < 1:
        raise DeskError("At least one backup has to be kept: --keep 1 or more.")
    if not root.is_dir():
        raise DeskError(f"There is no studio folder {root}, so there is nothing to back up.")
    if target.resolve().is_relative_to(root.resolve()):
        raise DeskError("A backup inside the studio folder would be lost with it; name a folder elsewhere.")
    try:
        target.mkdir(parents=True, exist_ok=True, mode=0o700)
        _clear(target)
        with part_folder(target, _MARK) as part, locked_folder(part, 0.0):
            done = _fill(root, part, progress)
            stamp = f"{root.name or STUDIO}-{datetime.now():%Y-%m-%d-%H%M%S}"
            folder = part.rename(free_path(target / stamp))
            sync_folder(target)
    except OSError as error:
        where = f" ({error.filename})" if error.filename else ""
        raise DeskError(
            f"No backup was made in {target}: {error.strerror or error}{where}. {KEPT} "
            "Make room there or name another folder."
        ) from error
    removed: list[str] = []
    if keep is not None and not done.told:
        removed, told = _thin(target, _id_of(root), keep)
        done = msgspec.structs.replace(done, told=(*done.told, *told))
    same_disk = root.stat().st_dev == folder.stat().st_dev
    return msgspec.structs.replace(done, folder=str(folder), removed=tuple(removed), same_disk=same_disk)


def _fill(root: Path, part: Path, progress: Progress) -> BackedUp:
    """Copy all files, write what the backup says of itself, and read everything back."""
    acknowledged = line_counts(root / "book")
    found, told = sources(root)
    needed = sum(one.path.stat().st_size for one in found if one.path.exists())
    free = shutil.disk_usage(part).free
    if needed > free:
        raise OSError(0, f"it needs {needed / 1e6:,.1f} MB and there are {free / 1e6:,.1f}")
    copied: dict[str, Copied] = {}
    for number, source in enumerate(found):
        progress(f"Copying the studio, {100 * number // len(found)} %")
        made = _copied(source, part, told)
        if made is not None:
            copied[source.name] = made
    photographs, missing = copy_photographs(root, part, copied)
    records = sum(one.lines for name, one in copied.items() if name.startswith(f"{STUDIO}/book/"))
    faults = book_faults(part / STUDIO / "book")
    _write_own(root, part, copied, records, faults)
    _read_back(part, copied, acknowledged, progress)
    told += [f"The book has a fault, and so has the copy: {one}" for one in faults]
    sync_folders(part)
    return BackedUp(
        files=len(copied),
        bytes=sum(one.size for one in copied.values()),
        records=records,
        photographs=photographs,
        photographs_missing=missing,
        told=tuple(told),
    )


def _copied(source: Source, part: Path, told: list[str]) -> Copied | None:
    name = source.name.removeprefix(f"{STUDIO}/")
    try:
        made = copy(source, part / source.name)
    except PermissionError as error:
        if error.filename != str(source.path):
            raise
        told.append(f"{name} may not be read and was not copied.")
        return None
    if made is None and source.path.exists():
        told.append(f"{name} changed while it was copied, again and again; it is not in the backup.")
    return made


def _write_own(root: Path, part: Path, copied: dict[str, Copied], records: int, faults: list[str]) -> None:
    from kb import __version__

    made_at = datetime.now(UTC).isoformat(timespec="milliseconds")
    said = About(
        studio=root.name,
        of=_id_of(root),
        bench=Unindexed(root).bench,
        made_at=made_at,
        records=records,
        faults=tuple(faults),
        program=f"benchleaf {__version__}",
    )
    copied[ABOUT] = write(part / ABOUT, msgspec.json.format(msgspec.json.encode(said)) + b"\n")
    text = readme(root.name, made_at, records, len(copied) + 1)
    copied[README] = write(part / README, text.encode())
    lines = (sums_line(copied[name].digest, os.fsencode(name)) for name in sorted(copied))
    write(part / SUMS, b"".join(lines))


def _read_back(
    part: Path, copied: dict[str, Copied], acknowledged: dict[str, int], progress: Progress
) -> None:
    """Compare each copy with what was read of the original, and the book with what was there before."""
    for number, (name, one) in enumerate(copied.items()):
        progress(f"Reading the copy back, {100 * number // len(copied)} %")
        if digest_of(part / name) != one.digest:
            raise OSError(0, f"{name} could not be read back as it was written; the disk may be failing")
    now = line_counts(part / STUDIO / "book")
    for name, lines in acknowledged.items():
        if now.get(name, 0) < lines:
            had = counted(lines, "line")
            raise OSError(0, f"the book file {name} had {had} and its copy has {now.get(name, 0)}")


def _clear(target: Path) -> None:
    """Take away what killed runs left; a run at work holds a lock on its folder."""
    for left in target.glob(f"{_MARK}*.part"):
        if left.is_symlink():
            continue
        with contextlib.suppress(OSError), locked_folder(left, 0.0):
            shutil.rmtree(left, ignore_errors=True)


def _id_of(root: Path) -> str:
    """Tells this studio and bench from others that are backed up to the same folder."""
    said = f"{root.resolve()}\n{Unindexed(root).bench}".encode(errors="surrogateescape")
    return sha256(said).hexdigest()[:16]


def _thin(target: Path, own: str, keep: int) -> tuple[list[str], list[str]]:
    """Take away own backups beyond the newest ``keep``, but none that is damaged: it may be all there is."""
    found = []
    for folder in target.iterdir():
        said = about(folder) if not folder.is_symlink() and (folder / SUMS).is_file() else None
        if said is not None and said.of == own:
            found.append((said.made_at, folder.name, folder))
    removed, told = [], []
    for _, name, folder in sorted(found)[:-keep]:
        problems = check_backup(folder).problems
        if problems:
            told.append(f"The older backup {name} is damaged and was left: {problems[0]}")
            continue
        # Under another name first: a removal that is broken off leaves no half backup that looks whole.
        going = target / f"{_MARK}{name}.part"
        try:
            folder.rename(going)
            shutil.rmtree(going)
        except OSError as error:
            told.append(f"The older backup {name} could not be taken away ({error.strerror}).")
        else:
            removed.append(name)
    return removed, told
