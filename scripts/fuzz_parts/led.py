"""Tries one target led by which code an input reaches. Started by hunt.py, never by a person.

    led.py TARGET [OPTION OF THE ENGINE ...]

The engine never gives back control, and it must see the project's code as it is imported: hence a file apart.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

import atheris  # type: ignore[import-not-found, import-untyped, unused-ignore]
from hypothesis import given

if __name__ == "__main__":
    sys.path[0] = str(Path(__file__).resolve().parent.parent.parent)

with atheris.instrument_imports(include=["kb"]):
    from scripts.fuzz_parts.targets import TARGETS
    from scripts.fuzz_parts.world import World


def main(name: str, options: list[str]) -> None:
    """Run the engine; it ends the process itself."""
    target = TARGETS[name]
    world = World(Path(tempfile.mkdtemp(prefix="benchleaf-fuzz-")))
    test: Any = given(target.inputs)(lambda value: target.check(world, value))
    atheris.Setup([sys.argv[0], *options], test.hypothesis.fuzz_one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
