"""Several benches, one book: each bench writes its own file, and the book is the union of their records."""

from __future__ import annotations

import os
from pathlib import Path

from kb.book.fold import union
from kb.book.read import read_file
from kb.model.record import Line

SUFFIX = ".jsonl"


def files(book_dir: Path) -> list[Path]:
    """The files of all benches, by name. Empty if there is no book yet.

    Pipes and devices are passed over: reading one could wait for ever.
    """
    try:
        with os.scandir(book_dir) as entries:
            names = sorted(entry.name for entry in entries if _is_book_file(entry))
    except (FileNotFoundError, NotADirectoryError):
        return []
    return [Path(book_dir, name) for name in names]


def all_lines(book_dir: Path) -> list[Line]:
    """Every readable record of every bench, each once, in the order of ids.

    The same on every machine that has the same files. Damaged lines are left to `kb.book.verify`.
    Raises OSError if a file cannot be read. Holds the whole book in memory.
    """
    lines = (read.line for path in files(book_dir) for read in read_file(path))
    return union(line for line in lines if line is not None)[0]


def _is_book_file(entry: os.DirEntry[str]) -> bool:
    if not entry.name.endswith(SUFFIX) or entry.name.startswith("."):
        return False
    try:
        return entry.is_file()
    except OSError:
        # A link that leads round in a circle is no file, and must not hide the others.
        return False
