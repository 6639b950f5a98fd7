"""Imports go one way, no layer below the front ends knows a terminal, and answers load only what they use."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
BELOW = ("model", "science", "catalogue", "book", "index", "desk")
"""The layers under the front ends."""
TERMINAL = ("textual", "rich")
HEAVY = (*TERMINAL, "sqlite_utils", "numpy", "yaml")
"""What an answer on a warm index never loads."""
MAX_LINES = 600

IMPORT_EACH = """
import importlib, sys
forbidden, names = sys.argv[1].split(","), sys.argv[2:]
for name in names:
    importlib.import_module(name)
    loaded = [one for one in forbidden if one in sys.modules]
    if loaded:
        sys.exit(f"{name} loads {', '.join(loaded)}")
print(len(names))
"""
ANSWER = """
import sys
from kb.cli.main import main
code = main(sys.argv[2:])
loaded = [one for one in sys.argv[1].split(",") if one in sys.modules]
if loaded:
    sys.exit(f"the answer loads {', '.join(loaded)}")
sys.exit(code)
"""
QUESTION = (
    *("--adhesive", "natural-rubber", "--stage", "oily"),
    *("--medium", "letterpress", "--paper", "wood-pulp"),
)


def modules(layer: str) -> list[str]:
    """Every module of a layer, by its dotted name."""
    found = []
    for path in sorted((ROOT / "kb" / layer).rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        found.append(".".join(parts[:-1] if parts[-1] == "__init__" else parts))
    return found


def fresh(code: str, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """The code in an interpreter of its own, which has loaded nothing yet."""
    return subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def test_import_contracts_hold() -> None:
    """Every contract in pyproject.toml is kept."""
    code = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))"
    done = fresh(code)
    assert done.returncode == 0, done.stdout + done.stderr
    assert " 0 broken" in done.stdout


@pytest.mark.parametrize("layer", BELOW)
def test_layer_loads_no_terminal_library(layer: str) -> None:
    """No module of the layer loads Textual or Rich, itself or through what it imports."""
    names = modules(layer)
    assert names
    done = fresh(IMPORT_EACH, ",".join(TERMINAL), *names)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == str(len(names))


@pytest.mark.parametrize("module", ["kb.desk.choose.choose", "kb.cli.main", "kb.cli.choose.choose"])
def test_read_path_loads_nothing_heavy(module: str) -> None:
    """What every answer imports brings in no terminal, YAML, index-building or number library."""
    done = fresh(IMPORT_EACH, ",".join(HEAVY), module)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    "command",
    [
        ("choose", *QUESTION),
        ("choose", *QUESTION, "--json"),
        ("find", "acetone"),
        ("show", "liquid", "acetone"),
        ("test", "list"),
    ],
    ids=lambda command: " ".join((*command[:1], *command[-1:])),
)
def test_answer_on_a_warm_index_loads_nothing_heavy(command: tuple[str, ...], blank_index: Path) -> None:
    """Giving an answer, not only importing the command, does without those libraries too."""
    done = fresh(ANSWER, ",".join(HEAVY), "--studio", str(blank_index.parent), *command)
    assert done.returncode == 0, done.stderr


def test_no_file_is_longer_than_a_reader_can_hold() -> None:
    """No source file has more than ``MAX_LINES`` lines."""
    sources = [
        *(ROOT / "kb").rglob("*.py"),
        *(ROOT / "scripts").rglob("*.py"),
        *(ROOT / "kb").rglob("*.tcss"),
    ]
    lengths = {str(path.relative_to(ROOT)): len(path.read_text().splitlines()) for path in sources}
    assert {name: length for name, length in lengths.items() if length > MAX_LINES} == {}


def test_one_file_says_what_is_on_the_disk() -> None:
    """Elsewhere a plain sync would end at the memory of the drive on some systems."""
    asked = [
        path.relative_to(ROOT).as_posix()
        for path in sorted((ROOT / "kb").rglob("*.py"))
        if "os.fsync" in path.read_text("utf-8")
    ]
    assert asked == ["kb/book/storage.py"]


def test_no_command_or_screen_writes_a_file_by_itself() -> None:
    """What is handed over goes through ``save_as`` of kb/desk/errors.py, which writes over no file."""
    writing = (".write_text(", ".write_bytes(")
    asked = [
        path.relative_to(ROOT).as_posix()
        for front in ("cli", "tui")
        for path in sorted((ROOT / "kb" / front).rglob("*.py"))
        if any(one in path.read_text("utf-8") for one in writing)
    ]
    assert asked == [], "write it by save_as"
