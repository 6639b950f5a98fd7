"""What the targets work on: a folder of their own and a studio in it, made when first needed."""

from __future__ import annotations

import shutil
from contextlib import ExitStack
from functools import cached_property
from pathlib import Path
from typing import Any

from kb.desk.studio import Studio
from tests.faults.hostile.foreign import record_id, write_lines
from tests.faults.hostile.stage import Stage, staged
from tests.faults.hostile.surfaces import Surface, surfaces


class World:
    """A folder, and a studio whose index of the catalogue is made once."""

    def __init__(self, folder: Path, index: Path | None = None) -> None:
        self.folder = folder
        self._index = index
        self._open = ExitStack()

    @cached_property
    def index(self) -> Path:
        """An index of the shipped catalogue and an empty book."""
        if self._index is not None:
            return self._index
        root = self.folder / "blank"
        root.mkdir()
        studio = Studio(root)
        studio.index.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        studio.close()
        return root / "index.db"

    @cached_property
    def stage(self) -> Stage:
        """A studio with a record of each kind, and commands on it."""
        folder = self.folder / "stage"
        folder.mkdir()
        return self._open.enter_context(staged(folder, self.index))

    @property
    def studio(self) -> Studio:
        """The studio of the stage."""
        return self.stage.studio

    @cached_property
    def surfaces(self) -> list[Surface]:
        """Every place on the command line that takes text."""
        return list(surfaces(self.stage.ids))

    @cached_property
    def book(self) -> Studio:
        """A studio for damaged books."""
        root = self.folder / "book-studio"
        (root / "book").mkdir(parents=True)
        shutil.copy(self.index, root / "index.db")
        studio = Studio(root)
        self._open.callback(studio.close)
        return studio

    @cached_property
    def catalogue(self) -> Path:
        """A folder for one damaged catalogue file."""
        folder = self.folder / "catalogue"
        folder.mkdir()
        return folder

    def close(self) -> None:
        """Put everything back."""
        self._open.close()


def good_book(path: Path) -> bytes:
    """A small sound book with a record of every common kind; its bytes."""
    first, second = record_id(0), record_id(1)
    test = {
        "parts": {"acetone": 0.5, "ethanol": 0.5},
        "sheet": "Letter 1",
        "release": 3,
        "harm": {"bleed": 0},
    }
    bodies: list[tuple[str, dict[str, Any]]] = [
        ("test", test),
        (
            "test",
            {"parts": {"n-heptane": 1.0}, "adhesive": "natural-rubber-resin", "remarks": "caf\u00e9 \u7d19"},
        ),
        ("amend", {"of": first, "set": {"release": 2, "harm": {"gloss": 1}}, "why": "misread"}),
        ("bottle", {"liquid": "acetone", "opened": "2024-05", "expires": "2026"}),
        ("reading", {"sheet": "Letter 1", "ph": 6.5, "bath": 2, "minutes": 20.0}),
        ("batch", {"name": "paste", "weights": [{"name": "starch", "amount": 16.3, "unit": "g"}]}),
        ("withdraw", {"of": second, "why": "wrong bottle"}),
        ("withdraw", {"of": record_id(6), "why": "it was the right one"}),
        ("mend", {"sheet": "Letter 1", "tissue": "kozo-1p6-2"}),
        ("note", {"text": "of a later version", "list": [1, 2.5, None, True]}),
    ]
    write_lines(path, [(kind, body, "AB") for kind, body in bodies])
    return path.read_bytes()
