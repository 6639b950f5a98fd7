"""Load catalogue folders: YAML in, checked records out, and every problem with its file and line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import msgspec

from kb.catalogue.checks import check
from kb.catalogue.form import convert, given
from kb.catalogue.form import faults as faults_of_form
from kb.catalogue.paths import find
from kb.catalogue.problems import (
    REFUSED,
    Fault,
    NodePath,
    Problem,
    line_of,
    nearest,
    parts,
    printable,
    quoted,
)
from kb.catalogue.references import Reference, ambiguous, dangling, joined, references, rule_faults
from kb.catalogue.yaml_reader import Document, read
from kb.model.base import Record
from kb.model.kinds import BY_KEY, KINDS, Kind

T = TypeVar("T", bound=msgspec.Struct)
Key = tuple[str, str]
"""Kind key and id."""
NOTHING = Document({}, {}, [])
LONGEST_LABEL = 80
"""Characters of an id shown with a problem; longer ones are refused anyway."""


class Catalogue(msgspec.Struct, frozen=True):
    """All entries that passed the checks, by kind key and id, in the order of the files.

    ``where`` gives the file (as shown to people) and line of each entry, ``origin`` whether it is
    ``shipped`` (from the first folder) or the ``studio``'s own (from a later one).
    """

    entries: dict[str, dict[str, Record]]
    where: dict[Key, tuple[str, int]]
    origin: dict[Key, str]

    def get(self, kind: str, id: str) -> Record | None:
        return self.entries.get(kind, {}).get(id)

    def all(self, kind: str) -> tuple[Record, ...]:
        return tuple(self.entries.get(kind, {}).values())

    def of(self, kind: str, type_: type[T]) -> dict[str, T]:
        """All entries of a kind by id, for callers that know the record type."""
        return {id: one for id, one in self.entries.get(kind, {}).items() if isinstance(one, type_)}


class _File(NamedTuple):
    """One file as read: ``name`` is how people see it, ``rank`` the place of its folder."""

    name: str
    rank: int
    document: Document


class _Entry(NamedTuple):
    """One entry that passed its own checks; ``at`` is its place in the file."""

    record: Record
    file: _File
    at: NodePath
    mentioned: tuple[Reference, ...]

    @property
    def line(self) -> int:
        return line_of(self.at, self.file.document.lines)


class _Loading:
    """What one call of :func:`load` gathers."""

    def __init__(self) -> None:
        self.versions: dict[Key, list[_Entry]] = {}
        """The sound versions of each entry, the studio's after the shipped one; the last one counts."""
        self.left_out: set[Key] = set()
        self.first: dict[Key, str] = {}
        """Where each id of the folder being read was met first."""
        self.problems: list[tuple[int, Problem]] = []

    def note(self, file: _File, at: NodePath, entry: str, *faults: Fault) -> None:
        """Keep faults as problems; ``at`` is the place their own places are relative to."""
        for fault in faults:
            self.problems.append((file.rank, fault.told(file.name, file.document.lines, at, entry)))

    def told(self) -> list[Problem]:
        """All problems in the order of folders, files and lines, each once."""
        ranked = sorted(self.problems, key=lambda item: (item[0], item[1].path, item[1].line))
        return list(dict.fromkeys(problem for _, problem in ranked))

    def folder(self, folder: Path, rank: int) -> None:
        root = folder.absolute()
        if not root.is_dir():
            # A studio need not have entries of its own; the shipped catalogue must be there.
            if rank == 0 or root.exists():
                missing = Fault((), "there is no such folder", "a folder of YAML files")
                self.note(_File(printable(root.name), rank, NOTHING), (), "", missing)
            return
        files, refused = find(root)
        for path, why in refused:
            self.note(_File(_shown(path, root), rank, NOTHING), (), "", Fault((), why))
        self.first = {}
        for path in files:
            self.file(_File(_shown(path, root), rank, read(path)))

    def file(self, file: _File) -> None:
        inside: dict[NodePath, list[Fault]] = {}
        for fault in file.document.faults:
            if len(fault.at) > 1 and isinstance(fault.at[1], int):
                inside.setdefault(fault.at[:2], []).append(fault)
            else:
                self.note(file, (), "", fault)
        for name, items in file.document.value.items():
            kind = BY_KEY.get(name)
            if kind is None:
                self.note(file, (), "", _unknown_kind(name))
            elif items is REFUSED:
                continue
            elif not isinstance(items, list):
                said = f"{given(items)} stands where the list of {name} is due"
                self.note(file, (), "", Fault((name,), said, "a list of entries", f"{name}: [{{id: ...}}]"))
            else:
                for number, item in enumerate(items):
                    at = (name, number)
                    self.entry(file, kind, at, item, inside.get(at, []))

    def entry(self, file: _File, kind: Kind, at: NodePath, item: Any, told: list[Fault]) -> None:
        """Convert and check one entry; keep it if it is sound, else note all that is wrong.

        ``told`` are faults of form that the reader met inside it; their places are whole.
        """
        id = item.get("id", "") if isinstance(item, dict) else ""
        id = id if isinstance(id, str) else ""
        label = f"{kind.key}/{printable(id)[:LONGEST_LABEL]}" if id else kind.key
        key = (kind.key, id)
        here = f"{file.name}:{line_of(at, file.document.lines)}"
        self.note(file, (), label, *told)
        if id and self.first.setdefault(key, here) != here:
            said = f"the id {quoted(id)} is used a second time; it stands first in {self.first[key]}"
            self.note(file, at, label, Fault(("id",), said, "an id of its own for each entry"))
            return
        # What the reader refused is no value at all, so only the form of the rest can be looked at.
        found = faults_of_form(item, kind.type) if told else convert(item, kind.type)
        made = () if isinstance(found, list) else tuple(parts(found))
        faults = found if isinstance(found, list) else check(made)
        self.note(file, at, label, *faults)
        if faults or told or isinstance(found, list):
            self.left_out.add(key)
        else:
            versions = self.versions.setdefault(key, [])
            # What an entry as written refers to must be there, also where the shipped one puts it right.
            named = tuple(references(made))
            if versions and versions[0].file.rank == 0 and file.rank:
                found, taken_away = joined(versions[0].record, found)
                self.note(file, at, label, *taken_away)
                named += tuple(references(tuple(parts(found))))
            versions.append(_Entry(found, file, at, named))

    def settle(self) -> dict[Key, _Entry]:
        """Take out entries whose references lead nowhere, until all that stay stand on one another."""
        while True:
            current = {key: versions[-1] for key, versions in self.versions.items() if versions}
            known: dict[str, set[str]] = {kind.key: set() for kind in KINDS}
            for kind, id in current:
                known[kind].add(id)
            hanging = {
                key: list(dangling(one.mentioned, known, self.left_out)) for key, one in current.items()
            }
            hanging = {key: faults for key, faults in hanging.items() if faults}
            if not hanging:
                return current
            for key, faults in hanging.items():
                entry = self.versions[key].pop()
                self.note(entry.file, entry.at, "/".join(key), *faults)
                self.left_out.add(key)

    def tell_ambiguous(self, current: Mapping[Key, _Entry]) -> None:
        """Note names that two entries share; both stay, since neither is wrong by itself."""
        for kind in KINDS:
            entries = {id: entry.record for (key, id), entry in current.items() if key == kind.key}
            for id, other, fault in ambiguous(entries):
                entry, first = current[kind.key, id], current[kind.key, other]
                said = f"{fault.message} ({first.file.name}:{first.line})"
                self.note(entry.file, entry.at, f"{kind.key}/{id}", fault._replace(message=said))

    def tell_rules(self, current: Mapping[Key, _Entry]) -> None:
        """Note cautions that can never apply or that say a thing twice; they stay, for they harm nobody."""
        entries = _catalogue(current).entries
        whole = not any(kind in {"liquids", "families"} for kind, _ in self.left_out)
        for id, fault in rule_faults(entries, whole=whole):
            entry = current["cautions", id]
            self.note(entry.file, entry.at, f"cautions/{id}", fault)


def load(folders: Sequence[Path]) -> tuple[Catalogue, list[Problem]]:
    """Load folders; an entry of a later folder adds to those before or takes the place of one.

    Never raises for what stands in the files. All problems are returned, in the order of folders,
    files and lines. An entry with a problem is left out, and so is one that refers to it; where a
    faulty entry would have replaced one of an earlier folder, the earlier one stays. Only a name
    shared by two entries, and a caution that can never apply or repeats another, are told without
    leaving anything out.
    """
    loading = _Loading()
    for rank, folder in enumerate(folders):
        loading.folder(Path(folder), rank)
    current = loading.settle()
    loading.tell_ambiguous(current)
    loading.tell_rules(current)
    return _catalogue(current), loading.told()


def read_one(path: Path, kind: type[T]) -> tuple[T | None, list[Problem]]:
    """Read a file that is one record, such as a studio's settings."""
    file = _File(printable(path.name), 0, read(path))
    loading = _Loading()
    loading.note(file, (), "", *file.document.faults)
    if not file.document.faults:
        found = convert(file.document.value, kind)
        if not isinstance(found, list):
            return found, []
        loading.note(file, (), "", *found)
    return None, loading.told()


def _shown(path: Path, root: Path) -> str:
    """The path as people see it: from the catalogue folder's own name on."""
    return printable(Path(root.name, path.relative_to(root)).as_posix())


def _unknown_kind(name: str) -> Fault:
    near = nearest(name, BY_KEY)
    said = f"{quoted(name)} is no kind of entry"
    said += f'; did you mean "{near}"?' if near else ""
    return Fault((name,), said, "one of: " + ", ".join(BY_KEY), f"{near}: [...]" if near else "")


def _catalogue(current: Mapping[Key, _Entry]) -> Catalogue:
    entries: dict[str, dict[str, Record]] = {kind.key: {} for kind in KINDS}
    where: dict[Key, tuple[str, int]] = {}
    origin: dict[Key, str] = {}
    for (kind, id), entry in current.items():
        entries[kind][id] = entry.record
        where[kind, id] = (entry.file.name, entry.line)
        origin[kind, id] = "studio" if entry.file.rank else "shipped"
    return Catalogue(entries, where, origin)
