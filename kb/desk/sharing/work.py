"""One run of sharing at a time, also after one that was killed.

How far each book file is whole, all taken at one moment. Sharing and backups read no further.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import time
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from kb.book.disk import LOCK_WAIT_S
from kb.book.files import SUFFIX, files
from kb.book.pieces import bench_of, last_piece
from kb.book.storage import CLOSED_ON_EXEC, PLAIN, line_start, pwrite, wait_for_lock
from kb.desk.errors import DeskError
from kb.desk.sharing.git import KEPT, NETWORK_WAIT_S, Git

LOCK = ".sharing"
"""A hidden file in the studio folder. It is empty unless sharing is going on, or was killed."""
STAGE = ".sharing.part"
WAIT_S = 20.0


@contextmanager
def at_work(root: Path, *, wait_s: float = NETWORK_WAIT_S) -> Iterator[Git]:
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


def _begun(root: Path, fd: int, wait_s: float) -> Git:
    from kb.catalogue.own_files import read_settings

    git = Git(root, lock_fd=fd, wait_s=wait_s)
    git.stage = git.root / STAGE
    git.pictures = read_settings(git.root / "studio.yaml")[0].share_photographs
    if os.fstat(fd).st_size:
        _clear(git, since_s=os.fstat(fd).st_mtime)
    shutil.rmtree(git.stage, ignore_errors=True)
    pwrite(fd, b"Sharing is going on, or was stopped while it was.\n", 0)
    git.stage.mkdir(mode=0o700)
    return git


def _clear(git: Git, *, since_s: float) -> None:
    """Take away git's lock files of a run that was killed: nobody else would ever do it.

    The lock of sharing is ours, and local commands of git hold it as long as they live. So what is locked
    since that run began is locked by nobody; older locks belong to someone else and stay.
    """
    for path in (*git.dir.glob("*.lock"), *git.own.glob("*.lock"), *(git.dir / "refs").rglob("*.lock")):
        with contextlib.suppress(OSError):
            if path.stat().st_mtime >= since_s - 1.0:
                path.unlink()


@contextmanager
def held(paths: Iterable[Path]) -> Iterator[dict[Path, int]]:
    """Keep writers out of these book files; gives the descriptor of each that is there.

    The lock is the one that `kb.book.disk` takes for an append, in its shared form, so that two readers do
    not wait for each other. Raises DeskError after `LOCK_WAIT_S` seconds behind a writer.
    """
    deadline = time.monotonic() + LOCK_WAIT_S
    with ExitStack() as stack:
        found: dict[Path, int] = {}
        for path in sorted(paths):
            try:
                fd = os.open(path, os.O_RDONLY | PLAIN)
            except FileNotFoundError:
                continue
            except OSError as error:
                if error.errno == errno.ELOOP:
                    # A link: nobody appends to it, for appending follows none.
                    fd = os.open(path, os.O_RDONLY | CLOSED_ON_EXEC)
                else:
                    raise DeskError(
                        f"The book file {path.name} cannot be read ({error.strerror})."
                    ) from error
            stack.callback(os.close, fd)
            if not wait_for_lock(fd, deadline - time.monotonic(), shared=True):
                raise DeskError(
                    f"Another program has held the book file {path.name} for {LOCK_WAIT_S:.0f} seconds. "
                    "Nothing was changed. Close it or wait for it, then try again."
                )
            found[path] = fd
        yield found


def marks(book_dir: Path) -> dict[str, int]:
    """For each book file the number of bytes that are whole lines, all of one moment.

    A book only grows, so these bytes stay as they are however long they are read afterwards. What stands
    behind the last newline was never acknowledged: a writer is at work, or was stopped.
    """
    there = files(book_dir)
    written = {last_piece(str(path.with_name(bench_of(path.name) + SUFFIX))) for path in there}
    sizes: dict[str, int] = {}
    # Closed pieces one by one: of a long book there are more than some systems let a program have open.
    for some in (*([path] for path in there if str(path) not in written), map(Path, written)):
        with held(some) as found:
            sizes |= {path.name: whole_size(fd) for path, fd in found.items()}
    return {path.name: sizes[path.name] for path in there if path.name in sizes}


def whole_size(fd: int) -> int:
    """Bytes up to the last newline of an open file."""
    return line_start(fd, os.fstat(fd).st_size)
