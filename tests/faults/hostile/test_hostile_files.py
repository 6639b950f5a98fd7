"""Hostile names of files and folders, bytes that are not UTF-8, and the program itself as a process."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.book.kinds.spot_test import SpotTest
from kb.book.text import clean_text
from kb.desk.errors import DeskError
from kb.desk.records.record import add_test, photo
from kb.desk.studio import Studio, open_studio, with_book
from tests.faults import figures
from tests.faults.hostile.checks import CRASH, trouble, unclean
from tests.faults.hostile.corpus import SHORT, Hostile
from tests.faults.hostile.stage import Stage, staged

ROOT = Path(__file__).resolve().parents[3]
BROKEN_NAME = os.fsdecode(b"caf\xe9")

needs_odd_names = pytest.mark.skipif(
    sys.platform in {"win32", "darwin"}, reason="this system takes no file names that are not text"
)


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory, blank_index: Path) -> Iterator[Stage]:
    """A studio for photographs."""
    with staged(tmp_path_factory.mktemp("hostile"), blank_index) as made:
        yield made


def named(folder: Path, one: Hostile) -> Path | None:
    """A new file that bears the string as its name, where the file system takes such a name."""
    if "/" in one.text or "\x00" in one.text or one.text in {"", ".", ".."}:
        return None
    path = folder / one.text
    try:
        path.write_bytes(b"picture")
    except (OSError, UnicodeEncodeError):
        return None
    return path


@needs_odd_names
def test_photographs_of_any_name(stage: Stage) -> None:
    """A photograph is taken in under its cleaned path, or refused in a sentence; never a crash."""
    folder = stage.folder / "photos"
    folder.mkdir()
    kept = tried = 0
    for one in SHORT:
        path = named(folder, one)
        argv = ["test", "add", "--liquid=acetone", f"--photo-after={path or one.text}", "--json"]
        printed = stage.run(argv)
        tried += 1
        assert not trouble(*printed, as_json=True), (one, printed.err)
        assert printed.code == 0 or path is None or not one.storable, (one, printed.err)
        kept += printed.code == 0
    assert kept > 250
    shutil.rmtree(folder)
    figures.add("photographs of hostile names", tried=tried, kept=kept, crashes=0)


@pytest.mark.parametrize("what", ["folder", "link", "pipe", "device", "nothing", "long", "nul"])
def test_photograph_that_is_none(what: str, tmp_path: Path) -> None:
    """A folder, a link, a pipe, a device and an impossible name are refused, and nothing waits."""
    path = tmp_path / "a.jpg"
    if what == "folder":
        path.mkdir()
    elif what == "link":
        path.symlink_to("/etc/passwd")
    elif what == "pipe":
        os.mkfifo(path)
    elif what == "device":
        path = Path("/dev/zero")
    elif what != "nothing":
        path = tmp_path / {"long": "x" * 300, "nul": "a\x00b"}[what]
    with pytest.raises(DeskError, match=r"cannot be opened|not a photograph"):
        photo(path, "after")


def test_photograph_of_two_gib_is_refused_unread(tmp_path: Path) -> None:
    """A sparse file of enormous size is not hashed."""
    path = tmp_path / "a.jpg"
    path.touch()
    try:
        os.truncate(path, 2 << 30)
    except OSError:
        pytest.skip("this file system holds no sparse file of 2 GiB")
    with pytest.raises(DeskError, match="not a photograph"):
        photo(path, "after")


@needs_odd_names
def test_studio_folders_of_any_name(tmp_path: Path, blank_index: Path) -> None:
    """A studio may have any name that is text; one that is not is refused in a sentence."""
    for one in SHORT[::6]:
        path = named(tmp_path, one)
        if path is None:
            continue
        path.unlink()
        if not one.storable:
            with pytest.raises(DeskError, match="not in UTF-8"):
                open_studio(path)
            continue
        path.mkdir()
        shutil.copy(blank_index, path / "index.db")
        studio = open_studio(path)
        add_test(studio, SpotTest(parts={"water": 1.0}))
        studio.refresh()
        assert studio.index.conn.execute("SELECT count(*) FROM test").fetchone()[0] == 1
        studio.close()


@pytest.mark.parametrize("name", ["x" * 300, "/dev/null/x"])
def test_studio_folder_that_cannot_be(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Reading and writing there end in a sentence."""
    from kb.cli.main import main

    for argv in (["test", "add", "--liquid=water", "--release=1"], ["test", "list"]):
        code = main([*argv, "--studio", name])
        assert not trouble(code, *capsys.readouterr(), as_json=False)
    with pytest.raises(DeskError, match="book file"):
        with_book(Studio(tmp_path), Path(name))


@needs_odd_names
def test_files_in_the_studio_whose_names_are_not_text(
    tmp_path: Path, blank_index: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A catalogue file so named is told, a book file so named is read; nothing else stops."""
    from kb.cli.main import main

    root = tmp_path / "studio"
    (root / "catalogue").mkdir(parents=True)
    shutil.copy(blank_index, root / "index.db")
    add_test(Studio(root), SpotTest(parts={"water": 1.0}))
    (root / "catalogue" / f"{BROKEN_NAME}.yaml").write_text("practice: []\n")
    (root / "catalogue" / BROKEN_NAME).mkdir()
    (root / "book" / "bench-a.jsonl").rename(root / "book" / f"{BROKEN_NAME}.jsonl")
    with (root / "book" / f"{BROKEN_NAME}.jsonl").open("a") as file:
        file.write("not a record\n")
    at = ["--studio", str(root)]
    outcomes = {}
    for words in (["check"], ["test", "list", "--json"], ["verify", "--json"], ["verify"]):
        code = main([*words, *at])
        out, err = capsys.readouterr()
        assert not trouble(code, out, err, as_json="--json" in words), (words, err)
        outcomes[" ".join(words)] = out
    assert outcomes["check"].count("the name is not in UTF-8; rename it") == 2
    assert len(json.loads(outcomes["test list --json"])) == 1
    assert "not a record" in outcomes["verify"]
    assert main(["test", "add", "--liquid=water", "--release=1", *at]) == 0
    assert main(["test", "list", "--json", *at]) == 0
    assert len(json.loads(capsys.readouterr().out.splitlines()[-1])) == 2


RUNS: tuple[tuple[list[bytes], int], ...] = (
    ([b"test", b"add", b"--liquid=acetone", b"--remarks=\x1b[2J\x1b]0;t\x07\xc2\x9b31m\xe2\x80\xaex"], 0),
    ([b"test", b"add", b"--liquid=acetone", b"--remarks=caf\xe9"], 2),
    ([b"test", b"add", b"--liquid=acetone", b"--photo-after=caf\xe9.jpg"], 3),
    ([b"find", b"caf\xe9\x9b31m"], 2),
    ([b"find", b"\xff\xfe"], 2),
    ([b"dance\x1b[2J\x9b"], 2),
    ([b"choose", b"--adhesive=\x1b]52;c;AAAA\x07"], 1),
    ([b"test", b"list"], 0),
    ([b"test", b"list", b"--json"], 0),
    ([b"choose", b"--adhesive=natural-rubber-resin", b"--limit=3"], 0),
)


@pytest.mark.skipif(os.name == "nt", reason="arguments are bytes only where the system says so")
@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
def test_the_program_itself(encoding: str, tmp_path: Path, blank_index: Path) -> None:
    """Started with raw bytes, whatever the terminal's encoding: a known code, clean bytes, no trace."""
    root = tmp_path / "studio"
    root.mkdir()
    shutil.copy(blank_index, root / "index.db")
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": encoding, "TERM": "dumb"}
    for words, code in RUNS if encoding == "utf-8" else RUNS[-4:]:
        argv = [os.fsencode(sys.executable), b"-m", b"kb.cli.main", *words, b"--studio", os.fsencode(root)]
        done = subprocess.run(argv, capture_output=True, check=False, cwd=tmp_path, env=environment)
        out, err = done.stdout.decode(encoding), done.stderr.decode(encoding)
        assert done.returncode == code, (words, err)
        assert not unclean(out + err), words
        assert CRASH not in err
        assert "Traceback" not in err
        assert len(err.splitlines()) <= 1
        if b"--json" in words:
            assert [row["liquid"] for row in json.loads(out)] == ["acetone"] * (encoding == "utf-8")


def test_cleaned_names_are_cleaned_once() -> None:
    """A name that was cleaned stays as it is when it is cleaned again."""
    for one in SHORT:
        if one.storable:
            once = clean_text(one.text)
            assert clean_text(once) == once
