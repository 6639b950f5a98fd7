"""Backups: whole, read back, never in each other's way, and good for putting a studio back."""

from __future__ import annotations

import json
import os
import resource
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from kb.book import seen
from kb.book.append import append
from kb.book.read import read_file
from kb.book.verify import verify as verify_book
from kb.cli.main import main
from kb.desk.backup import backup as backup_module
from kb.desk.backup import copy as backup_copy
from kb.desk.backup.backup import BackedUp, back_up, default_target
from kb.desk.backup.check import check_backup, read_sums_line, restore, sums_line
from kb.desk.errors import DeskError
from kb.desk.keep import verify
from kb.desk.records.record import add_test, photo
from kb.desk.studio import Studio
from kb.index.open import silent
from tests.conftest import spot
from tests.faults.tools import fork
from tests.share_help import answer

ROOT = Path(__file__).parents[2]
WRITER = """
import sys
from pathlib import Path
from kb.book import seen
from kb.book.append import append
while True:
    line = append(Path(sys.argv[1]), bench="bench-b", who="w", kind="note", body={"text": "x" * 2000})
    sys.stdout.write(line.id + "\\n")
    sys.stdout.flush()
"""


@pytest.fixture
def full(studio: Studio, tmp_path: Path) -> Studio:
    """A studio with a bit of everything, and photographs inside and outside its folder."""
    outside, inside = tmp_path / "camera" / "after 1.jpg", studio.root / "photos" / "before.jpg"
    for path, data in ((outside, b"\xff\xd8 after"), (inside, b"\xff\xd8 before")):
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
    add_test(studio, spot(release=3, photos=(photo(outside, "after"), photo(inside, "before"))))
    # As in a book from another bench: what was taken in by copy there lies only outside here.
    shutil.rmtree(studio.root / "photographs")
    add_test(studio, spot(release=1, parts={"acetone": 1.0}, harm={"bleed": 2}))
    for name in ("working/sheet-a.json", "pool/other.json", "catalogue/note.txt", "odd\nname"):
        (studio.root / name).parent.mkdir(exist_ok=True)
        (studio.root / name).write_text(f"{name}\n")
    studio.shelf_file.write_text("holds: [water, ethanol, acetone, n-heptane]\n")
    for name in ("x.part", ".hidden"):
        (studio.root / name).touch()
    return studio


def names(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def made(studio: Studio, target: Path | None = None, **more: Any) -> tuple[BackedUp, Path]:
    done = back_up(studio.root, target, **more)
    return done, Path(done.folder)


@pytest.mark.slow
def test_everything_is_copied_and_can_be_read_without_the_program(full: Studio, tmp_path: Path) -> None:
    """All but what is derived; the check sums are those of sha256sum; photographs are listed."""
    done, folder = made(full)
    assert folder.parent == default_target(full.root) == tmp_path / "backups"
    assert folder.name.startswith("studio-20")
    after = next(name for name in names(folder) if name.startswith("photographs/"))
    assert after.endswith("-after-1.jpg")
    assert names(folder) == [
        *("README.txt", "SHA256SUMS", "backup.json", "photographs.tsv", after),
        *(
            "studio/book/bench-a.jsonl",
            "studio/catalogue/note.txt",
            "studio/odd\nname",
            "studio/photos/before.jpg",
        ),
        *("studio/pool/other.json", "studio/shelf.yaml", "studio/studio.yaml", "studio/working/sheet-a.json"),
    ]
    assert (done.records, done.photographs, done.photographs_missing, done.told) == (2, 1, 0, ())
    assert done.same_disk
    compared = subprocess.run(
        ["sha256sum", "-c", "--strict", "SHA256SUMS"], cwd=folder, capture_output=True, text=True, check=False
    )
    assert compared.returncode == 0, compared.stderr
    assert len((folder / "SHA256SUMS").read_bytes().splitlines()) == len(names(folder)) - 1
    text = (folder / "README.txt").read_text()
    assert all(
        word in text for word in ("one line for each entry", "sha256sum -c", "4 releases clean", "withdraw")
    )
    rows = [line.split("\t") for line in (folder / "photographs.tsv").read_text().splitlines()]
    assert [row[1] for row in rows[1:]] in (
        [after, "studio/photos/before.jpg"],
        ["studio/photos/before.jpg", after],
    )


@pytest.mark.slow
def test_a_restored_studio_gives_the_same_answers(full: Studio, tmp_path: Path) -> None:
    """To the last byte; and only an empty folder is filled."""
    before = answer(full)
    _, folder = made(full)
    new = tmp_path / "new" / "studio"
    new.mkdir(parents=True)
    done = restore(folder, new, silent)
    assert done.records == 2
    assert not (new / seen.FOLDER).exists(), "what another machine saw of the book is not put back with it"
    assert answer(Studio(new)) == before
    own = (".", "index.db", f"{seen.FOLDER}/")
    for name in names(full.root):
        if not name.startswith(own) and not name.endswith(".part"):
            assert (new / name).read_bytes() == (full.root / name).read_bytes()
    assert any(name.startswith(f"restored-photographs/{folder.name}/photographs/") for name in names(new))
    with pytest.raises(DeskError, match="not an empty folder"):
        restore(folder, new, silent)
    again = back_up(new, tmp_path / "more")
    assert (again.photographs, again.photographs_missing) == (0, 0)


@pytest.mark.slow
def test_a_studio_put_back_does_not_accuse_itself_of_lost_records(full: Studio, tmp_path: Path) -> None:
    """What was seen of the book may reach further than the copy: a record came while it was made."""
    _, folder = made(full)
    add_test(full, spot())
    full.refresh()
    assert (full.root / seen.FOLDER / "bench-a.jsonl").exists()
    later = made(full)[1]
    shutil.copy(folder / "studio/book/bench-a.jsonl", later / "studio/book/bench-a.jsonl")
    new = tmp_path / "new"
    shutil.copytree(later / "studio", new)
    heard: list[str] = []
    restored = Studio(new)
    restored.notice = heard.append
    restored.refresh()
    assert [one for one in verify(restored) if one.severity == "error"] == []
    assert heard == []


@pytest.mark.slow
def test_a_backup_while_another_process_writes_holds_all_that_was_acknowledged(
    full: Studio, tmp_path: Path
) -> None:
    """Three in a row, each whole, each with at least what its writer had been told before it began."""
    add_test(full, spot())
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(full.book_dir)], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    assert writer.stdout is not None
    try:
        told: list[str] = []
        for _ in range(3):
            told += [writer.stdout.readline().strip() for _ in range(20)]
            done, folder = made(full, tmp_path / "b")
            # A writer that is fast enough has closed its first piece and writes in the next.
            pieces = sorted((folder / "studio/book").glob("bench-b*.jsonl"))
            found = {read.line.id for piece in pieces for read in read_file(piece) if read.line}
            assert set(told) <= found
            assert done.records == len(found) + 3
            assert verify_book(folder / "studio/book") == []
            assert check_backup(folder).problems == ()
    finally:
        writer.kill()
        writer.communicate()


def test_a_line_that_has_no_end_is_left_out(full: Studio) -> None:
    """It was never acknowledged; the copy ends with the last whole line."""
    path = full.book_dir / "bench-a.jsonl"
    whole = path.read_bytes()
    path.write_bytes(whole + b'{"id":"01')
    done, folder = made(full)
    assert (folder / "studio/book/bench-a.jsonl").read_bytes() == whole
    assert done.told == ()


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        ("changed", "studio/book/bench-a.jsonl is not what it was"),
        ("missing", "studio/shelf.yaml is missing"),
        ("added", "studio/new.txt is not in the list"),
        ("link", "studio/shelf.yaml cannot be read"),
        ("list", "Line 1 of SHA256SUMS cannot be read"),
        ("leads out", "Line 1 of SHA256SUMS names no file of the backup"),
    ],
)
def test_a_damaged_backup_is_named_and_not_restored(
    full: Studio, tmp_path: Path, damage: str, said: str
) -> None:
    """The file is named, whatever happened to it, and nothing is put back."""
    _, folder = made(full)
    assert check_backup(folder).problems == ()
    book, shelf, sums = (
        folder / name for name in ("studio/book/bench-a.jsonl", "studio/shelf.yaml", "SHA256SUMS")
    )
    if damage == "changed":
        data = bytearray(book.read_bytes())
        data[100] ^= 1
        book.write_bytes(data)
    elif damage == "missing":
        shelf.unlink()
    elif damage == "added":
        (folder / "studio/new.txt").touch()
    elif damage == "link":
        shelf.rename(tmp_path / "shelf")
        shelf.symlink_to(tmp_path / "shelf")
    else:
        first, _, rest = sums.read_bytes().partition(b"\n")
        name = b"../../x" if damage == "leads out" else b""
        sums.write_bytes((first[:66] + name if name else b"?") + b"\n" + rest)
    assert said in " ".join(check_backup(folder).problems)
    with pytest.raises(DeskError, match=r"backup is damaged.*Nothing was put back"):
        restore(folder, tmp_path / "new", silent)
    assert not (tmp_path / "new").exists()


def test_lines_taken_from_the_end_of_a_book_are_noticed_even_with_the_list_written_anew(
    full: Studio, tmp_path: Path
) -> None:
    """How many lines there were is told in a second place."""
    _, folder = made(full)
    book = folder / "studio/book/bench-a.jsonl"
    lines = book.read_bytes().splitlines(keepends=True)
    book.write_bytes(lines[0])
    listed = [line for line in (folder / "SHA256SUMS").read_bytes().splitlines() if b"bench-a" not in line]
    digest = backup_copy.digest_of(book).encode()
    listed.append(digest + b"  studio/book/bench-a.jsonl")
    (folder / "SHA256SUMS").write_bytes(b"\n".join(listed) + b"\n")
    assert check_backup(folder).problems == ("The book had 2 lines and now has 1.",)


def test_a_book_with_a_fault_is_copied_and_the_fault_told(full: Studio, tmp_path: Path) -> None:
    """A copy of a damaged book is better than none: it can be checked and put back as it is."""
    path = full.book_dir / "bench-a.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"adhesive"', b'"adhesife"', 1))
    done, folder = made(full)
    assert "The book has a fault, and so has the copy" in done.told[0]
    assert check_backup(folder).problems == ()
    restore(folder, tmp_path / "new", silent)
    assert (tmp_path / "new/book/bench-a.jsonl").read_bytes() == path.read_bytes()


def everything(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in names(folder)}


def test_a_full_disk_leaves_earlier_backups_as_they_were(full: Studio, tmp_path: Path) -> None:
    """In a child that may not write large files: the sentence says so, and no half backup is left."""
    target = tmp_path / "b"
    _, folder = made(full, target)
    before = everything(target)
    (full.root / "photos" / "large.tif").write_bytes(bytes(300_000))

    def with_little_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
        with pytest.raises(DeskError, match=r"No backup was made.*Earlier backups.*Make room"):
            back_up(full.root, target, keep=1)

    assert fork(with_little_room) == 0
    assert everything(target) == before
    assert os.listdir(target) == [folder.name]
    assert fork(lambda: _restore_with_little_room(folder.parent, full)) == 0


def _restore_with_little_room(target: Path, full: Studio) -> None:
    folder = Path(back_up(full.root, target).folder)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
    new = target.parent / "new"
    with pytest.raises(DeskError, match="cannot be put into"):
        restore(folder, new, silent)
    assert not new.exists()
    assert not list(target.parent.glob(".new*"))


def test_a_target_that_cannot_be_written_is_told(full: Studio, tmp_path: Path) -> None:
    """Also one that is a file, or inside the studio; and a studio that is not there."""
    (tmp_path / "file").touch()
    for target in (tmp_path / "file", tmp_path / "file" / "b", Path("/proc/backups")):
        with pytest.raises(DeskError, match="No backup was made"):
            back_up(full.root, target)
    with pytest.raises(DeskError, match="inside the studio folder"):
        back_up(full.root, full.root / "backups")
    with pytest.raises(DeskError, match="nothing to back up"):
        back_up(tmp_path / "none")
    with pytest.raises(DeskError, match="no backup"):
        check_backup(tmp_path)


def test_what_cannot_be_read_back_is_no_backup(
    full: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that gives back something else is noticed before the copy bears its name."""
    really = backup_module.digest_of
    monkeypatch.setattr(
        backup_module, "digest_of", lambda path: "0" * 64 if path.name == "shelf.yaml" else really(path)
    )
    with pytest.raises(DeskError, match="could not be read back"):
        back_up(full.root, tmp_path / "b")
    assert os.listdir(tmp_path / "b") == []


def test_a_book_that_loses_lines_while_it_is_copied_is_no_backup(
    full: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was there before it began must be in the copy."""
    really = backup_module.sources

    def sources(root: Path) -> Any:
        path = root / "book" / "bench-a.jsonl"
        path.write_bytes(path.read_bytes().splitlines(keepends=True)[0])
        return really(root)

    monkeypatch.setattr(backup_module, "sources", sources)
    with pytest.raises(DeskError, match="had 2 lines and its copy has 1"):
        back_up(full.root, tmp_path / "b")


@pytest.mark.slow
def test_killed_at_any_moment_no_half_backup_bears_a_name(full: Studio, tmp_path: Path) -> None:
    """What a killed run left is cleared away by the next; what bears a name is whole."""
    target = tmp_path / "b"

    def die_at(count: int) -> None:
        left = iter(range(count))
        really = os.fsync

        def fsync(fd: int) -> None:
            if next(left, None) is None:
                os.kill(os.getpid(), signal.SIGKILL)
            really(fd)

        os.fsync = fsync
        back_up(full.root, target)

    for count in (0, 3, 9, 14, 20, 24):
        assert fork(lambda: die_at(count)) in (0, signal.SIGKILL)  # noqa: B023
        assert all(check_backup(one).problems == () for one in target.glob("studio-*"))
    made(full, target)
    assert all(name.startswith("studio-") for name in os.listdir(target))


def test_only_own_whole_older_backups_are_taken_away(full: Studio, tmp_path: Path) -> None:
    """Never another bench's, never a damaged one, never one too many; without --keep none at all."""
    target = tmp_path / "b"
    folders = [made(full, target)[1] for _ in range(4)]
    assert len(set(folders)) == 4
    other = Studio(tmp_path / "elsewhere" / "studio")
    append(other.book_dir, bench="x", who="w", kind="note", body={"text": "x"})
    theirs = made(other, target)[1]
    (folders[1] / "studio" / "shelf.yaml").write_text("holds: []\n")
    done, newest = made(full, target, keep=2)
    assert sorted(done.removed) == sorted((folders[0].name, folders[2].name))
    assert folders[1].name in done.told[0]
    assert {path.name for path in target.iterdir()} == {
        one.name for one in (folders[1], folders[3], theirs, newest)
    }
    with pytest.raises(DeskError, match="At least one"):
        back_up(full.root, target, keep=0)


def test_photographs_are_copied_only_if_they_are_what_the_record_says(full: Studio, tmp_path: Path) -> None:
    """A record may come from anywhere and name any file here; content that is not known is not taken."""
    (tmp_path / "camera" / "after 1.jpg").write_bytes(b"something private")
    done, folder = made(full)
    assert (done.photographs, done.photographs_missing) == (0, 1)
    assert "not found with this content" in (folder / "photographs.tsv").read_text()
    assert b"something private" not in b"".join(everything(folder).values())


def test_links_are_followed_but_not_in_a_circle_and_devices_are_not_read(
    full: Studio, tmp_path: Path
) -> None:
    """A folder kept elsewhere is part of the studio; a pipe is told and not waited for."""
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "scan.txt").write_text("scan")
    (full.root / "scans").symlink_to(tmp_path / "kept")
    (full.root / "photos" / "round").symlink_to(full.root)
    os.mkfifo(full.root / "pipe")
    (full.root / "dangling").symlink_to(tmp_path / "nowhere")
    done, folder = made(full)
    assert (folder / "studio/scans/scan.txt").read_text() == "scan"
    assert not (folder / "studio/photos/round").exists()
    assert {text.split()[0] for text in done.told} == {"pipe", "dangling"}


@pytest.mark.parametrize("name", [b"plain", b"a\\b", b"a\nb", b"a\\nb\r", b" two  blanks", b"\xff\xfe"])
def test_names_go_through_the_list_of_sums(name: bytes) -> None:
    line = sums_line("ab" * 32, name)
    assert line.count(b"\n") == 1
    assert read_sums_line(line[:-1]) == ("ab" * 32, name)


def test_the_command(
    full: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """JSON for all of it; exit 1 for a damaged backup with the file named, 3 for what cannot be done."""
    add: Callable[[], str] = lambda: capsys.readouterr().out  # noqa: E731

    def command(*words: str) -> tuple[int, str]:
        code = main(["backup", "--studio", str(full.root), *words])
        return code, add()

    code, out = command(str(tmp_path / "b"), "--json")
    folder = json.loads(out)["folder"]
    assert code == 0
    code, out = command("check", folder)
    assert code == 0
    assert "whole" in out
    code, out = command("restore", folder, "--into", str(tmp_path / "new"), "--json")
    assert (code, json.loads(out)["records"]) == (0, 2)
    assert command("restore", folder, "--into", str(tmp_path / "new"))[0] == 3
    (Path(folder) / "studio" / "shelf.yaml").write_text("holds: []\n")
    code, out = command("check", folder, "--json")
    assert code == 1
    assert json.loads(out)["problems"] == ["studio/shelf.yaml is not what it was when the backup was made."]
    code, out = command("--keep", "3")
    assert code == 0
    assert "same disk" in out
    assert command("restore", folder)[0] == 3
    assert command("check")[0] == 3


def test_a_path_with_spaces_is_said_as_a_shell_takes_it(
    full: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What one was told to type named two folders."""
    _, folder = made(full)
    new = tmp_path / "put back"
    assert main(["backup", "restore", str(folder), "--into", str(new)]) == 0
    assert f"--studio '{new}'" in " ".join(capsys.readouterr().out.split())
    spoilt = folder.rename(folder.with_name("a b"))
    (spoilt / "studio" / "shelf.yaml").write_text("holds: []\n")
    with pytest.raises(DeskError, match=f"benchleaf backup check '{spoilt}'$"):
        restore(spoilt, tmp_path / "again", silent)
