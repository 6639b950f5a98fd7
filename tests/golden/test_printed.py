"""Every usual command on three studios, as text and as JSON, to the letter."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.cli.main import main
from scripts.bench_parts.typical import TYPICAL, WRITING, command
from tests.golden.conftest import Hold
from tests.golden.studios import fixed_id, steady

QUESTION = ("--adhesive", "natural-rubber", "--stage", "oily", "--carrier", "clear-film",
            "--medium", "letterpress", "--paper", "wood-pulp")  # fmt: skip
README: dict[str, tuple[str, ...]] = {
    "find by number": ("find", "67-64-1"),
    "choose on film": ("choose", *QUESTION),
    "show with links": ("show", "liquid", "acetone", "--links"),
    "test list of a sheet": ("test", "list", "--sheet", "Tide table"),
    "blend instead": ("blend", *QUESTION[:2], *QUESTION[6:8], "--instead-of", "toluene", "--of", "2"),
    "wash of a sheet": ("wash", "plan", "--sheet", "Tide table", *QUESTION[6:]),
    "tissue on both faces": ("tissue", "--grammage", "100 g/m2", "--length", "120 mm", "--both-faces"),
    "book of a sheet": ("book", "list", "--sheet", "Tide table"),
    "verify": ("verify",),
}  # fmt: skip
"""Commands of the README that do something else than the usual ones of the same word."""
OF_THE_BOOK = ("choose", "test list", "book list", "mend list", "tone list", "frame list", "shelf",
               "batch list", "wash list", "pool list")  # fmt: skip
"""What reads the book, and so differs between studios; everything else is held on the demo alone."""
COMMANDS = {
    **{("demo", name): tuple(command(name)) for name in TYPICAL},
    **{("demo", name): words for name, words in README.items()},
    **{(studio, name): tuple(command(name)) for studio in ("letters", "empty") for name in OF_THE_BOOK},
    ("letters", "plan"): ("plan", "Letter 1"),
    ("letters", "test show amended"): ("test", "show", fixed_id(0)),
    ("letters", "book show mend"): ("book", "show", fixed_id(6)),
    ("letters", "verify"): ("verify",),
    ("empty", "unclear"): ("show", "liquid", "aceto"),
}


def printed(words: tuple[str, ...], root: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What the command prints, its errors and its exit code."""
    capsys.readouterr()
    try:
        code = main(["--studio", str(root), *words])
    except SystemExit as stop:
        code = int(stop.code or 0)
    out, err = capsys.readouterr()
    return f"$ benchleaf {' '.join(words)}\n{out}{err}[exit {code}]\n"


def laid_out(text: str) -> str:
    """JSON of one line with a line for each value, so that a difference can be read."""
    return text.replace(',"', ',\n"').replace("},{", "},\n{") if text.count("\n") < 4 else text


@pytest.mark.parametrize(("studio", "name"), COMMANDS, ids=lambda part: part)
def test_command_prints_what_it_printed(
    studio: str,
    name: str,
    shared_studios: dict[str, Path],
    hold: Hold,
    today: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Text and JSON, word by word."""
    monkeypatch.setenv("COLUMNS", "100")
    root, words = shared_studios[studio], COMMANDS[studio, name]
    hold(f"{studio}/{name}.txt", steady(printed(words, root, capsys), root, root.parent, today=today))
    told = laid_out(printed((*words, "--json"), root, capsys))
    hold(f"{studio}/{name}.json.txt", steady(told, root, root.parent, today=today))


def test_writing_prints_what_it_printed(
    own_letters: Path,
    hold: Hold,
    today: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What adds, amends and withdraws, and the list after it; ids are new each time."""
    monkeypatch.setenv("COLUMNS", "100")
    changes = (
        ("test", "amend", fixed_id(1), "--set", "release=2", "--why", "seen again"),
        ("test", "withdraw", fixed_id(1), "--why", "wrong bottle"),
        ("book", "restore", fixed_id(1), "--why", "right after all"),
        ("test", "amend", fixed_id(1), "--set", "release=9", "--why", "x"),
        ("test", "list", "--limit", "0"),
    )
    said = [printed(words, own_letters, capsys) for words in (*map(tuple, map(command, WRITING)), *changes)]
    hold("letters/writing.txt", steady("".join(said), own_letters, today=today, fresh_ids=True))
