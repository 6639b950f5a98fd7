"""Sharing a studio that is named from where one stands."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from kb.book.append import append
from kb.cli.main import main

BODY = {"parts": {"acetone": 1.0}, "release": 3}


def test_folders_may_be_named_from_where_one_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Studio and remote as relative paths: nothing is made elsewhere, and both benches get all records."""
    monkeypatch.chdir(tmp_path)
    subprocess.run(["git", "init", "-q", "--bare", "hub.git"], check=True)
    for name in ("north", "south"):
        monkeypatch.setenv("BENCHLEAF_BENCH", name)
        append(Path(name, "book"), bench=name, who="AB", kind="test", body=BODY)
        assert main(["--studio", name, "share", "join", "hub.git"]) == 0
    monkeypatch.setenv("BENCHLEAF_BENCH", "north")
    assert main(["--studio", "./north", "share"]) == 0
    books = [sorted(path.name for path in Path(name, "book").iterdir()) for name in ("north", "south")]
    assert books == [["north.jsonl", "south.jsonl"]] * 2
    assert not Path("north", "north").exists()
