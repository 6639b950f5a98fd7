"""Everything of a studio as an open data package: tables, schema, and every file byte for byte."""

from __future__ import annotations

import errno
import os
import re
import shutil
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from datetime import datetime
from hashlib import file_digest
from io import BufferedReader
from pathlib import Path
from textwrap import fill
from typing import Any

import msgspec

from kb import __version__
from kb.book.storage import CLOSED_ON_EXEC, part_folder, sync, sync_folder, sync_folders
from kb.catalogue.paths import MAX_BYTES, find
from kb.desk.errors import DeskError
from kb.desk.package.files import (
    DESCRIPTOR,
    FORMAT,
    README,
    SETTINGS,
    SIDE_FOLDERS,
    SIDE_LIMIT,
    Hashed,
    Member,
    Unfit,
    copy,
    held,
    open_plain,
    safe_name,
)
from kb.desk.package.fill import Photographs, fill_tables
from kb.desk.package.tables import AT, Table, cell_text
from kb.desk.studio import Studio
from kb.index.book_lines import files_of
from kb.index.open import Progress, silent
from kb.index.queries import entries
from kb.index.walk import Walk
from kb.model.question import Plain
from kb.science.numbers import counted, percent

ZIP_TIME = (1980, 1, 1, 0, 0, 0)
"""Every member bears the same time, so that the same studio gives the same bytes."""
BOOK_LIMIT = 1 << 40
EXPORTS = "exports"
_NOT_KEPT = {"book", "catalogue", "photographs", "benches", "working", "backups", EXPORTS, *SIDE_FOLDERS}
"""Folders that are looked at elsewhere, or hold nothing that cannot be made again."""


class LeftOut(Plain, frozen=True, kw_only=True):
    """Something of the studio that is not in the package, and why."""

    what: str
    why: str


class Exported(Plain, frozen=True, kw_only=True):
    """What was written. ``tables`` counts rows; ``checksums`` maps paths in the package to SHA-256.

    ``bytes`` is the size of all files together, or of the zip file; ``sha256`` that of the zip file, or of
    the descriptor, which names all others.
    """

    path: str = ""
    zipped: bool = False
    raw: bool
    tables: dict[str, int]
    photographs: int
    damaged_lines: int
    bytes: int
    sha256: str
    checksums: dict[str, str]
    left_out: tuple[LeftOut, ...]


def export(
    studio: Studio,
    target: Path,
    *,
    zipped: bool = False,
    raw: bool = False,
    photographs: bool = True,
    progress: Progress = silent,
) -> Exported:
    """Write the package as a new folder or zip file; it is on disk and whole when this returns.

    ``raw`` leaves text in the tables unmarked against formulas. Raises DeskError in a sentence; then
    nothing is left under the target's name, nor if ``progress`` raises anything.
    """
    if zipped and target.suffix.lower() != ".zip":
        target = target.with_name(target.name + ".zip")
    target = _checked(studio, target)
    named = False
    try:
        with part_folder(target.parent, f".{target.name[:60]}-") as part:
            made = part / "package"
            made.mkdir(mode=0o700)
            done = _write(studio, made, raw=raw, photographs=photographs, progress=progress)
            sync_folders(made)
            if zipped:
                sha256, made = _zip(made, part / "package.zip"), part / "package.zip"
                done = msgspec.structs.replace(done, sha256=sha256, bytes=made.stat().st_size)
            # What came to stand there meanwhile is left as it is.
            if os.path.lexists(target):
                raise FileExistsError(errno.EEXIST, "it exists already")
            made.rename(target)
            named = True
            sync_folder(target.parent)
    except BlockingIOError as error:
        raise DeskError(
            "Another program keeps writing in the bench book, so no package was written; try again."
        ) from error
    except OSError as error:
        if named:
            _drop(target)
        raise _refusal(error, target) from error
    return msgspec.structs.replace(done, path=str(target), zipped=zipped)


def _checked(studio: Studio, target: Path) -> Path:
    """The whole path of the target. Raises DeskError if it is taken or cannot be made."""
    target = target.absolute()
    try:
        str(target).encode()
        if os.path.lexists(target):
            raise DeskError(f"{target} exists already and was left as it is; name a new folder or file.")
        parent = target.parent.resolve(strict=True)
    except (OSError, ValueError) as error:
        raise DeskError(
            f"The folder {target.parent} in which the package is to stand cannot be used; make it first."
        ) from error
    if not studio.root.is_dir():
        raise DeskError(f"There is no studio folder {studio.root} to export; name one with --studio.")
    root = studio.root.resolve()
    if parent.is_relative_to(root) and not parent.is_relative_to(root / EXPORTS):
        raise DeskError(
            f"The package would lie among the studio's files; name a folder outside or in its {EXPORTS}."
        )
    return parent / target.name


def _drop(target: Path) -> None:
    """Take our own package away again where its name could not be brought to the disk."""
    if target.is_dir():
        shutil.rmtree(target, ignore_errors=True)
    else:
        target.unlink(missing_ok=True)


def _refusal(error: OSError, target: Path) -> DeskError:
    if error.errno in {errno.ENOSPC, errno.EDQUOT}:
        return DeskError(f"There is no room on the disk for the package {target}; nothing of it was kept.")
    if error.errno == errno.EEXIST:
        return DeskError(f"{target} was made by another program meanwhile and was left; name a new one.")
    said = error.strerror or type(error).__name__
    return DeskError(f"The package {target} cannot be written ({said}); nothing of it was kept.")


def _write(studio: Studio, folder: Path, *, raw: bool, photographs: bool, progress: Progress) -> Exported:
    """All files of the package. The tables are made from the copy of the book, so the two agree."""
    missed: list[LeftOut] = []
    names = {one.id: one.name for one in entries(studio.index.conn, "liquid")}
    title, invented = cell_text(studio.settings.name), studio.settings.invented
    book = _copy_book(studio, folder, missed)
    files = [*book, *_copy_rest(studio, folder, missed)]
    photos = Photographs(studio.root, folder, take=photographs)
    paths = [folder / one.path for one in book]
    with Walk(paths, lambda share: progress(f"Reading the book, {percent(share)}")) as walk:
        progress("Writing the tables")
        filled = fill_tables(folder, walk, names, photos, raw=raw)
        latest = walk.latest()
    files += photos.copied
    missed += [LeftOut(what=f"photograph {path}", why=why) for path, why in photos.missing]
    if invented and "invented" not in title.lower():
        title += " (invented)"
    created = f"{datetime.fromisoformat(latest):%Y-%m-%dT%H:%M:%SZ}" if latest else ""
    head = msgspec.json.encode(descriptor(title, created, filled.tables, files, raw=raw))
    text = readme(title, [(one[0], one[2]) for one in filled.tables], len(files), len(missed), raw=raw)
    files += [
        _put(folder, README, text.encode()),
        _put(folder, DESCRIPTOR, msgspec.json.format(head, indent=2) + b"\n"),
    ]
    written = [*(one[1] for one in filled.tables), *files]
    return Exported(
        raw=raw,
        tables={table.name: rows for table, _, rows in filled.tables},
        photographs=len(photos.copied),
        damaged_lines=filled.damaged_lines,
        bytes=sum(one.bytes for one in written),
        sha256=files[-1].sha256,
        checksums={one.path: one.sha256 for one in written},
        left_out=tuple(missed),
    )


def _put(folder: Path, path: str, data: bytes) -> Member:
    out = Hashed(folder, path)
    out.write(data)
    return out.close()


def _copy_book(studio: Studio, folder: Path, missed: list[LeftOut]) -> list[Member]:
    """The files of the book as they are at one moment: nobody writes while they are copied."""
    (folder / "book").mkdir()
    with ExitStack() as stack:
        sources: list[tuple[str, BufferedReader]] = []
        for path in files_of(studio.book_dir):
            try:
                if not safe_name(path.name):
                    raise Unfit("its name is not one that every system can hold")
                sources.append((path.name, stack.enter_context(open_plain(path, BOOK_LIMIT))))
            except Unfit as error:
                missed.append(LeftOut(what=f"book/{path.name}", why=str(error)))
        stack.enter_context(held([source for _, source in sources]))
        return [copy(source, folder, f"book/{name}", BOOK_LIMIT) for name, source in sources]


def _copy_rest(studio: Studio, folder: Path, missed: list[LeftOut]) -> list[Member]:
    copied: list[Member] = []
    for path, limit in _rest(studio, missed):
        inner = path.relative_to(studio.root)
        try:
            if not all(map(safe_name, inner.parts)):
                raise Unfit("its name is not one that every system can hold")
            with open_plain(path, limit) as source:
                copied.append(copy(source, folder, inner.as_posix(), limit))
        except Unfit as error:
            missed.append(LeftOut(what=inner.as_posix(), why=str(error)))
    return copied


def _rest(studio: Studio, missed: list[LeftOut]) -> Iterator[tuple[Path, int]]:
    """The studio's own files besides the book, each with the size that is taken along."""
    if studio.catalogue_dir.is_dir():
        found, refused = find(studio.catalogue_dir)
        missed += [LeftOut(what=path.relative_to(studio.root).as_posix(), why=why) for path, why in refused]
        yield from ((path, MAX_BYTES) for path in found)
    for name in SIDE_FOLDERS:
        yield from ((path, SIDE_LIMIT) for path in _below(studio.root / name))
    for path in (studio.settings_file, studio.shelf_file):
        if os.path.lexists(path):
            yield path, MAX_BYTES
    missed += [
        LeftOut(what=one, why="not among what a studio keeps: copy it yourself if it matters")
        for one in sorted(os.listdir(studio.root))
        if not (
            one in _NOT_KEPT or one.startswith((".", "index.db")) or one.endswith(".part") or one in SETTINGS
        )
    ]


def _below(folder: Path) -> list[Path]:
    """All that lies in a folder and below it but hidden things; nothing if the folder is a link."""
    if folder.is_symlink():
        return []
    found: list[Path] = []
    for here, folders, names in os.walk(folder):
        folders[:] = [one for one in folders if not one.startswith(".")]
        links = [one for one in folders if Path(here, one).is_symlink()]
        found += [Path(here, one) for one in (*names, *links) if not one.startswith(".")]
    return sorted(found)


def _zip(folder: Path, target: Path) -> str:
    """All files of a folder in one zip file, in the same order and with the same bytes; its SHA-256."""
    with open(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | CLOSED_ON_EXEC, 0o600), "wb") as out:
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted(one for one in folder.rglob("*") if one.is_file()):
                inner = path.relative_to(folder).as_posix()
                member = zipfile.ZipInfo(inner, ZIP_TIME)
                member.compress_type = zipfile.ZIP_DEFLATED
                member.create_system, member.external_attr = 3, 0o100644 << 16
                if inner.startswith("photographs/"):
                    member.compress_type = zipfile.ZIP_STORED
                huge = path.stat().st_size > 1 << 31
                with path.open("rb") as source, archive.open(member, "w", force_zip64=huge) as into:
                    shutil.copyfileobj(source, into, 1 << 20)
        out.flush()
        sync(out.fileno())
    with target.open("rb") as made:
        return file_digest(made, "sha256").hexdigest()


# -- what a package says of itself: datapackage.json, and README.txt for people ----------------------------


_WIDTH = 76
_DIALECT = {
    "csvddfVersion": 1.2,
    "delimiter": ",",
    "lineTerminator": "\r\n",
    "quoteChar": '"',
    "doubleQuote": True,
    "skipInitialSpace": False,
    "header": True,
}
_MARKED = (
    " Text that begins with = + - @ or ' (blanks in front or not), or with a tab, has one ' put in front, so "
    "that no spreadsheet takes it for a formula; numbers have no such mark."
)
_MEDIA = {
    "jsonl": "application/x-ndjson",
    "json": "application/json",
    "yaml": "application/yaml",
    "yml": "application/yaml",
    "jpg": "image/jpeg",
    "jpeg": "image/jpeg",
    "png": "image/png",
    "tif": "image/tiff",
    "tiff": "image/tiff",
    "webp": "image/webp",
    "svg": "image/svg+xml",
}
_TEXTS = ("jsonl", "json", "yaml", "yml")
ABOUT_FILES = {
    "book": "The bench book of one bench, byte for byte: one record a line as JSON, each with the SHA-256 of "
    "the line before it as prev. This and not the tables is what a program reads back.",
    "catalogue": "Entries that the studio added to the catalogue, byte for byte.",
    "pool": "Counts of tests from other studios, byte for byte.",
    "set-aside": "Lines of the book that sharing could not place, byte for byte.",
    "to-settle": "The other version of a file in dispute between benches, byte for byte.",
    "photographs": "A photograph, named by its SHA-256 and, if its place was blanked, by that of the copy "
    "too; table photographs says to which record it belongs.",
    "studio.yaml": "Settings of the studio, byte for byte.",
    "shelf.yaml": "What the studio holds and forbids, byte for byte.",
}


def descriptor(
    title: str,
    created: str,
    tables: Sequence[tuple[Table, Member, int]],
    files: Sequence[Member],
    *,
    raw: bool,
) -> dict[str, Any]:
    """The descriptor: a resource for every table and file, with size, hash and, of tables, the schema."""
    made: dict[str, Any] = {
        "profile": "data-package",
        "name": _name(title),
        "title": f"{title}: bench book",
        "description": (
            "Everything that the studio wrote down: tables as things stand now, and the book, catalogue, "
            f"settings and photographs byte for byte. See {README}."
        ),
    }
    if created:
        made["created"] = created
    made["benchleaf"] = {"format": FORMAT, "version": __version__, "tables_marked": not raw}
    resources = [_table_resource(*one, raw=raw) for one in tables]
    made["resources"] = [*resources, *_file_resources(files)]
    return made


def _name(title: str) -> str:
    plain = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:80].strip("-")
    return f"bench-book-{plain}" if plain else "bench-book"


def _common(name: str, about: str, file: Member) -> dict[str, Any]:
    return {
        "name": name,
        "path": file.path,
        "description": about,
        "bytes": file.bytes,
        "hash": f"sha256:{file.sha256}",
    }


def _table_resource(table: Table, file: Member, rows: int, *, raw: bool) -> dict[str, Any]:
    return {
        **_common(table.name, _about(table), file),
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "rows": rows,
        "dialect": _DIALECT,
        "schema": _schema(table, raw=raw),
    }


def _about(table: Table) -> str:
    if not any(one.name == "withdrawn_because" for one in table.columns):
        return table.about
    return f"{table.about} One row for each, as it stands now; the column state marks withdrawn ones."


def _schema(table: Table, *, raw: bool) -> dict[str, Any]:
    fields = []
    for one in table.columns:
        field: dict[str, Any] = {"name": one.name, "type": one.type, "description": one.about}
        if one.type == "datetime":
            field["format"] = AT
        if one.unit:
            field["unit"] = one.unit
        limits: dict[str, Any] = {"required": True} if one.name in table.key else {}
        if one.words:
            limits["enum"] = list(one.words)
        if limits:
            field["constraints"] = limits
        fields.append(field)
    about = "An empty cell stands for what was not noted, never for none." + ("" if raw else _MARKED)
    return {
        "description": about,
        "fields": fields,
        "missingValues": [""],
        "primaryKey": list(table.key),
        "foreignKeys": [
            {"fields": [link.column], "reference": {"resource": link.table, "fields": ["id"]}}
            for link in table.links
        ],
    }


def _file_resources(files: Iterable[Member]) -> Iterable[dict[str, Any]]:
    for number, file in enumerate(files, 1):
        folder = file.path.partition("/")[0]
        ending = file.path.rpartition(".")[2].lower()
        made = _common(
            f"file-{number}", ABOUT_FILES.get(folder, "A file of the studio, byte for byte."), file
        )
        # A file and no table: readers must not look for rows in the lines of the book.
        made |= {"profile": "data-resource", "type": "file", "title": file.path, "format": ending}
        made["mediatype"] = _MEDIA.get(ending, "application/octet-stream")
        if ending in _TEXTS:
            made["encoding"] = "utf-8"
        yield made


def readme(title: str, tables: Sequence[tuple[Table, int]], files: int, left_out: int, *, raw: bool) -> str:
    """The package in plain words. It says the same for the same studio, whenever it is written."""
    folder = "tables-raw" if raw else "tables"
    parts = [
        f"{title}: bench book",
        "This folder holds everything that a paper conservation studio wrote down with Benchleaf. It is a "
        "Data Package: datapackage.json lists every file with its size and its SHA-256, and every column of "
        "the tables with its type, unit and meaning. Nothing but a text editor is needed to read it.",
        f"{folder}/ has the records as things stand now, as comma-separated text (UTF-8, comma between "
        "cells, first row names). In a spreadsheet, import a table as UTF-8 text with commas. Start with "
        f"{folder}/spot_tests.csv.",
    ]
    listed = [
        fill(
            f"{table.name}.csv, {counted(rows, 'row')}. {table.about}",
            _WIDTH,
            initial_indent="  ",
            subsequent_indent="    ",
        )
        for table, rows in tables
    ]
    rest = [
        "Withdrawn records are among the rows: look at the column state, and leave them out of counts. An "
        "empty cell means that something was not noted or not looked at; it never means none.",
        (
            "The tables are not marked against formulas: do not open them in a spreadsheet. Use them for "
            "programs only."
            if raw
            else "Text in the tables that begins with one of = + - @ ' (blanks in front or not), or with a "
            "tab, has one ' put in front, so that no spreadsheet takes it for a formula; take one ' off to "
            "get the text back. Numbers have no mark: -4 is -4. Text of more than 32,000 characters is cut "
            "short there, with a note."
        ),
        "book/ has the bench book itself, one file for each bench, byte for byte. Each line is one record as "
        "JSON. Each carries as prev the SHA-256 of the line before it, so that a line that was lost or "
        "altered can be found. catalogue/, studio.yaml and shelf.yaml are the studio's own entries and "
        f"settings, if it has any. Files of these kinds and photographs here: {files}.",
        "photographs/ has the photographs that were found, each named by its SHA-256. Where one says in "
        "which place on earth it was taken, that was blanked in the copy and nothing else: its name is the "
        "SHA-256 of the photograph, a hyphen and the SHA-256 of the copy. The table photographs "
        "says where each lay when it was recorded, and why it is not here if it is not."
        + (f" Left out of the package: {left_out}." if left_out else ""),
        "To bring it back: benchleaf import THIS-FOLDER. It reads book/, catalogue/ and the settings, checks "
        "every SHA-256 first, and never reads the tables. To check by hand: sha256sum FILE, and compare.",
        "The date in datapackage.json (created) is that of the newest record, so that the same studio gives "
        "the same package to the last byte. No licence is named: whoever gives the package away says under "
        "which terms, and adds them to datapackage.json (licenses).",
    ]
    folded = [fill(one, _WIDTH) for one in parts] + ["\n".join(listed)] + [fill(one, _WIDTH) for one in rest]
    return "\n\n".join(folded) + "\n"
