"""Write a file that is not there yet: whole, or not at all."""

from __future__ import annotations

from pathlib import Path


def write_new_file(path: Path, text: str) -> None:
    """Write a text in UTF-8 under a name that is free.

    Raises FileExistsError if the name is taken and OSError if it cannot be written; then no part of it
    is left, which would be taken for the whole later, and would keep the name taken.
    """
    stream = path.open("x", encoding="utf-8")
    try:
        with stream:
            stream.write(text)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
