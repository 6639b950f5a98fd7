"""Share a studio with others through git: join, share, and see how things stand.

The order is always: commit what is new here, pull, check, push. Records are on disk before any of it and
stay there whatever happens; a run that is killed is taken up by the next.
"""

from __future__ import annotations

import contextlib
import random
import re
import shlex
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from kb.book.line import MAX_LINE_BYTES, decode_line
from kb.book.pieces import bench_of
from kb.book.storage import put_whole
from kb.desk.errors import DeskError
from kb.desk.sharing.book import errors
from kb.desk.sharing.check import MOST_TOLD, check_book, check_catalogue, check_nothing_lost
from kb.desk.sharing.git import KEPT, NETWORK_WAIT_S, Git, GitFailed, branch_of, checked_remote, failed
from kb.desk.sharing.merge import base_of, merge
from kb.desk.sharing.own import (
    Own,
    commit,
    commit_own,
    files_here,
    head_of,
    key_of,
    mark_path,
    mark_says,
    mark_text,
    move_to,
    prepare,
    to_settle,
)
from kb.desk.sharing.put import Moved, Plan, carry_out, stage
from kb.desk.sharing.text import Difference, differences
from kb.desk.sharing.tree import (
    BENCHES,
    BOOK,
    LARGEST_FILE,
    TO_SETTLE,
    Tree,
    is_book,
    is_photograph,
    line_count,
    tree_of,
    write_tree,
)
from kb.desk.sharing.work import at_work, whole_size
from kb.desk.studio import Studio
from kb.index.open import Progress, silent
from kb.model.question import Plain
from kb.model.studio import Settings

TRIES = 20
"""How often sharing begins anew when others share, or someone writes, at the same moment."""
PAUSE_S = 0.05
MOST_LOOSE_KIB = 50_000
"""Above this, what git keeps is packed at the end of a share."""
REMOTE = "origin"


class Unindexed(Studio):
    """A studio whose settings are read from their file: sharing needs no index, and makes none."""

    @property
    def settings(self) -> Settings:
        from kb.catalogue.own_files import read_settings

        return read_settings(self.settings_file)[0]


class Shared(Plain, frozen=True, kw_only=True):
    """What a run of sharing did. ``told`` are things that a person should know or put right.

    ``sent`` and ``received`` count records; ``to_settle`` are files of which two versions lie side by side,
    ``differences`` says how they differ.
    """

    remote: str
    bench: str
    sent: int
    received: int
    files_received: tuple[str, ...]
    photographs_received: int = 0
    told: tuple[str, ...]
    to_settle: tuple[str, ...]
    differences: tuple[Difference, ...]


def join(
    studio: Studio,
    remote: str,
    *,
    same_bench: bool = False,
    wait_s: float = NETWORK_WAIT_S,
    progress: Progress = silent,
) -> Shared:
    """Join the studio with a git repository, then share. Either side may be empty or hold records already.

    ``same_bench`` takes over the bench's name from a machine that is no longer in use. Raises DeskError.
    """
    address = checked_remote(remote, studio.root)
    studio.make()
    plain = Unindexed(studio.root)
    if plain.settings.invented:
        raise DeskError("This is the invented demo studio; it is not shared, lest it mix with real records.")
    with _for(studio, wait_s) as git:
        git.progress = progress
        branch = branch_of(git, address)
        if not git.dir.exists():
            git.run("init", "-q", "--template=", str(git.root))
            # All that is in it is in the studio folder too, whose owner may let others look in.
            git.dir.chmod(0o700)
            git.run("symbolic-ref", "HEAD", f"refs/heads/{branch}")
        for name, value in (
            (f"remote.{REMOTE}.url", address),
            (f"remote.{REMOTE}.fetch", f"+refs/heads/*:refs/remotes/{REMOTE}/*"),
            ("benchleaf.branch", branch),
        ):
            git.run("config", "--replace-all", name, value)
        done = _share(plain, git)
        if same_bench and _clash(git, plain.bench):
            put_whole(git.root / mark_path(plain.bench), mark_text(key_of(git), plain.bench, plain.who))
            done = _share(plain, git)
    studio.mark_stale()
    return done


def share(studio: Studio, *, wait_s: float = NETWORK_WAIT_S, progress: Progress = silent) -> Shared:
    """Commit what is new here, pull, check, push. Raises DeskError; records stay where they are."""
    with _for(studio, wait_s) as git:
        git.progress = progress
        joined(git)
        done = _share(Unindexed(studio.root), git)
    studio.mark_stale()
    return done


def settle(studio: Studio, path: str, *, keep_theirs: bool) -> None:
    """Settle a file in dispute: the version here is right, or theirs. The next share sends it."""
    with _for(studio, NETWORK_WAIT_S):
        there = to_settle(studio.root)
        if path not in there:
            listed = f"These are: {', '.join(there)}." if there else "No file is."
            raise DeskError(f"{path} is not in dispute. {listed}")
        other = studio.root / TO_SETTLE / path
        if keep_theirs:
            put_whole(studio.root / path, other.read_bytes())
        other.unlink()
    studio.mark_stale()


def joined(git: Git) -> tuple[str, str]:
    """Address and branch of the other end. Raises DeskError if the studio is not joined with one."""
    if git.dir.is_dir():
        found = git.settings()
        remote, branch = (found.get(name, "") for name in (f"remote.{REMOTE}.url", "benchleaf.branch"))
        if remote and branch:
            return remote, branch
    raise DeskError("This studio is not shared yet. Join it with others: benchleaf share join REMOTE")


def disputes(root: Path) -> tuple[Difference, ...]:
    """How the files in dispute differ from their other versions."""
    found: list[Difference] = []
    for path in to_settle(root):
        here, there = root / path, root / TO_SETTLE / path
        found += differences(path, here.read_bytes() if here.is_file() else b"", there.read_bytes())
    return tuple(found)


@contextmanager
def _for(studio: Studio, wait_s: float) -> Iterator[Git]:
    if not studio.root.is_dir():
        raise DeskError("There is no studio folder yet, so nothing is shared.")
    if (studio.root / "book").is_symlink():
        raise DeskError(f"The folder book of the studio is a link; share the studio where it lies. {KEPT}")
    with at_work(studio.root, wait_s=wait_s) as git:
        if git.dir.exists() and not git.dir.is_dir():
            raise DeskError("The studio belongs to another git repository (.git is a file); share that one.")
        if any((git.dir / name).exists() for name in ("MERGE_HEAD", "rebase-merge", "rebase-apply")):
            raise DeskError(f"A merge by hand is not finished in the studio folder; finish it first. {KEPT}")
        git.refuse_programs()
        plain = Unindexed(studio.root)
        found = git.settings()
        names = {"name": _plain(plain.who) or plain.bench, "email": f"{plain.bench}@studio.invalid"}
        for word, name in names.items():
            if f"user.{word}" not in found:
                git.ident |= {f"GIT_{role}_{word.upper()}": name for role in ("AUTHOR", "COMMITTER")}
        yield git


def _plain(who: str) -> str:
    """A name that git takes: it drops some signs, and refuses a name of nothing else."""
    return " ".join("".join(c for c in who if c.isprintable() and c not in "<>").split()).strip(".,:;\"'\\ ")


def _share(studio: Studio, git: Git) -> Shared:
    bench = studio.bench
    remote, branch = joined(git)
    prepare(git, bench, studio.who)
    before = head_of(git)
    told: list[str] = []
    if not before:
        # Others will take what is here for sound: a fault is told while it still is this bench's alone.
        told += [f"{BOOK}{one.file}: {one.sentence}" for one in errors(git.root / BOOK)[:MOST_TOLD]]
    received: dict[str, int] = {}
    try:
        sent = _try(git, told, received, (bench, branch))
    except DeskError as error:
        raise (DeskError(f"{error} Besides: {' '.join(told)}") if told else error) from error
    if _clash(git, bench):
        told.insert(0, _clash_words(bench, remote))
    put_whole(git.own / "last", datetime.now(UTC).isoformat(timespec="seconds").encode())
    if head_of(git) != before:
        _tidy(git)
    others = sorted(path for path in received if not (is_book(path) or is_photograph(path)))
    return Shared(
        remote=remote,
        bench=bench,
        sent=sent,
        received=sum(count for path, count in received.items() if is_book(path)),
        files_received=tuple(path for path in others if not path.startswith(BENCHES)),
        photographs_received=sum(map(is_photograph, received)),
        told=tuple(told),
        to_settle=tuple(to_settle(git.root)),
        differences=disputes(git.root),
    )


def _try(git: Git, told: list[str], received: dict[str, int], names: tuple[str, str]) -> int:
    """Share, beginning anew while others are at work; how many records were sent."""
    problem = GitFailed("race")
    for number in range(TRIES):
        time.sleep(number * PAUSE_S * random.random())
        try:
            return _attempt(git, told, received, git.stage / str(number), names)
        except Moved as moved:
            problem = GitFailed("race", f"{moved} changed while it was looked at")
        except GitFailed as error:
            if error.kind != "race":
                raise
            problem = error
    raise problem


def _attempt(
    git: Git, told: list[str], received: dict[str, int], folder: Path, names: tuple[str, str]
) -> int:
    """Commit, pull, check, push once; how many records were sent. Raises Moved, or GitFailed of a race."""
    bench, branch = names
    own = commit_own(
        git, Plan(told, "it was when last shared"), folder / "own", f"{bench}: records and notes"
    )
    git.progress("Asking the other end")
    theirs = _fetch(git, branch)
    head, tree, new = _pull(git, Plan(told), folder, own, theirs)
    for path, count in new.items():
        received[path] = received.get(path, 0) + count
    if head != theirs:
        target = f"{head}:refs/heads/{branch}"
        git.progress("Sending")
        git.run("push", "--quiet", "--porcelain", "--no-verify", REMOTE, target, network=True)
    return _records_beyond(git, tree_of(git, theirs), tree)


def _fetch(git: Git, branch: str) -> str:
    """What others shared, as a commit; empty if nobody has shared anything yet."""
    ref = f"refs/remotes/{REMOTE}/{branch}"
    words = ("fetch", "--quiet", "--no-tags", REMOTE, f"+refs/heads/{branch}:{ref}")
    done = git.run(*words, network=True, may_fail=True)
    if done.code == 0:
        return git.text("rev-parse", "-q", "--verify", f"{ref}^{{commit}}")
    if "couldn't find remote ref" in done.err:
        return ""
    raise failed(done)


def _pull(git: Git, plan: Plan, folder: Path, own: Own, theirs: str) -> tuple[str, Tree, dict[str, int]]:
    """Take in what others shared, after looking at it; the commit that holds both, its tree, and what is new.

    Of a book file that is the records, of any other one.
    """
    base, base_tree = base_of(git, own.commit, theirs) if theirs else (theirs, {})
    if base == theirs:
        return own.commit, own.tree, {}
    their_tree = tree_of(git, theirs)
    if large := git.too_large[theirs]:
        names = " ".join(repr(path) for path in large[:10])
        plan.tell(f"Not taken in, because no file above {LARGEST_FILE >> 20} MB is: {names}.")
    tree = merge(git, plan, own, their_tree, base_tree)
    check_catalogue(git, plan, tree, own.tree, their_tree)
    check_nothing_lost(git, tree, own.tree, their_tree)
    staged = stage(git, plan, folder / "pulled")
    git.progress("Checking what others sent")
    check_book(git, plan, staged, folder / "book")
    new = {
        path: line_count(git, entry) - line_count(git, was) if is_book(path) else 1
        for path, (entry, was) in plan.puts.items()
    }
    carry_out(git, plan, staged)
    made = write_tree(git, tree, theirs)
    if base == own.commit and made == git.text("rev-parse", f"{theirs}^{{tree}}"):
        move_to(git, theirs, own.commit)
        head = theirs
    else:
        head = commit(git, made, "Joined with what others shared", own.commit, theirs)
    return head, tree, new


def _clash(git: Git, bench: str) -> bool:
    """Whether another machine bears this bench's name."""
    tree = tree_of(git, head_of(git))
    return mark_says(git, tree, bench, "key") not in {"", key_of(git)}


def _clash_words(bench: str, remote: str) -> str:
    return (
        f"Another machine records as {bench} too. Give this one a name of its own: the line bench: in "
        "studio.yaml. Until then its new records go to a further file each time you share. If that machine "
        f"is no longer in use: benchleaf share join {shlex.quote(remote)} --same-bench"
    )


def _tidy(git: Git) -> None:
    """Let git by hand see the same state, and let git pack what has piled up."""
    # What git knew of files that are the same stays known: none but the last piece of a book is read.
    git.run("read-tree", "--reset", "HEAD", index="main", may_fail=True)
    git.run("update-index", "-q", "--refresh", index="main", may_fail=True)
    loose = re.search(r"^size: (\d+)$", git.text("count-objects", "-v", may_fail=True), re.MULTILINE)
    # Each share keeps a whole new copy of a book file; packed, only what was added to it takes room.
    if loose and int(loose[1]) > MOST_LOOSE_KIB:
        git.run("gc", "--quiet", may_fail=True)


# -- how things stand ----------------------------------------------------------------------------------------


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
    with at_work(studio.root) as git:
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
            unshared_records=_records_beyond(git, there, here),
            unshared_files=_changed(here, there, set(to_settle(studio.root))),
            benches=_benches(git, bench, here),
            to_settle=tuple(to_settle(studio.root)),
            differences=disputes(studio.root),
            told=tuple(plan.told),
        )


def _records_beyond(git: Git, there: Tree, here: Tree) -> int:
    """How many records one tree has more than the other."""
    changed = [path for path, one in here.items() if is_book(path) and there.get(path) != one]
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
