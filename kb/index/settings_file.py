"""Read studio.yaml. What is wrong in it is reported; the rest falls back to defaults."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec

from kb.model.settings import Settings


def read_settings(path: Path) -> tuple[Settings, list[str]]:
    """The studio's settings and what could not be read of them, each as one sentence."""
    if not path.exists():
        return Settings(), []
    import yaml

    try:
        with path.open("rb") as handle:
            found: Any = yaml.safe_load(handle.read(65_536)) or {}
        return msgspec.convert(found, Settings), []
    except (OSError, yaml.YAMLError, msgspec.MsgspecError, RecursionError, ValueError) as error:
        text = " ".join(str(error).split())
        return Settings(), [f"{path.name}:1: {text}; default settings are used until it is mended."]
