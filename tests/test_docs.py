"""The manual says what the program does."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.cli.main import NOUNS

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("noun", [noun for noun in NOUNS if noun != "app"])
def test_readme_names_every_command(noun: str) -> None:
    """A command that the README does not name is not found by a reader."""
    assert f"benchleaf {noun}" in README


def test_readme_starts_with_the_job_in_one_paragraph() -> None:
    """First the title, then one paragraph that says whom the tool serves."""
    parts = README.split("\n\n")
    assert parts[0].startswith("# ")
    assert "paper conservator" in parts[1]
    assert parts[2].startswith("## ")


def test_pictures_exist() -> None:
    """Every picture that the README shows is there."""
    for piece in README.split("](")[1:]:
        target = piece.split(")", 1)[0]
        if not target.startswith("http"):
            assert (ROOT / target).exists(), target


def test_changelog_and_map_are_kept() -> None:
    """DEVELOPERS.md names every package of the code."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for package in sorted(path.parent.name for path in (ROOT / "kb").glob("*/__init__.py")):
        assert f"kb/{package}/" in text, package
    assert (ROOT / "CHANGELOG.md").read_text(encoding="utf-8").startswith("# Changelog")
