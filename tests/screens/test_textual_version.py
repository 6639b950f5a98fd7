"""Screen tests wait by parts of Textual that it does not promise; see ``still`` in screen_help.py."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import textual

from kb.tui.inside_textual import KNOWN


def test_textual_is_the_one_that_the_waiting_was_written_for() -> None:
    """A newer minor version may paint and wait otherwise, and then screen tests fail for no fault of ours."""
    assert textual.__version__.startswith(f"{KNOWN}.")


def test_no_other_minor_version_is_installed() -> None:
    """The project asks for that minor version alone."""
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    asked = next(one for one in project["project"]["dependencies"] if one.startswith("textual"))
    major, minor = map(int, KNOWN.split("."))
    assert re.fullmatch(rf"textual>={major}\.{minor}(\.\d+)?,<{major}\.{minor + 1}", asked)
