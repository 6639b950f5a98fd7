"""Where the shipped catalogue lies, and which files of a folder belong to it."""

from __future__ import annotations

import os
import stat
from pathlib import Path

DEMO = "demo"
"""Sub folder with the invented studio; it is no part of the catalogue."""
ENDINGS = (".yaml", ".yml")
MAX_BYTES = 1 << 20
"""Larger files are refused unread: no list that people keep by hand needs one."""
NOT_A_FILE = "this is a pipe, a device or a folder and not a file"
TOO_LARGE = "the file is larger than 1 MiB"


Refused = list[tuple[Path, str]]
"""Files and folders that are not read, each with the reason in words."""


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
    return find(folder)[0]


def find(folder: Path) -> tuple[list[Path], Refused]:
    """Like :func:`yaml_files`, and also names what was refused and folders that cannot be read.

    Hidden files and folders are passed over: editors and git keep their own things there.
    """
    files: list[Path] = []
    refused: Refused = []
    _look_in(os.fspath(folder), folder.resolve(), files, refused)
    return sorted(files), sorted(refused)


def _look_in(here: str, root: Path, files: list[Path], refused: Refused) -> None:
    # Names from the system as they come: a Path for each costs a question more than all the looking.
    try:
        with os.scandir(here) as listed:
            entries = list(listed)
    except OSError as error:
        refused.append((Path(here), f"the folder cannot be read ({error.strerror or error})"))
        return
    for entry in entries:
        if entry.name.startswith("."):
            continue
        folder = _is_folder(entry)
        if entry.name == DEMO if folder else not entry.name.lower().endswith(ENDINGS):
            continue
        if why := _outside(entry, root) or ("" if folder else _unfit(entry)):
            refused.append((Path(entry.path), why))
        elif not folder:
            files.append(Path(entry.path))
        elif not entry.is_symlink():
            _look_in(entry.path, root, files, refused)


def _is_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:
        # A link in a circle: it is refused as a file is.
        return False


def _outside(entry: os.DirEntry[str], root: Path) -> str:
    """Why a file or folder cannot be part of the catalogue; empty if it can."""
    if entry.is_symlink() and _leaves(Path(entry.path), root):
        return "the link leads out of the catalogue folder"
    if any("\ud800" <= sign <= "\udfff" for sign in entry.name):
        # Bytes that are no text come as halves of characters, which neither the index nor a screen takes.
        return "the name is not in UTF-8; rename it"
    return ""


def _leaves(link: Path, root: Path) -> bool:
    """Whether a link leads to somewhere outside ``root`` (or in a circle, or to nothing)."""
    try:
        return not link.resolve(strict=True).is_relative_to(root)
    except (OSError, RuntimeError):
        return True


def _unfit(entry: os.DirEntry[str]) -> str:
    """Why the file is not to be read at all; empty if it may be."""
    try:
        status = entry.stat()
    except OSError as error:
        return f"the file cannot be read ({error.strerror or error})"
    if not stat.S_ISREG(status.st_mode):
        return NOT_A_FILE
    return TOO_LARGE if status.st_size > MAX_BYTES else ""
