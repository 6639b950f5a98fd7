"""Bring the catalogue, settings and pool of a package into a studio, without overwriting what is here."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Literal

from kb.book.files import files
from kb.book.storage import sync_folder
from kb.catalogue.paths import yaml_files
from kb.desk.package.bring_in_book import put_new
from kb.desk.studio import STARTER
from kb.model.question import Plain

Whose = Literal["ours", "theirs"]
Action = Literal["new", "same", "kept ours", "replaced"]
OWN = "pool/this-studio.json"
"""Where a studio keeps the id that its counts bear."""
_STUDIO_ID = re.compile(r"[0-9a-f]{32}")
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
    theirs = [path.relative_to(incoming).as_posix() for path in yaml_files(incoming / "catalogue")]
    ours = _ours(root)
    return [_entries_of(incoming, root, path, ours, catalogue) for path in theirs]


def plan_files(incoming: Path, root: Path, paths: Iterable[str], settings: Whose) -> list[FileChange]:
    """What settings, shelf and pooled counts of the package do here. Changes nothing."""
    return [_plain_file(incoming, root, path, settings) for path in paths if (incoming / path).is_file()]


def apply_files(incoming: Path, root: Path, changes: Iterable[FileChange]) -> None:
    """Do what was planned. Our own file is set aside under another name before it is replaced."""
    for one in changes:
        target = root / one.file
        if one.action == "replaced" or (one.action == "new" and os.path.lexists(target)):
            target.rename(_aside(target))
            put_new(incoming / one.file, target)
        elif one.action == "new":
            put_new(incoming / one.file, target)
            sync_folder(target.parent)


def _aside(path: Path) -> Path:
    number, aside = 1, path.with_name(path.name + KEPT)
    while os.path.lexists(aside):
        number += 1
        aside = path.with_name(f"{path.name}{KEPT}-{number}")
    return aside


def own_id(root: Path) -> str:
    """The random id under which a studio gives its counts away; empty if it has none that can be read."""
    try:
        said = json.loads((root / OWN).read_bytes())
    except (OSError, ValueError, RecursionError):
        return ""
    found = said.get("studio") if isinstance(said, dict) else None
    return found if isinstance(found, str) and _STUDIO_ID.fullmatch(found) else ""


def _plain_file(incoming: Path, root: Path, path: str, settings: Whose) -> FileChange:
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
    if settings == "theirs":
        return _file(path, "replaced", f"replaced; ours stays beside it as {path}{KEPT}")
    return _file(path, "kept ours", "it differs, and ours stays; --settings theirs replaces it")


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
        if catalogue == "theirs":
            return _file(path, "replaced", f"replaced; ours stays beside it as {path}{KEPT}", listed)
        return _file(path, "kept ours", "it differs, and ours stays; --catalogue theirs replaces it", listed)
    if elsewhere:
        return _file(path, "kept ours", _stands(elsewhere), _names(elsewhere))
    return _file(path, "new", "not here: it comes in as it is", _names(theirs))


def _stands(elsewhere: dict[Key, str]) -> str:
    key, file = next(iter(elsewhere.items()))
    return f"it is left out, for {'/'.join(key)} stands in {file} here; take it out there to bring it in"


def read_entries(path: Path) -> dict[Key, Any]:
    """The entries of a catalogue file as plain values, by kind and id; what cannot be read is left out."""
    from kb.catalogue.yaml_reader import read

    found: dict[Key, Any] = {}
    for kind, items in read(path).value.items():
        for item in items if isinstance(items, list) else ():
            if isinstance(item, dict) and isinstance(item.get("id"), str):
                found[kind, item["id"]] = item
    return found


def _ours(root: Path) -> dict[str, dict[Key, Any]]:
    folder = root / "catalogue"
    if not folder.is_dir():
        return {}
    return {path.relative_to(root).as_posix(): read_entries(path) for path in yaml_files(folder)}


def _names(keys: Iterable[Key]) -> tuple[str, ...]:
    return tuple(sorted("/".join(key) for key in keys))


def _file(file: str, action: Action, text: str, entries: tuple[str, ...] = ()) -> FileChange:
    return FileChange(file=file, action=action, entries=entries, text=text)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        return b"\x00 not readable"
