"""Which files make up a book."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Sequence
from pathlib import Path

SUFFIX = ".jsonl"

Watch = Callable[[float], None]
"""Is given how much of long work is done, 0 to 1. What it raises ends the work, with nothing half done."""


def unwatched(_: float) -> None:
    """Nobody watches."""


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


class Way:
    """How much of all files is read; told in steps of one in a hundred."""

    def __init__(self, paths: Sequence[Path], watch: Watch) -> None:
        self.watch = watch
        self.whole = 1
        for path in paths:
            with contextlib.suppress(OSError):
                self.whole += path.stat().st_size
        self.done = self.next = 0

    def went(self, length: int) -> None:
        """So many bytes more are read."""
        self.done += length
        if self.done >= self.next:
            # Lines that come in meanwhile are read too.
            self.watch(min(self.done / self.whole, 1.0))
            self.next = self.done + self.whole // 100
