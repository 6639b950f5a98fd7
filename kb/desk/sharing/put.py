"""Change files of the studio folder: all of a file or nothing, and only if it still is what was looked at."""

from __future__ import annotations

import os
from pathlib import Path

from kb.book import seen
from kb.book.storage import make_folder, pread, put_whole, sync, sync_folder
from kb.desk.errors import DeskError
from kb.desk.records.photographs import bears_its_name
from kb.desk.sharing.git import Git
from kb.desk.sharing.tree import (
    BOOK,
    SET_ASIDE,
    TO_SETTLE,
    Entry,
    begins_with,
    blob_of,
    content_into,
    is_book,
    is_photograph,
    keep_bytes,
)
from kb.desk.sharing.work import held, whole_size


class Moved(Exception):
    """A file changed while sharing was at work on it; all is looked at afresh then."""


class Plan:
    """What has to change in the studio folder, and what people have to be told."""

    def __init__(self, told: list[str], there: str = "others shared") -> None:
        self.puts: dict[str, tuple[Entry, Entry | None]] = {}
        """New content by path, and what the file must still be; None: not there."""
        self.drops: dict[str, Entry] = {}
        self.beside: dict[str, Entry | None] = {}
        """Files beside the shared ones: the other version of what is in dispute, lines set aside."""
        self.told = told
        self.there = there
        """What the version is called that a book file is held against."""

    def put(self, path: str, entry: Entry, expected: Entry | None) -> None:
        """Have a file replaced. Of several changes of one file the last counts."""
        first = self.puts[path][1] if path in self.puts else expected
        self.puts[path] = (entry, first)

    def tell(self, text: str) -> None:
        """Have people told something, once."""
        if text not in self.told:
            self.told.append(text)

    def dispute(self, path: str, theirs: Entry | None) -> None:
        """Lay the other version of a file beside it, or take it away."""
        self.beside[f"{TO_SETTLE}/{path}"] = theirs

    def set_aside(self, git: Git, path: str, lines: bytes) -> str:
        """Keep lines that fit into no file; where. The same lines are kept once."""
        one = keep_bytes(git, lines)
        where = f"{SET_ASIDE}/{path.removeprefix(BOOK).removesuffix('.jsonl')}-{one.blob[:8]}.txt"
        self.beside[where] = one
        return where


def stage(git: Git, plan: Plan, folder: Path) -> dict[str, Path]:
    """Write the new content of each file under ``folder``, whole and on disk; where each lies."""
    made: dict[str, Path] = {}
    for path, (entry, _) in list(plan.puts.items()):
        made[path] = folder / path
        made[path].parent.mkdir(parents=True, exist_ok=True)
        with made[path].open("wb") as target:
            content_into(git, entry, target)
            sync(target.fileno())
        if is_photograph(path) and not bears_its_name(made[path]):
            plan.tell(f"{path} is not the photograph that its name says; it was not taken in.")
            del made[path], plan.puts[path]
    return made


def carry_out(git: Git, plan: Plan, staged: dict[str, Path]) -> None:
    """Do what the plan says. Raises Moved before touching a file that is no longer what was looked at.

    What is kept beside comes first, then new files, then files replaced, then files taken away: whoever is
    stopped in between has too much and never too little, and the next run takes it from there.
    """
    for path, kept in plan.beside.items():
        target = git.root / path
        if kept is None:
            target.unlink(missing_ok=True)
        elif not target.exists() or blob_of(target, target.stat().st_size, kept.blob) != kept.blob:
            put_whole(target, git.run("cat-file", "blob", kept.blob).out)
    for path in sorted(staged, key=lambda one: (plan.puts[one][1] is not None, one)):
        target = _checked(git.root, path)
        if is_book(path):
            _put_book(git, plan, path, staged[path])
            continue
        _, expected = plan.puts[path]
        _expect(target, expected)
        if expected is not None:
            staged[path].chmod(target.stat().st_mode & 0o777)
        staged[path].replace(target)
        sync_folder(target.parent)
    for path, expected in plan.drops.items():
        target = _checked(git.root, path)
        _expect(target, expected)
        target.unlink(missing_ok=True)
        sync_folder(target.parent)


def _checked(root: Path, path: str) -> Path:
    """Where a file goes. Folders on the way that are links are refused: they may lead anywhere."""
    here = root
    for part in path.split("/")[:-1]:
        here = here / part
        if here.is_symlink() or (here.exists() and not here.is_dir()):
            raise DeskError(
                f"{here.relative_to(root)} in the studio folder is a link or a file, so {path} "
                "was not taken in. Nothing was lost; put a folder in its place, then share again."
            )
        if not here.exists():
            make_folder(here)
    return root / path


def _expect(target: Path, expected: Entry | None) -> None:
    if expected is None:
        same = not os.path.lexists(target)
    else:
        plain = target.is_file() and not target.is_symlink()
        same = plain and blob_of(target, target.stat().st_size, expected.blob) == expected.blob
    if not same:
        raise Moved(target.name)


def _put_book(git: Git, plan: Plan, path: str, staged: Path) -> None:
    """Replace a book file while its writers are kept out. A writer that waits finds the new file then."""
    target, (entry, expected) = git.root / path, plan.puts[path]
    with held([target]) as found:
        fd = found.get(target, -1)
        size = whole_size(fd) if fd >= 0 else 0
        if size != (expected.size if expected else 0) or target.is_symlink():
            raise Moved(target.name)
        if expected is not None and blob_of(target, size, expected.blob) != expected.blob:
            raise Moved(target.name)
        torn = pread(fd, os.fstat(fd).st_size - size, size) if fd >= 0 else b""
        if torn:
            # Never acknowledged; but what is there is never thrown away.
            where = git.root / plan.set_aside(git, path, torn)
            put_whole(where, torn)
        staged.chmod(0o600 if fd < 0 else os.fstat(fd).st_mode & 0o777)
        staged.replace(target)
        sync_folder(target.parent)
        if expected is not None and not begins_with(git, entry, expected):
            # Its records moved to another file, and none was lost: see `check_nothing_lost`.
            seen.forget(git.root, target.name)
