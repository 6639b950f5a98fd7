"""docs/changing.md names files that exist."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TEXT = (ROOT / "docs" / "changing.md").read_text(encoding="utf-8")


def test_ten_changes_each_with_files() -> None:
    """Every row names at least one file of the code or the data."""
    rows = [line for line in TEXT.splitlines() if line.startswith("| ")][2:]
    assert len(rows) == 10
    for row in rows:
        assert re.search(r"`(kb|data)/[^`]+`", row), row


def test_every_file_is_there() -> None:
    """Also those given as a pattern; a file that moved is to be named anew."""
    named = re.findall(r"`((?:kb|data|tests|scripts)/[^` ]*)", TEXT)
    assert len(named) > 10
    assert [name for name in named if not list(ROOT.glob(name.rstrip("/")))] == []


def test_every_name_in_capitals_stands_in_a_file_of_its_row() -> None:
    """``UNITS`` in `some file` is a promise that it is found there."""
    for row in TEXT.splitlines():
        for word, path in re.findall(r"`([A-Z_]{4,})` in `(kb/[^`]+\.py)`", row):
            assert word in (ROOT / path).read_text(encoding="utf-8"), (word, path)
