"""What the tests of sharing have in common: a hub, benches, git by hand, two benches in dispute."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from kb.book.append import append
from kb.book.read import read_file
from kb.book.verify import verify
from kb.desk.choose.choose import choose
from kb.desk.sharing import check as share_check
from kb.desk.sharing import share as share_module
from kb.desk.sharing.share import Shared, Unindexed, join, share
from kb.desk.studio import Studio
from kb.model.question import Question
from tests.conftest import spot
from tests.whole_book import all_lines

Bench = Callable[..., Studio]


LIQUIDS = ["n-heptane", "acetone", "ethanol", "water", "toluene"]


@pytest.fixture
def hub(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty bare repository, and no settings of git but those that a test makes."""
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "home" / "config"))
    monkeypatch.delenv("BENCHLEAF_BENCH")
    monkeypatch.setattr(share_module, "PAUSE_S", 0.0)
    # Reading the shipped catalogue at each share would take most of the time of these tests.
    (tmp_path / "shipped").mkdir()
    monkeypatch.setattr(share_check, "shipped", lambda: tmp_path / "shipped")
    (tmp_path / "home").mkdir()
    by_hand(tmp_path, "init", "-q", "--bare", str(tmp_path / "hub"))
    return tmp_path / "hub"


@pytest.fixture
def bench(new_studio: Callable[[str], Studio], hub: Path) -> Bench:
    """Makes a studio of one bench."""

    def make(name: str, folder: str = "") -> Studio:
        studio = new_studio(folder or f"studio-{name}")
        studio.settings_file.write_text(f"name: Paper room\nbench: {name}\nwho: P. of {name}\n")
        return studio

    return make


def by_hand(where: Path, *words: str) -> str:
    """Git as a person would use it."""
    names = {f"GIT_{role}_{what}": "x" for role in ("AUTHOR", "COMMITTER") for what in ("NAME", "EMAIL")}
    done = subprocess.run(
        ["git", *words], cwd=where, env={**os.environ, **names}, capture_output=True, text=True, check=True
    )
    return done.stdout


def record(studio: Studio, **fields: Any) -> str:
    """One test, put into the book of this bench without asking the index anything."""
    names = Unindexed(studio.root)
    studio.mark_stale()
    return append(studio.book_dir, bench=names.bench, who=names.who, kind="test", body=spot(**fields)).id


def answer(studio: Studio) -> bytes:
    """The JSON of one question, as the command prints it."""
    import msgspec

    studio.refresh()
    asked = Question(
        adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil", paper="paper-woodpulp"
    )
    return msgspec.json.encode(choose(studio, asked, studio.settings.dials, 10_000))


def sound(studio: Studio) -> bool:
    return not [one for one in verify(studio.book_dir) if one.severity == "error"]


def ids(studio: Studio) -> list[str]:
    return [line.id for line in all_lines(studio.book_dir)]


def catalogue_file(studio: Studio, name: str, text: str) -> Path:
    path = studio.catalogue_dir / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(text)
    return path


def paper(id: str, name: str) -> str:
    return f"- id: {id}\n  name: {name}\n  also: [{name} sheet]\n  from: [studio-practice]\n"


SOURCE = (
    "sources:\n- id: studio-practice\n  cite: What is done in this studio\n  basis: memory\n  seen: false\n"
)


def read_all(path: Path) -> list[str]:
    return [read.line.id for read in read_file(path) if read.line]


def in_dispute(bench: Bench, hub: Path) -> tuple[Studio, Studio, Shared]:
    """Two benches that changed one field of one entry in two ways, and what the second was told."""
    first, second = bench("north"), bench("south")
    catalogue_file(first, "papers.yaml", SOURCE + "papers:\n" + paper("blotter-x", "Blotter X"))
    join(first, str(hub))
    join(second, str(hub))
    for studio, name in ((first, "Blotter of the north"), (second, "Blotter of the south")):
        path = studio.catalogue_dir / "papers.yaml"
        path.write_text(path.read_text().replace("name: Blotter X", f"name: {name}"))
        record(studio)
    share(first)
    return first, second, share(second)
