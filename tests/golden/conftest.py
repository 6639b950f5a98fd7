"""The studios of the golden transcripts, made once, and how a text is held against the one that is stored."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from kb.desk.demo import open_demo
from kb.desk.studio import Studio
from tests.golden.studios import fill

HERE = Path(__file__).resolve().parent / "expected"
Hold = Callable[[str, str], None]
_ALL_DIGITS = re.compile(r"-?\d+\.\d{12,}(?:e-?\d+)?")


@pytest.fixture(scope="session")
def shared_studios(blank_index: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The demo, a studio with two sheets, and one without records. Only read; who writes takes a copy."""
    top = tmp_path_factory.mktemp("golden")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCHLEAF_BENCH", "bench-a")
        demo = open_demo(top / "demo")
        assert demo.index
        demo.close()
        for name in ("letters", "empty"):
            (top / name).mkdir()
            shutil.copy(blank_index, top / name / "index.db")
            studio = Studio(top / name)
            if name == "letters":
                studio.make()
                fill(studio)
                studio.refresh()
            studio.close()
    return {name: top / name for name in ("demo", "letters", "empty")}


@pytest.fixture
def own_letters(shared_studios: dict[str, Path], tmp_path: Path) -> Path:
    """A copy of the studio with two sheets, to write in."""
    return Path(shutil.copytree(shared_studios["letters"], tmp_path / "letters"))


@pytest.fixture
def hold(request: pytest.FixtureRequest) -> Hold:
    """Holds a text against the file of that name; with ``--golden-update`` writes it instead."""

    def compare(name: str, text: str) -> None:
        file = HERE / name
        if request.config.getoption("--golden-update"):
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        assert file.exists(), f"{name} is not stored yet; see --golden-update"
        now, stored = map(_twelve_digits, (text, file.read_text(encoding="utf-8")))
        assert now == stored, f"{name}: --golden-update stores a wanted change"

    return compare


def _twelve_digits(text: str) -> str:
    # From Python 3.12 on sum() rounds less, which only the last of sixteen show.
    return _ALL_DIGITS.sub(lambda found: f"{float(found[0]):.12g}", text)


@pytest.fixture
def today() -> str:
    """The day that commands print, as they write it."""
    return date.today().isoformat()
