"""What the disk is asked to do, in one place for all systems: lock, sync, write whole, make folders.

Windows has neither flock nor folders that can be synced; there one byte far behind the end of a file is
locked, and the system itself keeps names in order.

Write a file that is not there yet: whole, or not at all.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

try:
    import fcntl
except ImportError:
    fcntl = None  # type: ignore[assignment]

CLOSED_ON_EXEC = getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
PLAIN = CLOSED_ON_EXEC | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
"""No link is followed and no pipe waited for: what stands under the name must be the file itself."""
MAY_STAY_OPEN = fcntl is not None
"""Whether others may rename and remove a file that is open here; Windows does not let them."""
DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}
"""Names that some systems keep for devices: a shared folder must be readable on all of them."""
# A usual line has under 1 KB; one read brings the last whole line.
BLOCK = 8192
_ADVISE = getattr(os, "posix_fadvise", None)
LOCKED_AT = 1 << 40
"""Where the byte lies that Windows locks: behind the end of every file, so that readers are not kept out."""


def lock(fd: int, *, shared: bool = False) -> bool:
    """Lock an open file for this program if it can be had at once; closing the file lets go of it.

    Raises OSError if the system cannot lock it at all.
    """
    if fcntl is None:
        return _lock_byte(fd)
    try:
        fcntl.flock(fd, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def wait_for_lock(fd: int, wait_s: float, *, shared: bool = False) -> bool:
    """Lock an open file, waiting while another program holds it; False if it does so to the end."""
    # Short pauses at first: an entry holds the file for milliseconds.
    deadline, pause_s = time.monotonic() + wait_s, 0.001
    while not lock(fd, shared=shared):
        if time.monotonic() > deadline:
            return False
        time.sleep(pause_s)
        pause_s = min(pause_s * 2, 0.02)
    return True


def unlock(fd: int) -> None:
    """Let go of a lock on a file that stays open."""
    if fcntl is not None:
        # Only where a file stays open after its lock; closing lets go as well.
        fcntl.flock(fd, fcntl.LOCK_UN)
    else:
        _byte(fd, unlock=True)


def _lock_byte(fd: int) -> bool:
    try:
        _byte(fd, unlock=False)
    except OSError:
        return False
    return True


def _byte(fd: int, *, unlock: bool) -> None:
    import msvcrt as windows

    msvcrt: Any = windows
    # The place is put back: it belongs to whoever reads the file.
    at = os.lseek(fd, 0, os.SEEK_CUR)
    os.lseek(fd, LOCKED_AT, os.SEEK_SET)
    try:
        msvcrt.locking(fd, msvcrt.LK_UNLCK if unlock else msvcrt.LK_NBLCK, 1)
    finally:
        os.lseek(fd, at, os.SEEK_SET)


def pread(fd: int, size: int, offset: int) -> bytes:
    """Bytes of an open file from a place on; where reading goes on from is not changed for good."""
    if hasattr(os, "pread"):
        return os.pread(fd, size, offset)
    at = os.lseek(fd, 0, os.SEEK_CUR)
    os.lseek(fd, offset, os.SEEK_SET)
    try:
        return os.read(fd, size)
    finally:
        os.lseek(fd, at, os.SEEK_SET)


def line_start(fd: int, end: int) -> int:
    """Bytes of an open file up to the last line feed before ``end``: where the line at ``end`` begins."""
    while end > 0:
        start = max(end - BLOCK, 0)
        cut = pread(fd, end - start, start).rfind(b"\n")
        if cut >= 0:
            return start + cut + 1
        end = start
    return 0


def pwrite(fd: int, data: bytes, offset: int) -> None:
    if hasattr(os, "pwrite"):
        os.pwrite(fd, data, offset)
        return
    os.lseek(fd, offset, os.SEEK_SET)
    os.write(fd, data)


def start_writing(fd: int, start: int, end: int) -> None:
    """Ask for bytes that were just written to be brought to the disk, without waiting for it."""
    # To be told that they are not read again, the system takes as a reason to begin; not all know the call.
    # Up to the last byte but one: it would look for whole pages to drop, and wait for other processors.
    if _ADVISE is not None:
        try:  # noqa: SIM105 - what that makes would cost a part of what is won
            _ADVISE(fd, start, end - start - 1, os.POSIX_FADV_DONTNEED)
        except OSError:
            pass


def sync(fd: int) -> None:
    """Have what was written to an open file on the disk before going on."""
    if sys.platform == "darwin":
        # There fsync stops at the drive's own memory.
        fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
    else:
        os.fsync(fd)


def sync_folder(folder: str | Path) -> None:
    """Have the names in a folder on the disk."""
    # Windows keeps names in order by itself and cannot open a folder.
    if not hasattr(os, "O_DIRECTORY"):
        return
    fd = os.open(folder or ".", os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def sync_folders(root: Path) -> None:
    """Have the names in a folder and in all folders below it on the disk."""
    for here, _, _ in os.walk(root):
        sync_folder(here)


def make_folder(folder: str | Path) -> None:
    """Make a folder that only its owner enters, and those above it, with their names on the disk."""
    # Made from the top down, each name synced: a folder is safe only if the one above knows its name.
    folder = os.fspath(folder)
    if not folder or os.path.isdir(folder):
        return
    parent = os.path.dirname(folder)
    make_folder(parent)
    with contextlib.suppress(FileExistsError):
        # For the owner alone: a studio may hold names of clients.
        os.mkdir(folder, 0o700)
    sync_folder(parent)


def put_whole(path: Path, content: bytes) -> None:
    """Write a file under another name, put it on disk and give it its name and its old rights."""
    make_folder(path.parent)
    # Hidden and with the number of the process: readers pass it over, and two writers do not meet.
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("wb") as target:
            target.write(content)
            target.flush()
            # Synced before it gets its name: else a power cut could leave the name on an empty file.
            sync(target.fileno())
        if path.exists():
            # Who had opened a file to others wants it to stay so.
            os.chmod(part, path.stat().st_mode & 0o777)
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def from_home(path: str | Path) -> Path:
    """The path with a leading ``~`` read as somebody's own folder; where nobody is called so, as it stands.

    ``Path.expanduser`` raises RuntimeError there, and ``~photo.jpg`` is a name that files bear.
    """
    return Path(os.path.expanduser(path))


def free_path(path: Path) -> Path:
    """The path, or the first of ``path-2``, ``path-3`` ... if something bears that name already."""
    free, number = path, 2
    while os.path.lexists(free):
        free, number = path.with_name(f"{path.name}-{number}"), number + 1
    return free


@contextlib.contextmanager
def part_folder(above: Path, start: str) -> Iterator[Path]:
    """A new folder to make something in, whose name starts so; what is left of it in the end goes."""
    from tempfile import TemporaryDirectory

    with TemporaryDirectory(".part", start, above, ignore_cleanup_errors=True) as name:
        yield Path(name)


@contextlib.contextmanager
def locked_folder(folder: Path, wait_s: float) -> Iterator[None]:
    """Keep other programs that lock this folder out. Raises OSError, EAGAIN after ``wait_s`` seconds."""
    if hasattr(os, "O_DIRECTORY"):
        fd = os.open(folder, os.O_RDONLY | CLOSED_ON_EXEC)
    else:
        # A folder cannot be opened there.
        # A lock file is seen by sync tools, hence the hidden name.
        fd = os.open(folder / ".lock", os.O_RDWR | os.O_CREAT | CLOSED_ON_EXEC, 0o600)
    try:
        if not wait_for_lock(fd, wait_s):
            raise OSError(errno.EAGAIN, "another program is changing it")
        yield
    finally:
        os.close(fd)


def write_new_file(path: Path, content: str | bytes) -> None:
    """Write a text in UTF-8, or bytes, under a name that is free.

    Raises FileExistsError if the name is taken and OSError if it cannot be written; then no part of it
    is left, which would be taken for the whole later, and would keep the name taken.
    """
    stream: IO[Any] = path.open("xb") if isinstance(content, bytes) else path.open("x", encoding="utf-8")
    try:
        with stream:
            stream.write(content)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
