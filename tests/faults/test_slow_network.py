"""A server that never answers, or late: the wait has an end, and nothing is kept from the next attempt."""

from __future__ import annotations

import gc
import os
import shlex
import signal
import time
from pathlib import Path
from threading import Thread

import pytest

from kb.desk.errors import DeskError
from kb.desk.sharing.share import join, share
from tests.share_help import Bench, bench, by_hand, hub, record

__all__ = ["bench", "hub"]

LATE_S = 0.4


def by_way_of(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, first: str) -> None:
    """Reach servers by a stand-in for ssh, which does that first, then runs here what should run there."""
    stand_in = tmp_path / "ssh"
    stand_in.write_text(f'#!/bin/sh\n{first}\nshift\nexec sh -c "$1"\n')
    stand_in.chmod(0o755)
    monkeypatch.setenv("GIT_SSH_COMMAND", shlex.quote(str(stand_in)))
    monkeypatch.setenv("GIT_SSH_VARIANT", "simple")


def address(hub: Path) -> str:
    return f"ssh://server.invalid{hub}"


def test_a_server_that_never_answers_is_given_up_and_the_next_share_works(
    bench: Bench, hub: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    north = bench("north")
    record(north)
    came_by = tmp_path / "came-by"
    by_way_of(tmp_path, monkeypatch, f"echo $$ >> {shlex.quote(str(came_by))}; exec sleep 600")
    begun = time.monotonic()
    with pytest.raises(DeskError, match=r"no answer within 1 s.*nothing was lost"):
        join(north, address(hub), wait_s=1.0)
    assert time.monotonic() - begun < 60, "the wait of the caller holds, not that of the server"
    # What waits for the server goes with the attempt, else it would hold sockets and keys for ten minutes.
    waiting = [Path("/proc", process) for process in came_by.read_text().split()]
    assert waiting
    while any(one.exists() for one in waiting) and time.monotonic() - begun < 60:
        time.sleep(0.05)
    assert not any(one.exists() for one in waiting)
    by_way_of(tmp_path, monkeypatch, ":")
    assert join(north, address(hub)).sent == 1
    # The same while joined already.
    made = record(north)
    by_way_of(tmp_path, monkeypatch, "exec sleep 600")
    with pytest.raises(DeskError, match="no answer within 1 s"):
        share(north, wait_s=1.0)
    by_way_of(tmp_path, monkeypatch, ":")
    assert share(north).sent == 1
    assert made in by_hand(hub, "grep", "--text", made, "main")


def test_a_person_who_is_tired_of_waiting_stops_it(
    bench: Bench, hub: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    north = bench("north")
    record(north)
    asked = tmp_path / "asked"
    by_way_of(tmp_path, monkeypatch, f": > {shlex.quote(str(asked))}; exec sleep 600")

    def tired() -> None:
        """The waiting has begun: a signal that comes while Python clears up is lost without a word."""
        while not asked.exists():
            time.sleep(0.01)
        time.sleep(0.2)
        os.kill(os.getpid(), signal.SIGINT)

    # Tests that were started in the background have the signal ignored.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    Thread(target=tired, daemon=True).start()
    collecting = gc.isenabled()
    gc.disable()
    try:
        with pytest.raises(KeyboardInterrupt):
            join(north, address(hub))
    finally:
        if collecting:
            gc.enable()
        signal.signal(signal.SIGINT, before)
    by_way_of(tmp_path, monkeypatch, ":")
    assert join(north, address(hub)).sent == 1


def test_a_server_that_answers_late_is_waited_for(
    bench: Bench, hub: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    north, south = bench("north"), bench("south")
    record(north)
    by_way_of(tmp_path, monkeypatch, f"sleep {LATE_S}")
    assert join(north, address(hub)).sent == 1
    assert join(south, address(hub)).received == 1
