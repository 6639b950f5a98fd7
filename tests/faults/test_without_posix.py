"""The store without POSIX: its modules and calls are taken away, and a lock of Windows is put in.

This is no run on Windows. It shows that nothing of POSIX is needed to store, read back, save and export.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HIDDEN = """
import os, sys, types
import subprocess, zipfile  # the library's own; with msvcrt there it would take the system for Windows
for name in ("fcntl", "resource", "pwd", "grp", "termios", "tty", "pty"):
    sys.modules[name] = None
for name in ("O_NOFOLLOW", "O_DIRECTORY", "O_NONBLOCK", "O_CLOEXEC", "pread", "pwrite", "fchmod", "killpg",
             "getuid", "geteuid", "fork"):
    if hasattr(os, name):
        delattr(os, name)
os.supports_dir_fd = set()
locks = []
fake = types.ModuleType("msvcrt")
fake.LK_NBLCK, fake.LK_UNLCK = 2, 0
fake.locking = lambda fd, mode, size: locks.append((mode, os.lseek(fd, 0, os.SEEK_CUR)))
sys.modules["msvcrt"] = fake
from kb.book.storage import LOCKED_AT
"""
STORE = """
from pathlib import Path
from kb.cli.main import main
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


def test_records_are_stored_and_read_without_posix(tmp_path: Path) -> None:
    places = [str(tmp_path / name) for name in ("studio", "backups", "package", "other")]
    done = subprocess.run(
        [sys.executable, "-c", HIDDEN + STORE, *places], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-3000:] + done.stdout[-500:]
