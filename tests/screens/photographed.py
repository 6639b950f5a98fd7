"""Photographs in files, for screens that take them in."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from tests.sheet.photo_pairs import pair as made_pair


def two(folder: Path, case: str, size: float) -> tuple[Path, Path, str]:
    """A pair in files, and the swab."""
    made = made_pair(case, 20, 20_011, size)
    paths = folder / "before.png", folder / "after.png"
    for path, pixels in zip(paths, (made.before, made.after), strict=True):
        Image.fromarray(pixels).save(path)
    return *paths, ",".join(f"{value:.0f}" for value in made.swab)
