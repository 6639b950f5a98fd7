"""How far each book file is whole, all taken at one moment. Sharing and backups read no further."""

from __future__ import annotations

import errno
import os
import time
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from kb.book.disk import LOCK_WAIT_S, line_start
from kb.book.files import SUFFIX, files
from kb.book.pieces import bench_of, last_piece
from kb.book.storage import CLOSED_ON_EXEC, PLAIN, wait_for_lock
from kb.desk.errors import DeskError


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
