"""The studios that are measured, each made when it is first asked for, in a folder that does not stay."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from kb.cli.out import FOUND, OK
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from scripts.bench_parts.books import write_book
from scripts.bench_parts.names import add_names
from scripts.bench_parts.sizes import Sizes

Say = Callable[[str], None]
_HIDDEN = ("BENCHLEAF_", "XDG_", "PYTHON", "COVERAGE_", "PYTEST_", "TEXTUAL", "NO_COLOR")
"""Settings of the one who measures that would change what is measured."""


class Stage:
    """Studios by name. ``say`` is told what takes long."""

    def __init__(self, folder: Path, sizes: Sizes, say: Say) -> None:
        self.folder = folder
        self.sizes = sizes
        self.say = say
        self.derived_s: dict[int, float] = {}
        """By length of the book, how long its index took when it was first derived."""
        self._roots: dict[str, Path] = {}
        self._compiled: Compiled | None = None
        home = folder / "home"
        home.mkdir()
        kept = {name: value for name, value in os.environ.items() if not name.startswith(_HIDDEN)}
        self.environment = {**kept, "HOME": str(home), "BENCHLEAF_BENCH": "bench-1"}

    @property
    def command(self) -> list[str]:
        """The installed command, as a user starts it."""
        return [str(Path(sys.executable).with_name("benchleaf"))]

    @property
    def compiled(self) -> Compiled:
        """The shipped catalogue as ranking sees it."""
        if self._compiled is None:
            studio = Studio(self.empty())
            self._compiled = studio.compiled
            studio.close()
        return self._compiled

    def empty(self) -> Path:
        """A studio without a book."""
        return self._once("empty", _warm)

    def with_book(self, count: int) -> Path:
        """A studio whose book has that many records, its index up to date."""
        return self._once(f"book-{count}", lambda root: self._fill(root, count))

    def with_names(self, count: int) -> Path:
        """A studio in which that many more names can be found."""

        def make(root: Path) -> None:
            _warm(root)
            add_names(root, count)

        return self._once(f"names-{count}", make)

    def demo(self) -> None:
        """The user's copy of the demo studio, its index up to date; ``benchleaf --demo`` opens it."""
        self._once("demo", lambda _: self.run([*self.command, "--demo", "find", "acetone"]))

    def run(self, command: list[str]) -> str:
        """What a command prints. Raises CalledProcessError if it fails; near names only are no failure."""
        return self._done(command).stdout

    def told(self, command: list[str]) -> str:
        """What a command says on standard error. Raises as :meth:`run` does."""
        return self._done(command).stderr

    def _done(self, command: list[str]) -> subprocess.CompletedProcess[str]:
        done = subprocess.run(
            command, env=self.environment, cwd=self.folder, capture_output=True, text=True, check=False
        )
        if done.returncode not in (OK, FOUND):
            done.check_returncode()
        return done

    def _once(self, name: str, make: Callable[[Path], object]) -> Path:
        if name not in self._roots:
            root = self.folder / name
            root.mkdir()
            make(root)
            self._roots[name] = root
        return self._roots[name]

    def _fill(self, root: Path, count: int) -> None:
        compiled = self.compiled
        started = time.perf_counter()
        written = write_book(root, compiled, count)
        middle = time.perf_counter()
        _warm(root)
        self.derived_s[count] = time.perf_counter() - middle
        self.say(
            f"a book of {count:,} records ({sum(one.stat().st_size for one in written) / 1e6:.1f} MB): "
            f"written in {middle - started:.1f} s, index derived in {self.derived_s[count]:.1f} s"
        )


def _warm(root: Path) -> None:
    studio = Studio(root)
    studio.refresh()
    studio.close()
