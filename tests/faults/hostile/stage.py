"""A studio with a little of everything, and commands run on it in this process."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import kb.cli.main
from kb.book.kinds.batch import Batch
from kb.book.kinds.bath_reading import BathReading
from kb.book.kinds.bottle import Bottle
from kb.book.kinds.spot_test import SpotTest
from kb.cli.main import Parser, declared, main
from kb.desk.records.record import add_test, write
from kb.desk.studio import Studio
from tests.faults.hostile.checks import trouble

NESTED = 30
"""Folders between the working folder and the studio, so that ``../../..`` stays within the test's own."""


class Printed(NamedTuple):
    """What a command came to."""

    code: object
    out: str
    err: str


class Stage:
    """One studio and the folder that commands are run from."""

    def __init__(self, folder: Path, index: Path) -> None:
        self.folder = folder
        self.root = folder / "studio"
        self.root.mkdir()
        shutil.copy(index, self.root / "index.db")
        self.studio = Studio(self.root)
        self.here = folder.joinpath(*"d" * NESTED)
        self.here.mkdir(parents=True)
        self.ids = {
            "test": add_test(self.studio, SpotTest(parts={"acetone": 1.0}, sheet="Letter 1")).id,
            "batch": write(self.studio, "batch", Batch(name="paste", recipe="wheat-starch-paste")).id,
            "bottle": write(self.studio, "bottle", Bottle(liquid="acetone")).id,
            "reading": write(self.studio, "reading", BathReading(sheet="Letter 1", ph=7.0)).id,
        }

    def run(self, argv: list[str]) -> Printed:
        """A command on this studio."""
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                code: object = main(argv)
            except SystemExit as stop:
                code = 0 if stop.code is None else stop.code
            except Exception as error:
                code = f"{type(error).__name__}: {error}"
        return Printed(code, out.getvalue(), err.getvalue())

    def wrong(self, argv: list[str]) -> str:
        """What is wrong with the outcome of a command, in words."""
        return trouble(*self.run(argv), as_json="--json" in argv)

    def stays_inside(self, text: str) -> bool:
        """Whether a path, taken from the working folder, is one that may be written to."""
        if text.startswith("/"):
            return text.startswith("/dev/null/")
        return "\x00" in text or Path(os.path.abspath(self.here / text)).is_relative_to(self.folder)


@contextlib.contextmanager
def staged(folder: Path, index: Path) -> Iterator[Stage]:
    """A stage on which every command finds the studio open already, so that thousands can be tried."""
    made = Stage(folder, index)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_DATA_HOME", str(folder / "data"))
        patch.setenv("XDG_CACHE_HOME", str(folder / "cache"))
        patch.setenv("BENCHLEAF_BENCH", "bench-a")
        patch.setattr("kb.desk.studio.open_studio", _opened(made.studio))
        _declared_once(patch)
        patch.chdir(made.here)
        yield made
    made.studio.close()


def _declared_once(patch: pytest.MonkeyPatch) -> None:
    """Nothing of what is typed stays in a parser, and to make one anew takes a quarter of all commands."""
    parsers: dict[str, Parser] = {}
    commands: dict[str, Any] = {}
    shared = kb.cli.main._studio_options

    def parser(**said: Any) -> Parser:
        # The one that lists all words declares more behind the shared options.
        if "epilog" in said:
            return Parser(**said)
        return parsers.get(said["prog"]) or parsers.setdefault(said["prog"], Parser(**said))

    def options(parser: Parser) -> None:
        if "--studio" not in parser._option_string_actions:
            shared(parser)

    def command(noun: str, parser: Parser) -> Any:
        return commands.get(noun) or commands.setdefault(noun, declared(noun, parser))

    for name, kept in (("Parser", parser), ("_studio_options", options), ("declared", command)):
        patch.setattr(kb.cli.main, name, kept)


def _opened(studio: Studio) -> Callable[..., Studio]:
    def open_studio(root: Path | None = None, **_: object) -> Studio:
        return studio if root is None else Studio(root)

    return open_studio
