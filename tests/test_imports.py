"""No command loads what it does not use: loading is most of the time that a command takes.

Each command runs once on a copy of the demo in an interpreter of its own. What it loaded is held against
the tables below. If a test fails, move the import into the function that uses it; if the command does
need what it loads, enter that here. ``scripts/bench imports`` tells what each module costs.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from importlib import util
from pathlib import Path

import pytest

from kb.cli.main import NOUNS, module_of
from kb.cli.out import FOUND, OK, clean, columns
from kb.cli.records import kinds_by_verb
from kb.desk.demo import open_demo
from kb.desk.studio import Studio, cache_root, default_root
from scripts.bench_parts.imports import Loaded, loaded_by, self_times_us
from scripts.bench_parts.typical import ONCE, TYPICAL, WHOLE, WRITING, command

TERMINAL = {"textual", "rich"}
LIBRARIES = {"msgspec": "any", "typing_extensions": "any", "rapidfuzz": "find", "cython_runtime": "find"}
"""What does not come with Python, and which commands may load it. The record library asks for the second;
the fourth comes with the third."""
HEAVY = {
    *("asyncio", "bz2", "concurrent", "csv", "ctypes", "dataclasses", "difflib", "email", "fractions"),
    *(
        "ftplib",
        "gettext",
        "gzip",
        "hashlib",
        "html",
        "http",
        "ipaddress",
        "locale",
        "logging",
        "lzma",
        "multiprocessing",
        "pickle",
        "random",
    ),
    *("secrets", "select", "shutil", "signal", "socket", "ssl", "statistics", "string", "subprocess"),
    *("sysconfig", "tarfile", "tempfile", "threading", "traceback", "unittest", "xml", "zipfile"),
}
"""Parts of Python's own library that an answer does without. (The record library loads inspect, uuid and
decimal whatever is asked of it.)"""
NEEDED: dict[str, set[str]] = {"pool list": {"hashlib"}, "recipe": {"hashlib"}}
SHORTER = {"blend": ("--of", "2")}
"""Options that spare work without loading less."""
NEVER_OPENS = """
from threading import Event
import kb.cli.app
from kb.cli.main import run
kb.cli.app.studio_of = lambda options: Event().wait()
run()
"""
"""The command without a word, and so the app, with a studio that takes for ever to open."""
AFTER_PAINT = (
    *("msgspec", "sqlite3", "yaml", "rapidfuzz", "kb.index", "kb.model", "kb.science"),
    *(
        "kb.catalogue",
        "kb.desk.studio",
        "kb.desk.choose.choose",
        "kb.desk.materials.lookup",
        "kb.book.read",
    ),
)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demo studio, its index up to date."""
    root = tmp_path_factory.mktemp("imports") / "demo"
    studio = open_demo(root)
    assert studio.index
    studio.close()
    return root


def run(name: str, studio: Path, folder: Path, *options: str, watched: bool = False) -> Loaded:
    """What a command of the tables loads."""
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "COV"))}
    words = ["--studio", str(studio), *options, *command(name), *SHORTER.get(name, ())]
    found = loaded_by(words, kept, folder / "note.json", watched=watched)
    assert found.code in (OK, FOUND), name
    return found


def foreign(found: Loaded) -> set[str]:
    """Libraries that do not come with Python. What begins with a line belongs to one of these."""
    names = {module.partition(".")[0] for module in found.loaded} - {"kb", "note"}
    return {name for name in names if name not in sys.stdlib_module_names and not name.startswith("_")}


@pytest.mark.parametrize("name", TYPICAL)
def test_an_answer_loads_only_what_it_uses(name: str, demo: Path, tmp_path: Path) -> None:
    """No library and no heavy part of Python beside those in the tables."""
    _hold(name, run(name, demo, tmp_path, "--demo"))


def test_writing_loads_only_what_it_uses(new_studio: Callable[[str], Studio], tmp_path: Path) -> None:
    """The same for what adds a record."""
    for name in WRITING:
        studio = new_studio(name)
        # The first record makes the settings, which the index then reads; later ones do not.
        studio.make()
        assert studio.index
        studio.close()
        _hold(name, run(name, studio.root, tmp_path))


def _hold(name: str, found: Loaded) -> None:
    word = name.partition(" ")[0]
    allowed = {one for one, where in LIBRARIES.items() if where in ("any", word)}
    assert foreign(found) <= allowed, f"{name}: libraries"
    heavy = {module for module in found.loaded if module in HEAVY}
    assert heavy <= NEEDED.get(name, set()), f"{name}: heavy parts of Python"


def test_work_on_the_whole_studio_loads_no_terminal_library(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What reads or writes everything may load what reads YAML and makes tables, but draws nothing."""
    monkeypatch.chdir(tmp_path)
    for name in (*WHOLE, *(one for one in ONCE if exists(one))):
        assert not foreign(run(name, studio.root, tmp_path, watched=False)) & TERMINAL, name


@pytest.mark.skipif(os.name == "nt", reason="the app is started in a pseudo terminal")
def test_first_paint_loads_no_store_and_no_chemistry() -> None:
    """Until the home screen is whole nothing is loaded that only an open studio needs."""
    from scripts.bench_parts.budgets import home_words
    from scripts.bench_parts.paint import painted

    kept = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "COV"))}
    written = painted([sys.executable, "-X", "importtime", "-c", NEVER_OPENS], home_words()[0], kept).written
    loaded = set(self_times_us(written.decode(errors="replace")))
    # The screen itself is loaded by its name in a table: the trace shows only what it loads.
    assert {name for name in loaded if name.startswith("kb.tui.screens.choose.")}
    assert not {name for name in loaded if name.startswith(AFTER_PAINT)}


def exists(noun: str) -> bool:
    """Whether the file of a word is there."""
    return util.find_spec(module_of(noun)) is not None


def test_every_word_is_held_against_the_tables() -> None:
    """A new word gets a usual command in scripts/bench_parts/typical.py.

    Sharing needs another repository, and the view in a browser serves until it is stopped.
    """
    words = {name.partition(" ")[0] for name in (*TYPICAL, *WRITING, *WHOLE, *ONCE)}
    assert words == {*NOUNS, *kinds_by_verb()} - {"app", "share", "web"}


def test_what_stands_in_gives_way_to_the_module_itself() -> None:
    """After a command has run without them, whoever asks for these modules gets them whole."""
    asks = (
        "import sys, kb.cli.main as main; main._load_records()",
        "stood_in = {'urllib.parse', 'gettext', 'textwrap', 'msgspec.inspect', 'inspect', 'platform'}",
        "stood_in |= {'ntpath', 'decimal', 'uuid'}",
        "print(stood_in & set(sys.modules))",
        "import argparse, decimal, gettext, msgspec, pathlib, platform, textwrap, uuid",
        "assert str(pathlib.PureWindowsPath('a', 'b')) == 'a\\\\b'",
        "assert decimal.Decimal('1.50') * 2 == 3 and uuid.UUID(int=1).is_safe is uuid.SafeUUID.unknown",
        "print(pathlib.Path('/a b').as_uri(), gettext.translation, textwrap.fill('a'), platform.machine)",
        "print(msgspec.inspect.type_info(int).__class__.__name__, msgspec.json.schema(str))",
        "print(argparse.ArgumentParser('a').format_usage())",
    )
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "COV"))}
    program = [sys.executable, "-c", "\n".join(asks)]
    told = subprocess.run(program, check=True, env=kept, capture_output=True, text=True).stdout.splitlines()
    assert told[0] == "set()"
    assert told[1].startswith("file:///a%20b <function translation ")
    assert told[2:4] == ["IntType {'type': 'string'}", "usage: a [-h]"]


def test_the_tables_can_fail(demo: Path, tmp_path: Path) -> None:
    """A command that loaded a library, or a heavy part of Python would be told of."""
    found = run("find", demo, tmp_path, watched=True)
    assert "kb.index.search" in found.used
    for more in ("yaml", "shutil"):
        with pytest.raises(AssertionError):
            _hold("find", found._replace(loaded=found.loaded | {more}))


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere the library says where data belong")
@pytest.mark.parametrize(
    "settings",
    [
        {},
        {"XDG_DATA_HOME": "/data of mine", "XDG_CACHE_HOME": "/cache"},
        {"XDG_DATA_HOME": "here", "XDG_CACHE_HOME": " "},
        {"HOME": "here"},
        {"HOME": "/"},
    ],
)
def test_places_are_those_of_the_library(settings: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Where data and cache lie is worked out without platformdirs on Linux, and comes out the same."""
    import platformdirs

    for name in ("XDG_DATA_HOME", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    for name, value in settings.items():
        monkeypatch.setenv(name, value)
    assert default_root().parent == platformdirs.user_data_path("benchleaf", appauthor=False)
    assert cache_root() == platformdirs.user_cache_path("benchleaf", appauthor=False)


def test_plain_lines_pass_and_nothing_unwanted_does() -> None:
    """Lines without odd characters are not looked through; every odd character still is."""
    unwanted = [*range(0x09), *range(0x0B, 0x20), *range(0x7F, 0xA0), 0x200B, 0xFEFF, 0x2028, 0x2029]
    unwanted += [*range(0x202A, 0x202F), *range(0x2066, 0x206A), *range(0xD800, 0xE000)]
    assert {clean(f"a{chr(one)}b") for one in unwanted} == {"a\N{REPLACEMENT CHARACTER}b"}
    assert clean("Größe 12 µm, 20 °C\tor\n") == "Größe 12 µm, 20 °C\tor\n"


@pytest.mark.parametrize(("said", "expected"), [("100", 100), ("0", 77), ("wide", 77), ("", 77)])
def test_width_is_what_the_user_says(said: str, expected: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """COLUMNS counts if it is a number; without a terminal the usual width does."""

    def no_terminal(_: int = 1) -> os.terminal_size:
        raise OSError

    monkeypatch.setattr(os, "get_terminal_size", no_terminal)
    monkeypatch.setenv("COLUMNS", said)
    assert columns(77) == expected
