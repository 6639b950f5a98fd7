"""A few random keys over the app; scripts/random_keys.py presses twenty thousand and watches the memory."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest

from kb.desk.demo import shipped_demo
from scripts.random_keys import NAMED, key, play

KEYS = 60


async def test_random_keys_crash_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each key is awaited; whatever the app raises comes out here."""
    root = tmp_path / "studio"
    shutil.copytree(shipped_demo(), root)
    monkeypatch.chdir(tmp_path)
    played = await play(root, 7, KEYS)
    assert played.keys == KEYS


def test_every_named_key_comes_up() -> None:
    """The player does press what it says: two thousand keys hold each of them."""
    chance = random.Random(1)
    assert set(NAMED) <= {key(chance) for _ in range(2_000)}
