"""What is shared, and the trees that git keeps of it."""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, NamedTuple

from kb.desk.errors import DeskError
from kb.desk.records.photographs import FOLDER, NAMED, fit_to_leave
from kb.desk.sharing.git import Git

BOOK, CATALOGUE, BENCHES = "book/", "catalogue/", "benches/"
SHELF = "shelf.yaml"
TO_SETTLE, SET_ASIDE = "to-settle", "set-aside"
"""Folders of the studio for the other version of a file in dispute, and for lines that fit nowhere."""
FOR_GIT = (".gitignore", ".gitattributes")
IGNORED = (
    "/studio.yaml",
    "/index.db*",
    "*.part",
    "/working/",
    "/exports/",
    "/backups/",
    # Pictures are large: a bench whose settings say so adds them all the same, git by hand does not.
    "/photographs/",
    f"/{TO_SETTLE}/",
    f"/{SET_ASIDE}/",
    ".*",
    *(f"!/{name}" for name in FOR_GIT),
)
ATTRIBUTES = ("*.jsonl -text", "pool/** -text", "photographs/** -text -diff")

_APART = {"working", "exports", "backups", "photographs", TO_SETTLE, SET_ASIDE}
_UNFIT = re.compile("[\x00-\x1f\x7f-\x9f\\\\\ud800-\udfff]")
_BOOK_FILE = re.compile(r"book/[^/]+\.jsonl")


IN_MEMORY = 32 << 20
"""Bytes that are handed to git through a pipe, which it takes in whole."""
LARGEST_FILE = 16 << 20
"""Bytes of one file besides the book, and photographs, which are large and asked for. A few packed kilobytes
may unpack to any size on every bench."""
LARGEST_TREE = 512 << 20
"""Bytes of all of them."""
LONGEST_LIST = 16 << 20
"""Bytes of git's list of files: some hundred and fifty thousand of them."""


class Entry(NamedTuple):
    """One file in a tree: its mode, the id of its content, and the size of that in bytes."""

    mode: str
    blob: str
    size: int


Tree = dict[str, Entry]
PLAIN_MODE = "100644"


def is_shared(path: str) -> bool:
    """Whether a path, relative to the studio folder, is shared. What others sent is held to this too.

    Hidden names are not, so nothing that arrives can reach into .git or out of the folder.
    """
    if path in FOR_GIT:
        return True
    parts = path.split("/")
    if any(not one or one.startswith(".") or one.endswith(".part") or _UNFIT.search(one) for one in parts):
        return False
    first = parts[0].lower()
    return not (first in _APART or first == "studio.yaml" or first.startswith("index.db"))


def is_photograph(path: str) -> bool:
    """Whether a path is a photograph under the name of its content."""
    folder, _, name = path.partition("/")
    return folder == FOLDER and NAMED.fullmatch(name) is not None


def travels(git: Git, path: str) -> bool:
    """Whether this bench shares a path: what is shared everywhere, and photographs if its settings say so.

    A bench that does not want them leaves those of others as they are.
    """
    return is_shared(path) or (git.pictures and is_photograph(path))


def is_book(path: str) -> bool:
    return _BOOK_FILE.fullmatch(path) is not None and is_shared(path)


def tree_of(git: Git, commit: str) -> Tree:
    """The shared files of a commit. Anything else in it - links above all - is left alone."""
    if not commit:
        return {}
    if commit in git.trees:
        return {path: Entry(*one) for path, one in git.trees[commit].items()}
    found: Tree = {}
    large = git.too_large.setdefault(commit, [])
    for record in _listed_in(git, commit):
        head, _, name = record.partition(b"\t")
        mode, _, blob, size = head.split()
        path = _text(name)
        if not mode.startswith(b"100") or not travels(git, path):
            continue
        if int(size) > LARGEST_FILE and not is_book(path) and not is_photograph(path):
            large.append(path)
        else:
            found[path] = Entry(PLAIN_MODE, blob.decode(), int(size))
    rest = (one.size for path, one in found.items() if not is_book(path) and not is_photograph(path))
    if sum(rest) > LARGEST_TREE:
        raise DeskError(
            f"What is shared holds more than {LARGEST_TREE >> 20} MB besides the book; nothing was taken in."
        )
    git.trees[commit] = dict(found)
    return found


def _listed_in(git: Git, commit: str) -> Iterator[bytes]:
    """The files of a commit as git lists them. A commit of a few bytes can list ten million of them."""
    taken, rest = 0, b""
    for chunk in git.chunks("ls-tree", "-r", "-l", "-z", "--full-tree", commit):
        taken += len(chunk)
        if taken > LONGEST_LIST:
            raise DeskError("What is shared holds more files than any studio has; nothing was taken in.")
        *records, rest = (rest + chunk).split(b"\0")
        yield from records


def write_tree(git: Git, tree: Tree, on: str) -> str:
    """Have git keep a tree; its id. What the commit ``on`` holds besides shared files is in it too."""
    git.run("read-tree", *([on] if on else ["--empty"]), index="made")
    gone = [path for path in tree_of(git, on) if path not in tree]
    lines = [f"0 {'0' * 40}\t".encode() + _bytes(path) + b"\0" for path in gone]
    lines += [f"{one.mode} {one.blob}\t".encode() + _bytes(path) + b"\0" for path, one in tree.items()]
    git.run("update-index", "--replace", "-z", "--index-info", stdin=b"".join(lines), index="made")
    return git.run("write-tree", index="made").out.decode().strip()


def worktree(git: Git) -> tuple[Tree, list[str]]:
    """The files of the studio folder but the book's, which git now keeps; and what could not be taken.

    Which files there are is seen here and not by git, which would leave out what a shared ignore file names,
    and so have it deleted on every bench. Git's own index remembers what it has seen, so only new and
    changed files are read. Sizes are -1.
    """
    present, passed_over = _listed(git.root)
    if git.pictures:
        known = {_text(name) for name in git.run("ls-files", "-z", FOLDER).out.split(b"\0")}
        present |= {f"{FOLDER}/{name}" for name in fit_to_leave(git.root, {Path(one).name for one in known})}
    names = b"".join(_bytes(path) + b"\0" for path in present)
    if present:
        words = ("add", "-f", "--ignore-errors", "--pathspec-from-file=-", "--pathspec-file-nul")
        done = git.run("--literal-pathspecs", *words, stdin=names, may_fail=True)
        if done.code not in {0, 1}:
            from kb.desk.sharing.git import failed

            raise failed(done)
        passed_over |= set(re.findall(r"unable to index file '(.+)'", done.err))
    found: Tree = {}
    gone = []
    for record in git.run("ls-files", "-s", "-z").out.split(b"\0")[:-1]:
        head, _, name = record.partition(b"\t")
        mode, blob, _ = head.split()
        path = _text(name)
        # What cannot be shared now stays as it was last shared, and is not taken from the others.
        here = path in present or path in passed_over
        if not here and not any(path.startswith(f"{folder}/") for folder in passed_over):
            gone.append(name + b"\0")
        elif mode.startswith(b"100") and travels(git, path):
            found[path] = Entry(PLAIN_MODE, blob.decode(), -1)
        else:
            passed_over.add(path)
    if gone:
        git.run("update-index", "--force-remove", "-z", "--stdin", stdin=b"".join(gone))
    return found, sorted(passed_over)


def _listed(root: Path) -> tuple[set[str], set[str]]:
    """The paths that are shared, but for the book's; and those that cannot be, being links or unreadable."""
    present: set[str] = set()
    passed_over: set[str] = set()

    def unreadable(error: OSError) -> None:
        passed_over.add(Path(error.filename).relative_to(root).as_posix())

    for here, folders, names in os.walk(root, onerror=unreadable):
        above = Path(here).relative_to(root)
        for folder in list(folders):
            path = (above / folder).as_posix()
            if not is_shared(f"{path}/x"):
                folders.remove(folder)
            elif os.path.islink(os.path.join(here, folder)) or os.path.lexists(
                os.path.join(here, folder, ".git")
            ):
                folders.remove(folder)
                passed_over.add(path)
        for name in names:
            path = (above / name).as_posix()
            if not is_shared(path) or is_book(path):
                continue
            found = os.lstat(os.path.join(here, name))
            fit = stat.S_ISREG(found.st_mode) and found.st_size <= LARGEST_FILE
            (present if fit else passed_over).add(path)
    return present, passed_over


def keep_file(git: Git, path: Path, size: int) -> Entry:
    """Have git keep the first ``size`` bytes of a file, as they are."""
    if size > IN_MEMORY and path.stat().st_size == size:
        # Git reads a file in pieces, but all of a pipe at once. A record may be written at this moment.
        blob = git.text("hash-object", "-w", "--no-filters", "--", str(path.absolute()))
        if git.text("cat-file", "-s", blob) == str(size):
            return Entry(PLAIN_MODE, blob, size)
    with path.open("rb") as source:
        done = git.run("hash-object", "-w", "--no-filters", "--stdin", stdin=source, size=size)
    return Entry(PLAIN_MODE, done.out.decode().strip(), size)


def keep_bytes(git: Git, content: bytes) -> Entry:
    done = git.run("hash-object", "-w", "--no-filters", "--stdin", stdin=content)
    return Entry(PLAIN_MODE, done.out.decode().strip(), len(content))


def content_of(git: Git, one: Entry) -> bytes:
    return git.run("cat-file", "blob", one.blob).out


def content_into(git: Git, one: Entry, target: BinaryIO) -> None:
    """Write the bytes of a file in a tree to an open file."""
    git.run("cat-file", "blob", one.blob, into=target)


def blob_of(path: Path, size: int, like: str) -> str:
    """The id that git would give the first ``size`` bytes of a file; ``like`` is an id of the same kind."""
    digest = hashlib.new("sha1" if len(like) == 40 else "sha256", usedforsecurity=False)
    digest.update(b"blob %d\0" % size)
    with path.open("rb") as source:
        while size > 0 and (chunk := source.read(min(1 << 20, size))):
            digest.update(chunk)
            size -= len(chunk)
    return digest.hexdigest()


def begins_with(git: Git, longer: Entry, shorter: Entry) -> bool:
    """Whether the content of one entry is the beginning of the other's."""
    if longer.size < shorter.size:
        return False
    digest = hashlib.new("sha1" if len(shorter.blob) == 40 else "sha256", usedforsecurity=False)
    digest.update(b"blob %d\0" % shorter.size)
    left = shorter.size
    for chunk in git.chunks("cat-file", "blob", longer.blob):
        digest.update(chunk[:left])
        left -= len(chunk)
        if left <= 0:
            break
    return digest.hexdigest() == shorter.blob


def line_count(git: Git, one: Entry | None) -> int:
    """How many whole lines a book file in a tree has."""
    if one is None:
        return 0
    return sum(chunk.count(b"\n") for chunk in git.chunks("cat-file", "blob", one.blob))


def _text(name: bytes) -> str:
    return name.decode(errors="surrogateescape")


def _bytes(path: str) -> bytes:
    return path.encode(errors="surrogateescape")
