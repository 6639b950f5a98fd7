"""A studio for each test, its catalogue compiled once per test process."""

from __future__ import annotations

import gc
import os
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from inspect import iscoroutinefunction
from itertools import count
from pathlib import Path
from types import ModuleType
from typing import Any, TypeVar

import msgspec
import pytest
from hypothesis import HealthCheck, settings

import kb.catalogue.load
import kb.catalogue.paths
import kb.desk.sharing.git
import kb.index.catalogue_rows
import kb.index.compile
import kb.index.identify_table
import kb.index.index_file
import kb.index.open
import kb.index.search
from kb.book.kinds.spot_test import SpotTest
from kb.catalogue.load import Catalogue, Problem
from kb.catalogue.paths import shipped_data, yaml_files
from kb.catalogue.yaml_reader import Document
from kb.desk.records.record import add_test
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from kb.index.index_file import SealedConnection, connect
from kb.index.open import Index, Origins, Progress
from kb.model.studio import Settings, Shelf

# Hundreds of apps are made and dropped; looking for their circles costs a tenth of all time. What one worker
# drops is mostly left until the process ends: it is looked for again where memory would run short.
gc.set_threshold(400_000, 20, 50)
gc.disable()
# A bench that takes back what it froze would look through all of that again.
gc.unfreeze = gc.freeze

# A busy machine is no fault of the code: how long examples take is measured by the bench alone.
settings.register_profile("untimed", settings(), deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")

_load, _loaded = kb.catalogue.load.load, dict[object, tuple[Catalogue, list[Problem]]]()


def _load_once(folders: Sequence[Path]) -> tuple[Catalogue, list[Problem]]:
    """The catalogue of folders that have not changed is read once per process; nobody writes in it."""
    files = [file for folder in folders for file in _listed_once(Path(folder))]
    if len(files) < MANY_FILES:
        return _load(folders)
    # A studio without entries of its own has the shipped catalogue, wherever it stands.
    key = (
        *(str(folder) for folder in folders if os.path.lexists(folder)),
        *((str(file), *_state(file)) for file in files),
    )
    _loaded[key] = _loaded.pop(key, None) or _load(folders)
    if len(_loaded) > HELD:
        del _loaded[next(iter(_loaded))]
    return _loaded[key]


HELD = 4
"""Catalogues that are kept, the last that were asked for; each takes tens of megabytes."""
MANY_FILES = 40
"""As many as the shipped catalogue has at least: small catalogues are what a test is about."""

kb.catalogue.load.load = _load_once


def _state(file: Path) -> tuple[int, int, int]:
    """By what it is known whether a file is still the one that was read."""
    found = file.stat()
    return found.st_mtime_ns, found.st_ino, found.st_size


SHIPPED, _listed = shipped_data(), dict[Path, list[Path]]()


def _listed_once(folder: Path) -> list[Path]:
    """No file comes into the shipped catalogue, and none goes, while tests run."""
    if folder != SHIPPED:
        return yaml_files(folder)
    _listed[folder] = _listed.get(folder) or yaml_files(folder)
    return _listed[folder].copy()


kb.catalogue.paths.yaml_files = _listed_once

_read, _documents = kb.catalogue.load.read, dict[tuple[str, int, int, int], Document]()


def _read_once(path: Path) -> Document:
    """A shipped file is parsed once per process, however many studios add entries of their own to it."""
    if SHIPPED not in path.parents:
        return _read(path)
    key = str(path), *_state(path)
    if key not in _documents:
        _documents[key] = _read(path)
    return _documents[key]


kb.catalogue.load.read = _read_once

_folder, _shipped = kb.catalogue.load._Loading.folder, dict[object, kb.catalogue.load._Loading]()


def _folder_once(loading: kb.catalogue.load._Loading, folder: Path, rank: int) -> None:
    """The shipped entries are made and checked once per process, however many studios add some of their own.

    ``test_index.py`` holds what is made of both against what is made anew.
    """
    if folder != SHIPPED or rank:
        _folder(loading, folder, rank)
        return
    key = tuple((str(file), *_state(file)) for file in _listed_once(folder))
    if key not in _shipped:
        _shipped[key] = kb.catalogue.load._Loading()
        _folder(_shipped[key], folder, rank)
    made = _shipped[key]
    loading.versions = {key: found.copy() for key, found in made.versions.items()}
    loading.left_out, loading.first = made.left_out.copy(), made.first.copy()
    loading.problems = made.problems.copy()


kb.catalogue.load._Loading.folder = _folder_once  # type: ignore[method-assign]

T = TypeVar("T")


def _worked_out_once(work: Callable[[Catalogue], Iterable[T] | T]) -> Callable[[Catalogue], Any]:
    """What follows from a catalogue that is read once is worked out once, not for each of many indexes.

    ``tests/test_index.py`` holds that nobody wrote in what is kept, and that it is what is worked out anew.
    """
    kept: dict[int, tuple[Catalogue, Any]] = {}

    def once(catalogue: Catalogue) -> Any:
        if all(catalogue is not one for one, _ in _loaded.values()):
            return work(catalogue)
        if id(catalogue) not in kept:
            found = work(catalogue)
            kept[id(catalogue)] = catalogue, list(found) if isinstance(found, Iterator) else found
            if len(kept) > HELD:
                del kept[next(iter(kept))]
        return kept[id(catalogue)][1]

    return once


_compiled_once = _worked_out_once(lambda one: ANEW["compile_catalogue"](one, Settings(), Shelf()))


def _with_own(catalogue: Catalogue, settings: Settings, shelf: Shelf) -> Compiled:
    """As where settings alone changed (``_take_own`` of kb/index/open.py): no number depends on them."""
    compiled: Compiled = _compiled_once(catalogue)
    return msgspec.structs.replace(compiled, settings=settings, shelf=shelf)


_read_compiled, _decoded = kb.index.open._read_compiled, list[tuple[bytes, Compiled]]()


def _decoded_once(conn: sqlite3.Connection) -> Compiled | None:
    """The same bytes hold the same catalogue: they are decoded once, however many indexes begin with them."""
    row = conn.execute("SELECT value FROM meta WHERE key = 'compiled'").fetchone()
    for stored, found in _decoded:
        if row == (stored,):
            return msgspec.structs.replace(found)
    compiled = _read_compiled(conn)
    if compiled is not None:
        _decoded.append((row[0], compiled))
        del _decoded[:-HELD]
    return compiled


kb.index.open._read_compiled = _decoded_once

WORKED_OUT: tuple[tuple[ModuleType, str], ...] = (
    (kb.index.catalogue_rows, "_entries"),
    (kb.index.catalogue_rows, "_names"),
    (kb.index.catalogue_rows, "_mentions"),
    (kb.index.identify_table, "table_of"),
)
ANEW: dict[str, Callable[..., Any]] = {name: getattr(module, name) for module, name in WORKED_OUT}
for _module, _name in WORKED_OUT:
    setattr(_module, _name, _worked_out_once(ANEW[_name]))

ANEW["write_catalogue"] = kb.index.catalogue_rows.write_catalogue
_written: dict[int, tuple[Catalogue, dict[str, list[Any]]]] = {}
SEARCHED = ("entry_fts", "name_tri")
TEXTS = tuple(f"{name}_{part}" for name in SEARCHED for part in ("data", "idx", "content", "docsize"))
"""The tables in which SQLite keeps those that can be searched."""


def _texts_put_there(conn: sqlite3.Connection, catalogue: Catalogue, compiled: Compiled, *rest: Any) -> None:
    """What can be searched of a catalogue that is read once is cut into words and letters once.

    That is two thirds of what it takes to derive an index. Only into a new one: what SQLite has in memory of
    tables that were written to would not follow.
    """
    new = conn.execute("SELECT 1 FROM entry").fetchone() is None
    if not new or all(catalogue is not one for one, _ in _loaded.values()):
        ANEW["write_catalogue"](conn, catalogue, compiled, *rest)
    elif id(catalogue) in _written:
        ANEW["write_catalogue"](_Texts(conn, _written[id(catalogue)][1]), catalogue, compiled, *rest)
    else:
        ANEW["write_catalogue"](conn, catalogue, compiled, *rest)
        rows = {table: conn.execute(f"SELECT * FROM {table}").fetchall() for table in TEXTS}
        _written[id(catalogue)] = catalogue, rows
        if len(_written) > HELD:
            del _written[next(iter(_written))]


class _Texts:
    """A connection to which rows that are to be searched are given as SQLite keeps them."""

    def __init__(self, conn: sqlite3.Connection, kept: dict[str, list[Any]]) -> None:
        self._conn = conn
        self._kept = kept

    def execute(self, sql: str, *given: Any) -> Any:
        return self._put(sql) or self._conn.execute(sql, *given)

    def executemany(self, sql: str, rows: Any) -> Any:
        return self._put(sql) or self._conn.executemany(sql, rows)

    def _put(self, sql: str) -> bool:
        found = re.match(rf"INSERT INTO ({'|'.join(SEARCHED)})\b", sql)
        for table in TEXTS if found else ():
            if table.startswith(found[1]):
                rows = self._kept[table]
                marks = ", ".join("?" * len(rows[0]))
                self._conn.executemany(f"REPLACE INTO {table} VALUES ({marks})", rows)
        return found is not None


kb.index.catalogue_rows.write_catalogue = _texts_put_there
ANEW["compile_catalogue"] = kb.index.compile.compile_catalogue
kb.index.compile.compile_catalogue = _with_own


@pytest.fixture(autouse=True)
def _index_and_disk(
    request: pytest.FixtureRequest, blank_index: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is derived anew, and waiting for the disk, are real only where they are the subject.

    A drive's own memory outlives a test.
    """
    if not request.node.nodeid.startswith(DERIVED):
        monkeypatch.setattr(kb.index.open, "_open_file", partial(_begun_from_a_copy, blank_index))
    if request.node.nodeid.startswith(DISK):
        return
    monkeypatch.setattr(os, "fsync", lambda _: None)
    monkeypatch.setattr(kb.index.open, "connect", _not_waiting)
    unsynced = tuple(setting.replace("fsync=all", "fsync=none") for setting in kb.desk.sharing.git._CONFIG)
    monkeypatch.setattr(kb.desk.sharing.git, "_CONFIG", unsynced)


def _not_waiting(path: Path | None) -> SealedConnection:
    """The index as it is always opened, but that closing it does not wait for the disk several times."""
    conn = connect(path)
    conn.execute("PRAGMA synchronous=OFF")
    return conn


_open_file = kb.index.open._open_file


def _begun_from_a_copy(blank: Path, path: Path, origins: Origins, progress: Progress, unread: bool) -> Index:
    """A first index of the shipped catalogue alone begins as a copy of one that was derived for no records.

    ``tests/test_index.py`` holds that an index that grew is the one that is derived.
    """
    files = [file for folder in origins.catalogue_folders for file in _listed_once(folder)]
    if not unread and files == _listed_once(SHIPPED) and path.parent.is_dir() and not os.path.lexists(path):
        shutil.copyfile(blank, path)
    return _open_file(path, origins, progress, unread)


DISK = ("tests/faults/", "tests/book/", "tests/backup/", "tests/test_bench.py")
DERIVED = (
    *("tests/faults/test_index", "tests/faults/test_damaged_index", "tests/faults/test_disk_full"),
    *("tests/faults/test_copied", "tests/faults/test_two_apps", "tests/faults/test_without_posix"),
    *("tests/backup/", "tests/golden/", "tests/test_bench.py", "tests/test_index.py"),
)
"""Where an index that is derived from nothing is the subject."""


@pytest.fixture(scope="session")
def worlds(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where tests that ask for no folder would have one each, if they wrote."""
    return tmp_path_factory.mktemp("worlds")


@pytest.fixture(autouse=True)
def _own_world(
    request: pytest.FixtureRequest, worlds: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    """No test reads or writes the user's own studio or cache; what it opened is closed when it is over."""
    _leave_or_look()
    # Not made for each of thousands: pytest looks through all folders of the run for the next free number.
    named = "tmp_path" in request.fixturenames
    place: Path = request.getfixturevalue("tmp_path") if named else worlds / str(next(NUMBERS))
    monkeypatch.setenv("XDG_DATA_HOME", str(place / "xdg-data"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(place / "xdg-cache"))
    monkeypatch.setenv("BENCHLEAF_BENCH", "bench-a")
    monkeypatch.delenv("BENCHLEAF_STUDIO", raising=False)
    # Else each word of each option is looked for in a dozen files of translations that nobody has.
    monkeypatch.setenv("LANGUAGE", "C")
    yield
    # Apps that were dropped hold their index until the collector comes, four files each, and systems give a
    # process a thousand.
    inside = f"{place}{os.sep}"
    for conn in list(kb.index.index_file._open):
        if conn.seal is not None and str(conn.seal.path).startswith(inside):
            # Its folder goes: nobody will ask for a seal.
            conn.seal.drop()
            conn.seal = None
            conn.close()
        if conn.seal is None:
            # What is dropped lies about until the collector comes: each later test looked at it again.
            kb.index.index_file._open.discard(conn)
            kb.index.search._SEEN.pop(conn, None)


MADE = 100_000


def _memory() -> int:
    """Bytes of memory that this machine has, or its container may take; where neither says, few."""
    try:
        found = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    except (AttributeError, OSError, ValueError):
        return 2**31
    limit = Path("/sys/fs/cgroup/memory.max")
    may = limit.read_text().strip() if limit.exists() else ""
    return min(found, int(may)) if may.isdigit() else found


LEFT = _memory() // 3 // int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1")) // 150
"""Objects that may lie in a worker, of about as many bytes each: for all workers a third of memory."""
LYING = {"objects": 0}


def _leave_or_look() -> None:
    """Between two tests, as a test may have asked for a look, or have taken back what was left."""
    made = gc.get_count()[0]
    if LYING["objects"] < LEFT:
        LYING["objects"] += made
        gc.disable()
        gc.freeze()
        return
    gc.enable()
    # Nearly all that is young is waste now: looked for while an app runs, half of it is in use.
    if made > MADE:
        gc.collect(0)


NUMBERS = count()


@pytest.fixture(scope="session")
def blank_index(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An index of the shipped catalogue and an empty book."""
    root = tmp_path_factory.mktemp("blank")
    studio = Studio(root)
    studio.index.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    studio.close()
    return root / "index.db"


@pytest.fixture
def new_studio(blank_index: Path, tmp_path: Path) -> Callable[[str], Studio]:
    """Makes studios with an empty book; the catalogue need not be read again for each."""

    def make(name: str = "studio") -> Studio:
        root = tmp_path / name
        root.mkdir()
        shutil.copy(blank_index, root / "index.db")
        return Studio(root)

    return make


@pytest.fixture
def studio(new_studio: Callable[[str], Studio]) -> Studio:
    """A studio with an empty book."""
    return new_studio("studio")


@pytest.fixture(scope="session")
def untouched(blank_index: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    """A studio with an empty book for all who only read; at the end it is seen that nobody wrote."""
    root = tmp_path_factory.mktemp("untouched")
    shutil.copy(blank_index, root / "index.db")
    studio = Studio(root)
    assert studio.index
    yield studio
    # A record, settings or an entry would stand beside the index.
    assert {one.name.removeprefix("index.db") for one in root.iterdir()} <= {"", "-seal", "-wal", "-shm"}
    studio.close()


SLOW = (
    *("tests/faults/", "tests/properties/", "tests/published/", "tests/golden/"),
    *("tests/test_bench.py", "tests/test_demo.py", "tests/test_imports.py", "tests/test_layers.py"),
    *("tests/test_scripts.py", "tests/choose/test_science_calibration.py"),
    *("tests/sharing/test_share.py", "tests/sharing/test_share_catalogue.py", "tests/package/test_import.py"),
    *("tests/sharing/test_share_damage.py", "tests/liquids/test_science_blend_finder.py"),
    *("tests/sheet/test_photo_compare.py", "tests/sheet/test_photographs_taken.py", "tests/test_measure.py"),
    *("tests/sheet/test_patch_plan.py", "tests/materials/test_own.py", "tests/test_index.py"),
    *("tests/sheet/test_photographs_travel.py", "tests/sheet/test_sheets.py"),
    *("tests/book/test_pieces.py", "tests/choose/test_rests_on.py"),
)
"""Tests that start processes, kill writers, or try many cases: ``scripts/test quick`` leaves them out, and
what runs the app, unless its folder is named. A single slow test elsewhere, of more than half a second or
with cases by the dozen, bears the mark itself, so that every room is still in the quick run."""


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Files of slow tests alone are not even read where no slow test is asked for: that takes seconds."""
    if config.option.markexpr != "not slow" or collection_path.suffix != ".py":
        return None
    return collection_path.relative_to(config.rootpath).as_posix().startswith(SLOW) or None


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Marks what the table names, and what runs the app."""
    # Who names screens works on them; for whoever works elsewhere an app started anew each time is too slow.
    named = any("screens" in argument for argument in config.args)
    for item in items:
        if _place(item).startswith(SLOW) or (_runs_the_app(item) and not named):
            item.add_marker(pytest.mark.slow)
    _dealt(items, int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1")))


def _place(item: pytest.Item) -> str:
    return item.nodeid.partition("::")[0]


LONG = (
    *(
        "tests/test_bench.py",
        "tests/screens/test_every_screen.py",
        "tests/screens/sheet/test_faces_screen.py",
    ),
    *(
        "tests/test_index.py",
        "tests/test_measure.py",
        "tests/test_readme_commands.py",
        "tests/test_packaging.py",
    ),
    *("tests/screens/test_day.py", "tests/sheet/test_photo_compare.py", "tests/test_web_taps.py"),
)
"""Files with a test of more than seven seconds, of those that do not fork."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One worker more than processors: tests wait for git, for children and for the disk."""
    return 1 + (len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1)


def pytest_collection_finish() -> None:
    """Thousands of tests stay until the end: the collector of garbage need not look at them again."""
    gc.freeze()


def pytest_sessionfinish() -> None:
    """What is left goes with the process; pytest would look through all of it five times first."""
    gc.freeze()


def _dealt(items: list[pytest.Item], workers: int) -> None:
    """Tests that fork come first for each worker: a copy of a process costs what the process has grown to.

    Each worker is given as many tests as the others, in the order of the list, and takes from who has more
    left when its own are done. A file stays with one worker, as what it makes once takes time.
    """
    forks = [item for item in items if "fork" in item.module.__dict__ or "start" in item.module.__dict__]
    forked = set(forks)
    others = [item for item in items if item not in forked]
    # Whoever begins a minute's test when all others are done is waited for by all.
    others.sort(key=lambda item: not _place(item).startswith(LONG))
    files = list(dict.fromkeys(item.path for item in forks))
    each = -(-len(items) // workers)
    dealt: list[pytest.Item] = []
    for worker in range(workers):
        mine = set(files[worker::workers])
        first = [item for item in forks if item.path in mine][:each]
        room = len(others) if worker == workers - 1 else each - len(first)
        dealt += [*first, *others[:room]]
        del others[:room]
    items[:] = dealt


def _runs_the_app(item: pytest.Item) -> bool:
    """By how such tests are written: they await a pilot, or compare a picture."""
    return iscoroutinefunction(getattr(item, "obj", None)) or "snap_compare" in getattr(
        item, "fixturenames", ()
    )


def spot(**fields: Any) -> SpotTest:
    """A spot test on oily natural rubber over letterpress on wood pulp, with some fields changed."""
    usual: dict[str, Any] = {
        "adhesive": "natural-rubber-resin",
        "stage": "oily",
        "carrier": "regenerated-cellulose-film",
        "medium": "letterpress-oil",
        "paper": "paper-woodpulp",
        "parts": {"n-heptane": 1.0},
    }
    return SpotTest(**{**usual, **fields})


@pytest.fixture
def record() -> Callable[..., str]:
    """Stores a spot test and takes it into the index; returns its id."""

    def store(studio: Studio, **fields: Any) -> str:
        written = add_test(studio, spot(**fields))
        studio.refresh()
        return written.id

    return store


def pytest_addoption(parser: pytest.Parser) -> None:
    """What is stored in tests/golden can be stored anew, after a wanted change of words or figures."""
    parser.addoption("--golden-update", action="store_true", help="store golden transcripts anew")
