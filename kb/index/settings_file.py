"""Read studio.yaml by the same rules as the catalogue. What is wrong in it is reported."""

from __future__ import annotations

from pathlib import Path

from kb.model.studio import Settings


def read_settings(path: Path) -> tuple[Settings, list[str]]:
    """The studio's settings and what could not be read of them, each as one sentence."""
    if not path.exists():
        return Settings(), []
    from kb.catalogue.load import read_one

    found, problems = read_one(path, Settings, path.name)
    said = [str(problem) for problem in problems]
    # A studio must open with a spoilt settings file; what it says is told and not obeyed in part.
    if found is None:
        return Settings(), [*said, f"{path.name}: default settings are used until it is mended."]
    return found, said
