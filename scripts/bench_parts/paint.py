"""Time from starting a terminal program to its first whole picture, seen from the end of its terminal."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import termios
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

ROWS, COLUMNS = 40, 120
LONGEST_S = 30.0
GRACE_S = 5.0
_CONTROL = re.compile(rb"\x1b(?:\[[0-?]*[ -/]*[@-~]|[\]P_^][^\x07\x1b]*(?:\x07|\x1b\\)|[()].|[=>78])")


class NotPainted(Exception):
    """The program ended or took too long before the words appeared; holds the end of what it wrote."""


class Painted(NamedTuple):
    """Seconds until the words stood there, seconds of the processor, and what was written until then."""

    took_s: float
    processor_s: float
    written: bytes


def painted(command: Sequence[str], words: Sequence[str], environment: Mapping[str, str]) -> Painted:
    """Waits until all ``words`` stand in the output of the command, which is then stopped."""
    started = time.perf_counter()
    process, terminal = pty.fork()
    if process == 0:
        _become(command, environment)
    try:
        fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        written = _wait_for(terminal, [one.encode() for one in words], started + LONGEST_S)
        return Painted(time.perf_counter() - started, _worked_s(process), written)
    finally:
        _stop(process, terminal)


def _worked_s(process: int) -> float:
    """What the processor did for it so far, in all its threads; 0 where the system has no /proc."""
    try:
        told = Path(f"/proc/{process}/stat").read_text(encoding="ascii", errors="replace")
    except OSError:
        return 0.0
    # The name before them may hold blanks; it ends with the last bracket.
    user, system = told.rpartition(")")[2].split()[11:13]
    return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")


def _become(command: Sequence[str], environment: Mapping[str, str]) -> None:
    """In the child: turn into the command. Never returns."""
    try:
        # The size must be there before the program looks; the parent's call may come too late.
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        os.execve(
            command[0], list(command), {**environment, "TERM": "xterm-256color", "COLORTERM": "truecolor"}
        )
    finally:
        os._exit(127)


def _wait_for(terminal: int, words: Sequence[bytes], until: float) -> bytes:
    written = b""
    while True:
        left = until - time.perf_counter()
        if left <= 0 or not _ready(terminal, left):
            raise NotPainted(f"nothing was painted in {LONGEST_S:.0f} s; {_end(written)}")
        try:
            chunk = os.read(terminal, 1 << 16)
        except OSError:
            chunk = b""
        if not chunk:
            raise NotPainted(f"the program ended before it painted; {_end(written)}")
        written += chunk
        shown = _CONTROL.sub(b"", written)
        if all(one in shown for one in words):
            return written


def _ready(terminal: int, within_s: float) -> bool:
    """Whether there is something to read in that time."""
    # Not select(): it takes no file beyond the thousandth, and a test process may have as many open.
    poll = select.poll()
    poll.register(terminal, select.POLLIN)
    return bool(poll.poll(1000.0 * within_s))


def _end(written: bytes) -> str:
    return f"its last words: {_CONTROL.sub(b'', written)[-400:].decode(errors='replace')!r}"


def _stop(process: int, terminal: int) -> None:
    """End the program and take it off the list of processes; the terminal is drained, so that it can end."""
    os.kill(process, signal.SIGTERM)
    until = time.perf_counter() + GRACE_S
    while os.waitpid(process, os.WNOHANG)[0] == 0:
        if time.perf_counter() > until:
            os.kill(process, signal.SIGKILL)
        if _ready(terminal, 0.02):
            try:
                os.read(terminal, 1 << 16)
            except OSError:
                time.sleep(0.005)
    os.close(terminal)
