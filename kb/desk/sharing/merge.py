"""What others shared and what is here, made into one tree; and what has to change in the folder for it."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from kb.book.pieces import bench_of, number_of
from kb.desk.sharing.book import relinked
from kb.desk.sharing.git import Git
from kb.desk.sharing.own import Own, merge_book, to_settle
from kb.desk.sharing.put import Plan
from kb.desk.sharing.text import merged
from kb.desk.sharing.tree import (
    BENCHES,
    BOOK,
    CATALOGUE,
    FOR_GIT,
    SET_ASIDE,
    SHELF,
    Entry,
    Tree,
    content_of,
    is_book,
    is_photograph,
    keep_bytes,
    tree_of,
)
from kb.index.pool_queries import OWN_ID

POOL_ID = f"pool/{OWN_ID}"
"""The random id under which the studio's counts are given away: one for all of its benches."""


class _Versions(NamedTuple):
    """One file in the last common state, as committed here, as shared by others, and as it lies here."""

    base: Entry | None
    ours: Entry | None
    theirs: Entry | None
    here: Entry | None


def merge(git: Git, plan: Plan, own: Own, theirs: Tree, base: Tree) -> Tree:
    """The tree that holds both. ``plan`` takes what the folder needs and what people must be told.

    A book file never loses a record and is never deleted. Where two people changed one other file in ways
    that contradict each other, the shared version stays for others, the one here stays here, and both lie
    side by side until people settle it.
    """
    disputed = set(to_settle(git.root))
    tree, forked = dict(own.tree), set[str]()
    paths = sorted({*theirs, *own.tree, *base})
    # Marks of benches first: where records go that have to move depends on them.
    for path in sorted(paths, key=lambda one: not one.startswith(BENCHES)):
        versions = _Versions(*(side.get(path) for side in (base, own.tree, theirs, own.here)))
        if is_book(path):
            if _book(git, plan, path, versions, tree):
                forked.add(bench_of(path.removeprefix(BOOK)))
        elif _blob(versions.theirs) in {_blob(versions.base), _blob(versions.ours)}:
            continue
        elif path in disputed:
            _put_in(tree, path, versions.theirs)
            plan.dispute(path, versions.theirs)
        else:
            _file(git, plan, path, versions, tree)
    for bench in sorted(forked):
        _relink(git, plan, own, bench, tree)
    return tree


def base_of(git: Git, ours: str, theirs: str) -> tuple[str, Tree]:
    """The last state that both go back to, and its files; empty if there is none."""
    found = git.text("merge-base", ours, theirs, may_fail=True).partition("\n")[0]
    return found, tree_of(git, found)


def _blob(one: Entry | None) -> str:
    return one.blob if one else ""


def _relink(git: Git, plan: Plan, own: Own, bench: str, tree: Tree) -> None:
    """Have each piece of a bench go on from the one before it, where another stands there now."""
    names = (path.removeprefix(BOOK) for path in tree if is_book(path))
    pieces = sorted((number_of(name), BOOK + name) for name in names if bench_of(name) == bench)
    for (_, before), (_, path) in pairwise(pieces):
        linked = relinked(git, tree[before], tree[path])
        if linked.blob != tree[path].blob:
            tree[path] = linked
            plan.put(path, linked, own.here.get(path))


def _book(git: Git, plan: Plan, path: str, versions: _Versions, tree: Tree) -> bool:
    """Take a book file in; whether it had gone different ways here and there."""
    ours, theirs = tree.get(path), versions.theirs
    if ours is None and theirs is not None:
        tree[path] = theirs
        plan.put(path, theirs, None)
    elif ours is not None and theirs is None:
        if versions.base is not None:
            plan.tell(f"Someone took {path} out of what is shared; it was put back. A book is never deleted.")
    elif ours is not None and theirs is not None:
        return merge_book(git, plan, path, (ours, theirs), tree)
    return False


def _file(git: Git, plan: Plan, path: str, versions: _Versions, tree: Tree) -> None:
    kept_back = _blob(versions.here) != _blob(versions.ours)
    if is_photograph(path):
        # Named by its content, it never changes; and whoever lacks one does not take it from others.
        if versions.ours is None and versions.theirs is not None:
            tree[path] = versions.theirs
            plan.put(path, versions.theirs, None)
    elif path == POOL_ID and versions.ours is not None and versions.base is None:
        plan.tell(
            "The counts of this studio went out under two ids, one made on each bench; from now on it is the "
            "one that others shared. Whoever was given counts by this bench should drop them and ask anew."
        )
        _take(plan, path, versions, tree)
    elif path.startswith((*FOR_GIT, BENCHES)) or (
        not kept_back and _blob(versions.ours) == _blob(versions.base)
    ):
        _take(plan, path, versions, tree)
    elif kept_back:
        # Here lies something that is not shared for now; it takes in what others changed all the same.
        _put_in(tree, path, versions.theirs)
        _both(git, plan, path, versions._replace(base=versions.ours, ours=versions.here), None)
    else:
        _both(git, plan, path, versions, tree)


def _put_in(tree: Tree, path: str, one: Entry | None) -> None:
    if one is None:
        tree.pop(path, None)
    else:
        tree[path] = one


def _take(plan: Plan, path: str, versions: _Versions, tree: Tree) -> None:
    """Take over what others made of a file."""
    _put_in(tree, path, versions.theirs)
    if versions.theirs is not None:
        plan.put(path, versions.theirs, versions.here)
    elif versions.here is not None:
        plan.drops[path] = versions.here
        if path == SHELF or path.startswith(CATALOGUE):
            # What is forbidden, or known to be dangerous, never goes without a word.
            plan.beside[f"{SET_ASIDE}/{path}"] = versions.here
            plan.tell(
                f"Others took {path} out of what is shared, and with it all that it says. It was kept in "
                f"{SET_ASIDE}/{path}; put it back if they should not have."
            )


def _both(git: Git, plan: Plan, path: str, versions: _Versions, tree: Tree | None) -> None:
    """A file changed here and by others. Without a ``tree`` only the file here takes part."""
    ours, theirs = versions.ours, versions.theirs
    if ours is None or theirs is None:
        plan.tell(f"{path} was deleted by one side and changed by the other; the changed one stays.")
        if theirs is not None:
            plan.put(path, theirs, versions.here)
        if tree is not None:
            _put_in(tree, path, ours or theirs)
        return
    base = content_of(git, versions.base) if versions.base else b""
    here, there = content_of(git, ours), content_of(git, theirs)
    made = merged(git, path, base, here, there)
    if made is None:
        if tree is not None:
            tree[path] = theirs
        plan.dispute(path, theirs)
        return
    entry = keep_bytes(git, made)
    if tree is not None:
        tree[path] = entry
    if entry.blob != ours.blob:
        plan.put(path, entry, versions.here)
