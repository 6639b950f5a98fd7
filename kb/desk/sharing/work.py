"""One run of sharing at a time, also after one that was killed."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from kb.book.storage import PLAIN, pwrite, wait_for_lock
from kb.desk.errors import DeskError
from kb.desk.sharing.git import KEPT, NETWORK_WAIT_S, Git

LOCK = ".sharing"
"""A hidden file in the studio folder. It is empty unless sharing is going on, or was killed."""
STAGE = ".sharing.part"
WAIT_S = 20.0


class Work(NamedTuple):
    """What a run of sharing works with: git, and a folder for files on their way."""

    git: Git
    stage: Path


@contextmanager
def at_work(root: Path, *, wait_s: float = NETWORK_WAIT_S) -> Iterator[Work]:
    """Keep other runs of sharing in this studio out, and clear away what a killed one left.

    Raises DeskError if another run does not end within `WAIT_S` seconds, or the folder cannot be written.
    """
    try:
        fd = os.open(root / LOCK, os.O_RDWR | os.O_CREAT | PLAIN, 0o600)
    except OSError as error:
        raise DeskError(
            f"The studio folder {root} cannot be written ({error.strerror}), so nothing was shared. {KEPT}"
        ) from error
    try:
        if not wait_for_lock(fd, WAIT_S):
            raise DeskError(
                f"Sharing is already going on in this studio. {KEPT} Wait for it, then try again."
            )
        try:
            yield _begun(root, fd, wait_s)
        except OSError as error:
            where = f" ({error.filename})" if error.filename else ""
            raise DeskError(
                f"Sharing stopped: {error.strerror or error}{where}. {KEPT} Put that right, then share again."
            ) from error
        finally:
            shutil.rmtree(root / STAGE, ignore_errors=True)
            with contextlib.suppress(OSError):
                os.ftruncate(fd, 0)
    finally:
        os.close(fd)


def _begun(root: Path, fd: int, wait_s: float) -> Work:
    from kb.index.own_files import read_settings

    git = Git(root, lock_fd=fd, wait_s=wait_s)
    root = git.root
    git.pictures = read_settings(root / "studio.yaml")[0].share_photographs
    if os.fstat(fd).st_size:
        _clear(git, since_s=os.fstat(fd).st_mtime)
    shutil.rmtree(root / STAGE, ignore_errors=True)
    pwrite(fd, b"Sharing is going on, or was stopped while it was.\n", 0)
    (root / STAGE).mkdir(mode=0o700)
    return Work(git, root / STAGE)


def _clear(git: Git, *, since_s: float) -> None:
    """Take away git's lock files of a run that was killed: nobody else would ever do it.

    The lock of sharing is ours, and local commands of git hold it as long as they live. So what is locked
    since that run began is locked by nobody; older locks belong to someone else and stay.
    """
    for path in (*git.dir.glob("*.lock"), *git.own.glob("*.lock"), *(git.dir / "refs").rglob("*.lock")):
        with contextlib.suppress(OSError):
            if path.stat().st_mtime >= since_s - 1.0:
                path.unlink()
