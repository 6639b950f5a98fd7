"""What the book keeps besides spot tests and changes."""

from __future__ import annotations

from typing import Any

from kb.model.record import Batch, BathReading, Bottle, Housing, Mend, Toning
from kb.model.sheet_record import Condition, PatchDone, Sheet, Strip

KEPT_TYPES: dict[str, type[Any]] = {
    "bottle": Bottle,
    "reading": BathReading,
    "batch": Batch,
    "mend": Mend,
    "toning": Toning,
    "housing": Housing,
    "sheet": Sheet,
    "condition": Condition,
    "strip": Strip,
    "patch": PatchDone,
}
"""The kind of a line, and the type of its body."""
