"""What others put into the shared repository, or into the folder with it, runs nothing and hides nothing."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from kb.desk.errors import DeskError
from kb.desk.sharing import tree as share_tree
from kb.desk.sharing.share import join, share
from tests.share_help import Bench, bench, by_hand, hub, record

__all__ = ["bench", "hub"]

SHELF = "# Ours.\n"


def cloned(hub: Path, tmp_path: Path) -> Path:
    by_hand(tmp_path, "clone", "-q", "-b", "main", str(hub), str(tmp_path / "clone"))
    return tmp_path / "clone"


def pushed(clone: Path) -> None:
    by_hand(clone, "add", "-A", "-f")
    by_hand(clone, "commit", "-qm", "x")
    by_hand(clone, "push", "-q")


def test_a_shared_ignore_file_takes_nothing_away(bench: Bench, hub: Path, tmp_path: Path) -> None:
    north, south = bench("north"), bench("south")
    north.shelf_file.write_text(SHELF)
    north.catalogue_dir.mkdir()
    (north.catalogue_dir / "own.yaml").write_text("cautions: []\n")
    join(north, str(hub))
    join(south, str(hub))
    clone = cloned(hub, tmp_path)
    (clone / ".gitignore").write_text((clone / ".gitignore").read_text() + "catalogue/\nshelf.yaml\n*\n")
    by_hand(clone, "add", "-f", ".gitignore")
    by_hand(clone, "commit", "-qm", "x")
    by_hand(clone, "push", "-q")
    for _ in range(2):
        for studio in (north, south):
            share(studio)
            assert studio.shelf_file.read_text() == SHELF
            assert (studio.catalogue_dir / "own.yaml").is_file()
    assert {"shelf.yaml", "catalogue/own.yaml"} <= set(
        by_hand(hub, "ls-tree", "-r", "--name-only", "main").split()
    )


@pytest.mark.parametrize("name", ["shelf.yaml", "catalogue/own.yaml"])
def test_what_others_delete_is_told_and_kept(name: str, bench: Bench, hub: Path, tmp_path: Path) -> None:
    north = bench("north")
    north.shelf_file.write_text(SHELF)
    north.catalogue_dir.mkdir()
    (north.catalogue_dir / "own.yaml").write_text("cautions: []\n")
    was = (north.root / name).read_text()
    join(north, str(hub))
    clone = cloned(hub, tmp_path)
    (clone / name).unlink()
    pushed(clone)
    told = share(north).told
    assert any(name in text for text in told), told
    assert (north.root / "set-aside" / name).read_text() == was


HOOKS = ("pre-receive", "update", "post-receive", "post-update", "reference-transaction", "proc-receive")


def test_a_folder_runs_none_of_its_programs(bench: Bench, hub: Path, tmp_path: Path) -> None:
    ran = tmp_path / "ran"
    program = tmp_path / "program"
    program.write_text(f"#!/bin/sh\necho $0 >> {ran}\n")
    program.chmod(0o755)
    (hub / "hooks").mkdir(exist_ok=True)
    for name in HOOKS:
        (hub / "hooks" / name).write_text(f"#!/bin/sh\necho {name} >> {ran}\n")
        (hub / "hooks" / name).chmod(0o755)
    other = tmp_path / "other"
    by_hand(tmp_path, "init", "-q", "--bare", str(other))
    (hub / "objects" / "info").mkdir(exist_ok=True)
    (hub / "objects" / "info" / "alternates").write_text(f"{other}/objects\n")
    for key in ("core.alternateRefsCommand", "uploadpack.packObjectsHook", "core.fsmonitor"):
        by_hand(hub, "config", key, str(program))
    north, south = bench("north"), bench("south")
    join(north, str(hub))
    (north.root / "notes.txt").write_text("x")
    share(north)
    join(south, f"file://{hub}")
    share(south)
    assert not ran.exists(), ran.read_text()
    assert (south.root / "notes.txt").is_file()


@pytest.mark.parametrize(
    "key",
    [
        "core.sshCommand",
        "credential.helper",
        "remote.origin.uploadpack",
        "remote.origin.receivepack",
        "include.path",
        "filter.x.clean",
        "core.hooksPath",
        "url.ext::sh.insteadOf",
    ],
)
def test_a_studio_folder_that_came_with_programs_in_its_settings_is_refused(
    key: str, bench: Bench, hub: Path
) -> None:
    north = bench("north")
    join(north, str(hub))
    config = north.root / ".git" / "config"
    before = config.read_bytes()
    by_hand(north.root, "config", "--file", ".git/config", key, "/bin/false")
    with pytest.raises(DeskError, match=r"can start a program"):
        share(north)
    config.write_bytes(before)
    share(north)


def test_ten_million_files_in_a_few_bytes_are_refused(bench: Bench, hub: Path, tmp_path: Path) -> None:
    """Folders within folders that all are one: git keeps each once, and lists ten to the seventh files."""
    north = bench("north")
    join(north, str(hub))
    clone = cloned(hub, tmp_path)
    blob = _fed(clone, "", "hash-object", "-w", "--stdin")
    tree = _made(clone, [f"100644 blob {blob}\tf{number}" for number in range(10)])
    for _ in range(6):
        tree = _made(clone, [f"040000 tree {tree}\td{number}" for number in range(10)])
    head = by_hand(clone, "commit-tree", tree, "-p", "HEAD", "-m", "x").strip()
    by_hand(clone, "push", "-q", "origin", f"{head}:refs/heads/main")
    before = sorted(path.name for path in north.root.iterdir())
    with pytest.raises(DeskError, match="more files than any studio has; nothing was taken in"):
        share(north)
    assert sorted(path.name for path in north.root.iterdir()) == before


def test_a_large_file_of_others_is_not_taken_in_and_told(
    bench: Bench, hub: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A few packed kilobytes unpack to any size; the other files of that commit come all the same."""
    monkeypatch.setattr(share_tree, "LARGEST_FILE", 1000)
    north = bench("north")
    join(north, str(hub))
    clone = cloned(hub, tmp_path)
    (clone / "pool").mkdir()
    (clone / "pool" / "other.json").write_text(" " * 2000)
    (clone / "letter.txt").write_text("small\n")
    pushed(clone)
    told = share(north).told
    assert any("Not taken in" in text and "pool/other.json" in text for text in told), told
    assert not (north.root / "pool" / "other.json").exists()
    assert (north.root / "letter.txt").read_text() == "small\n"
    assert "pool/other.json" in by_hand(hub, "ls-tree", "-r", "--name-only", "main"), (
        "it stays as it is there"
    )


def test_a_file_that_outgrew_sharing_stays_as_last_shared(
    bench: Bench, hub: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    north = bench("north")
    join(north, str(hub))
    (north.root / "notes.txt").write_text("first\n")
    share(north)
    monkeypatch.setattr(share_tree, "LARGEST_FILE", 1000)
    (north.root / "notes.txt").write_text("x" * 2000)
    assert any("notes.txt" in text and "larger than" in text for text in share(north).told)
    assert by_hand(hub, "show", "main:notes.txt") == "first\n"


def test_a_damaged_book_is_told_at_the_first_join(bench: Bench, hub: Path) -> None:
    """An editor that turned the line ends round: shared without a word before."""
    north = bench("north")
    record(north)
    record(north)
    (path,) = north.book_dir.glob("*.jsonl")
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert any("north.jsonl" in text for text in join(north, str(hub)).told)


def test_git_of_a_studio_that_others_may_look_into_is_closed(bench: Bench, hub: Path) -> None:
    north = bench("north")
    north.root.chmod(0o755)
    join(north, str(hub))
    assert (north.root / ".git").stat().st_mode & 0o777 == 0o700


def _made(clone: Path, rows: list[str]) -> str:
    return _fed(clone, "".join(f"{row}\n" for row in rows), "mktree")


def _fed(clone: Path, text: str, *words: str) -> str:
    done = subprocess.run(
        ["git", *words], cwd=clone, input=text, capture_output=True, text=True, check=True, timeout=60
    )
    return done.stdout.strip()
