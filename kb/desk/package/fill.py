"""Fills the tables of a package from the lines of the book, in one pass over each kind of record.

Photographs are found by path or by hash, and copied under a name made from their hash.
"""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from kb.book.kinds.parts import Photo
from kb.desk.package.files import Hashed, Member, Unfit, open_plain
from kb.desk.package.tables import (
    AT_UTC,
    BENCH,
    ID,
    KIND,
    STATE,
    WHO,
    Child,
    Link,
    Table,
    TableFile,
    child_rows,
    child_table,
    column,
    kind_table,
    shapes,
)
from kb.desk.records.photographs import FOLDER, NAMED, content_named, leaving
from kb.desk.records.record import LONGEST_PHOTO
from kb.index.walk import Listed, Standing, Walk

NOT_TAKEN = "photographs were left out as asked"


class Photographs:
    """Copies each photograph once. What could not be copied is kept with the reason."""

    def __init__(self, studio_root: Path, package: Path, *, take: bool) -> None:
        self._own = studio_root / FOLDER
        self._root = studio_root
        self._package = package
        self._take = take
        self._placed: dict[str, Member] = {}
        self._missed: dict[tuple[str, str], str] = {}

    @property
    def copied(self) -> list[Member]:
        """The photographs in the package, by name."""
        return sorted(self._placed.values())

    @property
    def missing(self) -> list[tuple[str, str]]:
        """Paths of photographs that are not in the package, as recorded, and why."""
        if not self._take:
            return []
        return sorted((path, why) for (path, sha), why in self._missed.items() if sha not in self._placed)

    def place(self, photo: Photo) -> tuple[str, str]:
        """Path in the package of a photograph, and if it is not there, why (one of the two is empty)."""
        there = self._placed.get(photo.sha256)
        if there is not None:
            return there.path, ""
        key = (photo.path, photo.sha256)
        if key not in self._missed:
            why = self._try(photo) if self._take else NOT_TAKEN
            if not why:
                return self._placed[photo.sha256].path, ""
            self._missed[key] = why
        return "", self._missed[key]

    def place_own(self) -> None:
        """Take along what lies in the studio's own folder, named by its hash, and no record shows."""
        try:
            names = sorted(one.name for one in self._own.iterdir()) if self._take else []
        except OSError:
            return
        for name in names:
            found = NAMED.fullmatch(name)
            if found and found[1] not in self._placed:
                why = self._copy(self._own / name, found[1])
                if why:
                    self._missed[f"{FOLDER}/{name}", found[1]] = why

    def _try(self, photo: Photo) -> str:
        said = "no file is there"
        for path in self._candidates(photo):
            why = self._copy(path, photo.sha256)
            if not why:
                return ""
            if why != "No such file or directory":
                said = why
        return said

    def _candidates(self, photo: Photo) -> list[Path]:
        """Where it may lie: in the studio by its hash, and where the record says, if that is a whole path.

        A path that is not whole was meant from a folder that nobody knows any more; it is looked for in
        the studio only, and not outside of it.
        """
        found: list[Path] = []
        if self._own.is_dir():
            found += sorted(self._own.glob(f"{photo.sha256}*"))
        try:
            named = Path(photo.path)
            if named.is_absolute():
                found.append(named)
            elif (self._root / named).resolve().is_relative_to(self._root.resolve()):
                found.append(self._root / named)
        except (OSError, ValueError, RuntimeError):
            pass
        return found

    def _copy(self, path: Path, sha: str) -> str:
        """Copy one file if its content is what the record says; why not, in a few words."""
        try:
            with open_plain(path, LONGEST_PHOTO) as source:
                raw = source.read(LONGEST_PHOTO)
        except Unfit as error:
            return str(error)
        if sha256(raw).hexdigest() != content_named(path.name, sha):
            return "the file there is another one: its SHA-256 is not the one recorded"
        # A copy that came without its place keeps its name.
        blanked = content_named(path.name, sha) != sha
        name, content = (path.name, raw) if blanked else leaving(raw, sha, path.suffix)
        target = Hashed(self._package, f"{FOLDER}/{name}")
        target.write(content)
        self._placed[sha] = target.close()
        return ""


HEAD = (ID, AT_UTC, WHO, BENCH, KIND)
BOOK_FILE = column("book_file", "string", "File in the folder book.")
LINE = column("line", "integer", "Line of that file, counted from 1.")
RECORDS = Table(
    "records",
    "Every record of the book, of any kind, with the place where it stands in the book files.",
    (
        *HEAD,
        STATE,
        BOOK_FILE,
        LINE,
        column("sha256", "string", "SHA-256 of that line without its line feed, lower-case hex."),
    ),
    ("id",),
    (),
)
CHANGES = Table(
    "changes",
    "Amendments and withdrawals: who changed which record, when and why. The first record always stays.",
    (
        *HEAD,
        column("of", "string", "Id of the record or change that it is about, if that is here."),
        column("of_not_here", "string", "Id of the record that it is about, if that is not here (yet)."),
        column("record", "string", "Id of the record that it leads to in the end."),
        column("why", "string", "The reason that was given."),
        column("in_force", "boolean", "Whether it counts."),
        column("note", "string", "Why it does not count."),
        column("fields", "string", "Names of the fields that were replaced, with semicolons between them."),
        column("new_values", "string", "The new values by field, as JSON."),
    ),
    ("id",),
    (Link("id", "records"), Link("of", "records"), Link("record", "records")),
)
OTHERS = Table(
    "other_records",
    "Records that stand in no other table: of a kind not known to the version of the program that made "
    "the package, or damaged.",
    (
        *HEAD,
        STATE,
        column("note", "string", "Why it stands here."),
        column("body", "string", "What it says, as JSON."),
    ),
    ("id",),
    (Link("id", "records"),),
)
DAMAGED = Table(
    "damaged_lines",
    "Lines of the book files that are no records. They are kept byte for byte in the folder book.",
    (
        BOOK_FILE,
        LINE,
        column("from_byte", "integer", "Bytes before it in the file."),
        column("bytes", "integer", "Bytes of the line, with its line feed."),
        column("problem", "string", "What is wrong with it."),
    ),
    ("book_file", "line"),
    (),
)


class Filled(NamedTuple):
    """The tables as written, each with its file and number of rows, in the order of the descriptor."""

    tables: list[tuple[Table, Member, int]]
    damaged_lines: int


def fill_tables(
    folder: Path, walk: Walk, names: Mapping[str, str], photos: Photographs, *, raw: bool
) -> Filled:
    """Write all tables. Tables without rows are written too, so that every package has the same ones."""
    files: dict[str, TableFile] = {}

    def start(table: Table) -> TableFile:
        if table.name not in files:
            files[table.name] = TableFile(folder, table, raw=raw)
        return files[table.name]

    try:
        start(RECORDS)
        for shape in shapes().values():
            table, values = kind_table(shape, names)
            main = start(table)
            children = [(child, start(child_table(shape, child))) for child in shape.children]
            for one in walk.standing(shape.kind.key):
                main.row(value(one) for value in values)
                for child, file in children:
                    if child.is_photo:
                        _photographs(file, child, one, photos)
                        continue
                    for row in child_rows(child, one, names):
                        file.row(row)
        photos.place_own()
        _rest(start, walk)
        made = [(one.table, one.out.close(), one.rows) for one in files.values()]
    except BaseException:
        for file in files.values():
            file.out.file.close()
        raise
    order = {"spot_tests": 0, "records": 2}
    made.sort(key=lambda one: order.get(one[0].name, 1))
    return Filled(made, files["damaged_lines"].rows)


def _photographs(file: TableFile, child: Child, one: Standing, photos: Photographs) -> None:
    held = getattr(one.body, child.field)
    for number, photo in enumerate(held, 1):
        place, why = photos.place(photo)
        file.row([one.line.id, one.line.kind, number, photo.path, photo.sha256, photo.when, place, why])
    if one.first is not one.body:
        # What was shown before an amendment still belongs to the record, though no row tells of it.
        for photo in getattr(one.first, child.field):
            photos.place(photo)


def _rest(start: Any, walk: Walk) -> None:
    others, changes, records, damaged = start(OTHERS), start(CHANGES), start(RECORDS), start(DAMAGED)
    for other in walk.others():
        line = other.line
        body = bytes(line.body).decode(errors="replace")
        others.row([line.id, line.at, line.who, line.bench, line.kind, other.state, other.note, body])
    for one in walk.listed(changes=True):
        changes.row(_change(walk, one))
    for one in walk.listed():
        records.row([*one[:6], one.file, one.number, one.sha256])
    for lost in walk.damage():
        damaged.row(lost)


def _change(walk: Walk, one: Listed) -> list[Any]:
    body = msgspec.json.decode(walk.change_line(one.id).body)
    new = body.get("set")
    here = walk.here(one.of)
    return [
        *one[:5],
        one.of if here else "",
        "" if here else one.of,
        one.root,
        str(body.get("why", "")),
        one.in_force,
        one.note,
        tuple(new) if isinstance(new, dict) else "",
        msgspec.json.encode(new).decode() if new else "",
    ]
