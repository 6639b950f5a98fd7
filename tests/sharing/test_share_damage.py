"""Damage, runs that are killed and several at once: sharing goes on and no record is ever lost."""

from __future__ import annotations

import os
import random
import signal
from pathlib import Path
from typing import Any

import pytest

from kb.desk.errors import DeskError
from kb.desk.sharing import git as share_git
from kb.desk.sharing import put as share_put
from kb.desk.sharing import share as share_module
from kb.desk.sharing import work as share_work
from kb.desk.sharing.check import check_nothing_lost
from kb.desk.sharing.share import join, share
from kb.desk.sharing.tree import content_of, keep_bytes, tree_of
from kb.desk.studio import Studio
from tests.faults.tools import fork
from tests.share_help import (
    SOURCE,
    Bench,
    answer,
    bench,
    by_hand,
    catalogue_file,
    hub,
    ids,
    paper,
    record,
    sound,
)

__all__ = ["bench", "hub"]


@pytest.mark.parametrize("damage", ["end lost", "gone", "altered", "altered and went on"])
def test_a_book_damaged_here_is_put_back_and_never_sent(bench: Bench, hub: Path, damage: str) -> None:
    """What others have never loses a line because one machine did."""
    first, second = bench("north"), bench("south")
    for _ in range(3):
        record(first)
    join(first, str(hub))
    join(second, str(hub))
    path = first.book_dir / "north.jsonl"
    whole = path.read_bytes()
    kept = ids(first)
    if damage == "end lost":
        path.write_bytes(whole[: whole.rindex(b"\n", 0, -1) + 1])
    elif damage == "gone":
        path.unlink()
    else:
        path.write_bytes(whole.replace(b'"adhesive"', b'"adhesife"', 1))
    more = [record(first)] if damage == "altered and went on" else []
    assert share(first).told
    assert path.read_bytes()[: len(whole)] == whole
    assert sound(first)
    share(second)
    assert sound(second)
    assert ids(second) == ids(first) == kept + more
    assert share(first).told == ()
    if damage.startswith("altered"):
        aside = b"".join(one.read_bytes() for one in (first.root / "set-aside").iterdir())
        assert b"adhesife" in aside


@pytest.mark.parametrize("damage", ["end lost", "gone", "altered"])
def test_a_book_damaged_by_others_is_put_back_for_all(bench: Bench, hub: Path, damage: str) -> None:
    """Someone cut, deleted or altered a book file with git by hand: the whole one here goes back."""
    first, second = bench("north"), bench("south")
    for _ in range(3):
        record(first)
    record(second)
    join(first, str(hub))
    join(second, str(hub))
    by_hand(hub.parent, "clone", "-q", "-b", "main", str(hub), "clone")
    clone = hub.parent / "clone"
    path = clone / "book" / "north.jsonl"
    whole = path.read_bytes()
    if damage == "end lost":
        path.write_bytes(whole[: whole.rindex(b"\n", 0, -1) + 1])
    elif damage == "gone":
        path.unlink()
    else:
        path.write_bytes(
            whole.replace(b'"release":null', b'"release":0').replace(b"letterpress", b"iron-gall", 1)
        )
    by_hand(clone, "commit", "-qam", "by hand")
    by_hand(clone, "push", "-q")
    record(second)
    share(second)
    assert (second.book_dir / "north.jsonl").read_bytes() == whole
    share(first)
    assert by_hand(hub, "show", "main:book/north.jsonl").encode() == whole
    assert sound(first)
    assert sound(second)


def test_damage_that_arrives_is_named_by_file_and_line(bench: Bench, hub: Path) -> None:
    """What was pulled is looked at: a line that is no record is told, and the rest is served."""
    first, second = bench("north"), bench("south")
    record(first)
    join(first, str(hub))
    join(second, str(hub))
    with (first.book_dir / "north.jsonl").open("ab") as handle:
        handle.write(b'{"no": "record", "prev":"' + b"0" * 64 + b'"}\n')
    record(first)
    share(first)
    done = share(second)
    assert any("book/north.jsonl, line 2" in text for text in done.told)
    assert len(ids(second)) == 2


def test_a_line_that_has_no_end_is_not_shared(bench: Bench, hub: Path) -> None:
    """What a writer left half written, or is writing just now, is no record: it goes when it is whole."""
    first, second = bench("north"), bench("south")
    record(first)
    join(first, str(hub))
    path = first.book_dir / "north.jsonl"
    whole = path.read_bytes()
    record(first)
    line = path.read_bytes()[len(whole) :]
    path.write_bytes(whole + line[:100])
    assert share(first).sent == 0
    assert path.read_bytes() == whole + line[:100]
    join(second, str(hub))
    assert (second.book_dir / "north.jsonl").read_bytes() == whole
    path.write_bytes(whole + line)
    assert share(first).sent == 1
    share(second)
    assert (second.book_dir / "north.jsonl").read_bytes() == whole + line


def test_a_record_written_while_sharing_is_kept(
    bench: Bench, hub: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where its file has to be replaced in that very moment, because of an equal bench name."""
    first, second = bench("north", "one"), bench("north", "two")
    record(first)
    record(second)
    join(first, str(hub))
    really = share_put.carry_out
    late: list[str] = []

    def with_a_writer(*args: Any) -> None:
        if len(late) < 3:
            late.append(record(second))
        really(*args)

    monkeypatch.setattr(share_module, "carry_out", with_a_writer)
    join(second, str(hub))
    assert len(late) == 3
    assert len(ids(second)) == 5
    assert set(late) <= set(ids(second))
    assert sound(second)


def test_others_who_share_between_pull_and_push_are_waited_for(
    bench: Bench, hub: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The push is refused, what is new is pulled, and it is pushed again."""
    first, second = bench("north"), bench("south")
    join(first, str(hub))
    join(second, str(hub))
    really = share_module._fetch
    races = iter(range(3))

    def fetch(git: Any, branch: str) -> str:
        found = really(git, branch)
        if git.root == second.root and next(races, None) is not None:
            record(first)
            share(first)
        return found

    monkeypatch.setattr(share_module, "_fetch", fetch)
    record(second)
    done = share(second)
    assert done.received == 3
    assert share(first).received == 1
    assert answer(first) == answer(second)


def test_a_merge_that_would_lose_a_record_is_refused(bench: Bench, hub: Path) -> None:
    """The last look before anything is written does not trust what made the merge."""
    first = bench("north")
    for _ in range(3):
        record(first)
    join(first, str(hub))
    with share_work.at_work(first.root) as git:
        tree = tree_of(git, git.text("rev-parse", "HEAD"))
        book = content_of(git, tree["book/north.jsonl"])
        less = tree | {"book/north.jsonl": keep_bytes(git, b"".join(book.splitlines(keepends=True)[1:]))}
        check_nothing_lost(git, tree, less)
        with pytest.raises(DeskError, match=r"would have lost 1 record, .*nothing was sent"):
            check_nothing_lost(git, less, tree)
        elsewhere = less | {"book/other.jsonl": keep_bytes(git, book)}
        check_nothing_lost(git, elsewhere, tree)


def killed_share(studio: Studio, at: int, within: bool) -> bool:
    """Share in a child that is killed at its n-th git command or change of a file; whether it was."""

    def work() -> None:
        left = iter(range(at))

        def step(*_: Any) -> None:
            if next(left, None) is None:
                os.kill(os.getpid(), signal.SIGKILL)

        really_run, really_sync = share_git.subprocess.Popen, share_put.sync_folder

        def popen(*args: Any, **kwargs: Any) -> Any:
            if within and next(left, None) is None:
                process = really_run(*args, **kwargs)
                os.killpg(process.pid, signal.SIGKILL)
                os.kill(os.getpid(), signal.SIGKILL)
            step()
            return really_run(*args, **kwargs)

        def sync(folder: Path) -> None:
            step()
            really_sync(folder)

        share_git.subprocess.Popen = popen  # type: ignore[misc]
        share_put.sync_folder = sync
        share(studio)

    status = fork(work)
    assert status in (0, signal.SIGKILL)
    return status != 0


def test_killed_at_any_moment_and_shared_again_nothing_is_lost(bench: Bench, hub: Path) -> None:
    """Both sides have something new, a file is in dispute, and the run dies before or within any step."""
    chance = random.Random(11)
    first, second = bench("north", "one"), bench("north", "two")
    catalogue_file(first, "papers.yaml", SOURCE + "papers:\n" + paper("blotter-x", "Blotter X"))
    join(first, str(hub))
    join(second, str(hub))
    expected: set[str] = set()
    killed = 0
    for number in range(int(os.environ.get("BENCHLEAF_KILLS", "8"))):
        expected |= {record(first), record(second)}
        path = first.catalogue_dir / "papers.yaml"
        path.write_text(path.read_text() + paper(f"blotter-{number}", f"Blotter {number}"))
        share(first)
        killed += killed_share(second, chance.randrange(40), chance.random() < 0.5)
        assert sound(second)
        done = share(second)
        assert done.to_settle == ()
        assert set(ids(second)) == expected
        assert path.read_text() == (second.catalogue_dir / "papers.yaml").read_text()
    assert killed > 4
    share(first)
    assert set(ids(first)) == expected
    assert answer(first) == answer(second)
    assert list(second.root.glob(".sharing.part")) == []


def test_another_run_of_sharing_is_waited_for_and_then_told(
    bench: Bench, hub: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two runs never work on one folder at once."""
    first = bench("north")
    join(first, str(hub))
    monkeypatch.setattr(share_work, "WAIT_S", 0.0)
    with share_work.at_work(first.root), pytest.raises(DeskError, match="already going on"):
        share(first)
    share(first)


def test_locks_of_a_killed_run_are_cleared_and_others_are_not(bench: Bench, hub: Path) -> None:
    """Git's lock files outlive a git that is killed; nobody but the next run would take them away."""
    first = bench("north")
    join(first, str(hub))
    record(first)
    git = first.root / ".git"
    left = [git / name for name in ("HEAD.lock", "refs/heads/main.lock", "benchleaf/index-made.lock")]
    for path in left:
        path.touch()
    with pytest.raises(DeskError):
        share(first)
    (first.root / ".sharing").write_text("Sharing is going on.\n")
    began = (first.root / ".sharing").stat().st_mtime
    (git / "config.lock").touch()
    os.utime(git / "config.lock", (began - 60, began - 60))
    for path in left:
        path.touch()
    assert share(first).sent == 1
    assert not any(path.exists() for path in left)
    assert (git / "config.lock").exists()
