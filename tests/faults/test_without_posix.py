"""The usual commands without POSIX and without a network: its modules and calls are taken away.

A lock of Windows is put in, and every socket that would leave this machine is refused. This is no run on
Windows: it shows that nothing of POSIX is needed to ask, store, read back, save and export.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from kb.desk.demo import shipped_demo
from scripts.bench_parts.typical import TYPICAL, WHOLE, WRITING, command

ROOT = Path(__file__).parents[2]
HIDDEN = """
import os, sys, types
os.supports_dir_fd = set()  # first, for what deletes folders asks once, when it is loaded
import subprocess, zipfile  # the library's own; with msvcrt there it would take the system for Windows
for name in ("fcntl", "resource", "pwd", "grp", "termios", "tty", "pty"):
    sys.modules[name] = None
for name in ("O_NOFOLLOW", "O_DIRECTORY", "O_NONBLOCK", "O_CLOEXEC", "pread", "pwrite", "fchmod", "killpg",
             "getuid", "geteuid", "fork", "nice", "posix_fadvise", "sysconf"):
    if hasattr(os, name):
        delattr(os, name)
locks = []
fake = types.ModuleType("msvcrt")
fake.LK_NBLCK, fake.LK_UNLCK = 2, 0
fake.locking = lambda fd, mode, size: locks.append((mode, os.lseek(fd, 0, os.SEEK_CUR)))
sys.modules["msvcrt"] = fake
from kb.book.storage import LOCKED_AT
from kb.cli.main import main
"""
ALONE = """
import socket
def refused(*_, **__):
    raise AssertionError("a command asked for the network")
socket.socket.connect = socket.socket.connect_ex = socket.getaddrinfo = socket.create_connection = refused
"""
STORE = """
root = ["--studio", sys.argv[1]]
test = ["test", "add", "--adhesive", "natural-rubber-resin", "--stage", "oily", "--medium", "letterpress-oil",
        "--paper", "paper-woodpulp", "--liquid", "n-heptane", "--method", "swab", "--dwell", "30s",
        "--release", "3", "--harm", "bleed=0"]
assert main([*test, *root]) == 0
assert main([*test, *root]) == 0
assert main(["test", "list", *root]) == 0
assert main(["verify", *root]) == 0
assert main(["shelf", "hold", "acetone", *root]) == 0
assert main(["backup", sys.argv[2], *root]) == 0
assert main(["export", sys.argv[3], *root]) in {0, 1}
assert main(["import", sys.argv[3], "--studio", sys.argv[4]]) == 0
assert (2, LOCKED_AT) in locks
"""
WALK = """
import json, shutil
shutil.copytree(sys.argv[2], sys.argv[1])
for words in json.loads(sys.argv[3]):
    code = main([*words, "--studio", sys.argv[1]])
    assert code in {0, 1}, (words, code)
"""
HEAVY = {"photo compare", "patch plan", "blend"}
"""Seconds each, for libraries and sums that no call of the system is part of."""


def ran(code: str, *arguments: str) -> None:
    """Run a program in a process of its own and see it end well."""
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-3000:] + done.stdout[-500:]


def test_records_are_stored_and_read_without_posix(tmp_path: Path) -> None:
    ran(HIDDEN + ALONE + STORE, *(str(tmp_path / name) for name in ("studio", "backups", "package", "other")))


def test_usual_commands_need_neither_posix_nor_network(tmp_path: Path) -> None:
    """One of every word, in one process, on a copy of the demo."""
    import json

    words = [command(name) for name in {**WRITING, **TYPICAL, **WHOLE} if name not in HEAVY]
    ran(HIDDEN + ALONE + WALK, str(tmp_path / "studio"), str(shipped_demo()), json.dumps(words))
