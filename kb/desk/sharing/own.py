"""What this bench adds: its files as git keeps them, committed before anything is asked of the other end."""

from __future__ import annotations

import contextlib
import json
import os
import secrets
from pathlib import Path
from typing import NamedTuple

from kb.book.pieces import bench_of
from kb.book.storage import put_whole
from kb.desk.sharing.book import Records, records, settle, with_moved
from kb.desk.sharing.check import check_nothing_lost, hold_back
from kb.desk.sharing.git import Git
from kb.desk.sharing.put import Plan, carry_out, stage
from kb.desk.sharing.tree import (
    ATTRIBUTES,
    BENCHES,
    BOOK,
    IGNORED,
    LARGEST_FILE,
    TO_SETTLE,
    Entry,
    Tree,
    content_of,
    is_book,
    is_photograph,
    is_shared,
    keep_bytes,
    keep_file,
    tree_of,
    worktree,
    write_tree,
)
from kb.desk.sharing.work import marks
from kb.model.record import Line
from kb.science.numbers import counted, percent

UNTOUCHED = "untouched.json"
"""Size, times and inode of each book file when it was read last, and the blob it was then."""
HEAD_LINE = "# Written by benchleaf share. What belongs to one bench, or can be derived, is not shared.\n"


class Own(NamedTuple):
    """What was committed, and the files as they were read: they differ where something is held back."""

    commit: str
    tree: Tree
    here: Tree


def prepare(git: Git, bench: str, who: str) -> None:
    """Write what tells git what is shared, and this bench's mark, where they are missing."""
    (git.own / "no-hooks").mkdir(parents=True, exist_ok=True)
    (git.dir / "info").mkdir(exist_ok=True)
    _as_text(git.dir / "info" / "exclude", "".join(f"{one}\n" for one in IGNORED))
    # By hand too, git is to leave every byte as it is, whatever else an attribute file asks for.
    _as_text(git.dir / "info" / "attributes", "* -text -filter -ident -working-tree-encoding\n")
    _with_lines(git.root / ".gitignore", IGNORED)
    _with_lines(git.root / ".gitattributes", ATTRIBUTES)
    mark = git.root / mark_path(bench)
    if not mark.exists():
        put_whole(mark, mark_text(key_of(git), bench, who))


def key_of(git: Git) -> str:
    """The key of this copy of the studio: it tells two machines with one bench name apart."""
    path = git.own / "key"
    if not path.exists():
        put_whole(path, secrets.token_hex(8).encode())
    return path.read_text(encoding="ascii", errors="replace").strip()


def mark_path(bench: str) -> str:
    return f"{BENCHES}{bench}.txt"


def mark_text(key: str, bench: str, who: str) -> bytes:
    lines = (
        "# Some machine records as this bench. No two machines may bear the name of one bench.",
        f"bench: {bench}",
        f"who: {' '.join(who.split())}",
        f"key: {key}",
    )
    return ("\n".join(lines) + "\n").encode()


def mark_says(git: Git, tree: Tree, bench: str, word: str) -> str:
    """What a bench's mark in a tree says under a word; empty if there is no mark."""
    one = tree.get(mark_path(bench))
    lines = content_of(git, one).decode(errors="replace").splitlines() if one else []
    return next((line.partition(":")[2].strip() for line in lines if line.startswith(f"{word}:")), "")


def commit_own(git: Git, plan: Plan, folder: Path, message: str) -> Own:
    """Commit what is new here.

    What others may see of a book file never has fewer records than it had: a file that lost lines here is
    put back. Files in dispute, and a catalogue with new faults, stay as they were last shared. ``plan``
    takes what is told; ``folder`` is for files on their way. Raises Moved if a file changed meanwhile.
    """
    head = head_of(git)
    before = tree_of(git, head)
    here = files_here(git, plan, before)
    tree = dict(here)
    for path in to_settle(git.root):
        tree.pop(path, None)
        tree |= {path: before[path]} if path in before else {}
    for path in sorted(path for path in before if is_book(path) or is_photograph(path)):
        if path not in here:
            tree[path] = before[path]
            plan.put(path, before[path], None)
            if is_book(path):
                plan.tell(f"{path} was missing here; it was put back as it was last shared.")
        elif is_book(path):
            merge_book(git, plan, path, (here[path], before[path]), tree)
            if here[path].size < tree[path].size:
                plan.tell(f"{path} had lost lines here; they were put back as last shared.")
    hold_back(git, plan, tree, before)
    check_nothing_lost(git, tree, {path: one for path, one in here.items() if is_book(path)}, before)
    carry_out(git, plan, stage(git, plan, folder))
    here |= {path: entry for path, (entry, _) in plan.puts.items()}
    made = write_tree(git, tree, head)
    if head and made == git.text("rev-parse", f"{head}^{{tree}}"):
        return Own(head, before, here)
    return Own(commit(git, made, message, head), tree, here)


def head_of(git: Git) -> str:
    """The commit that the studio folder is at; empty before the first."""
    return git.text("rev-parse", "-q", "--verify", "HEAD^{commit}", may_fail=True)


def commit(git: Git, tree: str, message: str, head: str, *others: str) -> str:
    """Commit a tree on top of ``head`` and others, and make it the state of the folder."""
    parents = [word for one in (head, *others) if one for word in ("-p", one)]
    made = git.text("commit-tree", *parents, "-m", message, tree)
    move_to(git, made, head)
    return made


def move_to(git: Git, commit: str, head: str) -> None:
    """Make a commit the state of the folder, if it still is at ``head``."""
    git.run("update-ref", "HEAD", commit, head or "0" * len(commit))


def files_here(git: Git, plan: Plan, before: Tree) -> Tree:
    """The shared files of the studio folder, as they are now, kept by git; ``before`` is what was committed.

    A book file that the system has not seen touched since it was committed is not read again.
    """
    here, passed_over = worktree(git)
    if passed_over:
        plan.tell(
            "Not shared, because they are no plain readable files or larger than "
            f"{LARGEST_FILE >> 20} MB: {', '.join(passed_over[:10])}."
        )
    known, now = _read_untouched(git), {}
    found = marks(git.root / "book")
    for number, (name, size) in enumerate(found.items()):
        git.progress(f"Reading the book, {percent(number / len(found))}")
        path = BOOK + name
        if not size or not is_book(path):
            continue
        state = _state_of(git.root / path)
        was = before.get(path)
        if was is not None and size == was.size and known.get(name) == [*state, was.blob]:
            here[path] = was
        else:
            here[path] = keep_file(git, git.root / path, size)
        now[name] = [*state, here[path].blob]
    if now != known:
        put_whole(git.own / UNTOUCHED, json.dumps(now).encode())
    return here


def _state_of(path: Path) -> tuple[int, ...]:
    """What the system notes of a file whenever it is touched, taken before it is read."""
    found = os.stat(path)
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino


def _read_untouched(git: Git) -> dict[str, list[int | str]]:
    with contextlib.suppress(OSError, ValueError):
        found = json.loads((git.own / UNTOUCHED).read_bytes())
        if isinstance(found, dict):
            return found
    return {}


def to_settle(root: Path) -> list[str]:
    """Paths of the files in dispute: another version of each lies in the folder `TO_SETTLE`."""
    folder = root / TO_SETTLE
    found = (path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    return sorted(path for path in found if is_shared(path))


def merge_book(git: Git, plan: Plan, path: str, versions: tuple[Entry, Entry], tree: Tree) -> bool:
    """Make one file of the version here and the shared one; note in ``tree`` and plan what comes of it.

    Gives whether the two had gone different ways.
    """
    ours, theirs = versions

    def elsewhere() -> Records:
        return records(content_of(git, one) for name, one in tree.items() if is_book(name) and name != path)

    found = settle(git, path, ours, theirs, elsewhere)
    tree[path] = found.entry
    if found.entry.blob != ours.blob:
        plan.put(path, found.entry, ours)
    if not found.forked:
        return False
    told = f"{path} is here not what {plan.there}. "
    told += "What is here stays" if found.ours else "What was shared stays"
    if found.moved:
        count, where = len(found.moved), _move(git, plan, path, found.moved, tree)
        told += f"; {counted(count, 'other record')} went to the end of {where}"
    if found.aside:
        told += f"; lines that fit nowhere were kept in {plan.set_aside(git, path, found.aside)}"
    plan.tell(f"{told}. No record was lost.")
    return True


def _move(git: Git, plan: Plan, path: str, moved: tuple[Line, ...], tree: Tree) -> str:
    """Add records to a file that only this machine writes, marked as its own; where."""
    bench = bench_of(path.removeprefix(BOOK))
    target, number = bench, 1
    while mark_says(git, tree, target, "key") != key_of(git):
        number += 1
        target = f"{bench[:44]}-{number}"
        if mark_path(target) not in tree and f"{BOOK}{target}.jsonl" not in tree:
            who = mark_says(git, tree, bench, "who") or "unknown"
            tree[mark_path(target)] = keep_bytes(git, mark_text(key_of(git), target, who))
            plan.put(mark_path(target), tree[mark_path(target)], None)
    where = f"{BOOK}{target}.jsonl"
    existing = tree.get(where)
    expected = plan.puts[where][1] if where in plan.puts else existing
    tree[where] = with_moved(git, existing, moved)
    plan.put(where, tree[where], expected)
    return where


def _as_text(path: Path, text: str) -> None:
    if not path.exists() or path.read_text(encoding="utf-8", errors="replace") != text:
        put_whole(path, text.encode())


def _with_lines(path: Path, lines: tuple[str, ...]) -> None:
    """Add what is missing to a file that people may write in too."""
    text = path.read_text(encoding="utf-8", errors="surrogateescape") if path.exists() else HEAD_LINE
    missing = [line for line in lines if line not in text.splitlines()]
    if missing:
        text = text if text.endswith("\n") else f"{text}\n"
        added = text + "".join(f"{line}\n" for line in missing)
        put_whole(path, added.encode(errors="surrogateescape"))
