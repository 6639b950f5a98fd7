"""Where the shipped catalogue lies, and which files of a folder belong to it."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import NamedTuple

DEMO = "demo"
"""Sub folder with the invented studio; it is no part of the catalogue."""
ENDINGS = (".yaml", ".yml")
MAX_BYTES = 1 << 20
"""Larger files are refused unread: no list that people keep by hand needs one."""
NOT_A_FILE = "this is a pipe, a device or a folder and not a file"
TOO_LARGE = "the file is larger than 1 MiB"


class Found(NamedTuple):
    """The YAML files below a folder, and what was refused there with the reason in words."""

    files: list[Path]
    refused: list[tuple[Path, str]]


def shipped_data() -> Path:
    """The folder with the shipped catalogue: inside the installed package, else beside its source."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "data"
    return inside if inside.is_dir() else package.parent / "data"


def yaml_files(folder: Path) -> list[Path]:
    """The YAML files below ``folder`` in a fixed order.

    All are ordinary files of at most MAX_BYTES when looked at, so it is safe to read them whole; links
    that leave the folder, pipes and huge files are not among them.
    """
    return find(folder).files


def find(folder: Path) -> Found:
    """Like :func:`yaml_files`, and also names what was refused and folders that cannot be read.

    Hidden files and folders are passed over: editors and git keep their own things there.
    """
    found = Found([], [])
    root = folder.resolve()

    def unreadable(error: OSError) -> None:
        where = Path(error.filename) if error.filename else folder
        found.refused.append((where, f"the folder cannot be read ({error.strerror or error})"))

    for here, folders, names in os.walk(folder, onerror=unreadable):
        for name in list(folders):
            if name == DEMO or name.startswith("."):
                folders.remove(name)
            elif why := _outside(Path(here, name), root):
                folders.remove(name)
                found.refused.append((Path(here, name), why))
        for name in names:
            path = Path(here, name)
            if name.startswith(".") or not name.lower().endswith(ENDINGS):
                continue
            if why := _outside(path, root) or _unfit(path):
                found.refused.append((path, why))
            else:
                found.files.append(path)
    found.files.sort()
    found.refused.sort()
    return found


def _outside(path: Path, root: Path) -> str:
    """Why a file or folder cannot be part of the catalogue; empty if it can."""
    if _leaves(path, root):
        return "the link leads out of the catalogue folder"
    if any("\ud800" <= sign <= "\udfff" for sign in path.name):
        # Bytes that are no text come as halves of characters, which neither the index nor a screen takes.
        return "the name is not in UTF-8; rename it"
    return ""


def _leaves(path: Path, root: Path) -> bool:
    """Whether ``path`` is a link to somewhere outside ``root`` (or in a circle, or to nothing)."""
    if not path.is_symlink():
        return False
    try:
        return not path.resolve(strict=True).is_relative_to(root)
    except (OSError, RuntimeError):
        return True


def _unfit(path: Path) -> str:
    """Why the file is not to be read at all; empty if it may be."""
    try:
        status = path.stat()
    except OSError as error:
        return f"the file cannot be read ({error.strerror or error})"
    if not stat.S_ISREG(status.st_mode):
        return NOT_A_FILE
    return TOO_LARGE if status.st_size > MAX_BYTES else ""
