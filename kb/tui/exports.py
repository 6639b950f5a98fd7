"""Files that screens write for use elsewhere: in the studio's folder, never over one that is there."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from kb.book.storage import write_new_file

if TYPE_CHECKING:
    from kb.desk.studio import Studio

EXPORTS = "exports"
"""Folder within the studio for what is written to be used elsewhere."""


def plain_stem(start: str, name: str, otherwise: str) -> str:
    """A file name's stem from a start and a name: letters, digits and hyphens only."""
    return start + (re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40].rstrip("-") or otherwise)


def write_new(studio: Studio, stem: str, suffix: str, text: str) -> Path:
    """Write a text under a name that is not taken yet; returns the path. For a thread."""
    studio.make()
    folder = studio.root / EXPORTS
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(1, 10_000):
        path = folder / f"{stem}{f'-{number}' if number > 1 else ''}{suffix}"
        try:
            write_new_file(path, text)
        except FileExistsError:
            continue
        return path
    raise OSError(28, "Too many files of this name are there already", str(folder))
