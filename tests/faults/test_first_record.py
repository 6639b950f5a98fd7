"""The names of all folders above the first record are on the disk before it is acknowledged."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from kb.book.text import clean_text
from kb.desk.records.record import add_test
from kb.desk.studio import Studio
from tests.conftest import spot


def test_every_folder_that_was_made_is_synced_from_above(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: set[str] = set()
    really = os.fsync

    def watched(fd: int) -> None:
        synced.add(os.readlink(f"/proc/self/fd/{fd}"))
        really(fd)

    monkeypatch.setattr(os, "fsync", watched)
    root = tmp_path / "a" / "b" / "studio"
    add_test(Studio(root), spot())
    for folder in (tmp_path, tmp_path / "a", tmp_path / "a" / "b", root, root / "book"):
        assert str(folder) in synced, folder


@pytest.mark.parametrize("mark", ["\u200e", "\u200f", "\u061c"])
def test_direction_marks_are_made_visible(mark: str) -> None:
    assert mark not in clean_text(f"a{mark}b")
