"""The whole book of all benches as a test reads it: the union of their records."""

from __future__ import annotations

from pathlib import Path

from kb.book.contested import contested
from kb.book.files import files
from kb.book.fold import union
from kb.book.read import read_file
from kb.model.record import Line


def all_lines(book_dir: Path) -> list[Line]:
    """Every readable record of every bench, each once, in the order of ids.

    The same on every machine that has the same files. Damaged lines are left to `kb.book.verify`.
    Raises OSError if a file cannot be read. Holds the whole book in memory.
    """
    lines = (read.line for path in files(book_dir) for read in read_file(path))
    # Read as a stream until the union: damaged lines drop out before anything is compared.
    return union((line for line in lines if line is not None), contested(book_dir))[0]
