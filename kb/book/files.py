"""Which files make up a book. Light to import: every answer looks whether they changed."""

import os
from pathlib import Path

SUFFIX = ".jsonl"
TORN = "the last line has no end yet"
"""The problem of a last line without newline: being written just now, or cut off for good."""


def files(book_dir: Path) -> list[Path]:
    """The files of all benches, by name. Empty if there is no book yet.

    Pipes and devices are passed over: reading one could wait for ever.
    """
    try:
        with os.scandir(book_dir) as entries:
            # By name, so that every machine reads the files in one order.
            names = sorted(entry.name for entry in entries if _is_book_file(entry))
    except (FileNotFoundError, NotADirectoryError):
        return []
    return [Path(book_dir, name) for name in names]


def _is_book_file(entry: os.DirEntry[str]) -> bool:
    # A hidden name is of a file being put in place, or of an editor's copy.
    if not entry.name.endswith(SUFFIX) or entry.name.startswith("."):
        return False
    try:
        return entry.is_file()
    except OSError:
        # A link that leads round in a circle is no file, and must not hide the others.
        return False
