"""How things stand with sharing: what is not yet shared, when it last was, and whose benches are there."""

from __future__ import annotations

import contextlib
from pathlib import Path

from kb.book.line import MAX_LINE_BYTES, decode_line
from kb.book.pieces import bench_of
from kb.desk.sharing.git import Git
from kb.desk.sharing.marks import whole_size
from kb.desk.sharing.own import files_here, head_of, mark_says, to_settle
from kb.desk.sharing.put import Plan
from kb.desk.sharing.share import REMOTE, Unindexed, disputes, joined
from kb.desk.sharing.text import Difference
from kb.desk.sharing.tree import BOOK, Tree, is_book, line_count, tree_of
from kb.desk.sharing.work import at_work
from kb.desk.studio import Studio
from kb.model.question import Plain


class BenchView(Plain, frozen=True, kw_only=True):
    """A bench whose records are here. ``who`` shares it, ``last_at`` is the time of its last record (UTC)."""

    bench: str
    who: str
    records: int
    last_at: str
    here: bool


class SharingState(Plain, frozen=True, kw_only=True):
    """Nothing is asked of the other end for this. ``last_shared`` is UTC, empty if it never was.

    ``unshared_records`` and ``unshared_files`` are what the next share would send.
    """

    remote: str
    bench: str
    last_shared: str
    unshared_records: int
    unshared_files: tuple[str, ...]
    benches: tuple[BenchView, ...]
    to_settle: tuple[str, ...]
    differences: tuple[Difference, ...]
    told: tuple[str, ...]


def state(studio: Studio) -> SharingState:
    """How things stand. Raises DeskError if the studio is not joined with others."""
    if not studio.root.is_dir():
        joined(Git(studio.root))
    with at_work(studio.root) as work:
        git = work.git
        remote, branch = joined(git)
        plan, bench = Plan([]), Unindexed(studio.root).bench
        here = files_here(git, plan, tree_of(git, head_of(git)))
        ref = git.text(
            "rev-parse", "-q", "--verify", f"refs/remotes/{REMOTE}/{branch}^{{commit}}", may_fail=True
        )
        there = tree_of(git, ref)
        last = git.own / "last"
        return SharingState(
            remote=remote,
            bench=bench,
            last_shared=last.read_text(encoding="ascii", errors="replace") if last.exists() else "",
            unshared_records=_more(git, here, there),
            unshared_files=_changed(here, there, set(to_settle(studio.root))),
            benches=_benches(git, bench, here),
            to_settle=tuple(to_settle(studio.root)),
            differences=disputes(studio.root),
            told=tuple(plan.told),
        )


def _more(git: Git, here: Tree, there: Tree) -> int:
    changed = [
        path for path in here if is_book(path) and (path not in there or here[path].blob != there[path].blob)
    ]
    return sum(max(line_count(git, here[path]) - line_count(git, there.get(path)), 0) for path in changed)


def _changed(here: Tree, there: Tree, apart: set[str]) -> tuple[str, ...]:
    paths = {path for path in (*here, *there) if not is_book(path)} - apart
    blobs = ((path, here.get(path), there.get(path)) for path in paths)
    return tuple(sorted(path for path, a, b in blobs if (a and a.blob) != (b and b.blob)))


def _benches(git: Git, own: str, here: Tree) -> tuple[BenchView, ...]:
    records: dict[str, int] = {}
    last_at: dict[str, str] = {}
    for path in sorted(filter(is_book, here)):
        bench = bench_of(path.removeprefix(BOOK))
        records[bench] = records.get(bench, 0) + line_count(git, here[path])
        last_at[bench] = max(last_at.get(bench, ""), _last_at(git.root / path))
    return tuple(
        BenchView(
            bench=bench,
            who=mark_says(git, here, bench, "who"),
            records=records[bench],
            last_at=last_at[bench],
            here=bench == own,
        )
        for bench in sorted(records)
    )


def _last_at(path: Path) -> str:
    """When the last whole line of a book file was written; empty if that cannot be read."""
    with contextlib.suppress(OSError, ValueError), path.open("rb") as file:
        end = whole_size(file.fileno())
        file.seek(max(end - MAX_LINE_BYTES, 0))
        return decode_line(file.read(end - file.tell())[:-1].rpartition(b"\n")[2]).at
    return ""
